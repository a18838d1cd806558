"""Stretches of time as they are typed."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.cli.spans import span_of
from chamberwatch.core.errors import RefusedError
from chamberwatch.service.exporting import EVER

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 26, 12, tzinfo=UTC)
FIRST, LAST = "1970-01-01T00:00Z", "9999-01-01T00:00Z"


@pytest.mark.parametrize(
    ("begins", "ends", "week", "start", "end"),
    [
        pytest.param("", "", "", FIRST, LAST, id="ever"),
        pytest.param("2026-01-20", "", "", "2026-01-19T23:00Z", LAST, id="from a day"),
        pytest.param("", "2026-01-20", "", FIRST, "2026-01-20T23:00Z", id="with all of a day"),
        pytest.param(
            "2026-10-25", "2026-10-25", "", "2026-10-24T22:00Z", "2026-10-25T23:00Z", id="25 hours"
        ),
        pytest.param(
            "2026-01-20 08:30",
            "2026-01-20T09:30Z",
            "",
            "2026-01-20T07:30Z",
            "2026-01-20T09:30Z",
            id="times",
        ),
        pytest.param("", "", "2026-W13", "2026-03-22T23:00Z", "2026-03-29T22:00Z", id="a week"),
        pytest.param("", "", "last", "2026-11-15T23:00Z", "2026-11-22T23:00Z", id="last week"),
    ],
)
def test_spans(begins: str, ends: str, week: str, start: str, end: str) -> None:
    found = span_of(begins, ends, week, NOW, BERLIN)
    assert found.start == datetime.fromisoformat(start)
    assert found.end == datetime.fromisoformat(end)
    assert EVER.start <= found.start < found.end <= EVER.end


@pytest.mark.parametrize(
    ("begins", "ends", "week", "told"),
    [
        pytest.param("monday", "", "", "--from monday can't be read; write a day", id="words"),
        pytest.param("", "20.1.2026", "", "--to 20.1.2026 can't be read", id="other order"),
        pytest.param("2026-01-20", "", "last", "not both", id="both"),
        pytest.param("2026-01-21", "2026-01-20", "", "turn them round", id="turned round"),
        pytest.param("", "9999-12-31", "", "look at the year", id="beyond the calendar"),
        pytest.param("", "", "2026-W60", "no week 60", id="no such week"),
    ],
)
def test_refused(begins: str, ends: str, week: str, told: str) -> None:
    with pytest.raises(RefusedError, match=told):
        span_of(begins, ends, week, NOW, BERLIN)
