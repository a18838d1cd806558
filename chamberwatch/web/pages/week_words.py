"""What the page *Week* says in words: what happened, and whose bands held."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.review.week import Week
from chamberwatch.service.books import Span
from chamberwatch.service.chart import Chart, Mark, MarkKind
from chamberwatch.web.desk import Desk
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.chart_scale import KINDS
from chamberwatch.web.pages.week_span import span_words
from chamberwatch.web.words import month, month_short, weekday, weekday_short

MOST_MARKS: Final = 200
"""More are no reading; the chart and the log show them."""
SIGNS: Final[dict[MarkKind, str]] = {
    MarkKind.DEED: marked("done"),
    MarkKind.FOUND: marked("found in the readings"),
    MarkKind.REMINDER: marked("asked"),
    MarkKind.GROWING: marked("grows"),
}
A_WEEK_ALMOST: Final = timedelta(days=6)


@dataclass(frozen=True, slots=True)
class Happened:
    """One thing that happened.

    Attributes:
        when: clock of the site, and until when where it lasted.
        kind: for the sign beside it.
        sign: the same in words.
        text: what it was.
    """

    when: str
    kind: str
    sign: str
    text: str


@dataclass(frozen=True, slots=True)
class DayOf:
    """What happened on one day."""

    name: str
    things: tuple[Happened, ...]


def happened(chart: Chart, figures: Figures) -> list[DayOf]:
    """Return what happened, the newest day first, at most `MOST_MARKS` things."""
    zone = figures.zone
    newest = sorted(chart.marks, key=lambda mark: mark.at)[-MOST_MARKS:]
    days = groupby(newest, key=lambda mark: mark.at.astimezone(zone).date())
    made = [
        DayOf(
            f"{weekday(day)} {day.day} {month(day)}", tuple(_one(mark, figures) for mark in marks)
        )
        for day, marks in days
    ]
    return made[::-1]


def _one(mark: Mark, figures: Figures) -> Happened:
    text = figures.said(mark.text)
    return Happened(_when(mark, figures.zone), mark.kind.value, _(SIGNS[mark.kind]), text)


def _when(mark: Mark, zone: ZoneInfo) -> str:
    at = mark.at.astimezone(zone)
    if mark.until is None:
        return f"{at:%H:%M}"
    until = mark.until.astimezone(zone)
    day = (
        ""
        if until.date() == at.date()
        else f"{weekday_short(until)} {until.day}\N{NO-BREAK SPACE}{month_short(until)} "
    )
    return _(
        "%(clock)s to %(day)s%(clock2)s", clock=f"{at:%H:%M}", day=day, clock2=f"{until:%H:%M}"
    )


@dataclass(frozen=True, slots=True)
class Whose:
    """Whose bands were in force.

    Attributes:
        since: from when on, in words.
        what: the quantities it is said of; empty: of all that have a band then.
        why: whose they are.
    """

    since: str
    what: str
    why: str


def whose(chart: Chart, zone: ZoneInfo) -> list[Whose]:
    """Say whose bands were in force, from when on each, in the order in which they came."""
    last: dict[str, str] = {}
    found: dict[tuple[datetime, str], list[str]] = {}
    for band in sorted(chart.bands, key=lambda band: band.start):
        if band.why and last.get(band.quantity) != band.why:
            found.setdefault((band.start, band.why), []).append(band.quantity)
        last[band.quantity] = band.why
    return [
        Whose(_since(start, chart.span, zone), _of_which(chart, start, changed), why)
        for (start, why), changed in found.items()
    ]


def _of_which(chart: Chart, start: datetime, changed: Sequence[str]) -> str:
    """Name the quantities whose band changed, in the order of the panels; empty: all of them."""
    held = {band.quantity for band in chart.bands if band.start <= start < band.end}
    if held <= set(changed):
        return ""
    return ", ".join(kind.label for name, kind in KINDS.items() if name in changed)


def _since(start: datetime, span: Span, zone: ZoneInfo) -> str:
    if start <= span.start:
        return _("at the beginning")
    at = start.astimezone(zone)
    day = f"{weekday_short(at)} {at.day} {month_short(at)}"
    return _("from %(day)s, %(clock)s", day=day, clock=f"{at:%H:%M}")


def summing_up(chart: Chart, zone: ZoneInfo) -> str:
    """Say what the lines lack since it is still being summed up; empty where that is nothing."""
    if chart.left_out is None:
        return ""
    return _(
        "Still being summed up, and partly missing here: %(span)s. Look again in some minutes; a "
        "whole year takes two hours.",
        span=span_words(chart.left_out, zone),
    )


def calendar_week(week: Week, *, over: bool) -> str:
    """Say which days the figures of a calendar week are of."""
    first, last = week.monday(), week.monday() + timedelta(days=6)
    named = {"day": first.day, "month": month(first), "day2": last.day, "month2": month(last)}
    days = (
        _("Monday %(day)s to Sunday %(day2)s %(month2)s", **named)
        if first.month == last.month
        else _("Monday %(day)s %(month)s to Sunday %(day2)s %(month2)s", **named)
    )
    return days if over else _("%(days)s, so far", days=days)


def week_of_reminders(desk: Desk, span: Span) -> str:
    """Return the name of the calendar week that a span mostly shows; empty for another length."""
    length = span.end - span.start
    if desk.reviewing is None or not A_WEEK_ALMOST <= length <= 2 * A_WEEK_ALMOST:
        return ""
    middle = min(span.start + length / 2, desk.clock.now()).astimezone(desk.zone)
    return f"{middle:%G-W%V}"


def never_read(chart: Chart) -> bool:
    """Tell whether the span holds no reading at all."""
    lines: Sequence[Sequence[float | None]] = [line.mean for line in chart.lines]
    return all(value is None for line in lines for value in line)
