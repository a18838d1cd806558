"""Times as loggers write them, and the hour that comes twice when clocks go back."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from enum import StrEnum
from typing import Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.reading import EARLIEST, MILLISECONDS_FROM
from chamberwatch.core.watch.reading import EPOCH as BEGIN


class Order(StrEnum):
    """In which order a date is written; the value is what a person types for it."""

    YEAR_FIRST = "year-first"
    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"


EPOCH: Final = "epoch"
ISO: Final = "iso"
ANY_ORDER: Final = frozenset(Order)

_NAMES: Final = "jan feb mar apr may jun jul aug sep oct nov dec"
_MONTHS: Final = {name: number for number, name in enumerate(_NAMES.split(), 1)}
_DATE: Final = (
    r"(?P<a>\d{1,4}|[A-Za-z]{3,9})(?P<sign>[-/.]|, ?| )"
    r"(?P<b>\d{1,2}|[A-Za-z]{3,9})(?:[-/.]|, ?| )(?P<c>\d{4}|\d{1,2})"
)
_CLOCK: Final = (
    r"(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,](?P<fraction>\d{1,9}))?)?"
    r"(?: ?(?P<half>[AaPp])\.?[Mm]\.?)?"
)
_ZONE: Final = r"(?: ?(?P<zone>Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?))?"
_FORMS: Final = (
    re.compile(rf"{_DATE}(?:(?:T|, | - | +){_CLOCK}{_ZONE})?"),
    re.compile(rf"{_CLOCK}[ ,]+{_DATE}"),
)
_CLOCK_ALONE: Final = re.compile(_CLOCK)
_SECONDS: Final = re.compile(r"\d{9,10}(?:\.\d+)?|\d{12,13}")


@dataclass(frozen=True, slots=True)
class Form:
    """How times are written.

    Attributes:
        written: an order, “epoch”, or a format of strptime.
        zone: of times that carry none.
        falling: the newest stands first.
    """

    written: str
    zone: tzinfo = UTC
    falling: bool = False


def is_epoch(text: str) -> bool:
    """Tell whether a cell may hold seconds or milliseconds since 1970."""
    return _SECONDS.fullmatch(text.strip()) is not None


def is_date(text: str) -> bool:
    """Tell whether a cell holds a date, with a time of day or without."""
    return bool(orders_of(text))


def is_whole(text: str) -> bool:
    """Tell whether a cell holds a date with a time of day."""
    found = _matched(text)
    return found is not None and found["hour"] is not None and is_date(text)


def is_clock(text: str) -> bool:
    """Tell whether a cell holds a time of day and nothing else."""
    return _CLOCK_ALONE.fullmatch(text.strip()) is not None


def orders_of(text: str) -> frozenset[Order]:
    """Return the orders in which the date in a cell can be read, none where there is none."""
    found = _matched(text)
    if found is None:
        return frozenset()
    return frozenset(order for order in Order if _day(found, order) is not None)


def narrowed(orders: frozenset[Order], text: str) -> frozenset[Order]:
    """Return the orders that are left when this cell is to be read in one of them too.

    A cell that can't be read at all says nothing of them.
    """
    return (orders & mine) if (mine := orders_of(text)) else orders


def settled(orders: frozenset[Order], text: str) -> Order | None:
    """Return the order where only one is left, or where the sign between says which.

    Dates with points are written with the day first wherever points are in use.
    """
    if len(orders) == 1:
        return next(iter(orders))
    found = _matched(text)
    if found is not None and found["sign"] == "." and Order.DAY_FIRST in orders:
        return Order.DAY_FIRST
    return None


def asked_form(text: str) -> str:
    """Return what a person typed for the form of times.

    Raises:
        RefusedError: it is none.
    """
    if text == ISO:
        return Order.YEAR_FIRST
    if text in {EPOCH, *Order} or "%" in text:
        return text
    raise RefusedError(
        f"--time-format {text} can't be read; write {ISO}, {EPOCH}, {Order.DAY_FIRST}, "
        f"{Order.MONTH_FIRST}, or a format such as “%d.%m.%Y %H:%M”."
    )


def _matched(text: str) -> re.Match[str] | None:
    # Some put a blank that does not break before AM and PM.
    tidy = text.strip().replace("\u00a0", " ").replace("\u202f", " ")
    for form in _FORMS:
        found = form.fullmatch(tidy)
        if found is not None:
            return found
    return None


def _day(found: re.Match[str], order: Order) -> date | None:
    """Return the date, None where it can't be read in this order."""
    a, b, c = found["a"], found["b"], found["c"]
    if not (a + b).isdigit():  # a named month stands where it stands
        named, day = (b, a) if a.isdigit() else (a, b)
        month = _MONTHS.get(named[:3].casefold())
        return _made(c, str(month), day) if month is not None and day.isdigit() else None
    if order is Order.YEAR_FIRST:
        return _made(a, b, c) if len(a) == 4 or len(a) == len(c) == 2 else None
    if len(a) > 2:
        return None
    return _made(c, b, a) if order is Order.DAY_FIRST else _made(c, a, b)


def _made(year: str, month: str, day: str) -> date | None:
    if len(year) not in (2, 4):
        return None
    try:
        return date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))
    except ValueError:
        return None


# ------------------------------------------------------------------ reading


