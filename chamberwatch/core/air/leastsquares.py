"""Least squares for a record whose errors hang together, in plain lists.

A sensor's error does not jump about from one reading to the next: it wanders, and readings five
seconds apart say little that is new. A straight fit counts each as news and is far too sure of
itself. Here the error is a first-order autoregression with a stated correlation time; its inverse
covariance has only two diagonals, so that nothing but sums along the record is needed.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from operator import mul
from typing import Final

_SAME: Final = 1e-9
"""A column adds nothing if so little of its (squared) length is left beside the others."""

Column = list[float]


def dot(left: Sequence[float], right: Sequence[float]) -> float:
    """Return the sum of the products."""
    return float(sum(map(mul, left, right)))


def thinned(points: Sequence[tuple[float, float]], most: int) -> tuple[Column, Column]:
    """Average readings into at most `most` bins of equal length.

    The mean of an exponential over a bin is that exponential times a constant, so that averaging
    leaves rates as they are. Bins are whole multiples of the usual interval: each holds equally
    many readings.

    Args:
        points: time [s] and value, in order, two at least and not all at one time.
        most: bins.

    Returns:
        Mean times from the first reading on [s], and mean values. Empty bins are left out.
    """
    began = points[0][0]
    interval_s = (points[-1][0] - began) / (len(points) - 1)
    width_s = interval_s * math.ceil(len(points) / most)
    sums: dict[int, list[float]] = {}
    for at, value in points:
        # A hair's breadth, since times that were stamped in float lie on either side of an edge.
        here = sums.setdefault(int((at - began) / width_s + 1e-6), [0.0, 0.0, 0.0])
        here[0] += at - began
        here[1] += value
        here[2] += 1.0
    return [s[0] / s[2] for s in sums.values()], [s[1] / s[2] for s in sums.values()]


@dataclass(frozen=True, slots=True)
class Noise:
    """The inverse covariance of errors of unit variance: its two diagonals.

    Attributes:
        main: the diagonal.
        beside: next to it.
        log_det: logarithm of the determinant.
    """

    main: Column
    beside: Column
    log_det: float

    @classmethod
    def wandering(cls, times_s: Sequence[float], memory_s: float) -> "Noise":
        """Return it for errors whose correlation falls by e in a time, at rising times. [s]."""
        main, beside, log_det = [1.0], [], 0.0
        for before, after in pairwise(times_s):
            kept = math.exp((before - after) / memory_s)
            fresh = -math.expm1(2.0 * (before - after) / memory_s)
            main[-1] += kept * kept / fresh
            main.append(1.0 / fresh)
            beside.append(-kept / fresh)
            log_det -= math.log(fresh)
        return cls(main, beside, log_det)

    def weighted(self, column: Sequence[float]) -> Column:
        """Return the inverse covariance times a column."""
        after = [*map(mul, self.beside, column[1:]), 0.0]
        before = [0.0, *map(mul, self.beside, column)]
        return [
            main * here + left + right
            for main, here, left, right in zip(self.main, column, before, after, strict=True)
        ]


@dataclass(frozen=True, slots=True)
class Shape:
    """A column with the products that every weighting of it needs."""

    column: Column
    squares: Column
    neighbours: Column

    @classmethod
    def of(cls, column: Column) -> "Shape":
        """Return a column made ready."""
        return cls(column, list(map(mul, column, column)), list(map(mul, column, column[1:])))


@dataclass(frozen=True, slots=True)
class Added:
    """What one more column would do.

    Attributes:
        amount: its coefficient.
        left: weighted sum of squares of the residuals with it.
        last: the coefficient of the plane's last column beside it.
        last_spread: standard error of that for errors of unit variance.
        length: of what of the column lies outside the plane; nought if it says nothing new.
    """

    amount: float
    left: float
    last: float
    last_spread: float
    length: float


class Plane:
    """Columns made orthogonal under one noise, and a record reduced to what they leave over."""

    def __init__(self, noise: Noise, record: Column) -> None:
        """Start with no columns."""
        self.noise: Final = noise
        self.log_lengths = 0.0
        self.last_length = 1.0
        self._last_share = 0.0
        self._axes: list[tuple[Column, Column]] = []
        self._rest(record)

    def _rest(self, rest: Column) -> None:
        self.rest = rest
        self._weighted_rest = self.noise.weighted(rest)
        self.left = max(dot(rest, self._weighted_rest), 0.0)

    @property
    def width(self) -> int:
        """How many columns there are."""
        return len(self._axes)

    def add(self, column: Column) -> None:
        """Take in a column; one that says nothing new is left out."""
        whole = dot(column, self.noise.weighted(column))
        for _ in range(2):  # twice, since columns of similar rates lose digits
            for axis, weighted in self._axes:
                share = dot(column, weighted)
                column = [a - share * b for a, b in zip(column, axis, strict=True)]
        weighted = self.noise.weighted(column)
        squared = dot(column, weighted)
        if squared <= _SAME * whole:
            return
        length = math.sqrt(squared)
        axis, weighted = [a / length for a in column], [a / length for a in weighted]
        share = dot(self.rest, weighted)
        self._axes.append((axis, weighted))
        self.last_length, self._last_share = length, share
        self.log_lengths += math.log(length)
        self._rest([a - share * b for a, b in zip(self.rest, axis, strict=True)])

    def adding(self, shape: Shape) -> Added:
        """Return what a column would do; nothing, if it says nothing new."""
        whole = dot(self.noise.main, shape.squares) + 2.0 * dot(
            self.noise.beside, shape.neighbours
        )
        outside, share = whole, 0.0
        for _, weighted in self._axes:
            share = dot(shape.column, weighted)
            outside -= share * share
        if outside <= _SAME * whole:
            last = self._last_share / self.last_length
            return Added(0.0, self.left, last, 1.0 / self.last_length, 0.0)
        projected = dot(shape.column, self._weighted_rest)
        amount = projected / outside
        return Added(
            amount=amount,
            left=max(self.left - projected * amount, 0.0),
            last=(self._last_share - amount * share) / self.last_length,
            last_spread=math.sqrt(1.0 + share * share / outside) / self.last_length,
            length=math.sqrt(outside),
        )

    def rest_beside(self, column: Column, amount: float) -> Column:
        """Return what the plane leaves over beside so much of one more column."""
        for axis, weighted in self._axes:
            share = dot(column, weighted)
            column = [a - share * b for a, b in zip(column, axis, strict=True)]
        return [a - amount * b for a, b in zip(self.rest, column, strict=True)]
