"""Numbers and times as sensors write them."""

import json
import math
import re
from datetime import UTC, datetime, timedelta
from typing import Final

from chamberwatch.core.errors import BadPayloadError
from chamberwatch.core.watch.reading import EARLIEST, EPOCH, MILLISECONDS_FROM

SHOWN: Final = 40
_DECIMAL: Final = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")


def shown(value: object) -> str:
    """Return a value for a sentence: short, and fit to be stored whatever was sent."""
    match value:
        case dict():
            return "an object"
        case list():
            return "a list"
        case str():
            text = json.dumps(value[: SHOWN + 1], ensure_ascii=False)
        case _:
            text = json.dumps(value)
    # A sensor can send half a character (\ud800), which no file and no database takes.
    text = text.encode("utf-8", "backslashreplace").decode()
    return text if len(text) <= SHOWN else text[:SHOWN] + "…"


def as_number(value: object) -> float:
    """Return a number that was sent as such or as a text of digits.

    Raises:
        BadPayloadError: it isn't a finite number.
    """
    if isinstance(value, str):
        return _number_in(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadPayloadError(f"{shown(value)} is not a number; send one, as in 21.5.")
    return _finite(value, value)


def _number_in(text: str) -> float:
    digits = text.strip()
    if not _DECIMAL.fullmatch(digits):
        raise BadPayloadError(
            f"{shown(text)} is not a number; send digits with a decimal point, as in 21.5."
        )
    return _finite(float(digits), text)


def _finite(value: float, sent: object) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise BadPayloadError(f"{shown(sent)} is not a finite number; look at the sensor.")
    return number


def as_time(value: object) -> datetime:
    """Return a time, aware UTC.

    A number is seconds since 1970, from 1e11 on milliseconds; a text is such a number or ISO 8601
    with its offset from UTC.

    Raises:
        BadPayloadError: it isn't a time, or one before 1980.
    """
    if isinstance(value, str) and not _DECIMAL.fullmatch(value.strip()):
        return not_too_early(_iso(value), value)
    try:
        number = as_number(value)
    except BadPayloadError:
        raise BadPayloadError(
            f"{shown(value)} is not a time; send ISO 8601 with an offset, or seconds since 1970."
        ) from None
    return since_1970(number / 1000 if number >= MILLISECONDS_FROM else number)


def _iso(text: str) -> datetime:
    try:
        time = datetime.fromisoformat(text.strip())
        if time.tzinfo is None:
            raise BadPayloadError(
                f"The time {shown(text)} has no offset from UTC; send it with Z or +01:00 behind."
            )
        return time.astimezone(UTC)
    except (ValueError, OverflowError):
        raise BadPayloadError(
            f"{shown(text)} is not a time; send ISO 8601, as in 2026-01-20T12:00:00Z."
        ) from None


def since_1970(seconds: float) -> datetime:
    """Return the time so many seconds after the start of 1970, aware UTC.

    Raises:
        BadPayloadError: no calendar holds it, or it is before 1980.
    """
    return after(EPOCH, seconds)


def after(start: datetime, seconds: float) -> datetime:
    """Return the time so many seconds after a start, aware UTC.

    Raises:
        BadPayloadError: no calendar holds it, or it is before 1980.
    """
    try:
        time = start + timedelta(seconds=seconds)
    except OverflowError:
        raise BadPayloadError(
            f"The time {seconds:g} s lies outside every calendar; set the sensor's clock."
        ) from None
    return not_too_early(time, seconds)


def not_too_early(time: datetime, said: object) -> datetime:
    """Return the time itself.

    Raises:
        BadPayloadError: it is before 1980.
    """
    if time < EARLIEST:
        raise BadPayloadError(f"The time {shown(said)} is before 1980; set the sensor's clock.")
    return time
