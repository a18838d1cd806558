"""What is old, by which clock, and how many rows at once."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from chamberwatch.core.thinning import (
    AIM_S,
    FEWEST,
    FIRST,
    MOST,
    SHORTEST_REST_S,
    STEADY_FOR,
    Steady,
    next_limit,
    old_before,
    rest_s,
    seen,
)
from tests.make import NOON

DAY = timedelta(days=1)
YEAR = timedelta(days=366)
MIDNIGHT = NOON.replace(hour=0)


def nights(*days: float) -> Steady | None:
    """Return how steady a clock is that was seen so many days after noon."""
    steady = None
    for day in days:
        steady = seen(steady, NOON + day * DAY)
    return steady


@pytest.mark.parametrize(
    ("days", "since", "enough"),
    [
        pytest.param((0,), 0, False, id="the first night"),
        pytest.param((0, 1, 2, 3, 4, 5, 6), 0, False, id="six nights on"),
        pytest.param((0, 1, 2, 3, 4, 5, 6, 7), 0, True, id="a week on"),
        pytest.param((0, 0, 3, 6, 7), 0, True, id="off over weekends"),
        pytest.param((0, 1, 2, 3, 4, 5, 6, 7, 3660), 3660, False, id="ten years ahead at once"),
        pytest.param((0, 7 + 1 / 24), 7 + 1 / 24, False, id="off for a week"),
        pytest.param((0, 3, 6, 9, 8.9), 8.9, False, id="set back"),
        pytest.param((0, 3650, 1, 2), 1, False, id="ahead for a night, and right again"),
    ],
)
def test_how_steady_a_clock_is(days: tuple[float, ...], since: float, enough: bool) -> None:
    steady = nights(*days)
    assert steady == Steady(NOON + since * DAY, NOON + days[-1] * DAY)
    assert steady.enough is enough


@pytest.mark.parametrize("ahead", [timedelta(days=n) for n in (4, 40, 4000)])
def test_a_clock_set_ahead_needs_a_week_to_be_believed(ahead: timedelta) -> None:
    steady = nights(*range(30))
    night = NOON + 30 * DAY + ahead
    end = night + STEADY_FOR
    while night < end:
        steady = seen(steady, night)
        assert not steady.enough
        night += DAY


@pytest.mark.parametrize(
    ("newest", "before"),
    [
        pytest.param(NOON, MIDNIGHT - YEAR, id="heard now"),
        pytest.param(NOON - 400 * DAY, MIDNIGHT - 400 * DAY - YEAR, id="silent for a year"),
        pytest.param(NOON + timedelta(minutes=1), MIDNIGHT - YEAR, id="a sensor's clock ahead"),
        pytest.param(None, None, id="never heard"),
    ],
)
def test_what_is_old(newest: datetime | None, before: datetime | None) -> None:
    assert old_before(NOON, newest, YEAR) == before


def test_days_are_those_of_utc_as_they_are_summed_up() -> None:
    east = datetime(2026, 1, 21, 1, tzinfo=timezone(timedelta(hours=5)))
    found = old_before(east, east, DAY)
    assert found == datetime(2026, 1, 19, tzinfo=UTC)


@pytest.mark.parametrize(
    ("limit", "took_s", "expected"),
    [
        (FIRST, AIM_S, FIRST),
        (FIRST, AIM_S / 4, FIRST),
        (FIRST, AIM_S * 1.01, FIRST // 2),
        (FIRST, AIM_S / 5, FIRST * 2),
        (MOST, 0.0, MOST),
        (FEWEST, 9.0, FEWEST),
    ],
)
def test_how_many_next(limit: int, took_s: float, expected: int) -> None:
    assert next_limit(limit, took_s) == expected


def test_a_slow_card_is_left_in_peace_for_longer() -> None:
    assert rest_s(0.0) == SHORTEST_REST_S
    assert rest_s(0.5) == pytest.approx(4.5)
