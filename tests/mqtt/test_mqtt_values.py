import json
import math
from datetime import UTC, datetime

import pytest

from chamberwatch.core.errors import BadPayloadError
from chamberwatch.mqtt.values import after, as_number, as_time, shown
from tests.make import NOON


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        pytest.param(21, 21.0, id="int"),
        pytest.param(21.5, 21.5, id="float"),
        pytest.param("21.5", 21.5, id="text"),
        pytest.param("  -3 ", -3.0, id="spaces"),
        pytest.param("+.5", 0.5, id="no leading digit"),
        pytest.param("5.", 5.0, id="no trailing digit"),
        pytest.param("1.2e3", 1200.0, id="exponent"),
    ],
)
def test_numbers(value: object, expected: float) -> None:
    assert as_number(value) == expected


@pytest.mark.parametrize(
    "value",
    [
        pytest.param(True, id="bool"),
        pytest.param(None, id="null"),
        pytest.param(math.nan, id="nan"),
        pytest.param(-math.inf, id="infinity"),
        pytest.param(10**400, id="too large an int"),
        pytest.param("1e999", id="too large a text"),
        pytest.param("nan", id="nan in words"),
        pytest.param("Infinity", id="infinity in words"),
        pytest.param("", id="empty"),
        pytest.param("21,5", id="decimal comma"),
        pytest.param("21.5 °C", id="with its unit"),
        pytest.param("1_000", id="python's underscore"),
        pytest.param("\u0663\u0664", id="other digits"),
        pytest.param("0x15", id="hexadecimal"),
        pytest.param([21.5], id="list"),
        pytest.param({"v": 21.5}, id="object"),
    ],
)
def test_not_numbers(value: object) -> None:
    with pytest.raises(BadPayloadError):
        as_number(value)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        pytest.param("2026-01-20T12:00:00Z", NOON, id="utc"),
        pytest.param("2026-01-20T13:00:00+01:00", NOON, id="offset"),
        pytest.param("20260120T120000Z", NOON, id="basic format"),
        pytest.param(1_768_910_400, NOON, id="seconds"),
        pytest.param(1_768_910_400_000, NOON, id="milliseconds"),
        pytest.param("1768910400", NOON, id="seconds as text"),
        pytest.param(1_768_910_400.25, NOON.replace(microsecond=250_000), id="quarter second"),
        pytest.param(315_532_800, datetime(1980, 1, 1, tzinfo=UTC), id="earliest"),
    ],
)
def test_times(value: object, expected: datetime) -> None:
    time = as_time(value)
    assert time == expected
    assert time.tzinfo is UTC


@pytest.mark.parametrize(
    ("value", "part"),
    [
        pytest.param("2026-01-20T12:00:00", "no offset", id="naive"),
        pytest.param("2026-01-20", "no offset", id="only a day"),
        pytest.param("noon", "ISO 8601", id="words"),
        pytest.param("", "ISO 8601", id="empty"),
        pytest.param("0001-01-01T00:00:00+23:00", "ISO 8601", id="before the calendar"),
        pytest.param(True, "not a time", id="bool"),
        pytest.param([1], "not a time", id="list"),
        pytest.param(math.nan, "not a time", id="nan"),
        pytest.param(12, "before 1980", id="uptime"),
        pytest.param("1970-01-01T00:00:12Z", "before 1980", id="clock never set"),
        pytest.param(315_532_799.9, "before 1980", id="just too early"),
        pytest.param(-1e300, "outside every calendar", id="far past"),
        pytest.param(1e300, "outside every calendar", id="far future"),
    ],
)
def test_not_times(value: object, part: str) -> None:
    with pytest.raises(BadPayloadError, match=part):
        as_time(value)


def test_infinity_is_in_no_calendar() -> None:
    with pytest.raises(BadPayloadError, match="calendar"):
        after(NOON, math.inf)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        pytest.param(None, "null", id="null"),
        pytest.param(False, "false", id="bool"),
        pytest.param("21 °C", '"21 °C"', id="text"),
        pytest.param({"a": 1}, "an object", id="object"),
        pytest.param([1], "a list", id="list"),
        pytest.param("x" * 100, '"' + "x" * 39 + "…", id="long"),
    ],
)
def test_shown(value: object, expected: str) -> None:
    assert shown(value) == expected


def test_half_a_character_can_be_stored() -> None:
    assert shown(json.loads(r'"\ud800"')).encode() == rb'"\ud800"'
