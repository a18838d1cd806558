"""Why nothing is asked: without claiming more than is known."""

from collections.abc import Sequence
from datetime import datetime

from chamberwatch.core.sentence import begun
from chamberwatch.core.watch.judgement import Judgement, Standing
from chamberwatch.core.watch.reminder import State
from chamberwatch.service.views import ChamberNow
from chamberwatch.web import words
from chamberwatch.web.desk import Desk
from chamberwatch.web.language import _
from chamberwatch.web.pages.grows import EMPTY
from chamberwatch.web.pages.hung import is_old


def calm_words(desk: Desk, shown: ChamberNow, now: datetime) -> str:
    """Say why there is nothing to do, without claiming more than is known."""
    if not shown.sensors:
        return _("No sensor hangs here yet, so nothing is known of its air.")
    heard = {each.sensor.name: each for each in shown.sensors}
    if all(each.heard_ago is None for each in shown.sensors):
        return _(
            "Nothing heard yet. Once the first message of a sensor arrives, "
            "its values appear in the drawing. If none comes, look at its "
            "power and at the topic it sends to."
        )
    fresh = [
        judgement
        for judgement in shown.judgements
        if not is_old(judgement.reading, heard[judgement.reading.sensor], now)
    ]
    if shown.stale or len(fresh) < len(shown.judgements):
        return _(
            "Nothing is asked, but not all values are fresh: look at the sensors that are silent."
        )
    return _calm_when_fresh(desk, shown, fresh, now)


def _calm_when_fresh(
    desk: Desk, shown: ChamberNow, fresh: Sequence[Judgement], now: datetime
) -> str:
    if not fresh:
        following = shown.chamber.following
        why = _("Nothing here has a band, so nothing is judged.")
        return _(
            "Nothing to do. %(what)s", what=_(EMPTY) if following and not following.grown else why
        )
    out = [judgement for judgement in fresh if judgement.standing is not Standing.WITHIN]
    if out or shown.reminders:
        what = _(" and ").join(sorted({words.named(each.reading.quantity) for each in out}))
        if not what:
            return _beside_what_is_known(shown)
        return _(
            "Nothing new to do. %(what)s is outside the band; you will be told if it stays so.",
            what=begun(what),
        )
    since = _calm_since(desk, shown.chamber.name)
    if not since:
        return _("Nothing to do. All inside the band.")
    when = words.moment(since, now, desk.zone)
    return _("Nothing to do. All inside the band since %(when)s.", when=when)


def _beside_what_is_known(shown: ChamberNow) -> str:
    if any(each.reminder.active for each in shown.reminders):
        return _("Nothing new to do. What is known stands below.")
    return _("Nothing to do now. What was asked for is over.")


def _calm_since(desk: Desk, chamber: str) -> datetime | None:
    over = desk.history.reminders(frozenset({State.NORMAL}))
    moved = [
        each.reminder.moved
        for each in over
        if each.reminder.chamber == chamber and each.reminder.moved is not None
    ]
    return max(moved, default=None)
