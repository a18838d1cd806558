"""How likely each rate of an exponential is, given a record that a slow sensor took of it."""

import math
from collections.abc import Sequence
from itertools import accumulate, pairwise
from typing import Final

from chamberwatch.core.air.leastsquares import Added, Column, Noise, Plane, Shape, dot, thinned

_BINS: Final = 50
# Together these make up any lag between 0.67 and 1.33 of the stated one to 0.1 % of the step. Two
# do so to 2 %, and then the interval misses the truth of a quiet sensor.
_LAGS: Final = (0.7, 0.94, 1.27)
# How long a sensor's error remembers [s], and how likely that is: common practice for the
# smoothing of CO2 sensors.
_MEMORIES: Final = ((5.0, 0.15), (35.0, 0.35), (70.0, 0.3), (120.0, 0.2))
_ALL: Final = tuple(range(len(_MEMORIES)))
_LONGEST: Final = _ALL[-1:]
# As if two readings had been seen with an error of 5 ppm: a short record that happens to lie
# smooth is not to be believed beyond what such sensors do (common practice: 3 to 10 ppm).
_NOISE_SEEN: Final = 2.0
_NOISE_PPM: Final = 5.0

SLOWEST_PER_H: Final = 0.02
"""Nothing slower is looked for."""
_SCAN: Final = 16
_FINE: Final = 18
_ENOUGH: Final = 7  # rates that are likely, of the fine ones
_UNLIKELY: Final = 9.0  # below the best logarithm by so much

_BEND_MEMORY_S: Final = 90.0
_ARRIVAL_S: Final = 200.0
_ALIKE: Final = 1e-3
_ARRIVALS: Final = (0.0, 0.12, 0.24, 0.36, 0.48, 0.6, 0.75)


class Record:
    """Readings averaged into bins, and what of the curve doesn't depend on its rate.

    Attributes:
        times_s: from the first reading. [s]
        ppm: mean CO2. [ppm]
        lag_s: of the sensor. [s]
    """

    def __init__(
        self,
        points: Sequence[tuple[float, float]],
        lag_s: float,
        floor_ppm: float,
        floor_spread_ppm: float,
    ) -> None:
        """Take in the readings; the end value lies above the floor, give or take its spread."""
        self.times_s, self.ppm = thinned(points, _BINS)
        self.lag_s = lag_s
        self._floor_ppm, self._floor_spread_ppm = floor_ppm, floor_spread_ppm
        self._planes = [self._plane(memory_s) for memory_s, _ in _MEMORIES]

    def _plane(self, memory_s: float) -> Plane:
        plane = Plane(Noise.wandering(self.times_s, memory_s), self.ppm)
        for share in _LAGS if self.lag_s > 0.0 else ():
            plane.add([math.exp(-t / (share * self.lag_s)) for t in self.times_s])
        plane.add([1.0] * len(self.times_s))  # last, since its coefficient is asked for
        return plane

    def decay(self, per_h: float) -> Column:
        """Return the exponential of a rate."""
        per_s = -per_h / 3600.0
        return [math.exp(per_s * t) for t in self.times_s]

    def noise_ppm(self, left: float, columns: int) -> float:
        """Return the size of the noise from a weighted sum of squares. [ppm]."""
        freedom = len(self.times_s) - columns + _NOISE_SEEN
        return math.sqrt((left + _NOISE_SEEN * _NOISE_PPM**2) / freedom)

    def likelihoods(self, per_h: float, which: Sequence[int]) -> list[float]:
        """Return the logarithm of the likelihood of a rate, under each of some noises."""
        shape = Shape.of(self.decay(per_h))
        return [self._likelihood(shape, one) for one in which]

    def _likelihood(self, shape: Shape, which: int) -> float:
        """Return it with the noise's size and the coefficients integrated out.

        That leaves a power of the sum of squares. (The length of the rate's own column is left
        out on purpose: with it, the rate of nought with an end value at infinity would always be
        the likeliest.)
        """
        plane = self._planes[which]
        added = plane.adding(shape)
        columns = plane.width + 1
        freedom = len(self.times_s) - columns + _NOISE_SEEN
        noise_ppm = self.noise_ppm(added.left, columns)
        above = (added.last - self._floor_ppm) / math.hypot(
            self._floor_spread_ppm, noise_ppm * added.last_spread
        )
        return (
            math.log(_MEMORIES[which][1])
            + 0.5 * plane.noise.log_det
            - plane.log_lengths
            - freedom * math.log(noise_ppm)
            + math.log(max(0.5 * math.erfc(-above / math.sqrt(2.0)), 1e-30))
        )

    def added(self, per_h: float, which: int) -> Added:
        """Return the curve of a likely rate under one noise."""
        return self._planes[which].adding(Shape.of(self.decay(per_h)))

    def noise_of(self, added: Added, which: int) -> float:
        """Return the size of the noise beside a curve. [ppm]."""
        return self.noise_ppm(added.left, self._planes[which].width + 1)

    def needed(self, per_h: float, which: int) -> float:
        """Return by how much a rate lowers the sum of squares, in units of the noise.

        What is left without it is a step that only the sensor's lag has rounded.
        """
        added = self.added(per_h, which)
        return (self._planes[which].left - added.left) / self.noise_of(added, which) ** 2

    def r2(self, per_h: float, which: int) -> float:
        """Return the share of the variance that the curve explains."""
        amount = self.added(per_h, which).amount
        off = self._planes[which].rest_beside(self.decay(per_h), amount)
        mean = sum(self.ppm) / len(self.ppm)
        return 1.0 - dot(off, off) / sum((one - mean) ** 2 for one in self.ppm)

    def bend(self, per_h: float) -> float:
        """Return how surely the record bends off its curve, in standard errors.

        Looked for are an inlet that drifts evenly and one that rises within minutes, at several
        times; start, end, rate and lag may give way to each.
        """
        plane = self._plane(_BEND_MEMORY_S)
        decay = self.decay(per_h)
        plane.add(decay)
        plane.add([t * x for t, x in zip(self.times_s, decay, strict=True)])
        span_s = self.times_s[-1]
        columns = [self.times_s] + [self._arrival(per_h, span_s * share) for share in _ARRIVALS]
        found = [plane.adding(Shape.of(column)) for column in columns]
        return max(
            abs(one.amount) * one.length / self.noise_ppm(one.left, plane.width + 1)
            for one in found
        )

    def _arrival(self, per_h: float, at_s: float) -> Column:
        """Return what the chamber shows of an inlet that rises by one from a time on."""
        shift = per_h / 3600.0 * _ARRIVAL_S
        if abs(shift - 1.0) < _ALIKE:  # the two exponentials would be one
            shift = 1.0 + _ALIKE
        after = [max(t - at_s, 0.0) / _ARRIVAL_S for t in self.times_s]
        return [1.0 - (math.exp(-shift * x) - shift * math.exp(-x)) / (1.0 - shift) for x in after]


