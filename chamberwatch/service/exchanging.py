"""Air changes from stretches of the CO2 record: which stretches, with which inlet."""

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import pairwise
from statistics import fmean, linear_regression, pstdev
from typing import Final

from chamberwatch.core.air.exchange import (
    SHORTEST_S,
    Curve,
    Inlet,
    Refused,
    fit,
    source_g_per_h,
)
from chamberwatch.core.air.vent import OUTDOOR_PPM
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.lasting import BREAKS_S
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.tracks import Points
from chamberwatch.service.books import Book, Span
from chamberwatch.service.gathering import CO2, Heard, busiest, moment

SHORTEST: Final = timedelta(minutes=15)
"""A closed chamber changes too little in less."""

LONGEST: Final = timedelta(hours=3)
"""In longer ones the room's air and the respiration do not stay the same."""

APART: Final = timedelta(hours=1)
"""At most one closed stretch an hour: more would count the same evening many times."""

VENTED_SHORTEST: Final = timedelta(seconds=SHORTEST_S)
"""The fit takes no less."""

STEADY_PPM: Final = 40.0
"""The room's CO2 may move by so much: the fit stands an inlet that is wrong by 30 ppm or so.
People coming home raise it by 100 ppm an hour, which looks like a slower change of air."""

DRIFT_PPM_PER_H: Final = 60.0
"""Faster than this the room does not stay the same, however little of it is looked at."""

DRIFT_SEEN_PPM: Final = 15.0
"""A drift that comes to less can't be told from the noise of a home sensor over ten minutes."""

STEADY_STEP_S: Final = 600.0
"""Over which the noise of the room's sensor is averaged for that. [s]"""

SETTLES: Final = 3.0
"""Lags of the CO2 sensor after an event until it has forgotten it, but for 5 %."""

LAG_S: Final = 90.0
"""Of a usual sensor, for where a stretch begins; the fit takes the sensor's own. [s]"""

USUAL_C: Final = 20.0
MINUTE: Final = timedelta(minutes=1)

BROKEN: Final = "CO2 was not read for long enough without a break: look at the sensor"
UNSTEADY: Final = (
    "the room's CO2 did not stay the same for long enough: a night, or hours with nobody at home, "
    "tell more"
)

ASSUMED_INLET: Final = Inlet(OUTDOOR_PPM, 50.0, 100.0)
"""People who come home or leave move it by 100 ppm an hour, and nobody sees that."""


@dataclass(frozen=True, slots=True)
class Calm:
    """Stretches are looked for in `span`; what lies before `done` has been dealt with."""

    span: Span
    done: Sequence[Exchange]


def calm_stretches(found: Sequence[Found], calm: Calm) -> Iterator[Span]:
    """Yield the stretches between events that are ready to be fitted, in order.

    A stretch is ready when an event has ended it, or when it is as long as one may be.

    Args:
        found: mistings and ventings, in order of their start.
        calm: where to look.
    """
    last = max((e.start for e in calm.done if not e.vented), default=None)
    since = max([calm.span.start, *(e.end for e in calm.done if not e.vented)])
    for stretch, ended in _between(found, calm.span):
        start = max(stretch.start, since)
        while stretch.end - start >= SHORTEST:
            end = min(stretch.end, start + LONGEST)
            if end - start < LONGEST and not ended:
                break
            if last is None or start - last >= APART:
                last = start
                yield Span(start, end)
            start = end


def _between(found: Sequence[Found], span: Span) -> Iterator[tuple[Span, bool]]:
    """Yield the stretches without an event, and whether an event ended each."""
    settle = timedelta(seconds=SETTLES * LAG_S)
    start = span.start
    for event in found:
        if event.end <= span.start or event.start >= span.end:
            continue
        yield Span(start, event.start), True
        start = max(start, event.end + settle)
    yield Span(start, span.end), False


def long_ventings(found: Sequence[Found]) -> Iterator[Span]:
    """Yield the ventings that are long enough for a fit of their own."""
    for event in found:
        if event.kind is Kind.VENTING and event.end - event.start >= VENTED_SHORTEST:
            yield Span(event.start, event.end)


