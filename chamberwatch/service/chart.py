"""What a chart shows: lines over one stretch of time, the bands beneath, and what was done."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from chamberwatch.core.growing.band import Band
from chamberwatch.service.books import Span


@dataclass(frozen=True, slots=True)
class ChartLine:
    """One quantity of a chamber's air, in columns of equal length, oldest first.

    A gap is one point whose `least`, `mean` and `most` are None.

    Attributes:
        quantity: its name in the API, such as humidity_pct or dew_point_c.
        unit: of the values, as kept: °C, %, ppm, kPa, g/kg.
        at: middle of each stretch, or time of the reading. [s since 1970]
        least: of each stretch.
        mean: per sample.
        most: of each stretch.
    """

    quantity: str
    unit: str
    at: tuple[float, ...]
    least: tuple[float | None, ...]
    mean: tuple[float | None, ...]
    most: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class BandThen:
    """The band of a quantity over a stretch in which it did not change.

    Attributes:
        quantity: its name in the API.
        start: from when on, cut at the span asked for.
        end: until when.
        low: limit, None where there is none; so the others.
        high: limit.
        harm_low: beyond it harm is done.
        harm_high: beyond it harm is done.
        why: whose band it is, in words, such as “batch 6 (grey oyster, fruiting)”.
    """

    quantity: str
    start: datetime
    end: datetime
    low: float | None
    high: float | None
    harm_low: float | None
    harm_high: float | None
    why: str

    @property
    def edges(self) -> tuple[float | None, float | None]:
        """Return what a value is held against below and above, as `Band.edges`."""
        return Band(self.low, self.high, self.harm_low, self.harm_high).edges


class MarkKind(StrEnum):
    """What a mark on a chart tells of."""

    DEED = "deed"
    """A person did something: misted, vented, refilled ..."""
    FOUND = "found"
    """A misting or venting that the readings show and nobody recorded."""
    REMINDER = "reminder"
    """People were told of something, from `at` until it was over."""
    GROWING = "growing"
    """Something was told of a batch: started, opened, moved, harvested ..."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened.

    Attributes:
        kind: what it tells of.
        at: when, or when it began.
        until: when it ended; None for a moment, or where it still lasts.
        word: one word for its sign: misted, vented, harvested, mist, vent, warm ...
        text: the whole of it in words.
    """

    kind: MarkKind
    at: datetime
    until: datetime | None
    word: str
    text: str


@dataclass(frozen=True, slots=True)
class Chart:
    """All that is drawn of one chamber over one stretch of time.

    Attributes:
        chamber: its name.
        span: what was asked for.
        step: length of the stretches that were summed up; zero: single readings.
        lines: one for each quantity asked for, those without a reading too.
        bands: of the quantities that are judged, oldest first.
        marks: oldest first.
        nights: those within the span, 22:00 to 06:00 by the clock of the site.
        left_out: from when to when the lines lack readings that are still being summed up; None:
            they lack none.
    """

    chamber: str
    span: Span
    step: timedelta
    lines: tuple[ChartLine, ...]
    bands: tuple[BandThen, ...]
    marks: tuple[Mark, ...]
    nights: tuple[Span, ...]
    left_out: Span | None = None
