"""Readings, and values without a usable time."""

import threading
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, Final, NamedTuple

from sqlalchemy import (
    Connection,
    Row,
    Select,
    bindparam,
    case,
    delete,
    func,
    insert,
    or_,
    select,
    type_coerce,
    update,
)

from chamberwatch.core.watch.reading import Quantity, Reading, Undated
from chamberwatch.service.books import Bucket, Span
from chamberwatch.storage.columns import MICROSECOND, UtcTime, Whole, from_micros, to_micros
from chamberwatch.storage.counters import count_up, counted
from chamberwatch.storage.dialects import insert as insert_or
from chamberwatch.storage.summed import note, touch, window
from chamberwatch.storage.tables import READINGS, SERIES, UNDATED

HOUR_US: Final = 3_600_000_000

# Counting a large table reads all of it, and a counter moved by each commit would cost a page in
# each. So: a counter for all that lies before a full hour, moved once an hour (and by late
# comers), and a real count of the rest.
COUNTED: Final = "readings counted"
COUNTED_UNTIL: Final = "readings counted until"

Name = tuple[str, Quantity]


class Series(NamedTuple):
    """A series as the database has it: no reading of it lies at or after `newest_before`."""

    id: int
    newest_before: datetime


class KnownSeries:
    """Series that are safely in the database, shared by all threads."""

    def __init__(self) -> None:
        """Know none."""
        self._lock = threading.Lock()
        self._known: dict[Name, Series] = {}

    def get(self, name: Name) -> Series | None:
        """Return it if it is known."""
        with self._lock:
            return self._known.get(name)

    def learn(self, learned: Mapping[Name, Series]) -> None:
        """Take over what a transaction has committed."""
        with self._lock:
            self._known.update(learned)


