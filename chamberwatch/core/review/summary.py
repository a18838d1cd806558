"""Summaries: what the readings of a stretch of time came to.

A summary is exact: it says of its samples how many there were, the least, the mean (of the
samples, not of other means), the most, and how many lay within, below and above the band that held
when each was taken. Two summaries of neighbouring stretches make that of both, exactly too.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import Enum

from chamberwatch.core.air.psychrometrics import STANDARD_PRESSURE_PA
from chamberwatch.core.review.reckoning import Counted, Held, Line


class Level(Enum):
    """How long the stretches are; they begin at whole multiples since 1970, UTC."""

    MINUTE = timedelta(minutes=1)
    QUARTER = timedelta(minutes=15)
    HOUR = timedelta(hours=1)
    DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Summary:
    """What the samples of one quantity in one stretch came to.

    Attributes:
        start: of the stretch, aware UTC.
        count: samples, at least one.
        least: of them, in the unit of the quantity.
        mean: per sample.
        most: of them.
        within: how many lay within the band that held for them.
        below: how many lay below it.
        above: how many lay above it. Samples for which no band held are in none of the three.
    """

    start: datetime
    count: int
    least: float
    mean: float
    most: float
    within: int = 0
    below: int = 0
    above: int = 0

    @property
    def judged(self) -> int:
        """Return how many samples a band held for."""
        return self.within + self.below + self.above


@dataclass(frozen=True, slots=True)
class Columns:
    """Summaries of one quantity, oldest first, without those of stretches in which it is silent.

    Attributes:
        start_s: of each stretch, since 1970. [s]
        number: of samples.
        least: of them.
        total: of them.
        most: of them.
        within: how many lay within the band that held for them.
        below: how many lay below it.
        above: how many lay above it.
    """

    start_s: Sequence[int] = ()
    number: Sequence[int] = ()
    least: Sequence[float] = ()
    total: Sequence[float] = ()
    most: Sequence[float] = ()
    within: Sequence[int] = ()
    below: Sequence[int] = ()
    above: Sequence[int] = ()

    @property
    def mean(self) -> list[float]:
        """Return the means, per sample."""
        return [t / n for t, n in zip(self.total, self.number, strict=True)]


@dataclass(frozen=True, slots=True)
class Rules:
    """What readings of the past are held against, and the air pressure things are derived at.

    Attributes:
        held: of each sensor and quantity, oldest first; what is missing is not judged.
        pressure_pa: of the air. [Pa]
    """

    held: Mapping[Line, tuple[Held, ...]] = field(default_factory=dict)
    pressure_pa: float = STANDARD_PRESSURE_PA


@dataclass(frozen=True, slots=True)
class Unsummed:
    """A quarter-hour to be reckoned anew.

    Attributes:
        start_s: where it begins, since 1970. [s]
        touched: how often it was touched when this was looked up.
    """

    start_s: int
    touched: int


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What some quarter-hours came to, minute by minute, ready to be kept."""

    quarters: tuple[Unsummed, ...]
    minutes: tuple[Counted, ...]
