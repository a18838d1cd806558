"""When a limit will be reached, on records whose answer is known."""

import math
import random
from datetime import timedelta

import pytest

from chamberwatch.core.watch.ahead import Ahead, Towards, ahead, calm_tail
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Side

GAP = timedelta(minutes=10)
Points = list[tuple[float, float]]


def approach(
    start: float,
    end: float,
    per_h: float,
    minutes: float,
    noise: float = 0.0,
    every_s: float = 30.0,
) -> Points:
    """Return readings of an approach from a start to an end."""
    chance = random.Random(7)  # noqa: S311 - noise, no secret
    times = [n * every_s for n in range(round(minutes * 60.0 / every_s) + 1)]
    return [
        (t, end + (start - end) * math.exp(-per_h * t / 3600.0) + chance.gauss(0.0, noise))
        for t in times
    ]


DRY = Towards(Quantity.HUMIDITY, Side.LOW, 80.0)
STALE = Towards(Quantity.CO2, Side.HIGH, 1000.0)
COLD = Towards(Quantity.TEMPERATURE, Side.LOW, 13.0)
HOT = Towards(Quantity.TEMPERATURE, Side.HIGH, 24.0)


def minutes_to(limit: float, points: Points, end: float, per_h: float) -> float:
    return 60.0 / per_h * math.log((points[-1][1] - end) / (limit - end))


@pytest.mark.parametrize(
    ("towards", "start", "end", "per_h"),
    [
        pytest.param(DRY, 92.0, 60.0, 0.6, id="humidity falls"),
        pytest.param(DRY, 92.0, 78.0, 2.0, id="towards an end just beyond the limit"),
        pytest.param(STALE, 600.0, 1500.0, 0.8, id="CO2 rises"),
        pytest.param(COLD, 16.0, 5.0, 0.3, id="it gets cold"),
        pytest.param(HOT, 21.0, 30.0, 0.5, id="it gets hot"),
    ],
)
def test_an_approach_is_followed_to_the_limit(
    towards: Towards, start: float, end: float, per_h: float
) -> None:
    points = approach(start, end, per_h, 30.0)
    found = ahead(points, towards)
    assert found is not None
    true_min = minutes_to(towards.limit, points, end, per_h)
    assert found.likely_min == pytest.approx(true_min, abs=max(0.2 * true_min, 2.0))
    assert found.earliest_min < found.likely_min < (found.latest_min or math.inf)
    assert found.value == pytest.approx(points[-1][1], abs=0.002 * abs(points[-1][1]))
    assert (found.slope_per_h < 0.0) is (towards.side is Side.LOW)


@pytest.mark.parametrize(
    ("points", "towards"),
    [
        pytest.param([], DRY, id="nothing heard"),
        pytest.param(approach(92.0, 60.0, 1.0, 8.0), DRY, id="too short"),
        pytest.param(approach(92.0, 60.0, 1.0, 30.0, every_s=600.0), DRY, id="too few readings"),
        pytest.param(approach(85.0, 95.0, 1.0, 30.0), DRY, id="away from the limit"),
        pytest.param(approach(90.0, 90.0, 1.0, 30.0), DRY, id="not moving"),
        pytest.param(approach(90.0, 89.7, 1.0, 30.0), DRY, id="hardly moving"),
        pytest.param(approach(79.0, 60.0, 1.0, 30.0), DRY, id="beyond it already"),
        pytest.param(approach(95.0, 60.0, 0.05, 30.0, 0.5), DRY, id="lost in noise"),
        pytest.param(approach(99.0, 86.0, 4.0, 40.0), DRY, id="settling above it"),
        pytest.param(approach(16.0, 12.9, 0.1, 40.0), COLD, id="more than three hours off"),
    ],
)
def test_nothing_is_told_where_nothing_can_be(points: Points, towards: Towards) -> None:
    assert ahead(points, towards) is None


def test_noise_makes_it_less_sure_and_time_surer() -> None:
    def width(found: Ahead | None) -> float:
        assert found is not None
        assert found.latest_min is not None
        return found.latest_min - found.earliest_min

    quiet = width(ahead(approach(90.0, 60.0, 0.7, 20.0), DRY))
    noisy = width(ahead(approach(90.0, 60.0, 0.7, 20.0, 0.4), DRY))
    longer = width(ahead(approach(94.0, 60.0, 0.7, 40.0, 0.4), DRY))
    assert quiet < noisy
    assert longer < noisy


def test_what_surrounds_the_chamber_bounds_where_it_ends() -> None:
    points = approach(86.0, 78.0, 1.0, 30.0)
    free = ahead(points, DRY)
    bound = ahead(points, Towards(Quantity.HUMIDITY, Side.LOW, 80.0, end=79.0, end_off=0.5))
    assert free is not None
    assert bound is None or bound.likely_min > free.likely_min


def test_it_may_never_come() -> None:
    found = ahead(approach(90.0, 79.0, 2.0, 24.0, 0.1), DRY)
    assert found is not None
    assert found.latest_min is None


def test_at_the_limit_it_may_come_at_once() -> None:
    found = ahead(approach(84.0, 60.0, 0.42, 25.0, 0.3), DRY)
    assert found is not None
    assert found.earliest_min < 3.0


# ------------------------------------------------------------------ since it was disturbed


def test_a_misting_begins_the_record_anew() -> None:
    before = approach(88.0, 60.0, 1.0, 20.0)
    misted = [(t + 1230.0, v) for t, v in approach(93.0, 60.0, 1.0, 15.0)]
    assert calm_tail([*before, *misted], DRY, GAP) == misted


def test_the_spray_settles_before_the_record_begins() -> None:
    rising = [(0.0, 84.0), (30.0, 83.8), (60.0, 86.0), (90.0, 90.0), (120.0, 92.0)]
    falling = [(150.0, 91.9), (180.0, 91.8)]
    assert calm_tail([*rising, *falling], DRY, GAP) == [rising[-1], *falling]


def test_a_venting_begins_the_record_anew() -> None:
    points = [(0.0, 900.0), (30.0, 910.0), (60.0, 700.0), (90.0, 690.0), (120.0, 705.0)]
    assert calm_tail(points, STALE, GAP) == points[3:]


def test_noise_is_no_turn() -> None:
    points = approach(90.0, 60.0, 1.0, 30.0, 0.25)
    assert calm_tail(points, DRY, GAP) == points


def test_a_gap_begins_the_record_anew() -> None:
    before = approach(90.0, 60.0, 1.0, 10.0)
    after = [(t + 1500.0, v) for t, v in approach(84.0, 60.0, 1.0, 10.0)]
    assert calm_tail([*before, *after], DRY, GAP) == after
    assert calm_tail([], DRY, GAP) == []
