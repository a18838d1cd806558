"""Telling again what is harmful and goes on, ever more slowly.

The re-alarm timer of OPC 10000-9, annex B: after it the state is unacknowledged again. Only what
is of high priority is told again, and the time grows fourfold up to a limit: somebody who doesn't
answer is asleep or away, and shouting helps neither.
"""

from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.watch.reminder import Event, Priority, Reminder, State, can

LONGEST: Final = timedelta(hours=8)
"""It is never told again later than this after it was last told."""


def realarm_after(first: timedelta, repeats: int) -> timedelta:
    """Return how long after it was told a reminder is told again.

    Args:
        first: the time after which it is told again for the first time.
        repeats: how often it has been told again already.
    """
    # 4 ** 6 * 1 min is past any limit; the cap keeps the number small for ever.
    grown: timedelta = first * 4 ** min(repeats, 6)
    return max(first, min(grown, LONGEST))


def realarm_due(reminder: Reminder, first: timedelta | None, now: datetime) -> bool:
    """Tell whether a reminder is to be told again.

    Args:
        reminder: as it stands; whoever has seen it knows, and is told again only after the
            next longer time, counted from then.
        first: the time after which it is told again for the first time; None: never.
        now: the time.
    """
    told = reminder.told
    if first is None or told is None or not reminder.active:
        return False
    if reminder.priority is not Priority.HIGH or not can(reminder, Event.REALARMED):
        return False
    last, knows = max(told, reminder.moved or told), reminder.state is State.ACKNOWLEDGED
    return now - last >= realarm_after(first, reminder.repeats + knows)
