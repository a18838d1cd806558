"""Falling air: it shows how much fresh air there is at least, whatever the CO2 was taken for.

Surfaces only give water. So air that dries out loses to fresh air no less than it loses at all:
N >= (-dv/dt) / (v - v_room). That needs no area, no water that stands and no CO2; but a front that
was opened dries air out too. That takes minutes. What goes on for half an hour is how the closed
chamber is, with whatever was left open.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import Knowledge
from chamberwatch.core.watch.ledger import Minute, slope_per_h

_BLOCK: Final = timedelta(minutes=10)
_BLOCKS: Final = 3
"""An opened front makes one of them fall fast, or two, but not all three."""

_FEWEST: Final = 3
_GAP: Final = timedelta(minutes=6)
_SATURATED_PCT: Final = 96.0
"""Above it water falls out of cooling air, and a wet sensor dries."""

_DRIER: Final = 0.8
"""So much of the water that the room is taken to hold it holds surely: nothing may measure it."""

_LEAST_GAP: Final = 0.25
"""Of the water in the room's air: nearer to it, the air of the chamber shows nothing."""

_SURELY: Final = 0.9
"""The chamber's own sensor is off as well."""

_BELIEVED: Final = timedelta(hours=24)
"""A slot that was left open may be closed again, and nobody tells of that."""

_WIDER: Final = 1.5


@dataclass(frozen=True, slots=True)
class Falling:
    """What falling air has shown of late.

    Attributes:
        lately: minutes of the last half hour, without a gap.
        least_per_h: air changes there are at least; 0 while nothing fell. [1/h]
        at: when that was seen last.
    """

    lately: tuple[Minute, ...] = ()
    least_per_h: float = 0.0
    at: datetime | None = None

    def passed(self, minute: Minute) -> "Falling":
        """Take in one more minute, newer than the last."""
        gone = bool(self.lately) and minute.time - self.lately[-1].time > _GAP
        before = () if gone else self.lately
        since = minute.time - _BLOCK * _BLOCKS
        going = replace(self, lately=(*(m for m in before if m.time > since), minute))
        if going.at is not None and minute.time - going.at > _BELIEVED:
            going = replace(going, least_per_h=0.0, at=None)
        least = least_per_h(going.lately)
        if least <= 0.0 or least < going.least_per_h:
            return going
        return replace(going, least_per_h=least, at=minute.time)


def least_per_h(minutes: Sequence[Minute]) -> float:
    """Return the air changes that half an hour of falling air bears out; 0 where it didn't. [1/h].

    The least of its blocks counts, less what fans on timers gave.
    """
    if not minutes or minutes[-1].time - minutes[0].time < _BLOCK * (_BLOCKS - 0.5):
        return 0.0
    blocks = [
        [m for m in minutes if back * _BLOCK <= minutes[-1].time - m.time < (back + 1) * _BLOCK]
        for back in range(_BLOCKS)
    ]
    return _SURELY * max(min(_lost_per_h(block) for block in blocks), 0.0)


def _lost_per_h(block: Sequence[Minute]) -> float:
    count = len(block)
    if count < _FEWEST or any(m.humidity_pct > _SATURATED_PCT for m in block):
        return 0.0
    room = math.fsum(m.room_vapour_g_per_m3 for m in block) / count
    gap = math.fsum(m.vapour_g_per_m3 for m in block) / count - room
    if gap < _LEAST_GAP * room:
        return 0.0
    fans = math.fsum(m.supply.air_changes_per_h for m in block) / count
    return -slope_per_h(block) / (gap + (1.0 - _DRIER) * room) - fans


def held_to_falling(known: Knowledge, falling: Falling) -> Knowledge:
    """Return a chamber's ways with no less leakage than falling air has shown.

    A wet area that was learnt beside too small a leakage is too small by as much: what steady air
    shows is only how the two stand to each other. What the grower declared stays.
    """
    leak, least = known.leak_per_h, falling.least_per_h
    if leak.origin is Origin.DECLARED or least <= leak.value:
        return known
    by = least / leak.value
    raised = replace(leak, value=least, low=least, high=max(leak.high, least * _WIDER))
    area = known.wet_area_m2
    if area.origin is Origin.MEASURED:
        area = _times(area, by)
    return replace(known, leak_per_h=raised, wet_area_m2=area)


def _times(figure: Figure, by: float) -> Figure:
    return replace(figure, value=figure.value * by, low=figure.low * by, high=figure.high * by)
