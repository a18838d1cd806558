"""What was done, how much of it, and what works by itself."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core import effect_words, log_words
from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.device import Device, in_words
from chamberwatch.core.watch.effect import Effect
from chamberwatch.core.watch.found import Found
from chamberwatch.web import words
from chamberwatch.web.language import _

NOT_KNOWN: Final[Mapping[int, Effect]] = {}


def done(action: Action, now: datetime, zone: ZoneInfo, effect: Effect | None = None) -> str:
    """Write a line about a deed, and what came of it."""
    note = f": {action.note}" if action.note else ""
    by = _(" (by a link in a message)") if action.via == "link" else ""
    came = effect_words.said(effect) if effect is not None else ""
    when = f"{words.moment(action.at, now, zone)}{by}"
    line = f"{action.deed.value}{log_words.amounts(action)}{note}, {when}"
    return f"{line}: {came}" if came else line


def found(event: Found, now: datetime, zone: ZoneInfo) -> str:
    """Write a line about what the record shows and the grower said yes to."""
    when = words.moment(event.start, now, zone)
    return _("%(kind)s found at %(when)s, noted by your answer", kind=event.kind.value, when=when)


def lines(
    actions: Sequence[Action],
    finds: Sequence[Found],
    now: datetime,
    zone: ZoneInfo,
    effects: Mapping[int, Effect] = NOT_KNOWN,
) -> tuple[str, ...]:
    """Write what was done, newest first: the deeds with what came of them, and the finds."""
    told = [(action.at, done(action, now, zone, effects.get(action.id))) for action in actions]
    told += [(event.start, found(event, now, zone)) for event in finds]
    return tuple(line for _, line in sorted(told, key=lambda each: each[0], reverse=True))


def by_itself(devices: Iterable[Device]) -> tuple[str, ...]:
    """Say what each device of a chamber gives and when."""
    return tuple(f"{d.name}: {in_words(d)}".replace("m3/h", "m³/h") for d in devices)