@dataclass(slots=True)
class Twice:
    """What was met when clocks were changed.

    Attributes:
        first: times in an hour that came twice, taken for its first coming.
        second: the same, for its second.
        days: on which that was.
        skipped: times in an hour that never was, since clocks went forward.
    """

    first: int = 0
    second: int = 0
    days: set[date] = field(default_factory=set)
    skipped: int = 0


class TimeReader:
    """Reads the times of a file from its top to its end.

    A time in an hour that comes twice is told by its neighbour: rows go on in one direction, so
    one that would go back belongs to the other coming of that hour.
    """

    def __init__(self, form: Form) -> None:
        """Begin at the top."""
        self._form = form
        self._last: dict[str, datetime] = {}
        self.twice = Twice()

    def read(self, text: str, whose: str) -> datetime:
        """Return a time, aware UTC.

        Args:
            text: as it is written.
            whose: the sensor that the row is of; each has its own order of rows.

        Raises:
            ValueError: it can't be read; the text says why.
        """
        try:
            time = self._read(text.strip(), whose)
        except OverflowError:
            raise ValueError(f"“{text.strip()[:40]}” lies outside every calendar") from None
        if time < EARLIEST:
            raise ValueError(f"“{text.strip()[:40]}” is before 1980; the clock was never set")
        self._last[whose] = time
        return time

    def _read(self, text: str, whose: str) -> datetime:
        written = self._form.written
        if written == EPOCH:
            return _since_1970(text)
        if "%" in written:
            try:
                time = datetime.strptime(text, written)  # noqa: DTZ007 - the zone comes next
            except ValueError:
                raise ValueError(f"“{text[:40]}” is not written as {written}") from None
        else:
            time = _written(text, Order(written))
        return time.astimezone(UTC) if time.tzinfo else self._placed(time, whose)

    def _placed(self, time: datetime, whose: str) -> datetime:
        """Return a local time in UTC."""
        first, second = (time.replace(tzinfo=self._form.zone, fold=n) for n in (0, 1))
        change = (first.utcoffset() or timedelta()) - (second.utcoffset() or timedelta())
        if not change:
            return first.astimezone(UTC)
        if change < timedelta():
            self.twice.skipped += 1
            raise ValueError(f"“{time:%Y-%m-%d %H:%M}” never was: clocks went forward then")
        early, late = first.astimezone(UTC), second.astimezone(UTC)
        last = self._last.get(whose)
        if self._form.falling:
            taken = late if last is None or late < last else early
        else:
            taken = early if last is None or early > last else late
        self.twice.days.add(time.date())
        self.twice.first += taken == early
        self.twice.second += taken == late
        return taken


def _since_1970(text: str) -> datetime:
    try:
        seconds = float(text)
    except ValueError:
        raise ValueError(f"“{text[:40]}” is not a number of seconds") from None
    if not abs(seconds) < 1e15:  # nan is none of them
        raise ValueError(f"“{text[:40]}” is not a number of seconds")
    if seconds >= MILLISECONDS_FROM:
        seconds /= 1000
    return BEGIN + timedelta(seconds=seconds)


def _written(text: str, order: Order) -> datetime:
    """Return a time as it is written, with its zone where it carries one."""
    found = _matched(text)
    day = None if found is None else _day(found, order)
    if found is None or day is None or found["hour"] is None:
        raise ValueError(f"“{text[:40]}” is no time written {order}")
    clock = _clock(found)
    if clock is None:
        raise ValueError(f"“{text[:40]}” has no such time of day")
    made = datetime(day.year, day.month, day.day) + clock  # noqa: DTZ001 - the zone comes next
    zone = found.groupdict().get("zone")
    return made if zone is None else made.replace(tzinfo=offset(zone))


def _clock(found: re.Match[str]) -> timedelta | None:
    """Return how long after midnight, None where there is no such time.

    Hour 24 is the first moment of the next day.
    """
    hour, minute, second = (int(found[part] or 0) for part in ("hour", "minute", "second"))
    if found["half"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if found["half"] in "Pp" else 0)
    if minute > 59 or second > 59 or hour > 24 or (hour == 24 and (minute or second)):
        return None
    micros = int((found["fraction"] or "").ljust(6, "0")[:6])
    return timedelta(hours=hour, minutes=minute, seconds=second, microseconds=micros)


def offset(zone: str) -> tzinfo:
    """Return the zone that is written as UTC, Z, +01:00 or -5.

    Raises:
        ValueError: there is none.
    """
    if zone in {"Z", "UTC", "GMT"}:
        return UTC
    digits = zone[1:].replace(":", "")
    hours, minutes = (digits[:-2], digits[-2:]) if len(digits) > 2 else (digits, "0")
    off = timedelta(hours=int(hours), minutes=int(minutes))
    try:
        return timezone(-off if zone[0] == "-" else off)
    except ValueError:
        raise ValueError(f"there is no zone {zone}") from None


def falls(times: Iterable[datetime]) -> bool:
    """Tell whether times go from the newest to the oldest."""
    ups = downs = 0
    last: datetime | None = None
    for time in times:
        if last is not None:
            ups += time > last
            downs += time < last
        last = time
    return downs > ups


def bare(text: str, form: Form) -> datetime | None:
    """Return a time as its digits stand there, to see in which direction rows go; None: none."""
    try:
        return TimeReader(Form(form.written)).read(text, "")
    except ValueError:
        return None
