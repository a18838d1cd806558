"""What was done, how much of it, and what works by itself."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.device import Device, in_words
from chamberwatch.core.watch.found import Found
from chamberwatch.web.pages import words


def done(action: Action, now: datetime, zone: ZoneInfo) -> str:
    """Write a line about a deed."""
    note = f": {action.note}" if action.note else ""
    by = " (by a link in a message)" if action.via == "link" else ""
    return f"{action.deed.value}{_amounts(action)}{note}, {words.moment(action.at, now, zone)}{by}"


def found(event: Found, now: datetime, zone: ZoneInfo) -> str:
    """Write a line about what the record shows and the grower said yes to."""
    when = words.moment(event.start, now, zone)
    return f"{event.kind.value} found at {when}, noted by your answer"


def lines(
    actions: Sequence[Action], finds: Sequence[Found], now: datetime, zone: ZoneInfo
) -> tuple[str, ...]:
    """Write what was done, newest first: the deeds, and the finds among them."""
    told = [(action.at, done(action, now, zone)) for action in actions]
    told += [(event.start, found(event, now, zone)) for event in finds]
    return tuple(line for _, line in sorted(told, key=lambda each: each[0], reverse=True))


def _amounts(action: Action) -> str:
    """Write how much it was; empty where that isn't known."""
    parts = []
    if action.deed is Deed.VENTED and action.amount is not None:
        return f" {_plain(action.amount)}{words.GAP}min{_as_advised(action)}"
    if action.amount is not None:
        parts.append(f"{_plain(action.amount)}{words.GAP}g into the air")
    if action.standing_g is not None and (action.standing_g >= 0.5 or not parts):
        parts.append(f"{_plain(action.standing_g)}{words.GAP}g onto the walls")
    return f", {' and '.join(parts)}{_as_advised(action)}" if parts else ""


def _as_advised(action: Action) -> str:
    return ", as advised" if action.advised else ""


def _plain(value: float) -> str:
    """Write an amount as a person would say it: tenths of small ones only."""
    return f"{value:.0f}" if value >= 10.0 else f"{round(value, 1):g}"


def by_itself(devices: Iterable[Device]) -> tuple[str, ...]:
    """Say what each device of a chamber gives and when."""
    return tuple(f"{d.name}: {in_words(d)}".replace("m3/h", "m³/h") for d in devices)
