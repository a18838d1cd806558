"""Air changes per hour from the CO2 of a chamber after a step: vented down, or rising again.

Tracer decay in one well-mixed room (ASTM E741; ASTM D6245 for CO2) with a source:
C(t) = C_end + (C_0 - C_end) e^(-N t), C_end = C_in + G / (N V). A line through ln(C - C_in) takes
the inlet, the sensor's offset and an instant sensor for granted, and its interval then holds the
truth in one case of five or ten. Fitted here are the end value, the rate and the start:

- A sensor with first-order lag tau shows the same exponential, larger by 1 / (1 - N tau), and
  terms that die away as e^(-t / tau). Those are left free, at three lags around the stated one:
  together they make up any lag from two thirds to four thirds of it, whatever the sensor showed
  when the record began.
- An offset goes into the free end value, a wrong gain stretches start and end alike: neither
  touches the rate. (A sensor that is not linear would; that is not modelled.)
- The source is never negative: the end value lies above the inlet, within the accuracy of both.
  Nothing else is made of the inlet; with a source, the end value may lie anywhere above.
- Noise wanders (see leastsquares); how long it remembers and how large it is are found from the
  record along with the rate. The interval is that of the rate's probability over all of it.

Somebody who breathes into the inlet bends the curve. A bend is looked for. Where it is smooth, or
small beside the noise, no curve can tell it from a faster or slower decay: with 100 to 400 ppm
more in the room, rising within minutes, three in five of the records that would have been
answered are refused, and the others are typically a quarter off. Where the room has a sensor of
its own, look there first. Where it has none, the inlet may have drifted either way: the interval
is that of all drifts up to the stated one, and without a change that dwarfs them there is none.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from chamberwatch.core.air.accuracy import DIGITAL, Accuracy
from chamberwatch.core.air.decay import (
    SLOWEST_PER_H,
    Record,
    likeliest_noise,
    quantiles,
    searched,
)
from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.vent import co2_g_per_m3_per_ppm

SHORTEST_S: Final = 600.0
FEWEST: Final = 15
LEAST_CHANGE_PPM: Final = 60.0
WIDEST: Final = 3.0
"""An interval whose ends differ by more than this factor is no answer."""

_BEYOND: Final = 6.0
"""Rates are looked for up to so many times what can be followed, to know them when they come."""
_BEND: Final = 2.2  # in standard errors; about one good curve in six is refused for it
_NEEDED: Final = 12.0
"""A rate the record needs lowers its squares, in units of the noise, by at least so much."""


@dataclass(frozen=True, slots=True)
class Inlet:
    """The air that comes in.

    Attributes:
        ppm: its CO2. [ppm]
        spread_ppm: its ±. [ppm]
        drift_ppm_per_h: it may go up or down so fast meanwhile; 0 where somebody looked. [ppm/h]
    """

    ppm: float
    spread_ppm: float
    drift_ppm_per_h: float = 0.0


@dataclass(frozen=True, slots=True)
class Curve:
    """An exponential approach that the readings bear out.

    Attributes:
        start_ppm: of the chamber (not of the sensor, which lags) at the first reading.
        end_ppm: where the chamber would settle.
        per_h: air changes. [1/h]
        low_per_h: end of the 95 % interval. [1/h]
        high_per_h: end of the 95 % interval. [1/h]
        r2: share of the variance of the readings that the curve explains.
        points: readings behind it.
        end_at_low_ppm: the end value that goes with low_per_h.
        end_at_high_ppm: the end value that goes with high_per_h.
        end_spread_ppm: ± of the end value (95 %) at a given rate, noise alone.
    """

    start_ppm: float
    end_ppm: float
    per_h: float
    low_per_h: float
    high_per_h: float
    r2: float
    points: int
    end_at_low_ppm: float
    end_at_high_ppm: float
    end_spread_ppm: float


@dataclass(frozen=True, slots=True)
class Refused:
    """Why there is no figure, in words for a person."""

    reason: str


TOO_SHORT: Final = Refused(
    "fewer than ten minutes of readings: leave the chamber alone a while longer"
)
TOO_FEW: Final = Refused(
    f"fewer than {FEWEST} readings: have the sensor report more often, or wait longer"
)
NO_CHANGE: Final = Refused(
    "CO2 hardly changed: try after a vent that takes it down by a few hundred ppm"
)
TOO_FAST: Final = Refused(
    "air changes faster than this sensor can follow: use the flow of the fan instead"
)
UNCERTAIN: Final = Refused(
    "the readings fit slow and fast air changes alike: a longer record or a larger change of CO2 "
    "would tell"
)
UNEVEN: Final = Refused(
    "the curve is not that of even mixing: somebody may have been breathing into the room, or the "
    "front was moved; try again after the next vent"
)
DRIFTING: Final = Refused(
    "nothing measures the CO2 of the room, and people in it could explain this curve: a CO2 "
    "sensor in the room would tell, or a vent that takes the CO2 down by several hundred ppm"
)


def fit(
    points: Sequence[tuple[float, float]], *, lag_s: float, accuracy: Accuracy, inlet: Inlet
) -> Curve | Refused:
    """Find air changes from CO2 after a step.

    Args:
        points: time [s] and CO2 [ppm], in order, from the step on.
        lag_s: of the sensor: it has done 63 % of the way by then; the truth within a third. [s]
        accuracy: of the sensor.
        inlet: the air that comes in. Too high a figure spoils the fit, too low a one doesn't.
    """
    refused = _too_little(points)
    if refused is not None:
        return refused
    record = Record(
        points, lag_s, inlet.ppm, math.hypot(accuracy.co2_at_ppm(inlet.ppm), inlet.spread_ppm)
    )
    if _span(record.ppm) < LEAST_CHANGE_PPM:
        return NO_CHANGE
    interval_s = (points[-1][0] - points[0][0]) / (len(points) - 1)
    # The rate where the difference falls by e within three lags, or three readings.
    fastest_per_h = 3600.0 / (3.0 * max(lag_s, interval_s))
    rates, heights = searched(record, _BEYOND * fastest_per_h)
    low, per_h, high = quantiles(rates, heights, (0.025, 0.5, 0.975))
    which = likeliest_noise(heights)
    if per_h > fastest_per_h:
        return TOO_FAST
    refused = _doubted(record, (low, per_h, high), which)
    if refused is not None:
        return refused
    curve = _curve(record, (low, per_h, high), which, len(points))
    return _widened(curve, points, lag_s, inlet) if inlet.drift_ppm_per_h > 0.0 else curve


def _widened(
    curve: Curve, points: Sequence[tuple[float, float]], lag_s: float, inlet: Inlet
) -> Curve | Refused:
    """Return a curve whose interval holds for an inlet that drifted either way.

    The chamber is taken to follow the drift at once, as it does where air changes fast: a slower
    one follows less, and then the interval is wider than it need be. What bends is not asked
    again, for a drift bends the curve hardly at all.
    """
    ends: list[tuple[float, float]] = []
    for ppm_per_h in (-inlet.drift_ppm_per_h, inlet.drift_ppm_per_h):
        without = [(t, ppm - ppm_per_h * (t - points[0][0]) / 3600.0) for t, ppm in points]
        # Where the inlet stands is no floor for what is left without its drift.
        record = Record(without, lag_s, 0.0, inlet.ppm)
        fell = without[-1][1] < without[0][1]
        if fell is not (points[-1][1] < points[0][1]) or _span(record.ppm) < LEAST_CHANGE_PPM:
            return DRIFTING
        rates, heights = searched(record, _BEYOND * max(curve.high_per_h, 1.0))
        low, high = quantiles(rates, heights, (0.025, 0.975))
        ends.append((low, high))
    low = min(curve.low_per_h, *(low for low, _ in ends))
    high = max(curve.high_per_h, *(high for _, high in ends))
    if high > WIDEST * low:
        return DRIFTING
    return replace(curve, low_per_h=low, high_per_h=high)


def _span(values: Sequence[float]) -> float:
    return max(values) - min(values)


def _too_little(points: Sequence[tuple[float, float]]) -> Refused | None:
    if len(points) < FEWEST:
        return TOO_FEW
    return TOO_SHORT if points[-1][0] - points[0][0] < SHORTEST_S else None


def _doubted(record: Record, rates: tuple[float, float, float], which: int) -> Refused | None:
    """Return why a rate that was found is not to be believed, None if it is."""
    low, per_h, high = rates
    if high > WIDEST * low or low < 1.1 * SLOWEST_PER_H:
        # Without need of a rate, a step that only the sensor's lag has rounded says it all.
        return UNCERTAIN if record.needed(per_h, which) > _NEEDED else TOO_FAST
    return UNEVEN if record.bend(per_h) > _BEND else None


def _curve(record: Record, rates: tuple[float, float, float], which: int, points: int) -> Curve:
    low, per_h, high = rates
    best = record.added(per_h, which)
    return Curve(
        start_ppm=best.last + best.amount * (1.0 - per_h / 3600.0 * record.lag_s),
        end_ppm=best.last,
        per_h=per_h,
        low_per_h=low,
        high_per_h=high,
        r2=record.r2(per_h, which),
        points=points,
        end_at_low_ppm=record.added(low, which).last,
        end_at_high_ppm=record.added(high, which).last,
        end_spread_ppm=1.96 * record.noise_of(best, which) * best.last_spread,
    )


def source_g_per_h(
    curve: Curve,
    inlet_ppm: float,
    volume_m3: float,
    temperature_c: float = 20.0,
    pressure_pa: float = 101_325.0,
) -> float:
    """Return the CO2 given off in the chamber, never below nought. [g/h].

    G = N V (C_end - C_in), from the end value (ASTM D6245, equilibrium; from memory).
    """
    grams = co2_g_per_m3_per_ppm(temperature_c, pressure_pa) * volume_m3
    return max(grams * curve.per_h * (curve.end_ppm - inlet_ppm), 0.0)


def source_figure(
    curve: Curve,
    inlet: Inlet,
    volume_m3: float,
    accuracy: Accuracy = DIGITAL,
    temperature_c: float = 20.0,
    pressure_pa: float = 101_325.0,
) -> Figure:
    """Return the source with its interval: of the rate, noise, sensor and inlet. [g/h].

    Rate and end value are taken together: in a slow rise each is poorly known, and their product,
    the first slope, is known well. The volume is taken as known.
    """
    grams = co2_g_per_m3_per_ppm(temperature_c, pressure_pa) * volume_m3

    def given_off(per_h: float, end_ppm: float) -> float:
        return grams * per_h * (end_ppm - inlet.ppm)

    value = given_off(curve.per_h, curve.end_ppm)
    at_ends = (
        given_off(curve.low_per_h, curve.end_at_low_ppm) - value,
        given_off(curve.high_per_h, curve.end_at_high_ppm) - value,
    )
    off = (
        grams
        * curve.per_h
        * math.hypot(accuracy.co2_at_ppm(curve.end_ppm), inlet.spread_ppm, curve.end_spread_ppm)
    )
    return Figure(
        value=max(value, 0.0),
        low=max(value - math.hypot(min(*at_ends, 0.0), off), 0.0),
        high=max(value + math.hypot(max(*at_ends, 0.0), off), 0.0),
        origin=Origin.MEASURED,
        count=1,
    )
