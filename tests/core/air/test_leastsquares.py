"""Least squares with wandering errors, against numpy's dense matrices."""

import math
from itertools import pairwise

import numpy as np
import pytest

from chamberwatch.core.air.leastsquares import Noise, Plane, Shape, thinned

TIMES = [0.0, 5.0, 11.0, 30.0, 31.0, 60.0, 100.0, 400.0]
RECORD = [900.0, 870.0, 868.0, 750.0, 760.0, 640.0, 590.0, 520.0]


def covariance(memory_s: float) -> "np.ndarray[tuple[int, int], np.dtype[np.float64]]":
    at = np.array(TIMES)
    made: np.ndarray[tuple[int, int], np.dtype[np.float64]] = np.exp(
        -abs(at[:, None] - at[None, :]) / memory_s
    )
    return made


@pytest.mark.parametrize("memory_s", [1.0, 40.0, 300.0])
def test_two_diagonals_are_the_inverse_of_the_covariance(memory_s: float) -> None:
    noise = Noise.wandering(TIMES, memory_s)
    dense = covariance(memory_s)
    assert noise.weighted(RECORD) == pytest.approx(np.linalg.solve(dense, RECORD), rel=1e-9)
    assert noise.log_det == pytest.approx(-np.linalg.slogdet(dense)[1], rel=1e-12)


def test_the_last_columns_are_those_of_dense_generalised_least_squares() -> None:
    memory_s = 40.0
    plane = Plane(Noise.wandering(TIMES, memory_s), RECORD)
    fading = [math.exp(-t / 20.0) for t in TIMES]
    decay = [math.exp(-t / 90.0) for t in TIMES]
    plane.add(fading)
    plane.add([1.0] * len(TIMES))
    added = plane.adding(Shape.of(decay))

    columns = np.array([fading, [1.0] * len(TIMES), decay]).T
    inverse = np.linalg.inv(covariance(memory_s))
    normal = columns.T @ inverse @ columns
    found = np.linalg.solve(normal, columns.T @ inverse @ np.array(RECORD))
    rest = np.array(RECORD) - columns @ found
    spread = np.sqrt(np.diag(np.linalg.inv(normal)))
    assert added.amount == pytest.approx(found[2], rel=1e-9)
    assert added.last == pytest.approx(found[1], rel=1e-9)
    assert added.last_spread == pytest.approx(spread[1], rel=1e-9)
    assert 1.0 / added.length == pytest.approx(spread[2], rel=1e-9)
    assert added.left == pytest.approx(rest @ inverse @ rest, rel=1e-6)
    assert plane.rest_beside(decay, added.amount) == pytest.approx(rest, abs=1e-6)
    fixed = columns[:, :2].T @ inverse @ columns[:, :2]
    assert 2.0 * plane.log_lengths == pytest.approx(np.linalg.slogdet(fixed)[1], rel=1e-9)


def test_a_column_that_says_nothing_new_is_left_out() -> None:
    plane = Plane(Noise.wandering(TIMES, 40.0), RECORD)
    plane.add([1.0] * len(TIMES))
    left = plane.left
    plane.add([3.0] * len(TIMES))
    assert plane.width == 1
    nothing = plane.adding(Shape.of([2.0] * len(TIMES)))
    assert (nothing.amount, nothing.left, nothing.length) == (0.0, left, 0.0)
    # What the plane has is kept: the mean that the noise's weights make.
    weights = Noise.wandering(TIMES, 40.0).weighted([1.0] * len(TIMES))
    mean = sum(w * y for w, y in zip(weights, RECORD, strict=True)) / sum(weights)
    assert nothing.last == pytest.approx(mean)
    assert nothing.last_spread == pytest.approx(1.0 / math.sqrt(sum(weights)))


def test_bins_hold_equally_many_readings() -> None:
    points = [(1000.0 + 5.0 * i, float(i)) for i in range(720)]
    times, values = thinned(points, 60)
    assert len(times) == 60
    assert times[:2] == [27.5, 87.5]
    assert values[:2] == [5.5, 17.5]
    assert values[-1] == 713.5


def test_a_record_that_is_short_of_bins_stays_as_it_is() -> None:
    points = [(10.0, 3.0), (40.0, 2.0), (70.0, 1.0)]
    assert thinned(points, 60) == ([0.0, 30.0, 60.0], [3.0, 2.0, 1.0])


def test_bins_of_a_gap_are_left_out() -> None:
    points = [(5.0 * i, 7.0) for i in [*range(100), *range(300, 400)]]
    times, values = thinned(points, 50)
    assert max(b - a for a, b in pairwise(times)) > 900.0
    assert set(values) == {7.0}
