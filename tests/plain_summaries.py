"""Summaries reckoned the plain way: from all readings, each time anew, without a database.

Written from the words of `Summary` and of nothing else, so that what is kept can be held
against it; and a stand-in for it where speed is no matter.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final

from chamberwatch.core.air.psychrometrics import air_state, dew_point_c, vpd_pa
from chamberwatch.core.review.summary import (
    Columns,
    Level,
    Reckoned,
    Rules,
    Summary,
    Unsummed,
)
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.books import Span

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
MINUTE: Final = timedelta(minutes=1)
MEASURED: Final = {
    "temperature_c": Quantity.TEMPERATURE,
    "humidity_pct": Quantity.HUMIDITY,
    "co2_ppm": Quantity.CO2,
    "pressure_pa": Quantity.PRESSURE,
}
DERIVED: Final[Mapping[str, Callable[[float, float, float], float]]] = {
    "dew_point_c": lambda t, rh, _p: dew_point_c(t, rh),
    "vpd_kpa": lambda t, rh, _p: vpd_pa(t, rh) / 1000.0,
    "wet_bulb_c": lambda t, rh, p: air_state(t, rh, p).wet_bulb_c,
    "humidity_ratio_g_per_kg": lambda t, rh, p: 1000.0 * air_state(t, rh, p).humidity_ratio,
}
QUANTITIES: Final = (*MEASURED, *DERIVED)

Sample = tuple[datetime, str, float]


@dataclass
class PlainSummaries:
    """What some readings came to."""

    readings: list[Reading] = field(default_factory=list)
    rules: Rules = field(default_factory=Rules)

    def samples(self, quantity: str) -> list[Sample]:
        if quantity in MEASURED:
            return [
                (r.time, r.sensor, r.value)
                for r in self.readings
                if r.quantity is MEASURED[quantity]
            ]
        found = []
        humid = sorted(r for r in self.readings if r.quantity is Quantity.HUMIDITY)
        times = [r.time for r in humid]
        for warm in self.readings:
            if warm.quantity is not Quantity.TEMPERATURE:
                continue
            first = bisect_left(times, warm.time - MINUTE)
            last = bisect_right(times, warm.time + MINUTE)
            near = [
                (abs(r.time - warm.time), EPOCH - r.time, r.value)
                for r in humid[first:last]
                if r.sensor == warm.sensor
            ]
            if near:
                value = DERIVED[quantity](warm.value, min(near)[2], self.rules.pressure_pa)
                found.append((warm.time, warm.sensor, value))
        return found

    def standing(self, sample: Sample, quantity: str) -> str:
        time, sensor, value = sample
        micros = (time - EPOCH) // timedelta(microseconds=1)
        held = [h for h in self.rules.held.get((sensor, quantity), ()) if h.since_us <= micros]
        if not held or (held[-1].low, held[-1].high) == (None, None):
            return "unjudged"
        low, high = held[-1].low, held[-1].high
        if low is not None and value < low:
            return "below"
        return "above" if high is not None and value > high else "within"

    def within(
        self, sensors: Sequence[str], quantity: str, level: Level, span: Span
    ) -> list[Summary]:
        return self.steps(sensors, quantity, level.value, span)

    def steps(
        self, sensors: Sequence[str], quantity: str, step: timedelta, span: Span
    ) -> list[Summary]:
        groups: dict[datetime, list[Sample]] = {}
        for sample in self.samples(quantity):
            if sample[1] in sensors and span.start <= sample[0] < span.end:
                start = EPOCH + (sample[0] - EPOCH) // step * step
                groups.setdefault(start, []).append(sample)
        made = []
        for start, group in sorted(groups.items()):
            values = [value for _, _, value in group]
            stood = [self.standing(sample, quantity) for sample in group]
            made.append(
                Summary(
                    start,
                    len(values),
                    min(values),
                    sum(values) / len(values),
                    max(values),
                    stood.count("within"),
                    stood.count("below"),
                    stood.count("above"),
                )
            )
        return made

    def left_out(self, span: Span, raw_at_most: timedelta) -> Span | None:
        """Tell that nothing is: all is answered from the readings each time."""
        del span, raw_at_most
        return None

    def columns(
        self,
        sensors: Sequence[str],
        quantities: Sequence[str],
        step_s: int,
        span: Span,
        *,
        judged: bool = True,
        raw_at_most: timedelta | None = None,
    ) -> Mapping[str, Columns]:
        del judged, raw_at_most
        made = {}
        for quantity in quantities:
            found = self.steps(sensors, quantity, timedelta(seconds=step_s), span)
            rows = [
                (
                    round((s.start - EPOCH).total_seconds()),
                    *(s.count, s.least, s.mean * s.count, s.most, s.within, s.below, s.above),
                )
                for s in found
            ]
            made[quantity] = Columns(*zip(*rows, strict=True)) if rows else Columns()
        return made


@dataclass
class PlainSumming:
    """Sums nothing up: everything is answered from the readings."""

    of: PlainSummaries = field(default_factory=PlainSummaries)

    def follow(self, rules: Rules) -> bool:
        changed = rules != self.of.rules
        self.of.rules = rules
        return changed

    def reach_on(self, now: datetime) -> bool:
        del now
        return False

    def reach_back(self) -> bool:
        return False

    def waiting(self, limit: int) -> Sequence[Unsummed]:
        del limit
        return ()

    def reckon(self, quarters: Iterable[Unsummed]) -> Reckoned:
        return Reckoned(tuple(quarters), ())

    def keep(self, reckoned: Reckoned) -> None:
        del reckoned

    def drop_before(self, before: datetime) -> datetime:
        del before
        return EPOCH

    def dropped_before(self) -> datetime | None:
        return None

    def add_late(self) -> int:
        return 0
