"""Plausible days of an invented tent, of any span, the same whenever they are asked for."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.air.psychrometrics import air_state
from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.service.books import Span
from chamberwatch.service.chart import BandThen, Chart, ChartLine, Mark, MarkKind
from tests.make import NOON

ZONE: Final = ZoneInfo("Europe/Berlin")
STEPS: Final = (60, 300, 900, 3600, 14400, 86400, 7 * 86400)
UNITS: Final = {
    "temperature_c": "°C",
    "humidity_pct": "%",
    "co2_ppm": "ppm",
    "vpd_kpa": "kPa",
    "dew_point_c": "°C",
}
DAY_S: Final = 86400.0
MISTED_AT: Final = (7.5, 12.0, 17.0, 21.5)
"""When the tent is misted. [h, UTC]"""
VENTED_AT: Final = (7.6, 18.2)
CHANGED: Final = timedelta(days=4)
"""So long before noon of the first day a batch was opened and the band changed."""


def humidity_pct(at: float) -> float:
    """Return a saw: up with each misting, then falling; drier by day."""
    hour = at % DAY_S / 3600.0
    since = min((hour - m) % 24.0 for m in MISTED_AT)
    cycle = 9.0 * math.sin(at / 5.1e5)
    return min(99.0, 74.0 + 22.0 * math.exp(-since / 3.2) + cycle * 0.5 - (hour == 12) * 3)


def temperature_c(at: float) -> float:
    """Return a day's swing over a slow drift."""
    return (
        17.6 + 1.4 * math.sin((at % DAY_S / DAY_S - 0.3) * math.tau) + 1.2 * math.sin(at / 7.7e5)
    )


def co2_ppm(at: float) -> float:
    """Return a rise after each venting."""
    hour = at % DAY_S / 3600.0
    since = min((hour - v) % 24.0 for v in VENTED_AT)
    return 480.0 + 900.0 * (1.0 - math.exp(-since / 3.5)) + 120.0 * math.sin(at / 3.3e5)


def vpd_kpa(at: float) -> float:
    """Return what follows from temperature and humidity."""
    return air_state(temperature_c(at), humidity_pct(at), 101_325.0).vpd_pa / 1000.0


def dew_point_c(at: float) -> float:
    """Return what follows from temperature and humidity."""
    return air_state(temperature_c(at), humidity_pct(at), 101_325.0).dew_point_c


AIR: Final[dict[str, Callable[[float], float]]] = {
    "humidity_pct": humidity_pct,
    "temperature_c": temperature_c,
    "co2_ppm": co2_ppm,
    "vpd_kpa": vpd_kpa,
    "dew_point_c": dew_point_c,
}


