"""Whether a sensor that is being checked has come to rest, or still drifts.

A check is worth what the sensor has had time for: above salt it creeps towards the humidity of
the slush for an hour. The change is the slope of a straight line through the last half hour, by
least squares, times that half hour; so noise alone does not make it move.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

from chamberwatch.core.watch.reading import Quantity

LOOK_BACK: Final = timedelta(minutes=30)

ENOUGH: Final = timedelta(minutes=15)
"""So much of it must have been heard before anything is said."""

FEWEST: Final = 5
"""Through fewer readings no line says anything."""

MOVES: Final[Mapping[Quantity, float]] = {
    Quantity.HUMIDITY: 0.5,
    Quantity.TEMPERATURE: 0.2,
    Quantity.CO2: 20.0,
}
"""A change by more than this in half an hour is drift, in the unit of the quantity; about what a
sensor at rest wanders (common practice)."""


class Rest(StrEnum):
    """How a sensor stands."""

    UNHEARD = "too little was heard"
    DRIFTS = "it still drifts"
    AT_REST = "it is at rest"


@dataclass(frozen=True, slots=True)
class Settled:
    """What the last half hour of a sensor says.

    Attributes:
        rest: how it stands.
        change: in half an hour, in the unit of the quantity; None: too little was heard.
        mean: of the last ten minutes; None: nothing was heard in them.
    """

    rest: Rest
    change: float | None
    mean: float | None


LAST: Final = timedelta(minutes=10)


def settled(
    quantity: Quantity, points: Sequence[tuple[datetime, float]], now: datetime
) -> Settled:
    """Return whether a sensor has come to rest.

    Args:
        quantity: one of `MOVES`.
        points: time and value as sent, oldest first.
        now: the time.
    """
    lately = [(at, value) for at, value in points if now - LOOK_BACK <= at <= now]
    last = [value for at, value in lately if at >= now - LAST]
    mean = sum(last) / len(last) if last else None
    heard = lately[-1][0] - lately[0][0] if lately else timedelta(0)
    if len(lately) < FEWEST or heard < ENOUGH or mean is None:
        return Settled(Rest.UNHEARD, None, mean)
    change = _slope_per_s(lately) * LOOK_BACK.total_seconds()
    drifts = abs(change) > MOVES[quantity]
    return Settled(Rest.DRIFTS if drifts else Rest.AT_REST, change, mean)


def _slope_per_s(points: Sequence[tuple[datetime, float]]) -> float:
    """Return the slope of the line of least squares; times must differ."""
    first = points[0][0]
    times = [(at - first).total_seconds() for at, _ in points]
    middle_s, middle = sum(times) / len(times), sum(v for _, v in points) / len(points)
    across = sum((t - middle_s) * (v - middle) for t, (_, v) in zip(times, points, strict=True))
    return across / sum((t - middle_s) ** 2 for t in times)
