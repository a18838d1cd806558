"""When an address may be spoken to: windows of the week, days away, and where the clock jumps.

Windows are told by the clock on the wall. Each one opens once and closes once, on the nights too
on which the clocks change: a time that the clock leaves out counts as the moment of the jump, and
one that it shows twice as the first of the two. A window that lies wholly within what is left out
does not open that day.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from functools import lru_cache
from typing import Final

from chamberwatch.core.watch.reminder import Priority

EVERY_DAY: Final = frozenset(range(7))
"""Monday is 0."""

AHEAD_DAYS: Final = 8
"""Every window comes round within a week."""

_REMEMBERED: Final = 256
"""Every address asks after the same times of a few days with each round."""

Span = tuple[datetime, datetime]
"""From .. to, the end left out."""


@dataclass(frozen=True, slots=True)
class Window:
    """A part of the day in which an address may be spoken to.

    Attributes:
        start: local time at which it opens.
        end: local time at which it closes; not after `start`: on the next day.
        days: on which it opens, Monday 0.
        least: what is of less priority than this waits all the same.
    """

    start: time
    end: time
    days: frozenset[int] = EVERY_DAY
    least: Priority = Priority.LOW


@dataclass(frozen=True, slots=True)
class Hours:
    """When an address may be spoken to.

    Attributes:
        windows: in which low and medium priority may be said; high goes through at any hour.
        away: spans in which nobody is there to hear, whatever the priority. Aware times.
    """

    windows: tuple[Window, ...]
    away: tuple[Span, ...] = ()


NIGHT: Final = (time(22), time(6))
"""What is looked back on, and drawn, as the night."""

ALL_DAY: Final = Window(time(0), time(0))
WAKING: Final = Hours((Window(time(7), time(22)),))
"""What holds where nothing else was said."""


class Wake(StrEnum):
    """Whether high priority goes through while the windows are closed."""

    FORETOLD = "foretold"
    """Yes, but not for what was foretold at bedtime."""
    ALWAYS = "always"
    NEVER = "never"


@dataclass(frozen=True, slots=True)
class Manner:
    """How an address wants to be spoken to.

    Attributes:
        hours: when.
        least: nothing of less priority than this is sent there.
        most_per_hour: in any hour, high priority apart; None: as many as there are.
        summaries: once a day, what waited, what is over, what the night was like.
        summary: at this local time; None: when its windows first open in the day.
        summary_always: also on a day without anything to say, so that its absence is a sign.
        foretells: at bedtime, when the night will not hold.
        bedtime: local time; None: the last visit to the chamber, or the end of the last window
            if that comes before.
        wake: what goes through while the windows are closed.
        foretells_day: in the morning, when it will not hold until somebody comes by again.
        leaves: local time at which that is said; None: a little before the first visit of the day.
    """

    hours: Hours = WAKING
    least: Priority = Priority.LOW
    most_per_hour: int | None = 6
    summaries: bool = True
    summary: time | None = None
    summary_always: bool = False
    foretells: bool = True
    bedtime: time | None = None
    wake: Wake = Wake.FORETOLD
    foretells_day: bool = True
    leaves: time | None = None


AT_ONCE: Final = Manner(Hours((ALL_DAY,)), most_per_hour=None, summaries=False, wake=Wake.ALWAYS)
"""Everything as it comes, such as on a terminal."""


def is_away(hours: Hours, now: datetime) -> bool:
    """Tell whether nobody is there to hear."""
    return back_at(hours, now) is not None


def back_at(hours: Hours, now: datetime) -> datetime | None:
    """Return when somebody is there again; None: now."""
    at = now
    # One span may begin before another ends.
    for start, end in sorted(hours.away):
        if start <= at < end:
            at = end
    return at if at > now else None


def speaks(hours: Hours, priority: Priority, now: datetime, zone: tzinfo) -> bool:
    """Tell whether a priority may be said now; high may at any hour, unless nobody is there."""
    if is_away(hours, now):
        return False
    return priority is Priority.HIGH or any(
        start <= now < end for start, end in _open(hours, priority, _around(now, zone), zone)
    )


def next_opening(hours: Hours, priority: Priority, now: datetime, zone: tzinfo) -> datetime | None:
    """Return the first moment from now on at which a priority may be said.

    None where no window speaks of it. UTC, unless it is `now`.
    """
    at = now
    # Each turn leaves one span of being away behind, or finds the answer.
    while True:
        at = back_at(hours, at) or at
        if priority is Priority.HIGH:
            return at
        opening = _next_open(hours, priority, at, zone)
        if opening is None or not is_away(hours, opening):
            return opening
        at = opening


def _next_open(hours: Hours, priority: Priority, at: datetime, zone: tzinfo) -> datetime | None:
    """Return the first moment from a time on at which a window is open, away or not."""
    today = at.astimezone(zone).date()
    days = [today + timedelta(days=day) for day in range(-1, AHEAD_DAYS)]
    spans = _open(hours, priority, days, zone)
    return next((max(start, at) for start, end in spans if end > at), None)


@lru_cache(_REMEMBERED)
def first_opening(hours: Hours, day: date, zone: tzinfo) -> datetime | None:
    """Return when an address can first be spoken to on a day, after having been left in peace.

    None where it is left in peace all day, or not at all.
    """
    days = [day - timedelta(days=1), day]
    spans = _without(_open(hours, Priority.MEDIUM, days, zone), hours.away)
    openings = (start for start, _ in spans if start.astimezone(zone).date() == day)
    return next(openings, None)


@lru_cache(_REMEMBERED)
def last_closing(hours: Hours, day: date, zone: tzinfo) -> datetime | None:
    """Return when the last window that opens on a day closes; None where none opens."""
    spans = list(_open(hours, Priority.MEDIUM, [day], zone))
    return spans[-1][1] if spans else None


def floor(hours: Hours) -> Priority:
    """Return the least priority that any window speaks of."""
    return min((window.least for window in hours.windows), default=Priority.HIGH)


def _around(now: datetime, zone: tzinfo) -> list[date]:
    """Return the days whose windows may be open now: those of yesterday go over midnight."""
    today = now.astimezone(zone).date()
    return [today - timedelta(days=1), today]


def _open(hours: Hours, priority: Priority, days: Sequence[date], zone: tzinfo) -> Iterator[Span]:
    """Yield when the windows of some days are open, in order; those that touch, as one. UTC."""
    spans = sorted(
        span
        for window in hours.windows
        if window.least <= priority
        for day in days
        if day.weekday() in window.days
        for span in [_opened(window, day, zone)]
        if span[0] < span[1]
    )
    start: datetime | None = None
    end = datetime.max.replace(tzinfo=UTC)
    for next_start, next_end in spans:
        if start is not None and next_start > end:
            yield start, end
            start = None
        if start is None:
            start, end = next_start, next_end
        end = max(end, next_end)
    if start is not None:
        yield start, end


def _opened(window: Window, day: date, zone: tzinfo) -> Span:
    closes = day if window.end > window.start else day + timedelta(days=1)
    return moment(day, window.start, zone), moment(closes, window.end, zone)


def _without(spans: Iterable[Span], away: Iterable[Span]) -> list[Span]:
    """Return what is left of spans in order, without those of being away."""
    left = list(spans)
    for gone, back in away:
        parts = ((s, min(e, gone), max(s, back), e) for s, e in left)
        left = [
            span
            for before, gone_at, back_at_, after in parts
            for span in ((before, gone_at), (back_at_, after))
            if span[0] < span[1]
        ]
    return left


@lru_cache(_REMEMBERED)
def moment(day: date, at: time, zone: tzinfo) -> datetime:
    """Return when the clock on the wall first shows a time of a day, or jumps over it. UTC."""
    wall = datetime.combine(day, at, zone)
    # Where the clock jumps over it, these two lie on either side of the jump.
    late, early = wall.astimezone(UTC), wall.replace(fold=1).astimezone(UTC)
    if early >= late:
        return late
    before = early.astimezone(zone).utcoffset()
    low, high = 0, round((late - early).total_seconds())
    while high - low > 1:
        middle = (low + high) // 2
        same = (early + timedelta(seconds=middle)).astimezone(zone).utcoffset() == before
        low, high = (middle, high) if same else (low, middle)
    return early + timedelta(seconds=high)