@dataclass
class FakeCharting:
    """Charts of the chambers it was given.

    Attributes:
        chambers: and by how much their temperature and humidity differ from the tent's.
        first: nothing was read before.
        last: nothing was read after.
        gap: nothing was read within.
        marks: what happened; the days' mistings and ventings for None.
        asked: what was asked for.
        left_out: what is still being summed up.
    """

    chambers: dict[str, float] = field(default_factory=lambda: {"tent": 0.0, "room": -30.0})
    first: datetime = datetime(2024, 12, 20, tzinfo=UTC)
    last: datetime = NOON
    gap: Span = field(
        default_factory=lambda: Span(
            NOON - timedelta(days=2, hours=9), NOON - timedelta(days=2, hours=2)
        )
    )
    marks: tuple[Mark, ...] | None = None
    asked: list[tuple[str, tuple[str, ...], Span, int]] = field(default_factory=list)
    left_out: Span | None = None

    def chart(
        self, chamber: str, quantities: Sequence[str], span: Span, points: int = 1000
    ) -> Chart:
        if chamber not in self.chambers:
            raise UnknownNameError(f"There is no chamber “{chamber}”.")
        unknown = [name for name in quantities if name not in AIR]
        if unknown or span.start >= span.end:
            raise RefusedError("No such quantity, or an empty span.")
        self.asked.append((chamber, tuple(quantities), span, points))
        length_s = (span.end - span.start).total_seconds()
        step = next((s for s in STEPS if length_s / s <= points), STEPS[-1])
        lines = tuple(self._line(chamber, name, span, step) for name in quantities)
        grown = chamber == "tent"
        return Chart(
            chamber,
            span,
            timedelta(seconds=step),
            lines,
            tuple(b for b in _bands(span) if b.quantity in quantities) if grown else (),
            self._marks(span) if grown else (),
            tuple(_nights(span)),
            self.left_out,
        )

    def _line(self, chamber: str, name: str, span: Span, step: int) -> ChartLine:
        off = self.chambers[chamber] if name == "humidity_pct" else 0.0
        at: list[float] = []
        values: list[tuple[float, float, float] | None] = []
        start = int(span.start.timestamp() // step * step)
        for begin in range(start, int(span.end.timestamp()), step):
            middle = begin + step / 2
            if not self._was_read(middle):
                if values and values[-1] is not None:
                    at.append(middle)
                    values.append(None)
                continue
            parts = [AIR[name](begin + step * n / 8) + off for n in range(8)]
            at.append(middle)
            values.append((min(parts), sum(parts) / 8, max(parts)))
        return ChartLine(
            name,
            UNITS[name],
            tuple(at),
            tuple(None if v is None else round(v[0], 3) for v in values),
            tuple(None if v is None else round(v[1], 3) for v in values),
            tuple(None if v is None else round(v[2], 3) for v in values),
        )

    def _was_read(self, moment: float) -> bool:
        when = datetime.fromtimestamp(moment, UTC)
        return self.first <= when < self.last and not self.gap.start <= when < self.gap.end

    def _marks(self, span: Span) -> tuple[Mark, ...]:
        marks = self.marks if self.marks is not None else tuple(_days_marks(span, self.last))
        return tuple(
            mark
            for mark in sorted(marks, key=lambda m: m.at)
            if mark.at < span.end and (mark.until or mark.at) >= span.start
        )


def _days_marks(span: Span, last: datetime) -> list[Mark]:
    made = []
    day = span.start.replace(hour=0, minute=0, second=0, microsecond=0)
    while day < span.end:
        for number, hour in enumerate(MISTED_AT):
            when = day + timedelta(hours=hour)
            kind = MarkKind.FOUND if number == 1 else MarkKind.DEED
            words = "misting, seen in the readings" if number == 1 else "misted, 40 g into the air"
            made.append(Mark(kind, when, None, "misted", words))
        for hour in VENTED_AT:
            when = day + timedelta(hours=hour)
            made.append(Mark(MarkKind.DEED, when, None, "vented", "vented 5 min"))
        began = day + timedelta(hours=11)
        made.append(
            Mark(
                MarkKind.REMINDER,
                began,
                began + timedelta(hours=1),
                "mist",
                "mist; over after 60 min",
            )
        )
        day += timedelta(days=1)
    opened = NOON - CHANGED
    made.append(Mark(MarkKind.GROWING, opened, None, "opened", "batch 6 (grey oyster): opened"))
    asked = NOON - timedelta(hours=3)
    made.append(Mark(MarkKind.REMINDER, asked, None, "vent", "vent; not over yet"))
    return [mark for mark in made if mark.at < last]


def _bands(span: Span) -> list[BandThen]:
    changed = NOON - CHANGED
    made = []
    if span.start < changed:
        end, why = min(span.end, changed), "batch 6 (grey oyster, pinning)"
        made += [
            BandThen("humidity_pct", span.start, end, 88.0, 97.0, 70.0, None, why),
            BandThen("temperature_c", span.start, end, 13.0, 18.0, None, 28.0, why),
            BandThen("co2_ppm", span.start, end, None, 1000.0, None, 2000.0, why),
            BandThen("vpd_kpa", span.start, end, 0.05, 0.3, None, None, why),
        ]
    if span.end > changed:
        start, why = max(span.start, changed), "batch 6 (grey oyster, fruiting)"
        made += [
            BandThen("humidity_pct", start, span.end, 80.0, 95.0, 70.0, None, why),
            BandThen("temperature_c", start, span.end, 15.0, 20.0, None, 28.0, why),
            BandThen("co2_ppm", start, span.end, None, 1200.0, None, 2000.0, why),
            BandThen("vpd_kpa", start, span.end, 0.1, 0.5, None, None, why),
        ]
    return made


def _nights(span: Span) -> list[Span]:
    made = []
    day = span.start.astimezone(ZONE).date() - timedelta(days=1)
    while (begins := datetime.combine(day, time(22), ZONE).astimezone(UTC)) < span.end:
        ends = datetime.combine(day + timedelta(days=1), time(6), ZONE).astimezone(UTC)
        if ends > span.start:
            made.append(Span(max(begins, span.start), min(ends, span.end)))
        day += timedelta(days=1)
    return made
