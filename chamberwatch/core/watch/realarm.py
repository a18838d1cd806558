"""Telling again what is harmful and goes on, ever more slowly.

The re-alarm timer of OPC 10000-9, annex B: after it the state is unacknowledged again. Only what
is of high priority is told again, and the time doubles up to a limit: somebody who doesn't answer
is asleep or away, and shouting helps neither.
"""

from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.watch.reminder import Event, Priority, Reminder, can

LONGEST: Final = timedelta(hours=8)
"""It is never told again later than this after it was last told."""


def realarm_after(first: timedelta, repeats: int) -> timedelta:
    """Return how long after it was told a reminder is told again.

    Args:
        first: the time after which it is told again for the first time.
        repeats: how often it has been told again already.
    """
    # 2 ** 10 * 1 min is past any limit; the cap keeps the number small for ever.
    doubled: timedelta = first * 2 ** min(repeats, 10)
    return max(first, min(doubled, LONGEST))


def realarm_due(reminder: Reminder, first: timedelta | None, now: datetime) -> bool:
    """Tell whether a reminder is to be told again.

    Args:
        reminder: as it stands; whoever has seen it is told again as late as who hasn't, counted
            from then.
        first: the time after which it is told again for the first time; None: never.
        now: the time.
    """
    told = reminder.told
    if first is None or told is None or not reminder.active:
        return False
    if reminder.priority is not Priority.HIGH or not can(reminder, Event.REALARMED):
        return False
    last = max(told, reminder.moved or told)
    return now - last >= realarm_after(first, reminder.repeats)
