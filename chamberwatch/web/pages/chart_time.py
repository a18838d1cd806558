"""Where a time axis is marked, by the clock and the calendar of the site."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.watch.reading import EPOCH
from chamberwatch.service.books import Span
from chamberwatch.web.words import month_short, weekday_short

QUARTER: Final = timedelta(minutes=15)
CLOCK_STEPS: Final = (5, 15, 30, 60, 120, 180, 360, 720)
"""Between marks of the clock. [min]"""
DAY_STEPS: Final = (1, 2, 7, 14)
MONTH_STEPS: Final = (1, 2, 3, 6)
YEAR_STEPS: Final = (1, 2, 5, 10)
A_DAY: Final = timedelta(days=1)
A_MONTH: Final = timedelta(days=30)
A_YEAR: Final = timedelta(days=365)


@dataclass(frozen=True, slots=True)
class TimeMark:
    """One mark of a time axis.

    Attributes:
        at: when, aware.
        label: what is written there.
        major: a larger unit begins here: a day among hours, a year among months.
    """

    at: datetime
    label: str
    major: bool


def time_marks(span: Span, zone: ZoneInfo, most: int) -> list[TimeMark]:
    """Return at most about so many marks at round local times, oldest first.

    A day may have 23 or 25 hours; its marks stand where the clock shows them.
    """
    length = span.end - span.start
    for minutes in CLOCK_STEPS:
        if length / timedelta(minutes=minutes) <= most:
            return list(_of_the_clock(span, zone, minutes))
    for days in DAY_STEPS:
        if length / (A_DAY * days) <= most:
            return list(_of_days(span, zone, days))
    for months in MONTH_STEPS:
        if length / (A_MONTH * months) <= most:
            return list(_of_months(span, zone, months))
    years = next((n for n in YEAR_STEPS if length / (A_YEAR * n) <= most), YEAR_STEPS[-1])
    return list(_of_months(span, zone, 12 * years))


def _of_the_clock(span: Span, zone: ZoneInfo, minutes: int) -> Iterator[TimeMark]:
    # Zones are off by quarters of an hour at the most, so the grid of UTC holds every local one.
    grid = min(QUARTER, timedelta(minutes=minutes))
    since = span.start.astimezone(UTC) - EPOCH
    moment = EPOCH + -(-since // grid) * grid
    while moment <= span.end:
        local = moment.astimezone(zone)
        if (local.hour * 60 + local.minute) % minutes == 0:
            midnight = local.hour == local.minute == 0
            yield TimeMark(
                moment,
                f"{weekday_short(local)} {local.day}" if midnight else f"{local:%H:%M}",
                midnight,
            )
        moment += grid


def _of_days(span: Span, zone: ZoneInfo, days: int) -> Iterator[TimeMark]:
    def wanted(day: date) -> bool:
        # 0001-01-01 was a Monday, so whole weeks since then begin on Mondays.
        return (day.toordinal() - 1) % days == 0

    for moment, day in _midnights(span, zone, wanted):
        name = f"{day.day} {month_short(day)}" if days >= 7 else f"{weekday_short(day)} {day.day}"
        yield TimeMark(moment, name, days < 7 and day.weekday() == 0)


def _of_months(span: Span, zone: ZoneInfo, months: int) -> Iterator[TimeMark]:
    def wanted(day: date) -> bool:
        return day.day == 1 and (day.year * 12 + day.month - 1) % months == 0

    for moment, day in _midnights(span, zone, wanted):
        january = day.month == 1
        yield TimeMark(moment, f"{day.year}" if january else month_short(day), january)


def _midnights(
    span: Span, zone: ZoneInfo, wanted: Callable[[date], bool]
) -> Iterator[tuple[datetime, date]]:
    day = span.start.astimezone(zone).date()
    while (moment := datetime.combine(day, time(), zone)) <= span.end:
        if moment >= span.start and wanted(day):
            yield moment, day
        day += A_DAY
