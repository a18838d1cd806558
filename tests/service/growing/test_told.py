"""What a day stands for, when something is told of it without the hour."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.service.growing.told import on_day

BERLIN = ZoneInfo("Europe/Berlin")


def utc(month: int, day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=UTC)


@pytest.mark.parametrize(
    ("day", "now", "at"),
    [
        pytest.param(date(2026, 1, 19), utc(1, 20, 7), utc(1, 19, 11), id="a day before"),
        pytest.param(date(2026, 1, 20), utc(1, 20, 7), utc(1, 20, 7), id="today, in the morning"),
        pytest.param(date(2026, 1, 20), utc(1, 20, 11), utc(1, 20, 11), id="today, at noon"),
        pytest.param(date(2026, 1, 20), utc(1, 20, 18), utc(1, 20, 11), id="today, at night"),
        pytest.param(date(2026, 1, 21), utc(1, 20, 7), utc(1, 21, 11), id="a day to come"),
        pytest.param(
            date(2026, 1, 20), utc(1, 19, 23, 30), utc(1, 19, 23, 30), id="today there, not in UTC"
        ),
        pytest.param(date(2026, 3, 29), utc(3, 30, 7), utc(3, 29, 10), id="summer time begins"),
        pytest.param(date(2026, 10, 25), utc(10, 26, 7), utc(10, 25, 11), id="summer time ends"),
    ],
)
def test_a_day_stands_for_its_noon_and_today_for_now_until_then(
    day: date, now: datetime, at: datetime
) -> None:
    assert on_day(day, now, BERLIN) == at


def test_the_last_of_days_is_refused_where_it_is_beyond_reckoning() -> None:
    with pytest.raises(OverflowError):
        on_day(date.max, utc(1, 20, 7), ZoneInfo("Etc/GMT+12"))
