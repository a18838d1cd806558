"""How large the file becomes, and how much is written."""

from dataclasses import replace
from datetime import timedelta

import pytest

from chamberwatch.core.wear import (
    COMMIT_BYTES,
    EMPTY_BYTES,
    READING_BYTES,
    YEAR,
    Load,
    file_bytes,
    written_per_day_bytes,
)

DAY = timedelta(days=1)
TENT = Load(8, 20, 8 * 17_280, timedelta(seconds=30), timedelta(days=366))
"""Three sensors, two of them with CO2, every five seconds."""
MB, GB = 1e6, 1e9


@pytest.mark.parametrize(
    ("years", "gb"),
    [
        pytest.param(0, 0.0, id="new"),
        pytest.param(1, 2.1, id="a year"),
        pytest.param(2, 2.7, id="two: readings are as old as they become"),
        pytest.param(10, 7.7, id="ten"),
    ],
)
def test_the_file_of_one_tent(years: int, gb: float) -> None:
    assert file_bytes(TENT, years * YEAR) / GB == pytest.approx(gb, abs=0.05)


def test_readings_stop_growing_and_sums_go_on() -> None:
    a_year = file_bytes(TENT, 5 * YEAR) - file_bytes(TENT, 4 * YEAR)
    assert a_year / GB == pytest.approx(0.63, abs=0.01)
    short = replace(TENT, keep=30 * DAY)
    less = file_bytes(TENT, 5 * YEAR) - file_bytes(short, 5 * YEAR)
    assert less == pytest.approx(336 * TENT.per_day * READING_BYTES)


def test_what_is_written_in_a_day() -> None:
    # Measured, without dropping: 64 MB of readings and 4.3 MB of sums.
    dropped = TENT.per_day * 30
    assert (written_per_day_bytes(TENT) - dropped) / MB == pytest.approx(68, rel=0.06)
    assert written_per_day_bytes(TENT) < 100 * MB


@pytest.mark.parametrize(
    ("change", "commits"),
    [
        pytest.param({"commit_every": timedelta(seconds=5)}, 17_280, id="committed at once"),
        pytest.param({"per_day": 24.0}, 24, id="a reading an hour: none without one"),
        pytest.param({"per_day": 500.0 * 10_000}, 10_000, id="so many that they don't wait"),
    ],
)
def test_each_commit_costs(change: dict[str, object], commits: float) -> None:
    load = replace(TENT, lines=0, **change)  # type: ignore[arg-type]
    rows = load.per_day * 100
    assert written_per_day_bytes(load) == pytest.approx((commits + 96) * COMMIT_BYTES + rows)


def test_a_slow_sensor_makes_fewer_minutes() -> None:
    slow = Load(2, 6, 2 * 96, timedelta(seconds=30), DAY)
    assert slow.sums_per_day == 6 * (121 + 96)
    assert TENT.sums_per_day == 20 * 1561


def test_an_empty_house() -> None:
    nothing = Load(0, 0, 0, timedelta(seconds=30), DAY)
    assert file_bytes(nothing, YEAR) == EMPTY_BYTES
    assert written_per_day_bytes(nothing) == 0
