"""Mistings that hold ever shorter: the water that stood on walls and in trays is gone.

A squeeze into the air is used up in minutes; what holds for longer is what stands. When the last
mistings held far shorter than the ones before, and no drier room and no smaller amount explains
it, more mist helps little: water must be put down.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median
from typing import Final

LAST: Final = 3
BEFORE_AT_LEAST: Final = 5
BEFORE_AT_MOST: Final = 10

SHARE: Final = 0.5
"""Of what they held before. Hold times scatter by a third or so from one misting to the next
(common practice); the median of three that falls by half is no chance."""

SHORT: Final = timedelta(minutes=20)
"""Who must mist again within this is kept busy; mistings that hold longer need no word."""

LATELY: Final = timedelta(hours=48)
"""The last ones must be of these days; what was before may be two weeks old."""

BACK: Final = timedelta(days=14)

ALIKE: Final = 2.0
"""Amounts within this factor of each other are alike."""

AS_HUMID_PCT: Final = 5.0
"""Mistings that lead to about the same humidity have the same way down."""

ROOM_ALIKE_G_PER_M3: Final = 2.0
"""About 12 %RH at 20 °C: in a room drier by more, less time is no news."""


@dataclass(frozen=True, slots=True)
class Held:
    """One misting, and how long it held.

    Attributes:
        at: when.
        held: how long.
        into_air_g: sprayed; None: not said. [g]
        reached_pct: the humidity that it led to; None: not known. [%]
        room_g_per_m3: water in the air of the room; None: not known. [g/m3]
    """

    at: datetime
    held: timedelta
    into_air_g: float | None = None
    reached_pct: float | None = None
    room_g_per_m3: float | None = None


@dataclass(frozen=True, slots=True)
class Dwindled:
    """How long mistings hold now, and held before."""

    now: timedelta
    before: timedelta


def dwindled(
    mistings: Sequence[Held], refilled: datetime | None, now: datetime
) -> Dwindled | None:
    """Return how far the hold time has fallen; None where it hasn't, or too little is known.

    The median of the last three must be below half of the median of the five to ten comparable
    ones before and below twenty minutes, and none of the three may have held as long as that
    half: one good misting says that water stands.

    Args:
        mistings: oldest first.
        refilled: when water was last put down; the last three must have come after it.
        now: the time.
    """
    last = list(mistings[-LAST:])
    if not short_lately([m.held for m in last]):
        return None
    since = max(now - LATELY, refilled) if refilled is not None else now - LATELY
    if last[0].at < since:
        return None
    like = _middle_of(last)
    earlier = [m for m in mistings[:-LAST] if m.at >= now - BACK and _comparable(m, like)]
    if len(earlier) < BEFORE_AT_LEAST:
        return None
    before = _median([m.held for m in earlier[-BEFORE_AT_MOST:]])
    if max(m.held for m in last) >= SHARE * before:
        return None
    return Dwindled(_median([m.held for m in last]), before)


def short_lately(holds: Sequence[timedelta]) -> bool:
    """Tell whether the last mistings held so shortly that those before are worth a look."""
    last = holds[-LAST:]
    return len(last) == LAST and _median(last) < SHORT


def _median(holds: Sequence[timedelta]) -> timedelta:
    return timedelta(seconds=median(held.total_seconds() for held in holds))


def _middle_of(mistings: Sequence[Held]) -> Held:
    """Return a misting with the middle of what is known of some."""

    def middle(values: list[float | None]) -> float | None:
        known = [v for v in values if v is not None]
        return median(known) if known else None

    return Held(
        mistings[-1].at,
        mistings[-1].held,
        middle([m.into_air_g for m in mistings]),
        middle([m.reached_pct for m in mistings]),
        middle([m.room_g_per_m3 for m in mistings]),
    )


def _comparable(one: Held, like: Held) -> bool:
    """Tell whether two mistings may be held against each other; what isn't known is no bar.

    A room that was drier before, and yet they held, speaks only the louder.
    """
    amounts, reached = (one.into_air_g, like.into_air_g), (one.reached_pct, like.reached_pct)
    return (
        _near(amounts, lambda a, b: a <= ALIKE * b and b <= ALIKE * a)
        and _near(reached, lambda a, b: abs(a - b) <= AS_HUMID_PCT)
        and _near(
            (one.room_g_per_m3, like.room_g_per_m3), lambda a, b: a - b <= ROOM_ALIKE_G_PER_M3
        )
    )


def _near(pair: tuple[float | None, float | None], near: Callable[[float, float], bool]) -> bool:
    one, like = pair
    return one is None or like is None or near(one, like)
