"""Windows of the week, days away, and the nights on which the clock jumps."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.watch.hours import (
    ALL_DAY,
    AT_ONCE,
    WAKING,
    Hours,
    Window,
    back_at,
    first_opening,
    floor,
    is_away,
    last_closing,
    moment,
    next_opening,
    speaks,
)
from chamberwatch.core.watch.reminder import Priority

LOW, MEDIUM, HIGH = Priority.LOW, Priority.MEDIUM, Priority.HIGH
LISBON = ZoneInfo("Europe/Lisbon")
NEW_YORK = ZoneInfo("America/New_York")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")

WEEK = frozenset({0, 1, 2, 3, 4})
AT_WORK = Hours(
    (
        Window(time(7), time(8, 30), WEEK),
        Window(time(12), time(13), WEEK, MEDIUM),
        Window(time(18), time(22), WEEK),
        Window(time(9), time(23, 30), frozenset({5, 6})),
    )
)
LATE = Hours((Window(time(18), time(1)),))


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def wall(text: str, zone: ZoneInfo, fold: int = 0) -> datetime:
    """Return what the clock on the wall shows as a moment. UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=zone, fold=fold).astimezone(UTC)


@pytest.mark.parametrize(
    ("hours", "priority", "at", "said"),
    [
        pytest.param(WAKING, LOW, "2026-01-20 06:59:59", False, id="before seven"),
        pytest.param(WAKING, LOW, "2026-01-20 07:00", True, id="seven"),
        pytest.param(WAKING, MEDIUM, "2026-01-20 21:59:59", True, id="before ten"),
        pytest.param(WAKING, MEDIUM, "2026-01-20 22:00", False, id="ten"),
        pytest.param(WAKING, HIGH, "2026-01-20 03:00", True, id="high at night"),
        pytest.param(AT_WORK, MEDIUM, "2026-01-20 12:30", True, id="medium at noon"),
        pytest.param(AT_WORK, LOW, "2026-01-20 12:30", False, id="low at noon"),
        pytest.param(AT_WORK, MEDIUM, "2026-01-20 15:00", False, id="at work"),
        pytest.param(AT_WORK, LOW, "2026-01-24 12:30", True, id="Saturday"),
        pytest.param(AT_WORK, LOW, "2026-01-24 07:30", False, id="Saturday, asleep"),
        pytest.param(LATE, LOW, "2026-01-20 00:59", True, id="over midnight"),
        pytest.param(LATE, LOW, "2026-01-20 01:00", False, id="over midnight, closed"),
        pytest.param(Hours((ALL_DAY,)), LOW, "2026-01-20 00:00", True, id="all day"),
        pytest.param(AT_ONCE.hours, LOW, "2026-01-20 03:33", True, id="terminal"),
        pytest.param(Hours(()), MEDIUM, "2026-01-20 12:00", False, id="no window"),
        pytest.param(Hours(()), HIGH, "2026-01-20 12:00", True, id="no window, high"),
    ],
)
def test_when_something_may_be_said(hours: Hours, priority: Priority, at: str, said: bool) -> None:
    assert speaks(hours, priority, utc(at), UTC) is said


def test_a_window_over_midnight_belongs_to_the_day_it_opens() -> None:
    friday = Hours((Window(time(20), time(2), frozenset({4})),))
    assert speaks(friday, LOW, utc("2026-01-24 01:00"), UTC)
    assert not speaks(friday, LOW, utc("2026-01-23 01:00"), UTC)


@pytest.mark.parametrize(
    ("hours", "priority", "at", "opens"),
    [
        pytest.param(WAKING, LOW, "2026-01-20 12:00", "2026-01-20 12:00", id="now"),
        pytest.param(WAKING, LOW, "2026-01-20 23:00", "2026-01-21 07:00", id="in the morning"),
        pytest.param(WAKING, HIGH, "2026-01-20 23:00", "2026-01-20 23:00", id="high"),
        pytest.param(AT_WORK, LOW, "2026-01-20 09:00", "2026-01-20 18:00", id="after work"),
        pytest.param(AT_WORK, MEDIUM, "2026-01-20 09:00", "2026-01-20 12:00", id="at noon"),
        pytest.param(AT_WORK, LOW, "2026-01-23 22:00", "2026-01-24 09:00", id="the weekend"),
        pytest.param(LATE, LOW, "2026-01-20 01:00", "2026-01-20 18:00", id="closed at one"),
        pytest.param(
            Hours((Window(time(6), time(7), frozenset({1})),)),
            LOW,
            "2026-01-20 07:00",
            "2026-01-27 06:00",
            id="once a week",
        ),
        pytest.param(
            Hours((Window(time(6), time(7), least=MEDIUM),)), LOW, "2026-01-20 06:00", None,
            id="never",
        ),
        pytest.param(Hours(()), MEDIUM, "2026-01-20 06:00", None, id="no window"),
    ],
)  # fmt: skip
def test_when_it_may_be_said_next(
    hours: Hours, priority: Priority, at: str, opens: str | None
) -> None:
    expected = utc(opens) if opens is not None else None
    assert next_opening(hours, priority, utc(at), UTC) == expected


