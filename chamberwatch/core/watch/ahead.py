"""Looking ahead: when a value on its way to a limit will be there, fitted on its last readings.

A chamber left to itself goes towards an end as v(t) = v_end + (v_0 - v_end) e^(-k t). Written with
the value and the slope of this moment it is v(t) = v_now + s (1 - e^(-k t)) / k, which holds for
k = 0 (a straight line) and k < 0 (faster and faster: walls that run dry) as well; where k > 0,
v_end = v_now + s / k, and that lies on this side of what surrounds the chamber.

No k is picked: each that can be is tried under noises that remember for long or short
(`core/air/leastsquares.py`) and counts as much as it is likely. What is told are the times before
which the limit is reached with a probability of 10, 50 and 90 %.

What is learnt of a chamber (`core/air/holding.py`) foretells the same from how much water stands.
On simulated tents whose ways had been learnt for eight hours it was within 10 min in 45 % of the
cases 15 to 30 min ahead, where this fit was in 94 %; 45 to 60 min ahead in 40 and 48 %. Mixed,
they were hardly better. So the fit speaks for the next hour, the balance for the night.

It is made on the relative humidity, not on the water in the air: where a room's temperature
swings, wet walls hold the first steadier than the second (tried on such tents).
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import lru_cache
from itertools import accumulate
from typing import Final

from chamberwatch.core.air.leastsquares import Column, Noise, dot, thinned
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Side

Points = Sequence[tuple[float, float]]
"""Time [s] and value, in order."""

FITTED_OVER: Final = timedelta(minutes=40)
"""What is older says little of how the air goes now."""

LEAST_RECORD: Final = timedelta(minutes=12)
LEAST_POINTS: Final = 8
_BINS: Final = 40

FURTHEST: Final = timedelta(hours=3)
"""Nothing further ahead is told."""

_LATEST_H: Final = 6.0
"""A latest time beyond this says no more than “perhaps never”. [h]"""

_EARLIEST, _LIKELY, _LATEST = 0.1, 0.5, 0.9

_MEMORIES: Final = ((15.0, 0.3), (60.0, 0.4), (150.0, 0.3))
"""How long a sensor's error remembers [s], and how likely that is (common practice)."""

NOISE: Final[Mapping[Quantity, float]] = {
    Quantity.HUMIDITY: 0.25,
    Quantity.TEMPERATURE: 0.06,
    Quantity.CO2: 6.0,
}
"""Of home sensors, for a record that happens to lie smooth (common practice). [%], [K], [ppm]."""

_NOISE_SEEN: Final = 3.0
"""As if so many readings had been seen with that noise."""

TURN: Final[Mapping[Quantity, float]] = {
    Quantity.HUMIDITY: 1.5,
    Quantity.TEMPERATURE: 0.4,
    Quantity.CO2: 60.0,
}
"""A value that came back by so much was put back by somebody: about six times the noise."""

_RATES_PER_H: Final = (-2.0, -1.0, -0.5, 0.0, 0.2, 0.4, 0.7, 1.1, 1.7, 2.6, 4.0, 6.0, 9.0, 14.0)
"""A sealed tub changes its air 0.2 times an hour, an opened front more than four times; wet walls
add to it (common practice)."""

_SLOPE_OFF: Final = 0.12
"""So far off may the slope of the next half hour be, since the room changes as well."""

_SLOPES: Final = (
    *((-1.8, 0.08), (-1.0, 0.24), (-0.3, 0.18)),
    *((0.3, 0.18), (1.0, 0.24), (1.8, 0.08)),
)
"""A normal spread in six: standard deviations, and the share of each."""


USUAL_PER_H: Final[Mapping[Quantity, tuple[float, float]]] = {
    Quantity.HUMIDITY: (2.0, 0.7),
    Quantity.CO2: (1.5, 0.8),
    Quantity.TEMPERATURE: (0.4, 0.8),
}
"""The rate at which it usually goes towards its end, and how far that may be off as a logarithm.

Leakage with wet walls; leakage; a house whose heating is off (common practice). A leakage found
from the record made no forecast of the humidity better, and those of CO2 hardly.
"""

_BESIDES: Final = -1.5
"""Logarithm of how usual any other rate is, a straight line and running dry among them."""

FLAT_PER_H: Final = 6.0
"""A value that takes longer than ten minutes to move by its noise may be at its limit any time."""


