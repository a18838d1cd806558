"""A week as a person counts them: Monday to Sunday, by the clock on the wall (ISO 8601)."""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Final

from chamberwatch.core.errors import RefusedError

_WRITTEN: Final = re.compile(r"(\d{4})-W(\d{2})", re.ASCII)
FIRST_YEAR, LAST_YEAR = 1971, 2199
"""Years a chamber can have been watched in; far from where the calendar of Python ends."""


@dataclass(frozen=True, slots=True, order=True)
class Week:
    """One week of ISO 8601; its year is that of its Thursday."""

    year: int
    number: int

    @property
    def name(self) -> str:
        """Write it as it is asked for."""
        return f"{self.year:04d}-W{self.number:02d}"

    def monday(self) -> date:
        """Return its first day."""
        return date.fromisocalendar(self.year, self.number, 1)

    def start(self, zone: tzinfo) -> datetime:
        """Return the first moment of its Monday there, in UTC."""
        return datetime.combine(self.monday(), time(), zone).astimezone(UTC)

    def end(self, zone: tzinfo) -> datetime:
        """Return the first moment of the week after.

        Where the clocks change in between it is not 168 hours after the start.
        """
        return self.later(1).start(zone)

    def later(self, weeks: int) -> "Week":
        """Return the week so many weeks later; earlier for a negative number."""
        return of_day(self.monday() + timedelta(weeks=weeks))


def of_day(day: date) -> Week:
    """Return the week that a day lies in."""
    year, number, _ = day.isocalendar()
    return Week(year, number)


def of_moment(moment: datetime, zone: tzinfo) -> Week:
    """Return the week that a moment lies in there."""
    return of_day(moment.astimezone(zone).date())


def read(text: str) -> Week:
    """Return the week that is written as 2026-W47.

    Raises:
        RefusedError: it can't be read, or that year has no such week.
    """
    written = _WRITTEN.fullmatch(text.strip())
    if written is None:
        raise RefusedError(f"“{text}” is no week. Write the year and its week, such as 2026-W47.")
    year, number = int(written[1]), int(written[2])
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise RefusedError(f"Give a year between {FIRST_YEAR} and {LAST_YEAR}, not {year}.")
    try:
        return of_day(date.fromisocalendar(year, number, 1))
    except ValueError:
        # 28 December lies in the last week of every year.
        last = date(year, 12, 28).isocalendar().week
        raise RefusedError(
            f"There is no week {number} in {year}; its weeks are 01 to {last}."
        ) from None


def asked_week(text: str, now: datetime, zone: tzinfo) -> Week:
    """Return the week that a person asks for.

    Args:
        text: such as 2026-W47; empty: the present one, so far.
        now: the time.
        zone: of the site.

    Raises:
        RefusedError: that is no week, or it has not begun.
    """
    present = of_moment(now, zone)
    asked = read(text) if text.strip() else present
    if asked > present:
        raise RefusedError(
            f"{asked.name} has not begun; the newest there can be is {present.name}."
        )
    return asked