AWAY = Hours(
    WAKING.windows,
    (
        (utc("2026-12-24 12:00"), utc("2026-12-28 09:00")),
        (utc("2026-12-20"), utc("2026-12-25")),
        (utc("2026-12-28 20:00"), utc("2026-12-29 06:00")),
    ),
)


@pytest.mark.parametrize(
    ("at", "back"),
    [
        pytest.param("2026-12-19 23:59", None, id="still there"),
        pytest.param("2026-12-20 00:00", "2026-12-28 09:00", id="two spans that overlap"),
        pytest.param("2026-12-28 09:00", None, id="back"),
        pytest.param("2026-12-28 21:00", "2026-12-29 06:00", id="away once more"),
    ],
)
def test_away(at: str, back: str | None) -> None:
    assert back_at(AWAY, utc(at)) == (utc(back) if back else None)
    assert is_away(AWAY, utc(at)) is (back is not None)
    assert speaks(AWAY, HIGH, utc(at), UTC) is (back is None)


@pytest.mark.parametrize(
    ("priority", "at", "opens"),
    [
        pytest.param(HIGH, "2026-12-22 03:00", "2026-12-28 09:00", id="high, when back"),
        pytest.param(LOW, "2026-12-22 03:00", "2026-12-28 09:00", id="back within a window"),
        pytest.param(LOW, "2026-12-28 20:30", "2026-12-29 07:00", id="back before a window"),
        pytest.param(LOW, "2026-12-19 22:30", "2026-12-28 09:00", id="away when it would open"),
    ],
)
def test_when_it_may_be_said_after_being_away(priority: Priority, at: str, opens: str) -> None:
    assert next_opening(AWAY, priority, utc(at), UTC) == utc(opens)


def test_away_for_ever_is_looked_through_to_its_end() -> None:
    gone = Hours(WAKING.windows, ((utc("2026-01-01"), utc("2031-01-01")),))
    assert next_opening(gone, LOW, utc("2026-06-01 12:00"), UTC) == utc("2031-01-01 07:00")


def test_away_time_and_again_just_when_it_would_open() -> None:
    mornings = tuple(
        (utc(f"2026-01-{day} 06:00"), utc(f"2026-01-{day} 23:00")) for day in (20, 21, 22)
    )
    hours = Hours(WAKING.windows, mornings)
    assert next_opening(hours, LOW, utc("2026-01-20 05:00"), UTC) == utc("2026-01-23 07:00")


@pytest.mark.parametrize(
    ("hours", "day", "opens"),
    [
        pytest.param(WAKING, "2026-01-20", "2026-01-20 07:00", id="every day"),
        pytest.param(AT_WORK, "2026-01-24", "2026-01-24 09:00", id="Saturday"),
        pytest.param(LATE, "2026-01-20", "2026-01-20 18:00", id="over midnight is no opening"),
        pytest.param(Hours((ALL_DAY,)), "2026-01-20", None, id="never closed"),
        pytest.param(Hours(()), "2026-01-20", None, id="never open"),
        pytest.param(AWAY, "2026-12-22", None, id="away"),
        pytest.param(AWAY, "2026-12-28", "2026-12-28 09:00", id="back that day"),
        pytest.param(AWAY, "2026-12-29", "2026-12-29 07:00", id="back before it opens"),
    ],
)
def test_the_first_opening_of_a_day(hours: Hours, day: str, opens: str | None) -> None:
    expected = utc(opens) if opens is not None else None
    assert first_opening(hours, date.fromisoformat(day), UTC) == expected


def test_the_last_closing_and_the_least_that_is_said() -> None:
    assert last_closing(AT_WORK, date(2026, 1, 20), UTC) == utc("2026-01-20 22:00")
    assert last_closing(LATE, date(2026, 1, 20), UTC) == utc("2026-01-21 01:00")
    assert last_closing(Hours((Window(time(7), time(8), WEEK),)), date(2026, 1, 24), UTC) is None
    assert (floor(AT_WORK), floor(Hours(()))) == (LOW, HIGH)


# ------------------------------------------------------------------ the clock jumps

