"""Weeks by the clock on the wall, also where the clocks change."""

from datetime import UTC, date, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.review.week import Week, asked_week, of_day, of_moment, read
from tests.make import NOON

BERLIN = ZoneInfo("Europe/Berlin")
SYDNEY = ZoneInfo("Australia/Sydney")
SANTIAGO = ZoneInfo("America/Santiago")


@pytest.mark.parametrize(
    ("week", "zone", "start", "hours"),
    [
        pytest.param("2026-W47", UTC, datetime(2026, 11, 16, tzinfo=UTC), 168, id="plain"),
        pytest.param("2026-W47", BERLIN, datetime(2026, 11, 15, 23, tzinfo=UTC), 168, id="winter"),
        # Clocks go forward on 29 March and back on 25 October 2026, both Sundays.
        pytest.param("2026-W13", BERLIN, datetime(2026, 3, 22, 23, tzinfo=UTC), 167, id="spring"),
        pytest.param("2026-W43", BERLIN, datetime(2026, 10, 18, 22, tzinfo=UTC), 169, id="autumn"),
        pytest.param("2026-W14", SYDNEY, datetime(2026, 3, 29, 13, tzinfo=UTC), 169, id="south"),
        # In Santiago 6 September 2026 begins at one o'clock: midnight is left out.
        pytest.param(
            "2026-W36", SANTIAGO, datetime(2026, 8, 31, 4, tzinfo=UTC), 167, id="no midnight"
        ),
        pytest.param("2020-W53", UTC, datetime(2020, 12, 28, tzinfo=UTC), 168, id="week 53"),
        pytest.param("2027-W01", UTC, datetime(2027, 1, 4, tzinfo=UTC), 168, id="first"),
    ],
)
def test_a_week_from_monday_to_monday(
    week: str, zone: tzinfo, start: datetime, hours: int
) -> None:
    found = read(week)
    assert found.start(zone) == start
    assert found.end(zone) - found.start(zone) == timedelta(hours=hours)
    assert found.name == week
    assert of_moment(start, zone) == found
    assert of_moment(start - timedelta(microseconds=1), zone) == found.later(-1)


@pytest.mark.parametrize(
    ("day", "week"),
    [
        pytest.param(date(2026, 11, 22), Week(2026, 47), id="Sunday"),
        pytest.param(date(2027, 1, 3), Week(2026, 53), id="of the old year"),
        pytest.param(date(2024, 12, 30), Week(2025, 1), id="of the new year"),
    ],
)
def test_the_week_of_a_day(day: date, week: Week) -> None:
    assert of_day(day) == week


def test_weeks_are_counted_over_the_turn_of_the_year() -> None:
    assert Week(2026, 52).later(2) == Week(2027, 1)
    assert Week(2027, 1).later(-1) == Week(2026, 53)
    assert sorted([Week(2027, 1), Week(2026, 53)]) == [Week(2026, 53), Week(2027, 1)]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param("last", "“last” is no week. Write the year and its week", id="words"),
        pytest.param("2026-47", "is no week", id="a month"),
        pytest.param("2026-W4", "is no week", id="one digit"),
        pytest.param("٢٠٢٦-W47", "is no week", id="other digits"),
        pytest.param("2026-W00", "no week 0 in 2026; its weeks are 01 to 53", id="none"),
        pytest.param("2025-W53", "no week 53 in 2025; its weeks are 01 to 52", id="short year"),
        pytest.param("0000-W01", "between 1971 and 2199", id="long ago"),
        pytest.param("9999-W52", "between 1971 and 2199", id="never"),
    ],
)
def test_what_is_no_week_is_said(text: str, says: str) -> None:
    with pytest.raises(RefusedError, match=says):
        read(text)


def test_blanks_around_a_week_do_no_harm() -> None:
    assert read(" 2026-W47\n") == Week(2026, 47)


@pytest.mark.parametrize(
    ("text", "name"), [("", "2026-W04"), (" ", "2026-W04"), ("2025-W52", "2025-W52")]
)
def test_the_week_that_is_asked_for(text: str, name: str) -> None:
    assert asked_week(text, NOON, UTC).name == name


def test_a_week_ahead_is_refused() -> None:
    with pytest.raises(RefusedError, match=r"2026-W05 has not begun; the newest .* is 2026-W04"):
        asked_week("2026-W05", NOON, UTC)
