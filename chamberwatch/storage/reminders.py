"""Reminders and their moves."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, Row, func, insert, select, update

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import (
    Call,
    Event,
    Evidence,
    Move,
    Priority,
    Reminder,
    State,
)
from chamberwatch.service.books import Span
from chamberwatch.storage.tables import MOVES, REMINDERS

_NO_EVIDENCE: Final[dict[str, Any]] = {
    column.name: None for column in REMINDERS.columns if column.name.startswith("evidence_")
}


class SqlReminders:
    """Reminders and their moves."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def all(self, states: frozenset[State] | None = None) -> Sequence[Reminder]:
        """Return reminders by id, of these states only where given."""
        asked = select(REMINDERS).order_by(REMINDERS.c.id)
        if states is not None:
            asked = asked.where(REMINDERS.c.state.in_(sorted(state.value for state in states)))
        return [reminder_of(row) for row in self._connection.execute(asked)]

    def get(self, number: int) -> Reminder | None:
        """Return one by its id."""
        found = self._connection.execute(select(REMINDERS).where(REMINDERS.c.id == number)).first()
        return None if found is None else reminder_of(found)

    def named(self, chamber: str, numbers: Iterable[int]) -> Sequence[Reminder]:
        """Return those of a chamber that have one of these ids, by id."""
        asked = (
            select(REMINDERS)
            .where(REMINDERS.c.id.in_(sorted(set(numbers))), REMINDERS.c.chamber == chamber)
            .order_by(REMINDERS.c.id)
        )
        return [reminder_of(row) for row in self._connection.execute(asked)]

    def of(self, chamber: str, call: Call, subject: str) -> Reminder:
        """Return the reminder of this cause, made (normal, with an id) if it is new."""
        found = self._connection.execute(
            select(REMINDERS).where(
                REMINDERS.c.chamber == chamber,
                REMINDERS.c.call == call.value,
                REMINDERS.c.subject == subject,
            )
        ).first()
        if found is None:
            fresh = insert(REMINDERS).values(_columns(Reminder(0, chamber, call, subject)))
            found = self._connection.execute(fresh.returning(*REMINDERS.columns)).one()
        return reminder_of(found)

    def save(self, reminder: Reminder, moves: Sequence[Move]) -> None:
        """Keep its new state and the moves that led there, each with what spoke for it.

        Raises:
            StorageError: it was never made with `of`.
        """
        changed = update(REMINDERS).where(REMINDERS.c.id == reminder.id)
        if self._connection.execute(changed.values(_columns(reminder))).rowcount != 1:
            raise StorageError(f"There is no reminder {reminder.id} to keep. Make it with “of”.")
        if moves:
            self._connection.execute(insert(MOVES), [_move_columns(move) for move in moves])

    def moves(
        self, number: int | None = None, after: int = 0, limit: int = 200
    ) -> Sequence[tuple[int, Move]]:
        """Return moves with their own ids above `after`, oldest first."""
        asked = select(MOVES).where(MOVES.c.id > after).order_by(MOVES.c.id).limit(limit)
        if number is not None:
            asked = asked.where(MOVES.c.reminder == number)
        return [(row.id, move_of(row)) for row in self._connection.execute(asked)]

    def newest_move(self) -> int:
        """Return the id of the newest move, 0 if there is none."""
        return self._connection.scalar(select(func.max(MOVES.c.id))) or 0

    def moves_within(self, span: Span) -> Sequence[Move]:
        """Return the moves of a span in the order of the log."""
        asked = (
            select(MOVES)
            .where(MOVES.c.time >= span.start, MOVES.c.time < span.end)
            .order_by(MOVES.c.id)
        )
        return [move_of(row) for row in self._connection.execute(asked)]

    def held_at(self, moment: datetime) -> Sequence[Move]:
        """Return what was logged before a moment of each episode whose cause held then.

        From its raise on, in the order of the log.
        """
        turns = MOVES.c.event.in_((Event.RAISED.value, Event.RETURNED.value))
        last = (
            select(func.max(MOVES.c.id).label("id"))
            .where(turns, MOVES.c.time < moment)
            .group_by(MOVES.c.reminder)
            .subquery()
        )
        raised = (
            select(MOVES.c.id, MOVES.c.reminder)
            .join(last, MOVES.c.id == last.c.id)
            .where(MOVES.c.event == Event.RAISED.value)
            .subquery()
        )
        asked = (
            select(MOVES)
            .join(raised, MOVES.c.reminder == raised.c.reminder)
            .where(MOVES.c.id >= raised.c.id, MOVES.c.time < moment)
            .order_by(MOVES.c.id)
        )
        return [move_of(row) for row in self._connection.execute(asked)]


def _columns(reminder: Reminder) -> dict[str, Any]:
    return {
        "chamber": reminder.chamber,
        "call": reminder.call.value,
        "subject": reminder.subject,
        "state": reminder.state.value,
        "active": reminder.active,
        "priority": int(reminder.priority),
        "episode": reminder.episode,
        "since": reminder.since,
        "moved": reminder.moved,
        "told": reminder.told,
        "shelved_until": reminder.shelved_until,
        "repeats": reminder.repeats,
        "out_until": reminder.out_until,
        "out_by": reminder.out_by,
        "out_why": reminder.out_why,
        **_evidence_columns(reminder.evidence),
    }


def _evidence_columns(evidence: Evidence | None) -> dict[str, Any]:
    if evidence is None:
        return _NO_EVIDENCE
    return {
        "evidence_sensor": evidence.sensor,
        "evidence_quantity": None if evidence.quantity is None else evidence.quantity.value,
        "evidence_value": evidence.value,
        "evidence_low": evidence.low,
        "evidence_high": evidence.high,
        "evidence_trend_per_h": evidence.trend_per_h,
        "evidence_since": evidence.since,
    }


def reminder_of(row: Row[Any]) -> Reminder:
    """Return a row as a reminder."""
    return Reminder(
        id=row.id,
        chamber=row.chamber,
        call=Call(row.call),
        subject=row.subject,
        state=State(row.state),
        active=row.active,
        priority=Priority(row.priority),
        episode=row.episode,
        since=row.since,
        moved=row.moved,
        told=row.told,
        shelved_until=row.shelved_until,
        evidence=_evidence(row),
        repeats=row.repeats,
        out_until=row.out_until,
        out_by=row.out_by,
        out_why=row.out_why,
    )


def _evidence(row: Row[Any]) -> Evidence | None:
    if row.evidence_sensor is None:
        return None
    return Evidence(
        sensor=row.evidence_sensor,
        quantity=None if row.evidence_quantity is None else Quantity(row.evidence_quantity),
        value=row.evidence_value,
        low=row.evidence_low,
        high=row.evidence_high,
        trend_per_h=row.evidence_trend_per_h,
        since=row.evidence_since,
    )


def _move_columns(move: Move) -> dict[str, Any]:
    return {
        "reminder": move.reminder,
        "episode": move.episode,
        "event": move.event.value,
        "before": move.before.value,
        "after": move.after.value,
        "time": move.time,
        "cause": move.cause,
        **_evidence_columns(move.evidence),
    }


def move_of(row: Row[Any]) -> Move:
    """Return a row as a move."""
    return Move(
        reminder=row.reminder,
        episode=row.episode,
        event=Event(row.event),
        before=State(row.before),
        after=State(row.after),
        time=row.time,
        cause=row.cause,
        evidence=_evidence(row),
    )
