"""The log of everything that happened: each source by time, from an edge on."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Select, and_, or_, select

from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.found import Found
from chamberwatch.core.watch.reminder import Move, Reminder
from chamberwatch.service.books import OutRow, OutState
from chamberwatch.service.chronicle_book import Turn
from chamberwatch.storage.actions import action_of
from chamberwatch.storage.found import found_of
from chamberwatch.storage.outbox import out_row_of
from chamberwatch.storage.reminders import move_of, reminder_of
from chamberwatch.storage.tables import ACTIONS, FOUND, MOVES, OUTBOX, REMINDERS

_INSTEAD = ACTIONS.alias("instead")

_NEAR: Final = timedelta(hours=1)
"""What the readings show of a deed began no further from it; see `core.watch.lasting`."""


class SqlChronicle:
    """Reads what the others keep, for the log."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def deeds(self, turn: Turn) -> Sequence[tuple[Action, Action | None]]:
        """Return deeds, each with what was told in its place; withdrawals are no lines."""
        own = [column.label(f"own_{column.name}") for column in ACTIONS.columns]
        new = [column.label(f"new_{column.name}") for column in _INSTEAD.columns]
        asked = (
            select(*own, *new)
            .outerjoin(_INSTEAD, _INSTEAD.c.corrects == ACTIONS.c.id)
            .where(~ACTIONS.c.withdrawn)
        )
        if turn.chamber is not None:
            asked = asked.where(ACTIONS.c.chamber == turn.chamber)
        rows = self._connection.execute(_turned(asked, ACTIONS.c.at, ACTIONS.c.id, turn))
        return [
            (action_of(row, "own_"), None if row.new_id is None else action_of(row, "new_"))
            for row in rows
        ]

    def explained(self, deeds: Sequence[Action]) -> Sequence[Found]:
        """Return what the readings show of these deeds."""
        if not deeds:
            return []
        asked = select(FOUND).where(
            FOUND.c.action.in_([deed.id for deed in deeds]),
            FOUND.c.start >= min(deed.at for deed in deeds) - _NEAR,
            FOUND.c.start <= max(deed.at for deed in deeds) + _NEAR,
        )
        return [found_of(row) for row in self._connection.execute(asked)]

    def found(self, turn: Turn) -> Sequence[Found]:
        """Return what the readings show and nobody recorded."""
        asked = select(FOUND).where(FOUND.c.action.is_(None))
        if turn.chamber is not None:
            asked = asked.where(FOUND.c.chamber == turn.chamber)
        rows = self._connection.execute(_turned(asked, FOUND.c.start, FOUND.c.id, turn))
        return [found_of(row) for row in rows]

    def moves(self, turn: Turn) -> Sequence[tuple[int, Move, Reminder]]:
        """Return moves of reminders with their ids."""
        asked = select(MOVES)
        if turn.chamber is not None:
            of_it = select(REMINDERS.c.id).where(REMINDERS.c.chamber == turn.chamber)
            asked = asked.where(MOVES.c.reminder.in_(of_it))
        rows = self._connection.execute(_turned(asked, MOVES.c.time, MOVES.c.id, turn))
        found = [(row.id, move_of(row)) for row in rows]
        numbers = {move.reminder for _, move in found}
        these = select(REMINDERS).where(REMINDERS.c.id.in_(numbers))
        by_id = {row.id: reminder_of(row) for row in self._connection.execute(these)}
        return [(number, move, by_id[move.reminder]) for number, move in found]

    def messages(self, turn: Turn, besides: str) -> Sequence[OutRow]:
        """Return messages by when they were written, but for those to one address.

        What was said within another message is left out.
        """
        asked = select(OUTBOX).where(
            OUTBOX.c.address != besides, OUTBOX.c.state != OutState.FOLDED.value
        )
        if turn.chamber is not None:
            asked = asked.where(OUTBOX.c.chamber == turn.chamber)
        rows = self._connection.execute(_turned(asked, OUTBOX.c.created, OUTBOX.c.id, turn))
        return [out_row_of(row) for row in rows]


def _turned(
    asked: Select[Any], time: ColumnElement[Any], number: ColumnElement[Any], turn: Turn
) -> Select[Any]:
    """Read on from an edge; the first condition alone walks the index by time."""
    if turn.newer:
        beyond = and_(time >= turn.time, or_(time > turn.time, number > turn.id))
        return asked.where(beyond).order_by(time, number).limit(turn.limit)
    beyond = and_(time <= turn.time, or_(time < turn.time, number < turn.id))
    return asked.where(beyond).order_by(time.desc(), number.desc()).limit(turn.limit)
