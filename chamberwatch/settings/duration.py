"""Lengths of time as a person writes them: `30 s`, `5 min`, `2 h`, `1 day`."""

import re
from datetime import timedelta
from typing import Final

from chamberwatch.core.errors import Fault, SettingsError

_UNITS: Final = {
    "s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0,
    "min": 60.0, "minute": 60.0, "minutes": 60.0,
    "h": 3600.0, "hour": 3600.0, "hours": 3600.0,
    "d": 86400.0, "day": 86400.0, "days": 86400.0,
}  # fmt: skip
_SHAPE: Final = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([a-z]+)\s*", re.IGNORECASE)

_LONG: Final = {
    "d": 1, "day": 1, "days": 1, "week": 7, "weeks": 7,
    "y": 366, "year": 366, "years": 366,
}  # fmt: skip
"""Days of each unit; a year counts as a leap year, so that nothing ends a day early."""

CURE: Final = "Write a number and a unit, such as 30 s, 5 min or 2 h."
LONGEST_D: Final = 36_600
LONG_CURE: Final = "Write days, weeks or years, such as 90 days, 26 weeks or 2 years."


def length(text: object) -> timedelta:
    """Return a length of time.

    Raises:
        ValueError: it can't be read; the text is the cure.
    """
    if isinstance(text, timedelta):
        return text
    match = _SHAPE.fullmatch(text) if isinstance(text, str) else None
    if match is None or match[2].lower() not in _UNITS:
        raise ValueError(CURE)
    seconds = float(match[1]) * _UNITS[match[2].lower()]
    if not 0 < seconds <= 366 * 86400:
        raise ValueError("Give more than nothing and no more than a year.")
    return timedelta(seconds=seconds)


def long_length(text: object) -> timedelta:
    """Return a length of time that is told in days, weeks or years.

    Raises:
        ValueError: it can't be read; the text is the cure.
    """
    if isinstance(text, timedelta):
        return text
    match = _SHAPE.fullmatch(text) if isinstance(text, str) else None
    if match is None or match[2].lower() not in _LONG:
        raise ValueError(LONG_CURE)
    days = float(match[1]) * _LONG[match[2].lower()]
    if not 0 < days <= LONGEST_D:
        raise ValueError("Give more than nothing and no more than 100 years.")
    return timedelta(days=days)


def duration(text: str) -> timedelta:
    """Return a length of time given on the command line.

    Raises:
        SettingsError: it can't be read.
    """
    try:
        return length(text)
    except ValueError as error:
        raise SettingsError(
            (Fault("command line", "a length of time", text, str(error)),)
        ) from None
