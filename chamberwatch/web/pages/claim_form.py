"""The form in which somebody says whose a message is: its fields, and what is wrong with them."""

from dataclasses import dataclass, field
from typing import Annotated, Final, Literal

from pydantic import BaseModel, Field

from chamberwatch.core.air.accuracy import CLASSES
from chamberwatch.core.errors import BadPayloadError
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.guess import Choice, Guess, Guessed
from chamberwatch.core.watch.reading import Place, Quantity, in_words
from chamberwatch.core.watch.units import canonical, fault
from chamberwatch.service.claiming import Claiming, Wish, WouldRead
from chamberwatch.web import words
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _, chosen_from, marked
from chamberwatch.web.pages.said import Once

MESSAGE_AT_MOST: Final = 16 * 1024
LEFT_OUT: Final = ""
FRACTIONS: Final = ("fraction", "/")

PLACES: Final = (
    (Place.AIR.value, marked("in the air of it")),
    (Place.CORE.value, marked("inside a block (core)")),
    (Place.SURFACE.value, marked("on the cover or a wall (surface)")),
)
CLASS_WORDS: Final = {
    "basic": marked("simple"),
    "digital": marked("digital, as most are"),
    "probe": marked("a measuring probe"),
}

Line = Annotated[str, Field(max_length=450)]


class ClaimIn(BaseModel):
    """The form as it is sent; `at` and `what` go together, one for each number."""

    once: Once
    topic: Annotated[str, Field(min_length=1, max_length=450)]
    message: Annotated[str, Field(max_length=MESSAGE_AT_MOST)]
    name: Line = ""
    where: Line = ""
    accuracy: Line = "digital"
    at: Annotated[list[Line], Field(max_length=64)] = []
    what: Annotated[list[Line], Field(max_length=64)] = []
    time: Line = ""
    doing: Literal["try", "save"] = "try"


@dataclass(frozen=True, slots=True)
class Option:
    """One line of a choice."""

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """One number of the message, and what it may be."""

    id: str
    at: str
    label: str
    sent: str
    why: str
    options: tuple[Option, ...]
    error: str = ""


@dataclass
class Checked:
    """What was made of a form: a wish, or what is wrong, by field."""

    wish: Wish | None = None
    errors: dict[str, str] = field(default_factory=dict)


# ------------------------------------------------------------------ what is offered


def asked(
    guess: Guess, told: ClaimIn, figures: Figures, errors: dict[str, str]
) -> tuple[Asked, ...]:
    """Return the numbers of a message that may be of the air, with what was chosen for each."""
    chosen = dict(zip(told.at, told.what, strict=False))
    found = [each for each in guess.numbers if each.choices]
    return tuple(
        _asked(f"what-{n}", each, chosen.get(_key(each)), figures, errors)
        for n, each in enumerate(found)
    )


def left_out(guess: Guess, figures: Figures) -> list[tuple[str, str]]:
    """Return the numbers that nothing can be made of, together where the reason is one."""
    by_why: dict[str, list[str]] = {}
    for each in guess.numbers:
        if not each.choices:
            by_why.setdefault(each.why, []).append(f"{each.leaf.at} {_sent(each, figures)}")
    return [(", ".join(which), figures.said(why)) for why, which in by_why.items()]


def _sent(each: Guessed, figures: Figures) -> str:
    return figures.said(f"{each.leaf.value:g}") + (f" {each.leaf.unit}" if each.leaf.unit else "")


def _key(each: Guessed) -> str:
    """Return what tells numbers of one message apart; SenML may give two one name."""
    return f"{each.leaf.at} {each.leaf.unit}" if each.leaf.unit else each.leaf.at


def _asked(
    id_: str, each: Guessed, chosen: str | None, figures: Figures, errors: dict[str, str]
) -> Asked:
    if chosen is None:
        chosen = _value(each.likely) if each.likely else LEFT_OUT
    options = [Option(LEFT_OUT, _("leave it out"), chosen == LEFT_OUT)]
    options += [
        Option(_value(c), _option_words(c, figures), _value(c) == chosen) for c in _choices(each)
    ]
    label = each.leaf.at or _("The message")
    sent, wrong = _sent(each, figures), errors.get(id_, "")
    return Asked(id_, _key(each), label, sent, each.why, tuple(options), wrong)


def _choices(each: Guessed) -> tuple[Choice, ...]:
    """Return what a number may be, and its quantity in any further unit a sensor may use."""
    if each.leaf.unit is not None or len({c.quantity for c in each.choices}) > 1:
        return each.choices
    quantity = each.choices[0].quantity
    more = [_choice(quantity, unit, each.leaf.value) for unit in OFFERED[quantity]]
    known = {c.unit for c in each.choices}
    return (*each.choices, *(c for c in more if c is not None and c.unit not in known))


OFFERED: Final = {
    Quantity.TEMPERATURE: ("°C", "°F", "K"),
    Quantity.HUMIDITY: ("%", "fraction"),
    Quantity.CO2: ("ppm", "%"),
    Quantity.PRESSURE: ("Pa", "hPa", "kPa"),
    Quantity.BATTERY: ("V", "mV"),
}


