"""Days and stretches of days as somebody nearby would say them."""

from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.growing.due import Window
from chamberwatch.web.language import _
from chamberwatch.web.words import month, month_short, weekday, weekday_short

A_WEEK: Final = 7
FAR: Final = timedelta(days=300)


def days_since(since: datetime, now: datetime, zone: ZoneInfo) -> int:
    """Return how many midnights of the site lie between."""
    return (now.astimezone(zone).date() - since.astimezone(zone).date()).days


def for_days(since: datetime, now: datetime, zone: ZoneInfo) -> str:
    """Say for how long something has been so."""
    days = days_since(since, now, zone)
    if days <= 0:
        return _("since today")
    return _("since yesterday") if days == 1 else _("for %(days)s days", days=days)


def day_words(day: datetime, now: datetime, zone: ZoneInfo) -> str:
    """Name a day: today, a weekday of this week, else with its date."""
    local = day.astimezone(zone)
    ahead = -days_since(day, now, zone)
    if ahead in (-1, 0, 1):
        return {-1: _("yesterday"), 0: _("today"), 1: _("tomorrow")}[ahead]
    if 0 < ahead < A_WEEK:
        return weekday(local)
    year = f" {local.year}" if abs(day - now) > FAR else ""
    return f"{weekday_short(local)} {local.day} {month_short(local)}{year}"


def window_words(window: Window, now: datetime, zone: ZoneInfo) -> str:
    """Say when something is expected: a stretch of days, never one where it is not."""
    low, high = -days_since(window.low, now, zone), -days_since(window.high, now, zone)
    last = day_words(window.high, now, zone)
    if high < 0:
        return _("expected by %(last)s, so look now", last=last)
    if low == high or high == 0:
        return last
    if low <= 0:
        return _("now to %(last)s", last=last)
    return _("between %(low)s and %(last)s", low=day_words(window.low, now, zone), last=last)


def date_words(day: datetime, now: datetime, zone: ZoneInfo) -> str:
    """Write a date, with its year where it is not this one."""
    local = day.astimezone(zone)
    year = f" {local.year}" if local.year != now.astimezone(zone).year else ""
    return f"{local.day} {month(local)}{year}"


def moment_words(at: datetime, now: datetime, zone: ZoneInfo) -> str:
    """Write a past moment: today 17:30, else with its weekday and date."""
    local = at.astimezone(zone)
    ago = days_since(at, now, zone)
    if ago in (0, 1):
        return f"{(_('today'), _('yesterday'))[ago]} {local:%H:%M}"
    year = f" {local.year}" if local.year != now.astimezone(zone).year else ""
    return f"{weekday_short(local)} {local.day} {month_short(local)}{year} {local:%H:%M}"
