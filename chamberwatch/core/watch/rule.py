"""Judging over time: deadband, on-delay, off-delay (IEC 62682 / ANSI/ISA-18.2).

A rule holds one limit of one quantity against the readings of one sensor. Time is the time of
the readings: a delay runs out only when a reading says so. A gap longer than `LONGEST_GAP` neither
fulfils a delay nor undoes it: nobody knows what the air was then, so the time of the gap is not
counted, and a delay that was running goes on with the first reading after it.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from functools import lru_cache
from typing import Final

from chamberwatch.core.growing.band import Band
from chamberwatch.core.growing.patience import Patience
from chamberwatch.core.watch.reading import Quantity, Reading


class Side(StrEnum):
    """Which limit."""

    LOW = "low"
    HIGH = "high"


class Level(StrEnum):
    """How far out."""

    BAND = "band"
    HARM = "harm"


@dataclass(frozen=True, slots=True)
class Watched:
    """How far one rule has come on one sensor.

    Attributes:
        sensor: whose readings.
        quantity: of what.
        side: below or above.
        level: band or harm.
        active: the value has been outside for the on-delay, and not yet inside for the off-delay.
        turning_since: since when the readings have contradicted `active` without a break;
            None when the last one agreed.
    """

    sensor: str
    quantity: Quantity
    side: Side
    level: Level
    active: bool = False
    turning_since: datetime | None = None

    @property
    def key(self) -> tuple[str, Quantity, Side, Level]:
        """What tells it from the others."""
        return self.sensor, self.quantity, self.side, self.level


LONGEST_GAP: Final = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class Rule:
    """One limit with its delays. `limit` and `deadband` are in the unit of the quantity."""

    side: Side
    level: Level
    limit: float
    deadband: float
    on_delay: timedelta
    off_delay: timedelta

    def outside(self, value: float) -> bool:
        """Tell whether a value lies beyond the limit."""
        return value < self.limit if self.side is Side.LOW else value > self.limit

    def back(self, value: float) -> bool:
        """Tell whether a value lies inside the limit by the deadband or more."""
        if self.side is Side.LOW:
            return value >= self.limit + self.deadband
        return value <= self.limit - self.deadband


@lru_cache(256)
def rules(band: Band, patience: Patience) -> tuple[Rule, ...]:
    """Return the rules that a band makes; remembered, for they are asked for with each reading."""
    limits = (
        (Side.LOW, Level.BAND, band.low, patience.on_delay),
        (
            Side.HIGH,
            Level.BAND,
            band.high,
            max(band.high_after or patience.on_delay, patience.on_delay),
        ),
        (Side.LOW, Level.HARM, band.harm_low, patience.harm_on_delay),
        (Side.HIGH, Level.HARM, band.harm_high, patience.harm_on_delay),
    )
    return tuple(
        Rule(side, level, limit, patience.deadband, on_delay, patience.off_delay)
        for side, level, limit, on_delay in limits
        if limit is not None
    )


def step(
    watched: Watched,
    rule: Rule,
    reading: Reading,
    previous: datetime | None,
    longest_gap: timedelta = LONGEST_GAP,
) -> Watched:
    """Take one more reading into account.

    Args:
        watched: how far the rule had come.
        rule: the limit and its delays.
        reading: the newest reading of the sensor.
        previous: time of the reading before it, None if there was none.
        longest_gap: the time of a longer one is not counted; longer for a sensor that
            reports seldom.
    """
    contradicts = rule.back(reading.value) if watched.active else rule.outside(reading.value)
    if not contradicts:
        return watched if watched.turning_since is None else replace(watched, turning_since=None)
    since = watched.turning_since or reading.time
    if previous is not None and reading.time - previous > longest_gap:
        since = min(since + (reading.time - previous), reading.time)
    delay = rule.off_delay if watched.active else rule.on_delay
    if reading.time - since >= delay:
        return replace(watched, active=not watched.active, turning_since=None)
    return replace(watched, turning_since=since)
