"""What of a week is worth changing: which side the air left its band on, how often, and when."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from chamberwatch.core.review.climate import Climate, HourOfDay, Share
from chamberwatch.core.watch.judgement import Standing
from chamberwatch.core.watch.reading import Quantity

WORTH: Final = 0.05
"""Outside for less of the time than this is the swing of any chamber looked after by hand."""
MOSTLY: Final = 0.7
"""So much of it must lie in some hours of the day, for those to be named ..."""
NARROW_H: Final = 10
"""... and they must be no more than so many."""
UNHEARD: Final = 0.1
"""A record with less than this missing is as good as whole."""
ENOUGH: Final = 60
"""Samples in all below which nothing is concluded."""
NIGHT: Final = frozenset((22, 23, 0, 1, 2, 3, 4, 5))


@dataclass(frozen=True, slots=True)
class Hours:
    """Some hours of the clock in a row, perhaps over midnight: from `start` to before `end`."""

    start: int
    end: int

    @property
    def at_night(self) -> bool:
        """Tell whether most of them are hours of the night."""
        length = (self.end - self.start) % 24 or 24
        inside = sum(1 for h in range(length) if (self.start + h) % 24 in NIGHT)
        return inside * 2 > length


@dataclass(frozen=True, slots=True)
class Outside:
    """A quantity that was on one side of its band for too much of the time.

    Attributes:
        quantity: which.
        side: below or above.
        share: of the judged samples, 0 to 1.
        hours: in which most of it happened; None: at no hours in particular.
        held: how long a misting held in the middle, where that is known.
    """

    quantity: Quantity
    side: Standing
    share: float
    hours: Hours | None
    held: timedelta | None


@dataclass(frozen=True, slots=True)
class Unheard:
    """A quantity whose record has holes.

    Attributes:
        quantity: which.
        missing: how much of the week so far.
    """

    quantity: Quantity
    missing: timedelta


def outside(climate: Climate) -> tuple[Outside, ...]:
    """Return where the air was outside for too much of the time, the most of it first."""
    found = [each for share in climate.shares for each in _sides(climate, share)]
    return tuple(sorted(found, key=lambda each: -each.share))


def _sides(climate: Climate, share: Share) -> Iterator[Outside]:
    if share.judged < ENOUGH:
        return
    day = climate.day.get(share.quantity, ())
    for side, count in ((Standing.BELOW, share.below), (Standing.ABOVE, share.above)):
        if count >= WORTH * share.judged:
            yield Outside(
                share.quantity,
                side,
                count / share.judged,
                when(day, side),
                climate.holding.typical,
            )


def when(day: Sequence[HourOfDay], side: Standing) -> Hours | None:
    """Return the fewest hours in a row that hold most of what was outside; None: too many do."""
    counts = [hour.below if side is Standing.BELOW else hour.above for hour in day]
    wanted = MOSTLY * sum(counts)
    if wanted == 0.0:
        return None
    around = counts * 2
    for length in range(1, NARROW_H + 1):
        sums = [sum(around[start : start + length]) for start in range(len(counts))]
        best = max(range(len(sums)), key=sums.__getitem__)
        if sums[best] >= wanted:
            return Hours(best, (best + length) % 24)
    return None


def unheard(climate: Climate, known: timedelta) -> tuple[Unheard, ...]:
    """Return the judged quantities of which too much is missing.

    Args:
        climate: of the week.
        known: how much of the week is over.
    """
    judged = (share for share in climate.shares if share.judged)
    missing = ((share.quantity, known - share.heard) for share in judged)
    return tuple(Unheard(q, gone) for q, gone in missing if gone > UNHEARD * known)