@dataclass(frozen=True, slots=True)
class Towards:
    """A limit, and what is known of where the value is going.

    Attributes:
        quantity: of the value.
        side: which limit.
        limit: its value.
        end: the furthest it goes by itself, such as to the humidity that the room's water makes
            at the chamber's temperature; None: not known. (A room that cools takes the chamber
            with it beyond the temperature that the room has now.)
        end_off: how far that may be off.
    """

    quantity: Quantity
    side: Side
    limit: float
    end: float | None = None
    end_off: float = 3.0

    @property
    def sign(self) -> float:
        """1 where the limit is reached by falling, -1 where by rising."""
        return 1.0 if self.side is Side.LOW else -1.0

    def distance(self, value: float) -> float:
        """Return how far a value still has to go; below 0 beyond the limit."""
        return self.sign * (value - self.limit)

    def usual(self, rate_per_h: float) -> float:
        """Return the logarithm of how usual a rate is."""
        if rate_per_h <= 0.0:
            return _BESIDES
        usual, spread = USUAL_PER_H[self.quantity]
        off = math.log(rate_per_h / usual) / spread
        return max(-0.5 * off * off, _BESIDES)


@dataclass(frozen=True, slots=True)
class Ahead:
    """When the limit is reached, counted from the last reading. [min].

    Attributes:
        earliest_min: sooner with a probability of 10 %.
        likely_min: as likely sooner as later.
        latest_min: later with a probability of 10 %; None: perhaps never.
        value: of this moment, freed of noise.
        slope_per_h: of this moment.
    """

    earliest_min: float
    likely_min: float
    latest_min: float | None
    value: float
    slope_per_h: float


@dataclass(frozen=True, slots=True)
class _Fit:
    """The record under one rate and one noise, as a distance that falls to nought.

    Attributes:
        likelihood: its logarithm.
        rate: k. [1/h]
        value: distance of this moment.
        slope: of this moment, in an hour.
        value_off: standard error of the distance.
        slope_off: standard error of the slope.
        together: correlation of the two.
    """

    likelihood: float
    rate: float
    value: float
    slope: float
    value_off: float
    slope_off: float
    together: float


def calm_tail(points: Points, towards: Towards, gap: timedelta) -> Points:
    """Return the points since the value last came back from its way to the limit.

    A misting lifts the humidity, a venting lowers the CO2: what the chamber did before says
    nothing of what follows. Nor does anybody know what it did in a gap that long.
    """
    turn, longest_s = TURN[towards.quantity], gap.total_seconds()
    start, nearest, furthest, last_s = 0, math.inf, math.inf, -math.inf
    for i, (time_s, value) in enumerate(points):
        distance = towards.distance(value)
        if time_s - last_s > longest_s:
            start, nearest, furthest = i, distance, math.inf
        elif distance > nearest + turn or distance >= furthest:
            # Once it has turned, the fit begins where it stands highest.
            start, nearest, furthest = i, distance, distance
        nearest, last_s = min(nearest, distance), time_s
    return points[start:]


def ahead(points: Points, towards: Towards) -> Ahead | None:
    """Return when a value will be at a limit.

    None where the record is too short, the value hardly moves or lies beyond the limit already,
    or it is as likely as not that the limit isn't reached within three hours.

    Args:
        points: readings since the chamber was last disturbed. [s], value
        towards: the limit.
    """
    if len(points) < LEAST_POINTS or points[-1][0] - points[0][0] < LEAST_RECORD.total_seconds():
        return None
    fits = _fits([(time, towards.distance(value)) for time, value in points], towards)
    logs = [fit.likelihood + towards.usual(fit.rate) for fit in fits]
    weights = [math.exp(log - max(logs)) for log in logs]
    value = math.fsum(w * f.value for w, f in zip(weights, fits, strict=True)) / sum(weights)
    slope = math.fsum(w * f.slope for w, f in zip(weights, fits, strict=True)) / sum(weights)
    flat = slope > -FLAT_PER_H * NOISE[towards.quantity]
    if flat or value <= 0.0:
        return None
    times = [
        (hours, weight * share)
        for weight, fit in zip(weights, fits, strict=True)
        for hours, share in _times(fit, towards)
    ]
    earliest, likely, latest = _quantiles(times)
    if likely > FURTHEST / timedelta(hours=1):
        return None
    return Ahead(
        earliest_min=earliest * 60.0,
        likely_min=likely * 60.0,
        latest_min=latest * 60.0 if latest <= _LATEST_H else None,
        value=towards.limit + towards.sign * value,
        slope_per_h=towards.sign * slope,
    )


def _fits(points: Points, towards: Towards) -> list[_Fit]:
    times_s, values = thinned(points, _BINS)
    grids = _grids(tuple(times_s), points[-1][0], points[0][0])
    level = NOISE[towards.quantity]
    return [fit for grid in grids for fit in _fitted(grid, values, level)]


@dataclass(frozen=True, slots=True)
class _Way:
    """How a slope of one goes on under one rate, and what every fit of it needs.

    Attributes:
        rate: k. [1/h]
        pulled: the way, weighted by the noise.
        cross: the weighted way times one.
        squares: the weighted way times itself.
        spread: what the normal equations are divided by.
    """

    rate: float
    pulled: Column
    cross: float
    squares: float
    spread: float


