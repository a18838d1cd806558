"""From when to when: what an address means, and where its neighbours lie."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.service.books import Span
from chamberwatch.web.pages.week_span import (
    BEFORE,
    DAY,
    HOUR,
    WEEK,
    Shown,
    asked_span,
    before_words,
    newest_end,
    span_words,
)

ZONE = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 1, 20, 12, 20, tzinfo=UTC)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def shown(start: str, end: str, now: datetime = NOW) -> Shown:
    return Shown("tent", Span(utc(start), utc(end)), "", ZONE, now)


@pytest.mark.parametrize(
    ("start", "end", "first", "last"),
    [
        pytest.param("", "", "2026-01-13T13:00", "2026-01-20T13:00", id="the last seven days"),
        pytest.param("2026-01-05", "", "2026-01-04T23:00", "2026-01-11T23:00", id="from a day"),
        pytest.param("", "2026-01-12", "2026-01-04T23:00", "2026-01-11T23:00", id="to a day"),
        pytest.param(
            "2026-01-05T07:30", "2026-01-05T09:00", "2026-01-05T06:30", "2026-01-05T08:00",
            id="by the clock of the site",
        ),
        pytest.param(
            "2026-01-05T07:30Z", "2026-01-05T10:00 01:00", "2026-01-05T07:30", "2026-01-05T09:00",
            id="with zones, one after a plus sign lost",
        ),
        pytest.param(
            "2025-10-26", "2025-10-27", "2025-10-25T22:00", "2025-10-26T23:00", id="25 hours"
        ),
    ],
)  # fmt: skip
def test_what_is_asked_for(start: str, end: str, first: str, last: str) -> None:
    assert asked_span(start, end, NOW, ZONE) == Span(utc(first), utc(last))


@pytest.mark.parametrize(
    ("start", "end", "said"),
    [
        pytest.param("soon", "", "is no time", id="no time"),
        pytest.param("2026-01-05", "2026-01-04", "Swap", id="backwards"),
        pytest.param("2026-01-05T07:30", "2026-01-05T07:31", "quarter", id="too short"),
        pytest.param("2001-01-01", "2026-01-01", "eleven years", id="too long"),
        pytest.param("0001-01-01", "", "is no time", id="before any clock"),
        pytest.param("2999-01-01", "", "too far away", id="far ahead"),
    ],
)
def test_what_is_refused(start: str, end: str, said: str) -> None:
    with pytest.raises(RefusedError, match=said):
        asked_span(start, end, NOW, ZONE)


@pytest.mark.parametrize(
    ("start", "end", "times", "first", "last"),
    [
        pytest.param(
            "2026-01-13T12:00", "2026-01-20T12:00", -1, "2026-01-06T12:00", "2026-01-13T12:00",
            id="a week earlier",
        ),
        pytest.param(
            "2026-01-13T12:10", "2026-01-13T13:10", 1, "2026-01-13T13:10", "2026-01-13T14:10",
            id="an hour later",
        ),
        pytest.param(
            "2025-10-26T23:00", "2025-10-27T23:00", -1, "2025-10-25T22:00", "2025-10-26T23:00",
            id="the day before had 25 hours",
        ),
        pytest.param(
            "2025-10-19T22:00", "2025-10-26T23:00", 1, "2025-10-26T23:00", "2025-11-02T23:00",
            id="a week after that of 169 hours",
        ),
    ],
)  # fmt: skip
def test_neighbours(start: str, end: str, times: int, first: str, last: str) -> None:
    assert shown(start, end).moved(times).span == Span(utc(first), utc(last))


@pytest.mark.parametrize(
    ("start", "end", "length", "first", "last"),
    [
        pytest.param(
            "2026-01-13T13:00", "2026-01-20T13:00", DAY, "2026-01-19T13:00", "2026-01-20T13:00",
            id="the newest end stays",
        ),
        pytest.param(
            "2026-01-05T00:00", "2026-01-12T00:00", HOUR, "2026-01-08T11:30", "2026-01-08T12:30",
            id="the middle stays",
        ),
        pytest.param(
            "2026-01-18T00:00", "2026-01-19T00:00", WEEK, "2026-01-13T13:00", "2026-01-20T13:00",
            id="not beyond now",
        ),
    ],
)  # fmt: skip
def test_another_length(start: str, end: str, length: timedelta, first: str, last: str) -> None:
    assert shown(start, end).long(length).span == Span(utc(first), utc(last))


@pytest.mark.parametrize(
    ("length", "days", "said"),
    [
        pytest.param(HOUR, 1, "the day before", id="an hour"),
        pytest.param(timedelta(hours=25), 1, "the day before", id="a long day"),
        pytest.param(3 * DAY, 7, "the week before", id="three days"),
        pytest.param(WEEK + HOUR, 7, "the week before", id="a long week"),
        pytest.param(timedelta(days=30), 35, "5 weeks before", id="a month"),
    ],
)
def test_the_time_before(length: timedelta, days: int, said: str) -> None:
    one = Shown("tent", Span(utc("2026-01-20T00:00") - length, utc("2026-01-20T00:00")), BEFORE,
                ZONE, NOW)  # fmt: skip
    before = one.before()
    assert one.span.start - before.start == timedelta(days=days)
    assert before.end - before.start == length
    assert before_words(length) == said


@pytest.mark.parametrize(
    ("start", "end", "said"),
    [
        pytest.param(
            "2026-01-20T06:00", "2026-01-20T07:30", "Tuesday 20 January 2026, 07:00 to 08:30",
            id="within a day",
        ),
        pytest.param(
            "2026-01-11T23:00", "2026-01-18T23:00", "12 Jan to 18 Jan 2026", id="whole days"
        ),
        pytest.param(
            "2025-10-25T22:00", "2025-10-26T23:00", "Sunday 26 October 2025", id="one whole day"
        ),
        pytest.param(
            "2025-12-30T12:00", "2026-01-06T12:00", "30 Dec 2025 13:00 to 6 Jan 2026 13:00",
            id="over the new year",
        ),
    ],
)  # fmt: skip
def test_spans_in_words(start: str, end: str, said: str) -> None:
    assert span_words(Span(utc(start), utc(end)), ZONE) == said


def test_the_newest_span_ends_with_the_hour_that_runs() -> None:
    assert newest_end(NOW) == utc("2026-01-20T13:00")
    assert newest_end(utc("2026-01-20T13:00")) == utc("2026-01-20T13:00")


def test_an_address_says_all_that_is_shown() -> None:
    one = Shown("a b", Span(utc("2026-01-13T12:00"), utc("2026-01-20T12:00")), BEFORE, ZONE, NOW)
    assert one.address() == (
        "/week?chamber=a+b&from=2026-01-13T12:00:00Z&to=2026-01-20T12:00:00Z&beside=@before"
    )
