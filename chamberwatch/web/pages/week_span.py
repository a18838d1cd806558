"""Which stretch of time the page *Week* shows, and where its links lead."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.review.week import Week
from chamberwatch.service.books import Span
from chamberwatch.web.language import _
from chamberwatch.web.pages.week_says import SAYS
from chamberwatch.web.words import month, month_short, weekday

HOUR: Final = timedelta(hours=1)
DAY: Final = timedelta(days=1)
WEEK: Final = timedelta(days=7)
SHORTEST: Final = timedelta(minutes=15)
LONGEST: Final = timedelta(days=11 * 366)
FIRST: Final = datetime(1971, 1, 1, tzinfo=UTC)

BEFORE: Final = "@before"
"""What is laid beside is the time before; no chamber can be called so."""

LENGTHS: Final[tuple[tuple[str, timedelta], ...]] = (
    ("hour", HOUR),
    ("day", DAY),
    ("week", WEEK),
    ("month", timedelta(days=30)),
    ("year", timedelta(days=365)),
)
EXAMPLE: Final = "2026-11-24 or 2026-11-24T07:30"


@dataclass(frozen=True, slots=True)
class Shown:
    """What the page shows.

    Attributes:
        chamber: its name.
        span: aware UTC.
        beside: nothing (empty), `BEFORE`, or the name of another chamber.
        zone: of the site.
        now: the time.
    """

    chamber: str
    span: Span
    beside: str
    zone: ZoneInfo
    now: datetime

    @property
    def length(self) -> timedelta:
        """Return how long the span is."""
        return self.span.end - self.span.start

    @property
    def is_newest(self) -> bool:
        """Tell whether nothing newer can be shown."""
        return self.span.end >= self.now

    def address(self, path: str = "/week") -> str:
        """Return where exactly this is shown."""
        asked = {"chamber": self.chamber, "from": iso(self.span.start), "to": iso(self.span.end)}
        if self.beside:
            asked["beside"] = self.beside
        return f"{path}?{urlencode(asked, safe='@:')}"

    def moved(self, times: int) -> "Shown":
        """Return the neighbour: -1 the earlier, 1 the later one.

        Whole days stay whole days of the site's clock, also where one of them has 23 or 25 hours.
        """
        days = whole_days(self.span, self.zone)
        if days:
            start, end = (by_days(t, times * days, self.zone) for t in _ends(self.span))
        else:
            start, end = (t + times * self.length for t in _ends(self.span))
        return replace(self, span=Span(start, end))

    def long(self, length: timedelta) -> "Shown":
        """Return a span of another length about the same middle, or up to the same newest end."""
        if self.is_newest:
            return replace(self, span=back_from(self.span.end, length, self.zone))
        start = self.span.start + (self.length - length) / 2
        end = min(start + length, newest_end(self.now))
        return replace(self, span=back_from(end, length, self.zone))

    def before(self) -> Span:
        """Return the time that is laid beside as the one before."""
        days = days_before(self.length)
        start = by_days(self.span.start, -days, self.zone)
        return Span(start, start + self.length)


def days_before(length: timedelta) -> int:
    """Return how many days earlier “the time before” is: a day, a week, or whole weeks."""
    if length <= DAY + HOUR:
        return 1
    return max(1, -(-(length - HOUR) // WEEK)) * 7


def before_words(length: timedelta) -> str:
    """Name the time before."""
    days = days_before(length)
    if days == 1:
        return _(SAYS["dayBefore"])
    return _(SAYS["weekBefore"]) if days == 7 else _(SAYS["weeksBefore"], weeks=days // 7)


def whole_week(shown: Shown, week: Week) -> Shown:
    """Return just that week, Monday to Sunday."""
    return replace(shown, span=Span(week.start(shown.zone), week.end(shown.zone)))


def _ends(span: Span) -> tuple[datetime, datetime]:
    return span.start, span.end


def iso(moment: datetime) -> str:
    """Write a time for an address."""
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def by_days(moment: datetime, days: int, zone: ZoneInfo) -> datetime:
    """Return when the clock of the site shows the same, so many days later."""
    return (moment.astimezone(zone) + days * DAY).astimezone(UTC)


def whole_days(span: Span, zone: ZoneInfo) -> int:
    """Return how many days a span has by the clock of the site; 0 if it isn't a whole number."""
    start, end = (t.astimezone(zone).replace(tzinfo=None) for t in _ends(span))
    return (end - start) // DAY if (end - start) % DAY == timedelta() else 0


def newest_end(now: datetime) -> datetime:
    """Return where the newest span ends: with the hour that runs."""
    begun = now.replace(minute=0, second=0, microsecond=0)
    return begun if begun == now else begun + HOUR


def back_from(end: datetime, length: timedelta, zone: ZoneInfo) -> Span:
    """Return the span of a length that ends so; whole days are those of the site's clock."""
    if length % DAY == timedelta():
        return Span(by_days(end, -(length // DAY), zone), end)
    return Span(end - length, end)


def asked_span(start: str, end: str, now: datetime, zone: ZoneInfo) -> Span:
    """Return the span that a person or a link means; the last seven days where nothing is said.

    Raises:
        RefusedError: it can't be read, is empty, or too long.
    """
    first, last = _moment(start, zone), _moment(end, zone)
    if last is None:
        last = newest_end(now) if first is None else by_days(first, 7, zone)
    if first is None:
        first = by_days(last, -7, zone)
    if first >= last:
        raise RefusedError(_("It must begin before it ends. Swap the two times."))
    if not SHORTEST <= last - first <= LONGEST:
        raise RefusedError(_("Give a quarter of an hour at least, and eleven years at most."))
    return Span(first, last)


def _moment(text: str, zone: ZoneInfo) -> datetime | None:
    if not text.strip():
        return None
    try:
        # A plus sign in an address means a blank.
        read = datetime.fromisoformat(text.strip().replace(" ", "+"))
        local = read if read.tzinfo else read.replace(tzinfo=zone)
        moment = local.astimezone(UTC).replace(microsecond=0)
    except (ValueError, OverflowError) as exc:
        raise RefusedError(
            _("“%(text)s” is no time. Write it as %(example)s.", text=text[:40], example=EXAMPLE)
        ) from exc
    if not FIRST <= moment <= FIRST.replace(year=2199):
        raise RefusedError(
            _("“%(text)s” lies too far away. Give a year between 1971 and 2198.", text=text[:40])
        )
    return moment


def span_words(span: Span, zone: ZoneInfo) -> str:
    """Say a span in words, as short as it can be said."""
    start, end = (t.astimezone(zone) for t in _ends(span))
    if start.date() == end.date():
        hours = {"since": f"{start:%H:%M}", "until": f"{end:%H:%M}"}
        return _(SAYS["within"], day=_day_words(start), **hours)
    clocks = (f" {start:%H:%M}", f" {end:%H:%M}")
    if clocks == (" 00:00", " 00:00"):
        end -= timedelta(minutes=1)
        if end.date() == start.date():
            return _day_words(start)
        clocks = ("", "")
    said = "date" if start.year == _ends(span)[1].astimezone(zone).year else "dated"
    since = f"{_date_words(said, start)}{clocks[0]}"
    return _(SAYS["span"], since=since, until=f"{_date_words('dated', end)}{clocks[1]}")


def _day_words(day: datetime) -> str:
    named = {"weekday": weekday(day), "month": month(day)}
    return _(SAYS["day"], day=day.day, year=day.year, **named)


def _date_words(said: str, day: datetime) -> str:
    return _(SAYS[said], day=day.day, month=month_short(day), year=day.year)
