"""What is carried out of the house into files, and whether what is carried in is there already."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Connection, func, select

from chamberwatch.core.cells import VALUES
from chamberwatch.core.growing.batch import Entry
from chamberwatch.core.review.covering import MINUTE_S
from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.reading import Reading
from chamberwatch.core.watch.reminder import Move
from chamberwatch.service.books import Span
from chamberwatch.storage.actions import action_of
from chamberwatch.storage.columns import to_micros
from chamberwatch.storage.growing import ALL_ENTRIES, entry_of
from chamberwatch.storage.reminders import move_of
from chamberwatch.storage.sampled import CODES
from chamberwatch.storage.summaries import MINUTE_US
from chamberwatch.storage.summed import S_US, window
from chamberwatch.storage.summed_tables import SUMMARIES, SUMMED_SENSORS
from chamberwatch.storage.tables import ACTIONS, ENTRIES, MOVES, READINGS, SERIES

_LATER_ENTRY = ENTRIES.alias("later_entry")
_LATER_ACTION = ACTIONS.alias("later_action")


class SqlCarried:
    """Reads; keeps nothing of its own. Pages go by id, so that none is read twice."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def entries(self, span: Span, after: int, limit: int) -> Sequence[tuple[Entry, int | None]]:
        """Return what was told of batches within a span (by `at`), with ids above `after`.

        Beside each stands the id of the entry that was told in its place; None: it holds.
        """
        instead = (
            select(func.min(_LATER_ENTRY.c.id))
            .where(_LATER_ENTRY.c.corrects == ENTRIES.c.id)
            .scalar_subquery()
        )
        asked = (
            ALL_ENTRIES.add_columns(instead.label("instead"))
            .where(ENTRIES.c.id > after, ENTRIES.c.at >= span.start, ENTRIES.c.at < span.end)
            .order_by(ENTRIES.c.id)
            .limit(limit)
        )
        return [(entry_of(row), row.instead) for row in self._connection.execute(asked)]

    def actions(self, span: Span, after: int, limit: int) -> Sequence[tuple[Action, int | None]]:
        """Return deeds of a span (by `at`) in the same way."""
        instead = (
            select(func.min(_LATER_ACTION.c.id))
            .where(_LATER_ACTION.c.corrects == ACTIONS.c.id)
            .scalar_subquery()
        )
        asked = (
            select(ACTIONS, instead.label("instead"))
            .where(ACTIONS.c.id > after, ACTIONS.c.at >= span.start, ACTIONS.c.at < span.end)
            .order_by(ACTIONS.c.id)
            .limit(limit)
        )
        return [(action_of(row), row.instead) for row in self._connection.execute(asked)]

    def moves(self, span: Span, after: int, limit: int) -> Sequence[tuple[int, Move]]:
        """Return moves of reminders of a span with their own ids above `after`, oldest first."""
        asked = (
            select(MOVES)
            .where(MOVES.c.id > after, MOVES.c.time >= span.start, MOVES.c.time < span.end)
            .order_by(MOVES.c.id)
            .limit(limit)
        )
        return [(row.id, move_of(row)) for row in self._connection.execute(asked)]

    def present(self, readings: Sequence[Reading]) -> int:
        """Return how many of these (time, sensor, quantity) are kept already."""
        times: dict[tuple[str, str], set[datetime]] = defaultdict(set)
        for reading in readings:
            times[reading.sensor, reading.quantity.value].add(reading.time)
        found = 0
        for (sensor, quantity), asked in times.items():
            kept = (
                select(func.count())
                .select_from(READINGS.join(SERIES, SERIES.c.id == READINGS.c.series))
                .where(
                    READINGS.c.time.in_(sorted(asked)),
                    SERIES.c.sensor == sensor,
                    SERIES.c.quantity == quantity,
                )
            )
            found += self._connection.execute(kept).scalar_one()
        return found

    def absorbed(self, readings: Sequence[Reading]) -> Sequence[Reading]:
        """Return those of which only summaries are kept: their minute is summed up for ever.

        Whether just this reading is in them nobody can tell any more.
        """
        gone_us = window(self._connection).gone_s * S_US
        minutes = {
            reading: at_us // MINUTE_US * MINUTE_S
            for reading in readings
            if (at_us := to_micros(reading.time)) < gone_us
        }
        if not minutes:
            return []
        asked = (
            select(SUMMED_SENSORS.c.name, SUMMARIES.c.quantity, SUMMARIES.c.start_s)
            .join(SUMMED_SENSORS, SUMMED_SENSORS.c.id == SUMMARIES.c.sensor)
            .where(
                SUMMARIES.c.length_s == MINUTE_S,
                SUMMARIES.c.start_s.in_(sorted(set(minutes.values()))),
            )
        )
        summed = {tuple(row) for row in self._connection.execute(asked)}
        return [
            reading
            for reading, start_s in minutes.items()
            if (reading.sensor, CODES.get(VALUES[reading.quantity]), start_s) in summed
        ]