class SqlReadings:
    """Readings, and what came in without a usable time."""

    def __init__(self, connection: Connection, known: KnownSeries) -> None:
        """Work within this transaction."""
        self._connection = connection
        self._known = known
        self.learned: dict[Name, Series] = {}
        """What was found out about series here; true for others once this is committed."""

    def add(self, readings: Iterable[Reading]) -> int:
        """Keep readings; one of a (time, sensor, quantity) already kept is left out.

        Returns how many were new.
        """
        rows = sorted(readings, key=lambda reading: to_micros(reading.time))
        if not rows:
            return 0
        for reading in {(r.sensor, r.quantity): r for r in rows}.values():
            self._reach(reading)
        until = self._count_before(_hour(rows[-1].time))
        late = self._insert([r for r in rows if r.time < until])
        count_up(self._connection, COUNTED, len(late))
        fresh = [*late, *self._insert([r for r in rows if r.time >= until])]
        note(self._connection, fresh)
        return len(fresh)

    def _reach(self, newest: Reading) -> None:
        """Make sure the series of a reading is there and is said to reach this far."""
        name = (newest.sensor, newest.quantity)
        before = from_micros(to_micros(_hour(newest.time)) + HOUR_US)
        series = self._series(name)
        if series is None:
            fresh = insert(SERIES).values(
                sensor=name[0], quantity=name[1].value, newest_before=before
            )
            number = self._connection.execute(fresh.returning(SERIES.c.id)).scalar_one()
            series = Series(number, before)
        elif series.newest_before < before:
            self._connection.execute(
                update(SERIES)
                .where(SERIES.c.id == series.id, SERIES.c.newest_before < before)
                .values(newest_before=before)
            )
            series = Series(series.id, before)
        self.learned[name] = series

    def _series(self, name: Name) -> Series | None:
        series = self.learned.get(name) or self._known.get(name)
        if series is not None:
            return series
        wanted = (SERIES.c.sensor == name[0], SERIES.c.quantity == name[1].value)
        found = self._connection.execute(
            select(SERIES.c.id, SERIES.c.newest_before).where(*wanted)
        ).first()
        return None if found is None else Series(found.id, found.newest_before)

    def _insert(self, rows: Sequence[Reading]) -> list[tuple[int, int, float]]:
        """Keep rows; return time [us], series and value of those that are new."""
        if not rows:
            return []
        # Told by what comes back: a row count is not to be had everywhere when some rows are
        # left out.
        columns = READINGS.c.time, READINGS.c.series, READINGS.c.value
        fresh = (
            insert_or(self._connection, READINGS)
            .on_conflict_do_nothing()
            .returning(type_coerce(columns[0], Whole), *columns[1:])
        )
        values = [
            {
                "time": r.time,
                "series": self.learned[r.sensor, r.quantity].id,
                "value": r.value,
                "timed": r.timed,
                "raw": r.raw,
            }
            for r in rows
        ]
        found = self._connection.execute(fresh, values)
        return [(at_us, series, value) for at_us, series, value in found]

    def _count_before(self, hour: datetime) -> datetime:
        """Move the counter on to all that lies before a full hour; return how far it reaches."""
        until = from_micros(counted(self._connection, COUNTED_UNTIL))
        if hour <= until:
            return until
        count_up(self._connection, COUNTED, self._count(until, hour))
        count_up(self._connection, COUNTED_UNTIL, (hour - until) // MICROSECOND)
        return hour

    def _count(self, start: datetime, end: datetime | None) -> int:
        asked = select(func.count()).select_from(READINGS).where(READINGS.c.time >= start)
        if end is not None:
            asked = asked.where(READINGS.c.time < end)
        return self._connection.execute(asked).scalar_one()

    def count(self) -> int:
        """Return how many readings are kept."""
        until = from_micros(counted(self._connection, COUNTED_UNTIL))
        return counted(self._connection, COUNTED) + self._count(until, None)

    def newest(self) -> Mapping[Name, Reading]:
        """Return the newest reading of each series."""
        everything = self._connection.execute(
            select(SERIES.c.id, SERIES.c.sensor, SERIES.c.quantity, SERIES.c.newest_before)
        ).all()
        found: dict[Name, Reading] = {}
        for series in everything:
            name = (series.sensor, Quantity(series.quantity))
            # Backwards from where it ends: a series that fell silent long ago is found as quickly
            # as one that speaks now.
            row = self._connection.execute(
                select(READINGS)
                .where(READINGS.c.series == series.id, READINGS.c.time < series.newest_before)
                .order_by(READINGS.c.time.desc())
                .limit(1)
            ).first()
            if row is not None:
                found[name] = Reading(row.time, *name, row.value, row.timed, row.raw)
        return found

    def spoken(self, since: datetime) -> Mapping[Name, int]:
        """Return how many readings each series has since a time; without those that have none."""
        numbers = (
            select(READINGS.c.series, func.count().label("number"))
            .where(READINGS.c.time >= since)
            .group_by(READINGS.c.series)
            .subquery()
        )
        asked = select(SERIES.c.sensor, SERIES.c.quantity, numbers.c.number).join(
            numbers, numbers.c.series == SERIES.c.id
        )
        return {
            (sensor, Quantity(quantity)): number
            for sensor, quantity, number in self._connection.execute(asked)
        }

    def first_since(self, since: datetime) -> datetime | None:
        """Return the time of the first reading since a time; None: there is none."""
        asked = select(READINGS.c.time).where(READINGS.c.time >= since)
        return self._connection.scalar(asked.order_by(READINGS.c.time).limit(1))

    def within(
        self, sensors: Sequence[str], quantity: Quantity, span: Span, limit: int
    ) -> Sequence[Reading]:
        """Return readings of these sensors in order of (time, sensor), at most `limit`."""
        names = self._numbers(sensors, quantity)
        if not names:
            return []
        place = case({number: rank for rank, number in enumerate(names)}, value=READINGS.c.series)
        asked = _over(select(READINGS), names, span).order_by(READINGS.c.time, place).limit(limit)
        return [
            Reading(time, names[series], quantity, value, timed, raw)
            for time, series, value, timed, raw in self._connection.execute(asked)
        ]

    def buckets(
        self, sensors: Sequence[str], quantity: Quantity, span: Span, step_s: float, limit: int
    ) -> Sequence[Bucket]:
        """Return buckets aligned to whole steps since 1970, empty ones left out.

        Several sensors share one bucket; the mean is that of all samples.
        """
        names = self._numbers(sensors, quantity)
        if not names:
            return []
        micros = type_coerce(READINGS.c.time, Whole)
        step = max(1, round(step_s * 1_000_000))
        # The remainder of a time before 1970 is negative; this makes it count upwards too.
        start = micros - (micros % step + step) % step
        value = READINGS.c.value
        asked = (
            _over(
                select(
                    type_coerce(start, UtcTime).label("start"),
                    func.count(),
                    func.min(value),
                    func.avg(value),
                    func.max(value),
                ),
                names,
                span,
            )
            .group_by("start")
            .order_by("start")
            .limit(limit)
        )
        return [Bucket(*row) for row in self._connection.execute(asked)]

    def page(
        self, sensor: str | None, span: Span, after: Reading | None, limit: int
    ) -> Sequence[Reading]:
        """Return readings of every quantity in the order they lie, those behind `after` only."""
        asked = select(SERIES.c.id, SERIES.c.sensor, SERIES.c.quantity)
        if sensor is not None:
            asked = asked.where(SERIES.c.sensor == sensor)
        names = {
            row.id: (row.sensor, Quantity(row.quantity)) for row in self._connection.execute(asked)
        }
        rows = select(READINGS).where(READINGS.c.time < span.end, READINGS.c.time >= span.start)
        if sensor is not None:
            rows = rows.where(READINGS.c.series.in_(list(names)))
        if after is not None:
            number = {name: number for number, name in names.items()}[after.sensor, after.quantity]
            rows = rows.where(
                READINGS.c.time >= after.time,
                or_(READINGS.c.time > after.time, READINGS.c.series > number),
            )
        rows = rows.order_by(READINGS.c.time, READINGS.c.series).limit(limit)
        return [
            Reading(row.time, *names[row.series], row.value, row.timed, row.raw)
            for row in self._connection.execute(rows)
        ]

    def correct(self, readings: Sequence[Reading]) -> int:
        """Keep what these are worth now; return how many there were.

        One of which the sensor sent something else than `readings` says is left alone.
        """
        # By name: a correction may be told of series that this transaction never looked at.
        asked = select(SERIES.c.id, SERIES.c.sensor, SERIES.c.quantity)
        ids = {(r.sensor, r.quantity): r.id for r in self._connection.execute(asked)}
        renewed = (
            update(READINGS)
            .where(
                READINGS.c.time == bindparam("its_time"),
                READINGS.c.series == bindparam("its_series"),
                func.coalesce(READINGS.c.raw, READINGS.c.value) == bindparam("its_raw"),
            )
            .values(value=bindparam("new_value"), raw=bindparam("new_raw"))
        )
        rows = [
            {
                "its_time": r.time,
                "its_series": ids[r.sensor, r.quantity.value],
                "its_raw": r.value if r.raw is None else r.raw,
                "new_value": r.value,
                "new_raw": r.raw,
            }
            for r in readings
        ]
        if not rows:
            return 0
        touch(self._connection, window(self._connection), (to_micros(r.time) for r in readings))
        return self._connection.execute(renewed, rows).rowcount

    def _numbers(self, sensors: Sequence[str], quantity: Quantity) -> dict[int, str]:
        """Return the series of these sensors by number, in order of their names."""
        asked = (
            select(SERIES.c.id, SERIES.c.sensor)
            .where(SERIES.c.quantity == quantity.value, SERIES.c.sensor.in_(sensors))
            .order_by(SERIES.c.sensor)
        )
        return {row.id: row.sensor for row in self._connection.execute(asked)}

    def add_undated(self, values: Iterable[Undated]) -> None:
        """Keep values without a usable time."""
        rows = [
            {
                "boot": v.boot,
                "sensor": v.sensor,
                "quantity": v.quantity.value,
                "value": v.value,
                "arrived_s": v.arrived_s,
            }
            for v in values
        ]
        if rows:
            self._connection.execute(insert(UNDATED), rows)

    def take_waiting(self, boot: str) -> Sequence[Undated]:
        """Remove and return the undated values of this boot, oldest first."""
        mine = UNDATED.c.boot == boot
        asked = select(UNDATED).where(mine).order_by(UNDATED.c.arrived_s, UNDATED.c.id)
        taken = [_undated(row) for row in self._connection.execute(asked)]
        self._connection.execute(delete(UNDATED).where(mine))
        return taken

    def forget_boots(self, boot: str) -> int:
        """Mark undated values of any other boot as never to be dated; return how many."""
        others = update(UNDATED).where(UNDATED.c.boot != boot).values(boot=None)
        return self._connection.execute(others).rowcount

    def count_undated(self) -> tuple[int, int]:
        """Return how many wait for the clock, and how many can never be dated."""
        every, waiting = self._connection.execute(
            select(func.count(), func.count(UNDATED.c.boot)).select_from(UNDATED)
        ).one()
        return waiting, every - waiting


def _hour(time: datetime) -> datetime:
    """Return the full hour at or before a time, UTC."""
    return from_micros(to_micros(time) // HOUR_US * HOUR_US)


def _over(asked: Select[Any], names: Mapping[int, str], span: Span) -> Select[Any]:
    return asked.where(
        READINGS.c.time >= span.start,
        READINGS.c.time < span.end,
        READINGS.c.series.in_(list(names)),
    )


def _undated(row: Row[Any]) -> Undated:
    return Undated(row.sensor, Quantity(row.quantity), row.value, row.boot, row.arrived_s)
