"""Which way a value has gone, and since when."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.watch.course import Course, Points, Way, course, unbroken
from tests.make import at


def line(*values: float, every: float = 5.0) -> Points:
    """Return values `every` so many minutes, the last at noon."""
    count = len(values) - 1
    return tuple((at((n - count) * every), value) for n, value in enumerate(values))


@pytest.mark.parametrize(
    ("points", "way", "minutes"),
    [
        pytest.param(line(92, 91, 90, 89, 88, 87), Way.FALLING, 25, id="falls"),
        pytest.param(line(80, 82, 84, 86), Way.RISING, 15, id="rises"),
        pytest.param(line(88, 88.5, 87.9, 88.2), Way.STEADY, 15, id="steady"),
        pytest.param(line(80, 79, 92, 91, 89, 88), Way.FALLING, 15, id="since the misting"),
        pytest.param(line(92, 90, 91, 88, 89, 86), Way.FALLING, 25, id="small bumps don't count"),
        pytest.param(line(95, 80, 80, 80, 80, 80, 80), Way.STEADY, 25, id="fell, then lay still"),
        pytest.param(line(80, 95, 95, 95, 95, 95), Way.STEADY, 20, id="rose, then lay still"),
        pytest.param(line(80, 80.1, 80, 80.2, 88), Way.RISING, 5, id="level before"),
        pytest.param(line(92, 89.5, 90, 92, 90, 88), Way.FALLING, 10, id="from the newest turn"),
    ],
)
def test_where_it_goes(points: Points, way: Way, minutes: float) -> None:
    assert course(points, 2.0) == Course(way, at(-minutes))


@pytest.mark.parametrize(
    "points",
    [
        pytest.param((), id="nothing"),
        pytest.param(line(90), id="one"),
        pytest.param(line(90, 80), id="five minutes"),
    ],
)
def test_of_little_nobody_can_say(points: Points) -> None:
    assert course(points, 2.0) is None


@given(st.lists(st.floats(0.0, 100.0), min_size=3, max_size=80))
def test_turned_upside_down_it_goes_the_other_way(values: list[float]) -> None:
    told, other = course(line(*values), 2.0), course(line(*(-v for v in values)), 2.0)
    assert told is not None
    assert other is not None
    assert told.since == other.since
    turned = {Way.RISING: Way.FALLING, Way.FALLING: Way.RISING, Way.STEADY: Way.STEADY}
    assert other.way is turned[told.way]


@pytest.mark.parametrize(
    ("minutes", "lengths"),
    [
        pytest.param((), [], id="nothing"),
        pytest.param((0, 5, 10), [3], id="whole"),
        pytest.param((0, 10, 20), [3], id="as long as it may be silent"),
        pytest.param((0, 5, 16, 21, 60), [2, 2, 1], id="two gaps"),
    ],
)
def test_a_record_is_cut_at_its_gaps(minutes: tuple[float, ...], lengths: list[int]) -> None:
    points = [(at(each), 1.0) for each in minutes]
    assert [len(piece) for piece in unbroken(points, timedelta(minutes=10))] == lengths