def _choice(quantity: Quantity, unit: str, value: float) -> Choice | None:
    try:
        return Choice(quantity, unit, canonical(quantity, value, unit))
    except BadPayloadError:
        return None


def _value(choice: Choice) -> str:
    return f"{choice.quantity.value}|{choice.unit}"


def _option_words(choice: Choice, figures: Figures) -> str:
    read = figures.amount(choice.quantity, choice.kept)
    unit = (
        _("as a fraction of 1") if choice.unit in FRACTIONS else _("in %(unit)s", unit=choice.unit)
    )
    return f"{words.named(choice.quantity)} {unit}: {read}"


def places(chambers: list[Chamber], where: str) -> list[tuple[str, tuple[Option, ...]]]:
    """Return every place of every chamber, by the chamber's title."""
    return [(c.title, tuple(_places_in(c, where))) for c in chambers]


def _places_in(chamber: Chamber, where: str) -> list[Option]:
    found = chosen_from(PLACES)
    shelves = [(shelf, _("at the shelf %(shelf)s", shelf=shelf)) for shelf in chamber.shelves]
    return [
        Option(value := f"{chamber.name}/{place}", f"{chamber.title}: {told}", value == where)
        for place, told in (found[0], *shelves, *found[1:])
    ]


def classes(accuracy: str, figures: Figures) -> tuple[Option, ...]:
    """Return the classes of accuracy, each with what it is good for."""
    return tuple(
        Option(
            name,
            f"{_(CLASS_WORDS[name])}: ±{figures.difference(good.temperature_k)}, "
            f"±{figures.amount(Quantity.HUMIDITY, good.humidity_pct)}",
            name == accuracy,
        )
        for name, good in CLASSES.items()
    )


# ------------------------------------------------------------------ what was chosen


def check(told: ClaimIn, guess: Guess, chambers: list[Chamber], claiming: Claiming) -> Checked:
    """Return the sensor that is wanted, as far as it can be told, and what is wrong by field."""
    errors: dict[str, str] = {}
    chamber, place = _where(told.where, chambers, errors)
    reads = _reads(told, guess, errors)
    name = told.name.strip()
    if not name:
        errors["name"] = _("Give it a name of small letters, digits and hyphens, such as tent-2.")
    elif name in claiming.topics():
        errors["name"] = _("There is a sensor “%(name)s” already; choose another name.", name=name)
    if told.accuracy not in CLASSES:
        errors["accuracy"] = _("Choose one of %(classes)s.", classes=", ".join(CLASSES))
    if "#" in told.topic or "+" in told.topic:
        errors[""] = _(
            "A sensor can only be made of one topic, without + and #. Choose one that was heard."
        )
    elif (owner := claiming.claimed_by(told.topic)) is not None:
        errors[""] = _("The sensor “%(owner)s” reads this topic meanwhile.", owner=owner)
    time_at = guess.time_at if told.time else None
    wish = Wish(
        name or "sensor", told.topic, guess.payload, chamber, place, reads, time_at, told.accuracy
    )
    return Checked(wish if reads else None, errors)


def _where(where: str, chambers: list[Chamber], errors: dict[str, str]) -> tuple[str, str]:
    name, __, place = where.partition("/")
    chamber = next((each for each in chambers if each.name == name), None)
    if chamber is None:
        known = ", ".join(each.name for each in chambers)
        errors["where"] = (
            _("There is no chamber “%(name)s” any more; choose another.", name=name)
            if name
            else _("Choose a place.")
        ) + ("" if known else _(" Make a chamber first."))
    elif place not in (*(known for known, __ in PLACES), *chamber.shelves):
        errors["where"] = _(
            "%(chamber)s has no shelf “%(place)s” any more; choose another place.",
            chamber=chamber.title,
            place=place,
        )
    return name, place


def _reads(told: ClaimIn, guess: Guess, errors: dict[str, str]) -> dict[Quantity, tuple[str, str]]:
    found: dict[Quantity, tuple[str, str]] = {}
    chosen = dict(zip(told.at, told.what, strict=False))
    for n, each in enumerate(e for e in guess.numbers if e.choices):
        what = chosen.get(_key(each), LEFT_OUT)
        if what == LEFT_OUT:
            continue
        name, __, unit = what.partition("|")
        quantity = next((q for q in Quantity if q.value == name), None)
        if quantity is None or fault(quantity, unit):
            errors[f"what-{n}"] = _("Choose one of the lines.")
        elif quantity in found:
            errors[f"what-{n}"] = _(
                "The %(quantity)s is taken from another number already; leave one out.",
                quantity=in_words(quantity),
            )
        else:
            found[quantity] = (each.leaf.at, unit)
    if not found and not any(key.startswith("what") for key in errors):
        errors["what"] = _("Choose at least one number that it is to be believed for.")
    if guess.payload == "number":
        found = dict(list(found.items())[:1])
    return found


# ------------------------------------------------------------------ what it would read


def would_words(would: WouldRead, figures: Figures) -> str:
    """Say what a sensor would read."""
    return ", ".join(
        f"{words.named(q)} {figures.amount(q, value, 1 if q is Quantity.HUMIDITY else 0)}"
        for q, value in ((each.quantity, each.value) for each in would.said)
    )
