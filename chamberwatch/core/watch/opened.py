"""Whether a chamber stands open: its humidity and its CO2 fall towards the room's together.

A misting that dries leaves the CO2 alone, a fan of one's own is declared, and a venting is told;
what is left is a zip or a lid. The figures are common practice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

Points = Sequence[tuple[datetime, float]]

LEAST_PCT: Final = 6.0
"""A smaller fall of the humidity in ten minutes may be a drying. [%]"""
LEAST_PPM: Final = 100.0
"""A smaller fall of the CO2 is within what sensors waver. [ppm]"""
LEAST_SHARE: Final = 0.25
"""Of what the CO2 was above the incoming air, so much must be gone."""
TOGETHER: Final = timedelta(minutes=4)
"""CO2 sensors follow a few minutes behind those of humidity."""


@dataclass(frozen=True, slots=True)
class Opening:
    """What shows that a chamber is open: the falls, and how long they took.

    Attributes:
        humidity_pct: by so much the humidity fell. [%]
        co2_ppm: by so much the CO2 fell. [ppm]
        since: when the humidity began to fall.
    """

    humidity_pct: float
    co2_ppm: float
    since: datetime


def opening(humidity: Points, co2: Points, inlet_ppm: float) -> Opening | None:
    """Return what shows that a chamber was opened and is open still; None where nothing does.

    Args:
        humidity: of the last ten minutes or so, oldest first. [%]
        co2: of the same time. [ppm]
        inlet_ppm: of the air around the chamber. [ppm]
    """
    if len(humidity) < 3 or len(co2) < 3:
        return None
    top, before = _peak(humidity), _peak(co2)
    fell_pct, fell_ppm = top[1] - humidity[-1][1], before[1] - co2[-1][1]
    enough = LEAST_SHARE * max(before[1] - inlet_ppm, 0.0)
    if fell_pct < LEAST_PCT or fell_ppm < max(LEAST_PPM, enough):
        return None
    if abs(top[0] - before[0]) > TOGETHER or _recovers(humidity) or _recovers(co2):
        return None
    return Opening(fell_pct, fell_ppm, top[0])


def _peak(points: Points) -> tuple[datetime, float]:
    """Return the last time at which the most was read, with it."""
    return max(points, key=lambda point: (point[1], point[0]))


def _recovers(points: Points) -> bool:
    """Tell whether the value has turned up again: closed by now."""
    values = [value for _, value in points]
    least = min(values)
    return values[-1] - least > 0.2 * (max(values) - least)
