"""Where a time axis is marked: by the clock of the site, over changes of the clock."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.service.books import Span
from chamberwatch.web.pages.chart_time import time_marks

BERLIN = ZoneInfo("Europe/Berlin")
KATHMANDU = ZoneInfo("Asia/Kathmandu")


def local(text: str, zone: ZoneInfo = BERLIN) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone).astimezone(UTC)


def span(start: str, end: str, zone: ZoneInfo = BERLIN) -> Span:
    return Span(local(start, zone), local(end, zone))


@pytest.mark.parametrize(
    ("asked", "most", "labels"),
    [
        pytest.param(
            span("2026-01-20T10:02", "2026-01-20T11:02"),
            4,
            ["10:15", "10:30", "10:45", "11:00"],
            id="an hour",
        ),
        pytest.param(
            span("2026-01-20T00:00", "2026-01-21T00:00"),
            5,
            ["Tue 20", "06:00", "12:00", "18:00", "Wed 21"],
            id="a day",
        ),
        pytest.param(
            span("2026-01-14T13:00", "2026-01-21T13:00"),
            7,
            ["Thu 15", "Fri 16", "Sat 17", "Sun 18", "Mon 19", "Tue 20", "Wed 21"],
            id="a week",
        ),
        pytest.param(
            span("2026-01-01T00:00", "2026-01-31T00:00"),
            5,
            ["5 Jan", "12 Jan", "19 Jan", "26 Jan"],
            id="a month by Mondays",
        ),
        pytest.param(
            span("2025-01-20T00:00", "2026-01-20T00:00"),
            5,
            ["Apr", "Jul", "Oct", "2026"],
            id="a year by quarters",
        ),
        pytest.param(
            span("2019-05-01T00:00", "2026-01-20T00:00"),
            5,
            ["2020", "2022", "2024", "2026"],
            id="years",
        ),
    ],
)
def test_labels(asked: Span, most: int, labels: list[str]) -> None:
    marks = time_marks(asked, BERLIN, most)
    assert [mark.label for mark in marks] == labels
    assert len(marks) <= most + 1
    assert all(asked.start <= mark.at <= asked.end for mark in marks)


def test_a_zone_that_is_off_by_three_quarters_has_full_hours_of_its_own() -> None:
    asked = span("2026-01-20T00:00", "2026-01-20T03:00", KATHMANDU)
    marks = time_marks(asked, KATHMANDU, 4)
    assert [mark.label for mark in marks] == ["Tue 20", "01:00", "02:00", "03:00"]


def test_the_sunday_of_25_hours_has_four_between_midnight_and_three() -> None:
    marks = time_marks(span("2025-10-26T00:00", "2025-10-27T00:00"), BERLIN, 9)
    assert [mark.label for mark in marks][:3] == ["Sun 26", "03:00", "06:00"]
    first, second, third = (mark.at.astimezone(UTC) for mark in marks[:3])
    assert (second - first, third - second) == (timedelta(hours=4), timedelta(hours=3))


def test_the_sunday_of_23_hours_leaves_one_out() -> None:
    marks = time_marks(span("2026-03-29T00:00", "2026-03-29T06:00"), BERLIN, 6)
    assert [mark.label for mark in marks] == [
        "Sun 29",
        "01:00",
        "03:00",
        "04:00",
        "05:00",
        "06:00",
    ]


def test_mondays_stand_out_among_days_and_january_among_months() -> None:
    days = time_marks(span("2026-01-14T13:00", "2026-01-21T13:00"), BERLIN, 7)
    assert [mark.label for mark in days if mark.major] == ["Mon 19"]
    months = time_marks(span("2025-06-01T00:00", "2026-03-01T00:00"), BERLIN, 12)
    assert [mark.label for mark in months if mark.major] == ["2026"]