NIGHTS = [
    # zone, day, wall time, the moment meant
    pytest.param(LISBON, "2026-03-29", "01:30", "2026-03-29 01:00", id="Lisbon leaves it out"),
    pytest.param(LISBON, "2026-03-29", "01:00", "2026-03-29 01:00", id="Lisbon, the jump"),
    pytest.param(LISBON, "2026-03-29", "00:59", "2026-03-29 00:59", id="Lisbon, before"),
    pytest.param(LISBON, "2026-03-29", "02:00", "2026-03-29 01:00", id="Lisbon, after"),
    pytest.param(LISBON, "2026-10-25", "01:30", "2026-10-25 00:30", id="Lisbon shows it twice"),
    pytest.param(LISBON, "2026-10-25", "02:00", "2026-10-25 02:00", id="Lisbon, back"),
    pytest.param(NEW_YORK, "2026-03-08", "02:30", "2026-03-08 07:00", id="New York leaves it out"),
    pytest.param(NEW_YORK, "2026-03-08", "03:00", "2026-03-08 07:00", id="New York, after"),
    pytest.param(NEW_YORK, "2026-11-01", "01:30", "2026-11-01 05:30", id="New York, twice"),
    pytest.param(NEW_YORK, "2026-11-01", "02:00", "2026-11-01 07:00", id="New York, back"),
    pytest.param(LORD_HOWE, "2026-10-04", "02:15", "2026-10-03 15:30", id="Lord Howe, half hour"),
    pytest.param(LORD_HOWE, "2026-10-04", "02:30", "2026-10-03 15:30", id="Lord Howe, after"),
    pytest.param(LORD_HOWE, "2026-04-05", "01:45", "2026-04-04 14:45", id="Lord Howe, twice"),
    pytest.param(LORD_HOWE, "2026-04-05", "02:00", "2026-04-04 15:30", id="Lord Howe, back"),
]


@pytest.mark.parametrize(("zone", "day", "at", "meant"), NIGHTS)
def test_a_time_on_the_wall(zone: ZoneInfo, day: str, at: str, meant: str) -> None:
    assert moment(date.fromisoformat(day), time.fromisoformat(at), zone) == utc(meant)


JUMPS = [
    # zone, evening before, hours that the night of the change lasts from 22:00 to 07:00
    pytest.param(LISBON, "2026-03-28", 8.0, id="Lisbon, forward"),
    pytest.param(LISBON, "2026-10-24", 10.0, id="Lisbon, back"),
    pytest.param(NEW_YORK, "2026-03-07", 8.0, id="New York, forward"),
    pytest.param(NEW_YORK, "2026-10-31", 10.0, id="New York, back"),
    pytest.param(LORD_HOWE, "2026-10-03", 8.5, id="Lord Howe, forward"),
    pytest.param(LORD_HOWE, "2026-04-04", 9.5, id="Lord Howe, back"),
]


@pytest.mark.parametrize(("zone", "evening", "long_h"), JUMPS)
def test_the_night_of_the_change_is_quiet_from_ten_to_seven(
    zone: ZoneInfo, evening: str, long_h: float
) -> None:
    ten = wall(f"{evening} 22:00", zone)
    seven = ten + timedelta(hours=long_h)
    assert f"{seven.astimezone(zone):%H:%M}" == "07:00"
    assert next_opening(WAKING, LOW, ten, zone) == seven
    assert first_opening(WAKING, seven.astimezone(zone).date(), zone) == seven
    minutes = range(-1, int(long_h * 60) + 1)
    quiet = [m for m in minutes if not speaks(WAKING, LOW, ten + timedelta(minutes=m), zone)]
    assert quiet == list(range(int(long_h * 60)))


@pytest.mark.parametrize(
    ("zone", "day", "start", "end", "open_min"),
    [
        pytest.param(LISBON, "2026-03-29", "01:15", "01:45", 0, id="Lisbon, left out"),
        pytest.param(LISBON, "2026-03-29", "00:30", "01:30", 30, id="Lisbon, closes in it"),
        pytest.param(LISBON, "2026-03-29", "01:30", "02:30", 30, id="Lisbon, opens in it"),
        pytest.param(LISBON, "2026-10-25", "01:15", "01:45", 30, id="Lisbon, once of two"),
        pytest.param(LISBON, "2026-10-25", "00:30", "02:30", 180, id="Lisbon, around it"),
        pytest.param(NEW_YORK, "2026-03-08", "02:15", "02:45", 0, id="New York, left out"),
        pytest.param(NEW_YORK, "2026-11-01", "01:15", "01:45", 30, id="New York, once of two"),
        pytest.param(LORD_HOWE, "2026-10-04", "02:05", "02:25", 0, id="Lord Howe, left out"),
        pytest.param(LORD_HOWE, "2026-04-05", "01:35", "01:55", 20, id="Lord Howe, once of two"),
    ],
)
def test_a_window_opens_once_and_closes_once(
    zone: ZoneInfo, day: str, start: str, end: str, open_min: int
) -> None:
    hours = Hours((Window(time.fromisoformat(start), time.fromisoformat(end)),))
    midnight = wall(f"{day} 00:00", zone)
    said = [
        speaks(hours, LOW, midnight + timedelta(minutes=minute), zone) for minute in range(360)
    ]
    assert sum(said) == open_min
    assert sum(now and not before for before, now in pairwise(said)) == (1 if open_min else 0)
