"""Times as loggers write them, and the hours that summer time doubles and takes."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.logged.times import (
    ANY_ORDER,
    EPOCH,
    Form,
    Order,
    TimeReader,
    asked_form,
    bare,
    falls,
    is_clock,
    is_date,
    is_epoch,
    is_whole,
    narrowed,
    orders_of,
    settled,
)

BERLIN = ZoneInfo("Europe/Berlin")
WINTER = timezone(timedelta(hours=1))
Y, D, M = Order.YEAR_FIRST, Order.DAY_FIRST, Order.MONTH_FIRST


@pytest.mark.parametrize(
    ("text", "written", "zone", "utc"),
    [
        pytest.param("2026-01-20T12:00:00Z", Y, BERLIN, "2026-01-20T12:00", id="iso"),
        pytest.param("2026-01-20 12:00+05:30", Y, UTC, "2026-01-20T06:30", id="its own zone"),
        pytest.param("2026-01-20 12:00 -0500", Y, UTC, "2026-01-20T17:00", id="without colon"),
        pytest.param("2026-01-20 12:00-05", Y, UTC, "2026-01-20T17:00", id="hours alone"),
        pytest.param("2026/1/5 7:05", Y, BERLIN, "2026-01-05T06:05", id="short"),
        pytest.param("2026-07-20 12:00", Y, BERLIN, "2026-07-20T10:00", id="summer"),
        pytest.param("20.01.2026 12:00", D, UTC, "2026-01-20T12:00", id="day first"),
        pytest.param("20.01.26, 12:00", D, UTC, "2026-01-20T12:00", id="two digits"),
        pytest.param("26-01-20 12:00", Y, UTC, "2026-01-20T12:00", id="two digits, year first"),
        pytest.param("01/20/2026 12:05:30 AM", M, UTC, "2026-01-20T00:05:30", id="midnight"),
        pytest.param("01/20/2026 12:05 p.m.", M, UTC, "2026-01-20T12:05", id="noon"),
        pytest.param("01/20/2026 1:05PM", M, UTC, "2026-01-20T13:05", id="afternoon"),
        pytest.param("1/20/2026, 1:05\u202fPM", M, UTC, "2026-01-20T13:05", id="narrow blank"),
        pytest.param("5 Jan 2026 - 10:00", M, UTC, "2026-01-05T10:00", id="named month"),
        pytest.param("January 5, 2026 10:00", D, UTC, "2026-01-05T10:00", id="named first"),
        pytest.param("10:00 05.01.2026", D, UTC, "2026-01-05T10:00", id="clock first"),
        pytest.param("31.12.2025 24:00", D, UTC, "2026-01-01T00:00", id="hour 24"),
        pytest.param("2026-01-20 12:00:00.25", Y, UTC, "2026-01-20T12:00:00.25", id="fraction"),
        pytest.param("2026-01-20 12:00:00,123456789", Y, UTC, "2026-01-20T12:00:00.123456"),
        pytest.param("1768910400", EPOCH, BERLIN, "2026-01-20T12:00", id="seconds"),
        pytest.param("1768910400250", EPOCH, BERLIN, "2026-01-20T12:00:00.25", id="millis"),
        pytest.param("20.Jan 2026 12h", "%d.%b %Y %Hh", BERLIN, "2026-01-20T11:00", id="own form"),
        pytest.param(
            "2026-01-20 12:00 +0200", "%Y-%m-%d %H:%M %z", UTC, "2026-01-20T10:00", id="own zone"
        ),
    ],
)
def test_times(text: str, written: str, zone: tzinfo, utc: str) -> None:
    found = TimeReader(Form(written, zone)).read(f" {text} ", "a")
    assert found == datetime.fromisoformat(utc).replace(tzinfo=UTC)
    assert found.tzinfo is UTC


@pytest.mark.parametrize(
    ("text", "written", "told"),
    [
        pytest.param("", Y, "is no time written year-first", id="nothing"),
        pytest.param("End of data", Y, "is no time", id="words"),
        pytest.param("2026-02-30 12:00", Y, "is no time", id="no such day"),
        pytest.param("20.01.2026 12:00", M, "written month-first", id="other order"),
        pytest.param("2026-01-20 12:00", D, "written day-first", id="year first"),
        pytest.param("20.01.2026", D, "is no time", id="no clock"),
        pytest.param("Foo 5, 2026 10:00", D, "is no time", id="no such month"),
        pytest.param("Jan Feb 2026 10:00", D, "is no time", id="two months"),
        pytest.param("2026-01-20 12:60", Y, "no such time of day", id="minute 60"),
        pytest.param("2026-01-20 12:00:60", Y, "no such time of day", id="second 60"),
        pytest.param("2026-01-20 25:00", Y, "no such time of day", id="hour 25"),
        pytest.param("2026-01-20 24:01", Y, "no such time of day", id="past midnight"),
        pytest.param("2026-01-20 13:00 PM", Y, "no such time of day", id="13 o'clock PM"),
        pytest.param("2026-01-20 12:00+99:00", Y, "there is no zone", id="no zone"),
        pytest.param("1970-01-01 00:10", Y, "before 1980", id="never set"),
        pytest.param("9999-12-31 24:00", Y, "outside every calendar", id="end of the calendar"),
        pytest.param("9999-12-31 23:00-05:00", Y, "outside every calendar", id="beyond it"),
        pytest.param("noon", EPOCH, "not a number of seconds", id="words for seconds"),
        pytest.param("nan", EPOCH, "not a number of seconds", id="not a number"),
        pytest.param("9e14", EPOCH, "outside every calendar", id="far away"),
        pytest.param("2026", "%d.%m.%Y", "is not written as", id="own form"),
    ],
)
def test_what_is_no_time(text: str, written: str, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        TimeReader(Form(written)).read(text, "a")


@pytest.mark.parametrize(
    ("text", "orders"),
    [
        ("2026-01-20", {Y}),
        ("20.01.2026", {D}),
        ("01/20/2026", {M}),
        ("03/04/2026", {D, M}),
        ("03-04-05", {Y, D, M}),
        ("5 Jan 2026", {Y, D, M}),
        ("2026-13-40", set()),
        ("12:00", set()),
        ("3/4/5", set()),
    ],
)
def test_orders(text: str, orders: set[Order]) -> None:
    assert orders_of(text) == orders
    assert is_date(text) == bool(orders)


def test_dates_are_told_apart_by_their_kin() -> None:
    orders = narrowed(ANY_ORDER, "03/04/2026")
    assert settled(orders, "03/04/2026") is None
    orders = narrowed(orders, "total")
    assert settled(orders, "total") is None
    assert settled(narrowed(orders, "13/04/2026"), "13/04/2026") is D
    assert settled(narrowed(orders, "04/13/2026"), "04/13/2026") is M
    assert narrowed(frozenset({D}), "04/13/2026") == frozenset()
    assert settled(narrowed(ANY_ORDER, "03.04.2026"), "03.04.2026") is D
    assert settled(frozenset({M, Y}), "03.04.2026") is None


def test_kinds_of_cells() -> None:
    assert is_whole("2026-01-20 12:00")
    assert not is_whole("2026-01-20")
    assert not is_whole("2026-13-20 12:00")
    assert is_clock("7:05 PM")
    assert not is_clock("2026-01-20 12:00")
    assert is_epoch(" 1768910400.5")
    assert not is_epoch("101325")


def test_what_is_typed() -> None:
    assert asked_form("iso") == Y
    assert asked_form("day-first") == D
    assert asked_form("epoch") == EPOCH
    assert asked_form("%d %m") == "%d %m"
    with pytest.raises(RefusedError, match="--time-format german can't be read"):
        asked_form("german")


# ------------------------------------------------------------------ summer time


def read(
    texts: Sequence[str], zone: tzinfo, *, falling: bool = False
) -> tuple[TimeReader, list[str]]:
    reader = TimeReader(Form(D, zone, falling))
    found = [reader.read(f"25.10.2026 {text}", "a") for text in texts]
    return reader, [f"{time:%H:%M}" for time in found]


CLOCKS = ["01:40", "02:00", "02:40", "02:00", "02:40", "03:00"]
IN_UTC = ["23:40", "00:00", "00:40", "01:00", "01:40", "02:00"]


def test_the_hour_that_comes_twice_is_told_by_its_neighbours() -> None:
    reader, found = read(CLOCKS, BERLIN)
    assert found == IN_UTC
    assert (reader.twice.first, reader.twice.second) == (2, 2)
    assert [f"{day}" for day in reader.twice.days] == ["2026-10-25"]


def test_so_it_is_where_the_newest_stands_first() -> None:
    reader, found = read(CLOCKS[::-1], BERLIN, falling=True)
    assert found == IN_UTC[::-1]
    assert (reader.twice.first, reader.twice.second) == (2, 2)


def test_once_an_hour() -> None:
    assert read(["01:30", "02:30", "02:30", "03:30"], BERLIN)[1] == [
        "23:30",
        "00:30",
        "01:30",
        "02:30",
    ]


def test_a_file_that_begins_or_ends_in_it() -> None:
    assert read(["02:10", "02:20"], BERLIN)[1] == ["00:10", "00:20"]
    assert read(["02:20", "02:10"], BERLIN, falling=True)[1] == ["01:20", "01:10"]


def test_each_sensor_has_its_own_order() -> None:
    reader = TimeReader(Form(D, BERLIN))
    found = [reader.read("25.10.2026 02:00", sensor) for sensor in ("a", "b", "a", "b")]
    assert [time.hour for time in found] == [0, 0, 1, 1]


def test_a_clock_that_stays_on_winter_time_has_no_such_hour() -> None:
    reader, found = read(["01:40", "02:00", "03:00"], WINTER)
    assert found == ["00:40", "01:00", "02:00"]
    assert not reader.twice.days


def test_the_hour_that_never_was() -> None:
    reader = TimeReader(Form(D, BERLIN))
    reader.read("29.03.2026 01:59", "a")
    with pytest.raises(ValueError, match="2026-03-29 02:30” never was: clocks went forward"):
        reader.read("29.03.2026 02:30", "a")
    assert reader.read("29.03.2026 03:00", "a").hour == 1
    assert reader.twice.skipped == 1


def test_directions() -> None:
    up = [datetime(2026, 1, n, tzinfo=UTC) for n in (1, 2, 2, 4, 3, 5)]
    assert not falls(up)
    assert falls(reversed(up))
    assert not falls([])


def test_digits_as_they_stand() -> None:
    assert bare("25.10.2026 02:30", Form(D, BERLIN)) == datetime(2026, 10, 25, 2, 30, tzinfo=UTC)
    assert bare("total", Form(D, BERLIN)) is None
    assert bare("25.10.2026 02:30", Form("", BERLIN)) is None