@dataclass(frozen=True, slots=True)
class _Grid:
    """Times at which something was read, under one noise, made ready for fits.

    Attributes:
        noise: of the record.
        share: how likely this noise is.
        weighted: a column of ones, weighted by the noise.
        ones: its sum.
        ways: one for each rate.
    """

    noise: Noise
    share: float
    weighted: Column
    ones: float
    ways: tuple[_Way, ...]


@lru_cache(8)
def _grids(times_s: tuple[float, ...], last_s: float, first_s: float) -> tuple[_Grid, ...]:
    """Return what follows from the times alone; remembered, for several limits share them.

    Args:
        times_s: of the points, from the first one on. [s]
        last_s: time of the last one. [s]
        first_s: time of the first one. [s]
    """
    hours = [(time - last_s + first_s) / 3600.0 for time in times_s]
    ways = [(rate, [_way(rate, time) for time in hours]) for rate in _RATES_PER_H]
    return tuple(
        _grid(Noise.wandering(times_s, memory_s), share, ways) for memory_s, share in _MEMORIES
    )


def _grid(noise: Noise, share: float, ways: Sequence[tuple[float, Column]]) -> _Grid:
    weighted = noise.weighted([1.0] * len(noise.main))
    ones = sum(weighted)
    made = []
    for rate, way in ways:
        pulled = noise.weighted(way)
        cross, squares = dot(way, weighted), dot(way, pulled)
        made.append(_Way(rate, pulled, cross, squares, ones * squares - cross * cross))
    return _Grid(noise, share, weighted, ones, tuple(made))


def _way(rate: float, hours: float) -> float:
    """Return how far a slope of one has gone. [h]."""
    return hours if rate == 0.0 else -math.expm1(-rate * hours) / rate


def _fitted(grid: _Grid, values: Column, level: float) -> Iterator[_Fit]:
    """Yield the least-squares fit of value and slope for each rate, under one noise.

    The likelihood has the noise's size, the value and the slope integrated out.

    Args:
        grid: times of the record and its noise.
        values: of the record.
        level: size of the noise as it usually is.
    """
    noise, ones, said = grid.noise, grid.ones, dot(values, grid.weighted)
    squares = dot(values, noise.weighted(values))
    freedom = len(values) - 2 + _NOISE_SEEN
    for way in grid.ways:
        cross, ways_, spread = way.cross, way.squares, way.spread
        moved = dot(values, way.pulled)
        value = (ways_ * said - cross * moved) / spread
        slope = (ones * moved - cross * said) / spread
        left = max(squares - value * said - slope * moved, 0.0)
        size = math.sqrt((left + _NOISE_SEEN * level**2) / freedom)
        yield _Fit(
            likelihood=math.log(grid.share)
            + 0.5 * (noise.log_det - math.log(spread))
            - freedom * math.log(size),
            rate=way.rate,
            value=value,
            slope=slope,
            value_off=size * math.sqrt(ways_ / spread),
            slope_off=size * math.sqrt(ones / spread),
            together=-cross / math.sqrt(ones * ways_),
        )


def _times(fit: _Fit, towards: Towards) -> Iterator[tuple[float, float]]:
    """Yield times at which a fit reaches the limit, with their shares. [h]."""
    end = None if towards.end is None else towards.distance(towards.end)
    off = math.hypot(fit.slope_off, _SLOPE_OFF * fit.slope)
    for deviations, share in _SLOPES:
        slope = fit.slope + deviations * off
        value = fit.value + deviations * fit.together * fit.value_off
        settles = value + slope / fit.rate if fit.rate > 0.0 else None
        if end is not None and settles is not None:
            # What would end beyond the surrounding is as unlikely as that is far.
            share *= 0.5 * math.erfc((end - settles) / (math.sqrt(2.0) * towards.end_off))
        yield _time(value, slope, fit.rate), share


def _time(value: float, slope: float, rate: float) -> float:
    """Return when a distance is nought, infinite where never. [h]."""
    if value <= 0.0:
        return 0.0
    if slope >= 0.0 or rate * value >= -slope:
        return math.inf
    return value / -slope if rate == 0.0 else -math.log1p(rate * value / slope) / rate


def _quantiles(times: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    """Return before when so much of the probability lies. [h]."""
    ordered = sorted(times)
    total = list(accumulate(share for _, share in ordered))

    def before(part: float) -> float:
        reached = (t for (t, _), sofar in zip(ordered, total, strict=True) if sofar >= part)
        return next(reached)

    whole = total[-1]
    return before(_EARLIEST * whole), before(_LIKELY * whole), before(_LATEST * whole)