def geometric(low: float, high: float, count: int) -> list[float]:
    """Return numbers in equal ratios from low to high."""
    ratio = (high / low) ** (1.0 / (count - 1))
    return [low * ratio**i for i in range(count)]


def searched(record: Record, fastest_per_h: float) -> tuple[list[float], list[list[float]]]:
    """Return rates that cover all likely ones, and their likelihoods under each noise.

    The range is narrowed until enough of its rates are likely, first under the noise that leaves
    most of them so.
    """
    rates, which = geometric(SLOWEST_PER_H, fastest_per_h, _SCAN), _LONGEST
    while True:
        heights = [record.likelihoods(rate, which) for rate in rates]
        least = max(map(max, heights)) - _UNLIKELY
        likely = [i for i, found in enumerate(heights) if max(found) > least]
        if likely[-1] - likely[0] >= _ENOUGH:
            if which is _ALL:
                return rates, heights
            which = _ALL
        low, high = max(likely[0] - 1, 0), min(likely[-1] + 1, len(rates) - 1)
        rates = geometric(rates[low], rates[high], _FINE if which is _ALL else _SCAN)


def likeliest_noise(heights: Sequence[Sequence[float]]) -> int:
    """Return which noise the best of all rates has."""
    best = max(heights, key=max)
    return best.index(max(best))


def quantiles(
    rates: Sequence[float], heights: Sequence[Sequence[float]], shares: Sequence[float]
) -> list[float]:
    """Return the rates below which shares of the probability lie, all noises taken together."""
    top = max(map(max, heights))
    density = [sum(math.exp(one - top) for one in found) for found in heights]
    slices = [(a + b) / 2.0 for a, b in pairwise(density)]
    total = list(accumulate(slices, initial=0.0))
    return [_crossing(rates, total, share * total[-1]) for share in shares]


def _crossing(rates: Sequence[float], total: Sequence[float], wanted: float) -> float:
    after = next(i for i, reached in enumerate(total) if reached >= wanted)
    into = (wanted - total[after - 1]) / (total[after] - total[after - 1])
    return rates[after - 1] * float((rates[after] / rates[after - 1]) ** into)
