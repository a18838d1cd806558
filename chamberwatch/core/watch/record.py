"""What is remembered of a chamber, ready to be learnt from."""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.found import Exchange, Found
from chamberwatch.core.watch.ledger import Minute


@dataclass(frozen=True, slots=True)
class Stood:
    """A minute, and the water that stood then. [g]."""

    minute: Minute
    standing_g: float


@dataclass(frozen=True, slots=True)
class Record:
    """What there is to learn from, of one chamber.

    Attributes:
        minutes: its air, oldest first, with the water that stood.
        found: mistings and ventings, oldest first; those the grower denied left out.
        exchanges: fits of its CO2, oldest first.
        actions: recorded deeds by id.
    """

    minutes: Sequence[Stood]
    found: Sequence[Found]
    exchanges: Sequence[Exchange]
    actions: Mapping[int, Action]


def during(minutes: Sequence[Stood], start: datetime, end: datetime) -> Sequence[Stood]:
    """Return the minutes that began within start <= t < end; they lie oldest first."""
    first = bisect_left(minutes, start, key=_time)
    return minutes[first : bisect_left(minutes, end, lo=first, key=_time)]


def _time(stood: Stood) -> datetime:
    return stood.minute.time
