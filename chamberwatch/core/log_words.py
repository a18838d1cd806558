"""What stands in the log: deeds, findings, reminders, batches and checks, each as one line.

The marks on a chart say the same in the same words.
"""

from collections.abc import Callable, Mapping
from typing import Final

from chamberwatch.core.growing.batch import Entry, EntryKind, Start
from chamberwatch.core.growing.sign_table import SIGNS
from chamberwatch.core.growing.weights import weight_words
from chamberwatch.core.review_words import lasted
from chamberwatch.core.sentence import within
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import UNTOLD, Call, Event, Evidence, Move, Reminder, State
from chamberwatch.core.wording import amount, band_words, beside_limits, lower

GAP: Final = "\N{NO-BREAK SPACE}"

# ------------------------------------------------------------------ deeds


def deed(action: Action) -> str:
    """Say what was done, and how much of it."""
    note = f": {action.note}" if action.note else ""
    return f"{action.deed.value}{amounts(action)}{note}"


def amounts(action: Action) -> str:
    """Write how much it was; empty where that isn't known."""
    parts = []
    if action.deed is Deed.VENTED and action.amount is not None:
        return f" {_plain(action.amount)}{GAP}min{_as_advised(action)}"
    if action.amount is not None:
        parts.append(f"{_plain(action.amount)}{GAP}g into the air")
    if action.standing_g is not None and (action.standing_g >= 0.5 or not parts):
        parts.append(f"{_plain(action.standing_g)}{GAP}g onto the walls")
    return f", {' and '.join(parts)}{_as_advised(action)}" if parts else ""


def _as_advised(action: Action) -> str:
    return ", as advised" if action.advised else ""


def _plain(value: float) -> str:
    """Write an amount as a person would say it: tenths of small ones only."""
    return f"{value:.0f}" if value >= 10.0 else f"{round(value, 1):g}"


# ------------------------------------------------------------------ what the readings show


def found(event: Found) -> str:
    """Say what the readings show, and what the grower said to it."""
    return f"{event.kind.value}, seen in the readings{_answer(event.confirmed)}{_came(event)}"


def came(event: Found) -> str:
    """Say what the readings show of a deed that was noted; empty where that is nothing."""
    return _came(event).removeprefix(": ")


def _answer(confirmed: bool | None) -> str:
    if confirmed is None:
        return ""
    return "; you said that it was one" if confirmed else "; you said that it was none"


def _came(event: Found) -> str:
    parts = []
    if event.kind is Kind.VENTING and event.co2_before_ppm and event.co2_after_ppm:
        parts.append(f"CO2 {event.co2_before_ppm:.0f} to {event.co2_after_ppm:.0f} ppm")
    if event.humidity_before_pct is not None and event.humidity_after_pct is not None:
        before, after = event.humidity_before_pct, event.humidity_after_pct
        parts.append(f"humidity {before:.0f} to {after:.0f} %")
    if event.held is not None:
        parts.append(f"held {lasted(event.held)}")
    return f": {', '.join(parts)}" if parts else ""


# ------------------------------------------------------------------ reminders

ASKED: Final[Mapping[Call, str]] = {
    Call.MIST: "mist",
    Call.VENT: "vent",
    Call.WARM: "warm it",
    Call.COOL: "cool it",
    Call.DRY_OFF: "let it dry off",
    Call.AIR_ROOM: "air the room",
    Call.CHECK_SENSOR: "look at a sensor",
    Call.CHECK_ALL: "look at the power and the broker",
    Call.TODAY: "today's list",
    Call.REFILL: "refill the dish or the tray",
}
"""What a reminder asks for; of what grows, its call says it."""

_SAID: Final[Mapping[Event, str]] = {
    Event.RAISED: "asked",
    Event.WORSENED: "asked again, since it has become worse",
    Event.REALARMED: "asked again",
    Event.RETURNED: "over",
    Event.SEEN: "seen",
    Event.SHELVED: "put off",
    Event.SHELF_ENDED: "no longer put off",
    Event.TAKEN_OUT: "out of service",
    Event.PUT_BACK: "back in service",
}

_WHY: Final = frozenset({Event.REALARMED, Event.TAKEN_OUT, Event.PUT_BACK})
"""Events whose cause is news; of the others the readings or the event itself say it."""

_SILENT: Final = "nobody was told, since it was "


def asked(reminder: Reminder) -> str:
    """Say what a reminder asks for."""
    if reminder.call is Call.CHECK_SENSOR:
        return f"look at sensor {reminder.subject}"
    if reminder.call is Call.DRY_OFF and reminder.subject:
        return "let the walls dry off"
    return ASKED.get(reminder.call) or _of_crop(reminder)


def _of_crop(reminder: Reminder) -> str:
    """Say what is asked for of a batch: the key of its task names it, such as harvest-14-2."""
    named = reminder.subject.rsplit("-", 2)[1:]
    batch = next((part for part in named if part.isdigit()), "")
    whole = reminder.call is not Call.START and batch
    return f"{reminder.call.value} batch {batch}" if whole else reminder.call.value


def closes_untold(made: Move) -> bool:
    """Tell whether a move closes a reminder since nobody had been told of it."""
    return made.event is Event.SEEN and made.cause == UNTOLD


