"""Summing readings up: keeps what they came to by the minute, quarter-hour, hour and day."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import groupby
from typing import Final

from sqlalchemy import Connection, bindparam, delete, func, insert, literal, select

from chamberwatch.core.review.covering import DAY_S, HOUR_S, LENGTHS_S, MINUTE_S, QUARTER_S
from chamberwatch.core.review.reckoning import Counted, Held, counted, together, with_derived
from chamberwatch.core.review.summary import Reckoned, Rules, Unsummed
from chamberwatch.storage.columns import Whole, from_micros, to_micros
from chamberwatch.storage.dialects import greater, lesser
from chamberwatch.storage.dialects import insert as insert_or
from chamberwatch.storage.kept import SqlKept
from chamberwatch.storage.sampled import CODES, PRESSURE, Sampled
from chamberwatch.storage.summed import (
    QUARTER_US,
    S_US,
    Window,
    drop_before,
    mark,
    reach_back,
    reach_on,
    window,
)
from chamberwatch.storage.summed_tables import HELD, LATE, SUMMARIES, SUMMED_SENSORS, UNSUMMED

_ADDED: Final = ("number", "total", "within", "below", "above")
_C: Final = SUMMARIES.c
# Before any reading, and still a time that a calendar has.
_LONG_AGO_US: Final = -(2**55)
TALLY: Final = (
    func.sum(_C.number),
    func.min(_C.least),
    func.sum(_C.total),
    func.max(_C.most),
    func.sum(_C.within),
    func.sum(_C.below),
    func.sum(_C.above),
)
"""What several rows come to, in the order of `Tally`."""


class SqlSumming:
    """Sums readings up."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection
        self._sampled = Sampled(connection)

    # ------------------------------------------------------------ what is held against

    def follow(self, rules: Rules) -> bool:
        """Hold readings against these from now on, those of the past too.

        What was held against something else is reckoned anew. Returns whether anything was.
        """
        old = self._sampled.rules(None)
        if old == rules:
            return False
        held = window(self._connection)
        first = max(held.from_s, held.gone_s)
        if old.pressure_pa != rules.pressure_pa:
            mark(self._connection, range(first, held.until_s, QUARTER_S))
        quarters = {
            start
            for line in old.held.keys() | rules.held.keys()
            for begins, ends in differing(old.held.get(line, ()), rules.held.get(line, ()))
            for start in range(
                max(begins // QUARTER_S * QUARTER_S, first), min(ends, held.until_s), QUARTER_S
            )
        }
        mark(self._connection, sorted(quarters), counting=True)
        self._put(rules)
        return True

    def _put(self, rules: Rules) -> None:
        self._connection.execute(delete(HELD))
        rows = [
            {
                "sensor": sensor,
                "quantity": quantity,
                "since": from_micros(since_us),
                "low": low,
                "high": high,
            }
            for (sensor, quantity), held in rules.held.items()
            for since_us, low, high in held
        ]
        if rows:
            self._connection.execute(insert(HELD), rows)
        SqlKept(self._connection).keep_text(PRESSURE, repr(rules.pressure_pa))

    # ------------------------------------------------------------ summing up

    def reach_on(self, now: datetime) -> bool:
        """Take what is over and settled since into what is summed up; tell whether any was."""
        return reach_on(self._connection, to_micros(now) // S_US)

    def reach_back(self) -> bool:
        """Take a day of before into what is summed up; tell whether there was one."""
        return reach_back(self._connection)

    def waiting(self, limit: int) -> Sequence[Unsummed]:
        """Return quarter-hours that are to be reckoned, the newest first."""
        columns = (UNSUMMED.c.start_s, UNSUMMED.c.touched)
        asked = select(*columns).order_by(UNSUMMED.c.start_s.desc()).limit(limit)
        return [Unsummed(start, touched) for start, touched in self._connection.execute(asked)]

    def reckon(self, quarters: Sequence[Unsummed]) -> Reckoned:
        """Return what the readings of quarter-hours came to; changes nothing."""
        rules = self._sampled.rules(None)
        minutes: list[Counted] = []
        for first, last in runs([each.start_s for each in quarters]):
            stretch = (first * S_US, last * S_US)
            minutes += self._sampled.counted(None, tuple(CODES), rules, stretch, MINUTE_S * S_US)
        return Reckoned(tuple(quarters), tuple(minutes))

    def keep(self, reckoned: Reckoned) -> None:
        """Keep it in place of what was kept of these quarter-hours.

        One that was touched since it was looked up stays to be reckoned.
        """
        if not reckoned.quarters:
            return
        starts = [each.start_s for each in reckoned.quarters]
        for first, last in runs(starts):
            self._drop(MINUTE_S, first, last)
            self._drop(QUARTER_S, first, last)
        self._add(MINUTE_S, reckoned.minutes)
        self._add(QUARTER_S, _by_quarter(reckoned.minutes))
        done = delete(UNSUMMED).where(
            UNSUMMED.c.start_s == bindparam("begins"), UNSUMMED.c.touched == bindparam("then")
        )
        self._connection.execute(
            done, [{"begins": q.start_s, "then": q.touched} for q in reckoned.quarters]
        )
        held = window(self._connection)
        for length_s, of_s in ((HOUR_S, QUARTER_S), (DAY_S, HOUR_S)):
            for start in sorted({start // length_s * length_s for start in starts}):
                self._close(held, length_s, of_s, start)

    def _close(self, held: Window, length_s: int, of_s: int, start_s: int) -> None:
        """Sum a longer stretch up, once all that it is made of is right but for the counting."""
        end_s = start_s + length_s
        inside = (
            UNSUMMED.c.start_s >= start_s,
            UNSUMMED.c.start_s < end_s,
            ~UNSUMMED.c.counting,
        )
        if start_s < held.from_s or end_s > held.until_s:
            return
        if self._connection.execute(select(UNSUMMED.c.start_s).where(*inside).limit(1)).first():
            return
        self._drop(length_s, start_s, end_s)
        columns = [c.name for c in SUMMARIES.columns]
        made = (
            select(literal(length_s), literal(start_s, Whole), _C.quantity, _C.sensor, *TALLY)
            .where(_C.length_s == of_s, _C.start_s >= start_s, _C.start_s < end_s)
            .group_by(_C.quantity, _C.sensor)
        )
        self._connection.execute(insert(SUMMARIES).from_select(columns, made))

    def _drop(self, length_s: int, start_s: int, end_s: int) -> None:
        within = (_C.length_s == length_s, _C.start_s >= start_s, _C.start_s < end_s)
        self._connection.execute(delete(SUMMARIES).where(*within))

    def _add(self, length_s: int, made: Iterable[Counted]) -> None:
        """Keep tallies; what is kept of the same stretch already is added to."""
        rows = list(made)
        numbers = self._numbers({each.sensor for each in rows})
        values = [
            {
                "length_s": length_s,
                "start_s": each.start_us // S_US,
                "quantity": CODES[each.quantity],
                "sensor": numbers[each.sensor],
                **each.tally._asdict(),
            }
            for each in rows
        ]
        if not values:
            return
        fresh = insert_or(self._connection, SUMMARIES)
        both = {name: _C[name] + fresh.excluded[name] for name in _ADDED}
        both["least"] = lesser(self._connection, _C.least, fresh.excluded.least)
        both["most"] = greater(self._connection, _C.most, fresh.excluded.most)
        keys = [column.name for column in SUMMARIES.primary_key]
        self._connection.execute(
            fresh.on_conflict_do_update(index_elements=keys, set_=both), values
        )

    def _numbers(self, sensors: Iterable[str]) -> dict[str, int]:
        names = [{"name": name} for name in sorted(sensors)]
        if names:
            fresh = insert_or(self._connection, SUMMED_SENSORS)
            self._connection.execute(fresh.on_conflict_do_nothing(), names)
        found = self._connection.execute(select(SUMMED_SENSORS.c.name, SUMMED_SENSORS.c.id))
        return {row.name: row.id for row in found}

    # ------------------------------------------------------------ when readings are dropped

    def drop_before(self, before: datetime) -> datetime:
        """Let summaries of before a day stay for ever: its readings may be dropped now.

        What comes for that time later is added to them. Call it before the readings are dropped,
        and drop only those of before what is returned: the rest is not all summed up yet.
        """
        held = window(self._connection)
        day = drop_before(self._connection, to_micros(before) // S_US)
        now = window(self._connection)
        if now.from_s < held.from_s:
            # The first hour and the first day began before the first reading, so they were not
            # taken for whole until now.
            for length_s, of_s in ((HOUR_S, QUARTER_S), (DAY_S, HOUR_S)):
                self._close(now, length_s, of_s, held.from_s // length_s * length_s)
        return from_micros(day * S_US)

    def dropped_before(self) -> datetime | None:
        """Return before which day readings were dropped, None: none ever were."""
        gone_s = window(self._connection).gone_s
        return from_micros(gone_s * S_US) if gone_s else None

    def add_late(self) -> int:
        """Add what came for a time whose readings were dropped; return how many samples."""
        gone_us = window(self._connection).gone_s * S_US
        late = self._sampled.late(None, _LONG_AGO_US, gone_us)
        if not late:
            return 0
        rules = self._sampled.rules(sorted({sensor for sensor, _ in late}))
        made = with_derived(late, tuple(CODES), rules.pressure_pa)
        for length_s in LENGTHS_S:
            step_us = length_s * S_US
            self._add(length_s, counted(made, rules.held, _LONG_AGO_US, gone_us, step_us))
        self._connection.execute(delete(LATE))
        return sum(len(samples.values) for samples in late.values())


def _by_quarter(minutes: Iterable[Counted]) -> Iterator[Counted]:
    def key(each: Counted) -> tuple[int, str, str]:
        return each.start_us // QUARTER_US, each.sensor, each.quantity

    for (number, sensor, quantity), group in groupby(sorted(minutes, key=key), key):
        total = together(each.tally for each in group)
        yield Counted(number * QUARTER_US, sensor, quantity, total)


def runs(starts_s: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Yield the stretches that quarter-hours make up, oldest first. [s]."""
    first = last = None
    for start in sorted(starts_s):
        if first is None or last is None:
            first = start
        elif start != last:
            yield first, last
            first = start
        last = start + QUARTER_S
    if first is not None and last is not None:
        yield first, last


def differing(old: Sequence[Held], new: Sequence[Held]) -> Iterator[tuple[int, int]]:
    """Yield the stretches in which two histories of a band differ. [s]."""
    times = sorted({each.since_us for each in (*old, *new)})
    for since, until in zip(times, [*times[1:], 2**62], strict=True):
        if _at(old, since) != _at(new, since):
            yield since // S_US, -(-until // S_US)


def _at(history: Sequence[Held], time_us: int) -> tuple[float | None, float | None]:
    holding = [each for each in history if each.since_us <= time_us]
    return (holding[-1].low, holding[-1].high) if holding else (None, None)
