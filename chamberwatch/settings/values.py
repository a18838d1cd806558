"""Single values of the settings file: names, numbers, lengths and times of day."""

import re
from datetime import time, timedelta
from typing import Annotated, Final
from urllib.parse import urlsplit

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Strict

from chamberwatch.core.sentence import plain
from chamberwatch.settings.duration import length, long_length

NAME: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,40}")
TIME_OF_DAY: Final = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
MIDNIGHT: Final = "24:00"


def _name(text: str) -> str:
    if not NAME.fullmatch(text):
        raise ValueError("Use small letters, digits and hyphens, such as tent or tent-2.")
    return text


def _line(text: str) -> str:
    if plain(text) != text or "\n" in text:
        raise ValueError(
            "Write it in one line, without control characters and without signs that turn the "
            "direction of writing; letters of every language are fine."
        )
    return text


def web_address(address: str) -> bool:
    """Tell whether scheme, host and port of an address are such as the web has."""
    try:
        parts = urlsplit(address)
        port = parts.port
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and bool(parts.hostname) and port != 0


def _time_of_day(text: object) -> time:
    """Return a time of day; TOML has times of its own, without quotation marks."""
    if isinstance(text, time):
        return text
    match = TIME_OF_DAY.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise ValueError('Write a time of day, such as "07:30".')
    return time(int(match[1]), int(match[2]))


def _window(text: object) -> tuple[time, time]:
    parts = re.split(r"\s*[-\N{EN DASH}]\s*", text.strip()) if isinstance(text, str) else []
    try:
        start, end = parts
        window = _time_of_day(start), time(0) if end == MIDNIGHT else _time_of_day(end)
    except ValueError:
        raise ValueError('Write from and to, such as "07:00-22:00".') from None
    if window[0] == window[1]:
        raise ValueError("It ends as it starts; for the whole day leave windows out.")
    return window


def between(shortest: timedelta, longest: timedelta, cure: str) -> AfterValidator:
    """Return a check that a length of time lies within limits; the cure names them."""

    def checked(given: timedelta) -> timedelta:
        if not shortest <= given <= longest:
            raise ValueError(cure)
        return given

    return AfterValidator(checked)


Name = Annotated[str, BeforeValidator(lambda v: _name(v) if isinstance(v, str) else v)]
IN_ONE_LINE: Final = AfterValidator(_line)
Line = Annotated[str, IN_ONE_LINE]
Length = Annotated[timedelta, BeforeValidator(length)]
LongLength = Annotated[timedelta, BeforeValidator(long_length)]
TimeOfDay = Annotated[time, BeforeValidator(_time_of_day)]
Window = Annotated[tuple[time, time], BeforeValidator(_window)]
# Without Strict, true would be taken for 1 and "120" for 120.
Whole = Annotated[int, Strict()]
Number = Annotated[float, Strict()]


class Part(BaseModel):
    """A section of the file, or one entry of a list of them."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)