def move(reminder: Reminder, made: Move, *, untold: bool = False) -> str:
    """Say what happened to a reminder.

    Args:
        reminder: which.
        made: the move.
        untold: say as well that nobody had been told.
    """
    event = made.event
    quiet = made.after if made.after in (State.SHELVED, State.OUT_OF_SERVICE) else None
    if reminder.call is Call.TODAY and event is Event.RAISED and quiet is None:
        return "today's list was sent"
    words = [_SAID[event]]
    if event in (Event.RAISED, Event.WORSENED) and quiet is not None:
        put = "put off" if quiet is State.SHELVED else "out of service"
        words.append(f"{_SILENT}{put}")
    if event in _WHY and made.cause:
        words.append(made.cause)
    if event is Event.SEEN:
        words = [_seen(made.cause)]
    if untold:
        words.append(UNTOLD)
    reading = _reading(made.evidence)
    why = f" ({reading})" if reading else ""
    return f"“{asked(reminder)}”: {'; '.join(words)}{why}"


def _seen(cause: str) -> str:
    """Say by what a reminder was answered: the log keeps “misted (link)” or “seen (page)”."""
    what, _, way = cause.partition(" (")
    if not way:
        return f"closed; {what}" if what else "seen"
    by = {"link)": " by a link in a message", "api)": " by a program"}.get(way, "")
    return f"seen{by}" if what == Event.SEEN.value else f"answered{by}: {what}"


def _reading(evidence: Evidence | None) -> str:
    if evidence is None or evidence.quantity is None or evidence.value is None:
        return ""
    quantity = evidence.quantity
    said = f"{lower(quantity)} {beside_limits(quantity, evidence.value, evidence)}"
    if evidence.low is None and evidence.high is None:
        return said
    return f"{said}, {band_words(quantity, evidence.low, evidence.high)}"


# ------------------------------------------------------------------ batches


def of_batch(number: int, species: str) -> str:
    """Name a batch as a line about it begins, such as “batch 6 (grey oyster)”.

    Args:
        number: of the batch.
        species: common name of what grows in it; empty: not known.
    """
    return f"batch {number} ({within(species)})" if species else f"batch {number}"


def entry(told: Entry, species: str, chambers: Mapping[str, str]) -> str:
    """Say what was told of a batch.

    Args:
        told: the entry.
        species: common name of what was started.
        chambers: their titles by name.
    """
    say = _ENTRIES.get(told.kind)
    what = told.kind.value
    if say is not None:
        what = say(told, chambers)
    elif told.kind is EntryKind.LOOKED:
        sign = SIGNS.get(told.sign)
        what = f"looked at: {within(sign.title if sign is not None else told.sign)}"
    if told.kind is EntryKind.STARTED and told.start is not None:
        what = f"started: {_started(told.start, species)}{_at(told, chambers)}"
    return f"{what}: {told.note}" if told.note else what


def _started(start: Start, species: str) -> str:
    container = start.container.value
    what = f"a {container}" if start.count == 1 else f"{start.count} {container}s"
    on = f" on {start.substrate}" if start.substrate else ""
    return f"{what} of {within(species)}{on}"


def _at(told: Entry, chambers: Mapping[str, str]) -> str:
    place = _place(told, chambers)
    return f", {place}" if place else ""


def _place(told: Entry, chambers: Mapping[str, str]) -> str:
    if told.chamber is None:
        return ""
    shelf = f", {told.shelf}" if told.shelf else ""
    return f"{chambers.get(told.chamber, told.chamber)}{shelf}"


def _moved(told: Entry, chambers: Mapping[str, str]) -> str:
    place = _place(told, chambers)
    return f"moved to {place}" if place else "moved out of the chambers"


def _split(told: Entry, chambers: Mapping[str, str]) -> str:
    del chambers
    return f"{told.count} taken out, batch {told.other} from then on"


def _harvested(told: Entry, chambers: Mapping[str, str]) -> str:
    del chambers
    flush = f", flush {told.flush}" if told.flush is not None else ""
    return f"harvested {weight_words(told.weight_g or 0.0)}{flush}"


def _staged(told: Entry, chambers: Mapping[str, str]) -> str:
    del chambers
    return f"stage set to {told.stage}"


_ENTRIES: Final[Mapping[EntryKind, Callable[[Entry, Mapping[str, str]], str]]] = {
    EntryKind.MOVED: _moved,
    EntryKind.SPLIT: _split,
    EntryKind.HARVESTED: _harvested,
    EntryKind.STAGED: _staged,
}


# ------------------------------------------------------------------ checks, messages


def calibration(check: Calibration) -> str:
    """Say what was done to a sensor."""
    what = f"{lower(check.quantity)} of sensor {check.sensor}"
    if check.neutral:
        return f"{what} counts as sent again: {check.how}"
    slope = f"times {check.slope:g}" if check.slope != 1.0 else ""
    offset = _signed(check.quantity, check.offset) if check.offset else ""
    return f"{what} corrected by {', '.join(p for p in (slope, offset) if p)}: {check.how}"


def _signed(quantity: Quantity, offset: float) -> str:
    sign = "+" if offset >= 0.0 else "\N{MINUS SIGN}"
    finer = int(quantity is Quantity.HUMIDITY)
    return f"{sign} {amount(quantity, abs(offset), finer)}"


def message(address: str, title: str, became: str) -> str:
    """Say what was sent to whom, and what became of it."""
    return f"to {address}, {became}: {title}"
