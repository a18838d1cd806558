"""Which way a value has gone lately, and since when: rising, falling, or neither."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from typing import Final

from chamberwatch.core.watch.reading import Quantity

Points = Sequence[tuple[datetime, float]]
"""(time, value), oldest first."""

SWING: Final[Mapping[Quantity, float]] = {
    Quantity.TEMPERATURE: 0.4,
    Quantity.HUMIDITY: 2.0,
    Quantity.CO2: 60.0,
}
"""A value that stays within so much goes nowhere: so far home sensors stray, and so far the air
swings by itself with nobody near (common practice). [K, %, ppm]"""

SHORTEST: Final = timedelta(minutes=10)
"""Of less nobody can say which way it goes."""


class Way(StrEnum):
    """Where a value goes."""

    RISING = "rising"
    FALLING = "falling"
    STEADY = "steady"


@dataclass(frozen=True, slots=True)
class Course:
    """Where a value goes, and since when."""

    way: Way
    since: datetime


def unbroken(points: Points, longest: timedelta) -> tuple[Points, ...]:
    """Cut a record where nothing was heard for longer than `longest`; oldest piece first."""
    if not points:
        return ()
    breaks = [
        at for at, (one, other) in enumerate(pairwise(points), 1) if _apart(one, other) > longest
    ]
    ends = [0, *breaks, len(points)]
    return tuple(points[start:end] for start, end in pairwise(ends))


def _apart(one: tuple[datetime, float], other: tuple[datetime, float]) -> timedelta:
    return other[0] - one[0]


def course(points: Points, swing: float) -> Course | None:
    """Say which way a value goes at the end of a record without gaps; None of a short one.

    It is looked at from its end: the first change beyond `swing` says which way it came, and the
    way goes back to where it last turned by as much. What fell and then lay still is steady since.

    Args:
        points: without a gap, oldest first.
        swing: what is less than this is no change, see `SWING`.
    """
    if not points or _apart(points[0], points[-1]) < SHORTEST:
        return None
    back = [*reversed(points)]
    first = _first_beyond(back, swing)
    if first is None:
        return Course(Way.STEADY, points[0][0])
    sign = 1.0 if back[first][1] > back[0][1] else -1.0
    turn = _turn(back, first, sign, swing)
    middle = back[0][0] - (back[0][0] - back[turn][0]) / 2
    half = next(value for time, value in back if time <= middle)
    if sign * (half - back[0][1]) < swing / 2:
        # It got where it is long ago.
        return Course(Way.STEADY, back[first - 1][0])
    return Course(Way.FALLING if sign > 0.0 else Way.RISING, back[turn][0])


def _first_beyond(back: Points, swing: float) -> int | None:
    """Return the newest point that lies further than `swing` from the end."""
    end = back[0][1]
    return next((at for at, (_, value) in enumerate(back) if abs(value - end) > swing), None)


def _turn(back: Points, first: int, sign: float, swing: float) -> int:
    """Return where the way began: the furthest point before it turns by more than `swing`.

    What lay level before it, but for a quarter of the swing, is no part of the way.
    """
    turn = first
    for at in range(first, len(back)):
        further = sign * (back[at][1] - back[turn][1])
        if further > swing / 4:
            turn = at
        elif further < -swing:
            break
    return turn
