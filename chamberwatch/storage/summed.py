"""How far readings are summed up, and what of it has to be reckoned anew.

All of it lies in the database and changes in the transaction that changes the readings: whatever
the process dies of, no summary is taken for right that isn't.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final, NamedTuple

from sqlalchemy import Connection, Select, func, select, type_coerce

from chamberwatch.core.review.covering import DAY_S, QUARTER_S
from chamberwatch.core.review.reckoning import PAIRED_WITHIN_US
from chamberwatch.storage.columns import Whole, from_micros
from chamberwatch.storage.counters import put_counter
from chamberwatch.storage.dialects import insert, lesser
from chamberwatch.storage.summed_tables import LATE, UNSUMMED
from chamberwatch.storage.tables import COUNTERS, READINGS

S_US: Final = 1_000_000
QUARTER_US: Final = QUARTER_S * S_US

_FROM: Final = "summed up from"
_UNTIL: Final = "summed up until"
_GONE: Final = "readings dropped before"

SETTLES_S: Final = 120
"""A quarter-hour is summed up when it is over for so long: what is read in its last seconds waits
for a commit, and a temperature may be paired with a humidity of a minute later. [s]"""

LONG_AGO_S: Final = -719_162 * DAY_S
"""The first day that a calendar has. [s]"""

AT_ONCE_S: Final = 31 * DAY_S
"""So much is taken into the window at a time, so that no transaction is long. [s]"""


class Window(NamedTuple):
    """What is summed up, apart from the quarter-hours that stand in `unsummed`.

    Attributes:
        from_s: from when on, a full quarter-hour. [s]
        until_s: until before when, a full quarter-hour; 0: nothing is summed up. [s]
        gone_s: readings of before this day may have been dropped. [s]
    """

    from_s: int
    until_s: int
    gone_s: int


def window(connection: Connection) -> Window:
    """Return what is summed up."""
    asked = select(COUNTERS.c.name, COUNTERS.c.value).where(
        COUNTERS.c.name.in_((_FROM, _UNTIL, _GONE))
    )
    found = {row.name: row.value for row in connection.execute(asked)}
    return Window(found.get(_FROM, 0), found.get(_UNTIL, 0), found.get(_GONE, 0))


def note(connection: Connection, rows: Iterable[tuple[int, int, float]]) -> None:
    """Note readings that are new or worth something else now.

    Args:
        connection: of the transaction that keeps them.
        rows: when [us], which series, and what each is worth.
    """
    held = window(connection)
    if not held.until_s:
        return
    summed = [row for row in rows if row[0] - PAIRED_WITHIN_US < held.until_s * S_US]
    gone_us = held.gone_s * S_US
    touch(connection, held, (row[0] for row in summed if row[0] >= gone_us - PAIRED_WITHIN_US))
    late = [
        {"time": from_micros(at_us), "series": series, "value": value}
        for at_us, series, value in summed
        if at_us < gone_us
    ]
    if late:
        connection.execute(insert(connection, LATE).on_conflict_do_nothing(), late)


def touch(connection: Connection, held: Window, times_us: Iterable[int]) -> None:
    """Have the quarter-hours of these times reckoned anew, and those of what is paired with them.

    Args:
        connection: of the transaction.
        held: what is summed up.
        times_us: in any order. [us]
    """
    near = {
        (at_us + off) // QUARTER_US * QUARTER_S
        for at_us in times_us
        for off in (-PAIRED_WITHIN_US, 0, PAIRED_WITHIN_US)
    }
    first = max(held.from_s, held.gone_s)
    mark(connection, sorted(start for start in near if first <= start < held.until_s))


def mark(connection: Connection, starts_s: Sequence[int], *, counting: bool = False) -> None:
    """Have quarter-hours reckoned anew.

    Args:
        connection: of the transaction.
        starts_s: where they begin. [s]
        counting: only because they are held against another band; their values stay right.
    """
    if not starts_s:
        return
    fresh = insert(connection, UNSUMMED).values(touched=1, counting=counting)
    # One whose values are wrong is not right for that another band holds too.
    both = {
        "touched": UNSUMMED.c.touched + 1,
        "counting": lesser(connection, UNSUMMED.c.counting, fresh.excluded.counting),
    }
    again = fresh.on_conflict_do_update(index_elements=["start_s"], set_=both)
    connection.execute(again, [{"start_s": start} for start in starts_s])


# ---------------------------------------------------------------- how far it reaches


def reach_on(connection: Connection, now_s: int) -> bool:
    """Take in what is over and settled since; return whether there was anything."""
    held = window(connection)
    newest_s = edge(connection, newest=True)
    if newest_s is None:
        return False
    target = (min(newest_s, now_s) - SETTLES_S) // QUARTER_S * QUARTER_S
    if not held.until_s:
        # Nothing yet: the newest day comes first, since that is what people look at.
        put_counter(connection, _FROM, target)
        put_counter(connection, _UNTIL, target)
        return True
    target = min(target, held.until_s + AT_ONCE_S)
    if target <= held.until_s:
        return False
    _open(connection, held.until_s, target)
    put_counter(connection, _UNTIL, target)
    return True


def reach_back(connection: Connection) -> bool:
    """Take in the last day before the window in which there are readings; tell whether any is."""
    held = window(connection)
    # What comes for a time whose readings were dropped is late, and added to what is kept of it.
    if not held.until_s or (held.gone_s and held.from_s <= held.gone_s):
        return False
    last_s = edge(connection, newest=True, before_s=held.from_s)
    if last_s is None:
        return False
    target = last_s // DAY_S * DAY_S
    _open(connection, target, held.from_s)
    put_counter(connection, _FROM, target)
    return True


def _open(connection: Connection, start_s: int, end_s: int) -> None:
    """Mark the quarter-hours of a stretch, but not of days in it without any reading."""
    for first, last in _days(connection, start_s, end_s):
        mark(connection, range(first, last, QUARTER_S))


def _days(connection: Connection, start_s: int, end_s: int) -> Iterator[tuple[int, int]]:
    at = start_s
    while at < end_s:
        day_ends = at // DAY_S * DAY_S + DAY_S
        heard = edge(connection, newest=False, from_s=at)
        # A day that is only partly within must be closed all the same: its hours are.
        partly = at % DAY_S or day_ends > end_s
        if partly or (heard is not None and heard < day_ends):
            yield at, min(day_ends, end_s)
            at = day_ends
        else:
            last = end_s // DAY_S * DAY_S
            at = last if heard is None else min(heard // DAY_S * DAY_S, last)


def edge(
    connection: Connection, *, newest: bool, from_s: int | None = None, before_s: int | None = None
) -> int | None:
    """Return the time of the first or the last reading; None where there is none. [s]."""
    time: Any = READINGS.c.time
    asked: Select[Any] = select(type_coerce(func.max(time) if newest else func.min(time), Whole))
    if from_s is not None:
        asked = asked.where(time >= from_micros(from_s * S_US))
    if before_s is not None:
        asked = asked.where(time < from_micros(before_s * S_US))
    found = connection.execute(asked).scalar_one()
    return None if found is None else int(found) // S_US


def drop_before(connection: Connection, before_s: int) -> int:
    """Let summaries of before a day stay as they are from now on; return which day that is. [s].

    It lies earlier than asked for where what is before is not all summed up yet.
    """
    held = window(connection)
    first = edge(connection, newest=False)
    if first is not None and first < held.from_s:
        return held.gone_s
    waiting = connection.execute(select(func.min(UNSUMMED.c.start_s))).scalar()
    most = min(before_s, held.until_s, held.until_s if waiting is None else int(waiting))
    day = max(held.gone_s, most // DAY_S * DAY_S)
    if day > held.gone_s:
        put_counter(connection, _GONE, day)
        # All of before is summed up now, what nothing was ever heard of too: what comes for that
        # is late as well.
        put_counter(connection, _FROM, LONG_AGO_S)
    return day