@dataclass(frozen=True, slots=True)
class Exchanging:
    """Fits air changes to stretches of one chamber."""

    house: House
    chamber: str
    doubted: Collection[str]

    def of(self, book: Book, span: Span, *, vented: bool) -> Exchange | None:
        """Return the air changes over a stretch, or why there are none.

        None where the chamber's CO2 was not read at all.
        """
        heard = busiest(book, self.house, self.chamber, span, CO2, self.doubted)
        if heard is None:
            return None
        room = self._room(book, span)
        shortest = VENTED_SHORTEST if vented else SHORTEST
        blank = Exchange(0, self.chamber, span.start, span.end, vented=vented)
        whole = longest_run(heard.points)
        if length(whole) < shortest - MINUTE:
            return replace(blank, refusal=BROKEN)
        steady = whole if room is None else steadily(whole, room.points)
        if length(steady) < shortest - MINUTE:
            return replace(blank, refusal=UNSTEADY)
        return self._fitted(book, Heard(heard.sensor, steady), room, blank)

    def _room(self, book: Book, span: Span) -> Heard | None:
        """Return what was heard of the CO2 of the air that comes in."""
        room = self.house.chambers[self.chamber].surrounding
        return None if room is None else busiest(book, self.house, room, span, CO2, self.doubted)

    def _fitted(self, book: Book, heard: Heard, room: Heard | None, blank: Exchange) -> Exchange:
        points, sensor = heard.points, heard.sensor
        span = Span(moment(points[0][0]), moment(points[-1][0]))
        inlet = ASSUMED_INLET if room is None else inlet_of(room, points)
        known = replace(
            blank,
            start=span.start,
            end=span.end,
            inlet_ppm=inlet.ppm,
            inlet_measured=room is not None,
        )
        curve = fit(points, lag_s=sensor.co2_lag_s, accuracy=sensor.accuracy, inlet=inlet)
        if isinstance(curve, Refused):
            return replace(known, refusal=curve.reason)
        return replace(
            known,
            per_h=curve.per_h,
            low=curve.low_per_h,
            high=curve.high_per_h,
            r2=curve.r2,
            end_ppm=curve.end_ppm,
            source_g_per_h=self._source_g_per_h(book, curve, inlet, span),
        )

    def _source_g_per_h(self, book: Book, curve: Curve, inlet: Inlet, span: Span) -> float | None:
        volume_l = self.house.chambers[self.chamber].volume_l
        if volume_l is None:
            return None
        warm = busiest(book, self.house, self.chamber, span, (Quantity.TEMPERATURE,), self.doubted)
        temperature_c = USUAL_C if warm is None else fmean(value for _, value in warm.points)
        return source_g_per_h(
            curve, inlet.ppm, volume_l / 1000.0, temperature_c, self.house.pressure_pa
        )


def length(points: Points) -> timedelta:
    """Return the time from the first point to the last."""
    return timedelta(seconds=points[-1][0] - points[0][0]) if points else timedelta(0)


def longest_run(points: Points) -> Points:
    """Return the longest stretch of points without a gap that breaks the record off."""
    breaks = [i + 1 for i, (a, b) in enumerate(pairwise(points)) if b[0] - a[0] > BREAKS_S]
    return max((points[a:b] for a, b in pairwise([0, *breaks, len(points)])), key=length)


def during(points: Points, between: tuple[float, float]) -> Points:
    """Return the points between two times. [s]."""
    return [point for point in points if between[0] <= point[0] <= between[1]]


def steadily(points: Points, room: Points) -> Points:
    """Return the points during which the room's CO2 stayed the same; none where it went on."""
    between = steady_stretch(room)
    return [] if drifts(during(room, between)) else during(points, between)


def drifts(room: Points) -> bool:
    """Tell whether the room's CO2 moves on all the time, as with people in it."""
    if len(room) < 3:
        return False
    slope = abs(linear_regression(*zip(*room, strict=True)).slope)
    moved_ppm = slope * (room[-1][0] - room[0][0])
    return slope * 3600.0 > DRIFT_PPM_PER_H and moved_ppm > DRIFT_SEEN_PPM


def steady_stretch(points: Points) -> tuple[float, float]:
    """Return from when to when the room's CO2 moved least for longest. [s]."""
    groups: dict[int, list[float]] = {}
    for time_s, value in points:
        groups.setdefault(int(time_s // STEADY_STEP_S), []).append(value)
    steps = [(step, fmean(values)) for step, values in sorted(groups.items())]
    best, first = (0, -1), 0
    for last in range(len(steps)):
        values = [value for _, value in steps[first : last + 1]]
        while max(values) - min(values) > STEADY_PPM:
            values.pop(0)
            first += 1
        if steps[last][0] - steps[first][0] > best[1] - best[0]:
            best = (steps[first][0], steps[last][0])
    return best[0] * STEADY_STEP_S, (best[1] + 1) * STEADY_STEP_S


def inlet_of(room: Heard, points: Points) -> Inlet:
    """Return the mean of the room over the time of some points, with its ±."""
    values = [v for _, v in during(room.points, (points[0][0], points[-1][0]))]
    values = values or [v for _, v in room.points]
    mean = fmean(values)
    return Inlet(mean, math.hypot(room.sensor.accuracy.co2_at_ppm(mean), pstdev(values)))
