"""What an unknown message may hold: guessed from the names in it and from its figures.

A guess is only ever offered; a person says whether it is right. Names come first, since a figure
alone may be many things; the figure then says in which unit. The list of names is ours: plain
English words and the usual short forms of the trade.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import count
from typing import Final

from chamberwatch.core.errors import BadPayloadError
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Place, Quantity, in_words
from chamberwatch.core.watch.units import canonical, fault

NAMES: Final[Mapping[Quantity, frozenset[str]]] = {
    Quantity.TEMPERATURE: frozenset(
        {"temperature", "temp", "tmp", "celsius", "fahrenheit", "kelvin", "tc", "tf"}
    ),
    Quantity.HUMIDITY: frozenset({"humidity", "humid", "hum", "rh", "hygro", "relhum"}),
    Quantity.CO2: frozenset({"co2", "dioxide"}),
    Quantity.PRESSURE: frozenset(
        {"pressure", "press", "baro", "barometer", "hpa", "mbar", "kpa", "pa"}
    ),
    Quantity.BATTERY: frozenset(
        {"battery", "batt", "bat", "vbat", "ubat", "voltage", "volt", "volts", "vcc"}
    ),
}
ALONE: Final[Mapping[str, Quantity]] = {
    "t": Quantity.TEMPERATURE,
    "h": Quantity.HUMIDITY,
    "p": Quantity.PRESSURE,
    "v": Quantity.BATTERY,
    "cell": Quantity.BATTERY,
    "ppm": Quantity.CO2,
}
"""These say something only where they are the whole name."""

UNIT_NAMES: Final[Mapping[str, str]] = {
    **dict.fromkeys(("c", "tc", "celsius", "degc"), "°C"),
    **dict.fromkeys(("f", "tf", "fahrenheit", "degf"), "°F"),
    **dict.fromkeys(("k", "kelvin"), "K"),
    **dict.fromkeys(("pct", "percent"), "%"),
    **dict.fromkeys(("v", "volt", "volts"), "V"),
    "mv": "mV",
    "ppm": "ppm",
    "pa": "Pa",
    "hpa": "hPa",
    "mbar": "mbar",
    "kpa": "kPa",
}
"""Units as the last part of a name, as in temp_c."""

NOT_THE_AIR: Final[frozenset[str]] = frozenset(
    """dew dewpoint vpd absolute soil water leaf feels index target set setpoint goal limit min max
    avg mean offset cal cpu chip board mcu eco2 tvoc voc""".split()  # noqa: SIM905 - a list to be read
)
"""What stands beside such a word was reckoned, is wished for, or is taken elsewhere. eCO2 is
reckoned from other gases, which a chamber is full of."""

SAYS_NOTHING: Final[frozenset[str]] = frozenset(
    {"value", "val", "reading", "state", "result", "data", "current", "number", "raw"}
)
"""Names that only say that here is a value; the name above them says of what."""

SWITCHES: Final = (0.0, 1.0)
"""What a switch says; as the figure of a sensor they would mean too much."""

TIMES: Final[frozenset[str]] = frozenset(
    """time timestamp ts date datetime at when epoch utc measured sampled""".split()  # noqa: SIM905
)

USUAL: Final[Mapping[tuple[Quantity, str], tuple[float, float]]] = {
    (Quantity.TEMPERATURE, "°C"): (2.0, 40.0),
    (Quantity.TEMPERATURE, "°F"): (35.6, 104.0),
    (Quantity.TEMPERATURE, "K"): (275.15, 313.15),
    (Quantity.HUMIDITY, "%"): (5.0, 105.0),
    (Quantity.HUMIDITY, "fraction"): (0.05, 1.05),
    (Quantity.CO2, "ppm"): (300.0, 20_000.0),
    (Quantity.CO2, "%"): (0.03, 2.0),
    (Quantity.PRESSURE, "Pa"): (50_000.0, 110_000.0),
    (Quantity.PRESSURE, "hPa"): (500.0, 1_100.0),
    (Quantity.PRESSURE, "kPa"): (50.0, 110.0),
    (Quantity.BATTERY, "V"): (0.8, 16.0),
    (Quantity.BATTERY, "mV"): (800.0, 16_000.0),
}
"""What a sensor in or beside a chamber usually says, in the unit it is said in. Common practice:
a home from a cold cellar to a hot attic, outdoor air and up to what a closed bag makes, one cell
up to a lead battery, air pressure from sea level to 5,500 m. Much narrower than `PLAUSIBLE`:
this tells 64 °F from 64 °C."""

_WORD: Final = re.compile(r"[A-Z]?[a-z]+\d*|[A-Z]+\d*(?![a-z])|\d+")
_NAME_AT_MOST: Final = 41


@dataclass(frozen=True, slots=True)
class Leaf:
    """One number of a message, and where it stands.

    Attributes:
        at: pointer (RFC 6901), name of a SenML record, or nothing where the message is the number.
        value: finite, as it was sent.
        names: that lead there within the message, the nearest last.
        topic: the levels of the topic.
        unit: as the message states it; None where it doesn't.
    """

    at: str
    value: float
    names: tuple[str, ...] = ()
    topic: tuple[str, ...] = ()
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """What a number may be; `kept` is its value in the unit in which the quantity is kept."""

    quantity: Quantity
    unit: str
    kept: float


@dataclass(frozen=True, slots=True)
class Guessed:
    """What is thought of one number.

    Attributes:
        leaf: the number.
        choices: what it may be, the likeliest first.
        likely: what it is, where nothing else comes into question; None: a person has to say.
        why: what keeps it from being sure, in words; empty where it is.
        strange: it has a name, and that is none of the air: by its figure alone it comes into
            question.
    """

    leaf: Leaf
    choices: tuple[Choice, ...]
    likely: Choice | None
    why: str
    strange: bool = False


@dataclass(frozen=True, slots=True)
class Guess:
    """What is thought of one message.

    Attributes:
        payload: how it is written: json, number or senml; empty: it can't be read.
        numbers: each that was found.
        time_at: pointer to its own time, where it has one that can be right.
        time_why: why what looks like a time is not taken as one; empty: nothing does, or it is.
        why: why nothing of it can be used; empty where something can.
    """

    payload: str
    numbers: tuple[Guessed, ...] = ()
    time_at: str | None = None
    time_why: str = ""
    why: str = ""

    @property
    def asks(self) -> bool:
        """Tell whether it may well be of the air, so that somebody should be asked."""
        return any(each.choices and not each.strange for each in self.numbers)

    def likely(self) -> tuple[Guessed, ...]:
        """Return the numbers that are understood without a person."""
        return tuple(each for each in self.numbers if each.likely is not None)


@lru_cache(maxsize=4096)
def words_of(name: str) -> tuple[str, ...]:
    """Take a name apart: air_Temp-C and airTempC are air, temp, c."""
    return tuple(word.lower() for word in _WORD.findall(name))


def tells_time(name: str) -> bool:
    """Tell whether a name is that of a time."""
    words = words_of(name)
    return bool(words) and (words[-1] in TIMES or words[0] in TIMES)


def guess_all(leaves: Iterable[Leaf]) -> tuple[Guessed, ...]:
    """Return what each number may be; a quantity is taken from the first that is sure."""
    taken: dict[Quantity, str] = {}
    return tuple(_first_only(guess(leaf), taken) for leaf in leaves)


def _first_only(guessed: Guessed, taken: dict[Quantity, str]) -> Guessed:
    if guessed.likely is None:
        return guessed
    quantity = guessed.likely.quantity
    if quantity in taken:
        why = f"The {in_words(quantity)} is taken from {taken[quantity]} already."
        return replace(guessed, likely=None, why=why)
    taken[quantity] = guessed.leaf.at
    return guessed


def guess(leaf: Leaf) -> Guessed:
    """Return what one number may be."""
    words = _telling(leaf)
    quantity = quantity_in(words)
    if quantity is None:
        return _of_figure(leaf)
    unit = leaf.unit or _unit_in(words, quantity)
    choices = tuple(_in_units(leaf.value, quantity, unit))
    if aside := sorted(NOT_THE_AIR & _all_words(leaf)):
        why = f"By its name ({aside[0]}) this is not measured in the air."
        return Guessed(leaf, choices, None, why)
    if not choices:
        return Guessed(leaf, (), None, _misfit(leaf.value, quantity, unit))
    if len(choices) > 1:
        return Guessed(
            leaf, choices, None, f"It may be {_either(leaf.value, choices)}. Say which."
        )
    return Guessed(leaf, choices, choices[0], "")


def _telling(leaf: Leaf) -> tuple[str, ...]:
    """Return the words of the nearest name that says more than that here is a value."""
    for name in (*reversed(leaf.names), *reversed(leaf.topic)):
        words = words_of(name)
        if words and not set(words) <= SAYS_NOTHING and not words[-1].isdecimal():
            known = quantity_in(words) is not None
            # Levels of a topic are houses and gardens too, so the search goes on there.
            if known or name in leaf.names:
                return words
    return ()


def _all_words(leaf: Leaf) -> set[str]:
    words = {word for name in (*leaf.topic, *leaf.names) for word in words_of(name)}
    # eCO2 falls apart into e and CO2; together they are a name of its own.
    return words | {name.lower() for name in (*leaf.topic, *leaf.names)}


def quantity_in(words: Sequence[str]) -> Quantity | None:
    """Return the quantity that the words of a name tell of, None where they tell of none."""
    bare = {stem for word in words for stem in (word, word.rstrip("0123456789"))}
    if len(words) == 1 and (alone := bare & ALONE.keys()):
        return ALONE[alone.pop()]
    for quantity, names in NAMES.items():
        if bare & names:
            return quantity
    return None


def _unit_in(words: Sequence[str], quantity: Quantity) -> str | None:
    unit = UNIT_NAMES.get(words[-1]) if words else None
    return unit if unit is not None and not fault(quantity, unit) else None


def _in_units(value: float, quantity: Quantity, unit: str | None) -> Iterator[Choice]:
    """Yield what a value of a quantity may be, in the unit it states or in any that is usual."""
    if unit is not None:
        with suppress(BadPayloadError):
            yield Choice(quantity, unit, canonical(quantity, value, unit))
        return
    for (of, known), (low, high) in USUAL.items():
        if of is quantity and low <= value <= high:
            yield Choice(quantity, known, canonical(quantity, value, known))


def _of_figure(leaf: Leaf) -> Guessed:
    """Return what a number without a telling name may be; its unit may say it all the same."""
    told = [each for each in Quantity if leaf.unit and not fault(each, leaf.unit)]
    choices = tuple(
        choice
        for quantity in (told or Quantity)
        for choice in _in_units(leaf.value, quantity, leaf.unit)
    )
    switch = leaf.unit is None and leaf.value in SWITCHES
    if not choices or switch or NOT_THE_AIR & _all_words(leaf):
        return Guessed(leaf, (), None, "Neither its name nor its figure is that of the air.")
    if len(told) == len(choices) == 1:
        return Guessed(leaf, choices, choices[0], "")
    strange = any(word not in SAYS_NOTHING for name in leaf.names for word in words_of(name))
    nameless = "Its name is not known here" if leaf.names else "It has no name"
    may = _either(leaf.value, choices)
    why = f"{nameless}; by its figure it may be {may}."
    return Guessed(leaf, choices, None, why, strange)


def _misfit(value: float, quantity: Quantity, unit: str | None) -> str:
    if unit is not None and (wrong := fault(quantity, unit)):
        return wrong
    if quantity is Quantity.BATTERY:
        return f"A battery is read in V or mV here, and {value:g} is neither."
    return f"No sensor beside a chamber says {in_words(quantity)} {value:g} in a unit known here."


def _either(value: float, choices: Sequence[Choice]) -> str:
    told = [f"{in_words(each.quantity)} in {each.unit}" for each in choices]
    if len({each.quantity for each in choices}) == 1:
        told = [f"{value:g} {each.unit}" for each in choices]
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} or {told[-1]}"


# ------------------------------------------------------------------ proposals


def named_after(topic: str, taken: Iterable[str]) -> str:
    """Return a name for the sensor that speaks on a topic, which no other has.

    It has the small letters, digits and hyphens that the settings ask for.
    """
    levels = re.sub(r"[^a-z0-9]+", "-", topic.lower()).strip("-")
    stem = levels[-_NAME_AT_MOST:].strip("-") or "sensor"
    known = set(taken)
    if stem not in known:
        return stem
    numbered = (f"{stem[: _NAME_AT_MOST - 1 - len(str(n))]}-{n}" for n in count(2))
    return next(name for name in numbered if name not in known)


def hangs_in(topic: str, chambers: Iterable[Chamber]) -> tuple[str, str] | None:
    """Return the chamber and place that the levels of a topic name, None where they name none."""
    levels = [level.lower() for level in topic.split("/")]
    for chamber in chambers:
        if chamber.name in levels:
            rest = levels[levels.index(chamber.name) + 1 :]
            places = (*chamber.shelves, *(place.value for place in Place))
            return chamber.name, next((p for p in places if p in rest), Place.AIR.value)
    return None


# ------------------------------------------------------------------ words


def sends(guess: Guess) -> str:
    """Say what a topic sends, and ask whose it is; the topic's name stands before it."""
    if guess.why:
        return f"sends what can't be used here: {guess.why[0].lower()}{guess.why[1:]}"
    if guess.likely():
        named = [(_named(each), each.leaf.value) for each in guess.numbers]
        told = [f"{in_words(quantity)} {value:g}" for quantity, value in named if quantity]
        return f"sends {', '.join(told)}: whose is it?"
    open_ = [each for each in guess.numbers if each.choices]
    if not guess.asks:
        names = "a name that is" if len(open_) == 1 else "names that are"
        return f"sends {_count(open_)} with {names} not known here."
    if len(open_) == 1:
        return f"sends {open_[0].leaf.value:g}: what is it, and whose?"
    return f"sends {_count(open_)} that may be of the air: what are they, and whose?"


def _named(each: Guessed) -> Quantity | None:
    """Return what a number is where that is sure, be its unit sure or not."""
    if each.likely is not None:
        return each.likely.quantity
    quantities = {choice.quantity for choice in each.choices}
    return quantities.pop() if len(quantities) == 1 and len(each.choices) > 1 else None


def _count(numbers: Sequence[Guessed]) -> str:
    return "a number" if len(numbers) == 1 else f"{len(numbers)} numbers"
