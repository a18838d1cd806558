"""What people did."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, Row, insert, select

from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.service.books import Span
from chamberwatch.storage.tables import ACTIONS


class SqlActions:
    """What people did."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def add(self, action: Action) -> Action:
        """Keep it; return it with its id."""
        fresh = insert(ACTIONS).values(
            chamber=action.chamber,
            deed=action.deed.value,
            at=action.at,
            note=action.note,
            recorded=action.recorded,
            via=action.via,
            amount=action.amount,
            standing_g=action.standing_g,
            advised=action.advised,
        )
        number = self._connection.execute(fresh.returning(ACTIONS.c.id)).scalar_one()
        return replace(action, id=number)

    def recent(self, chamber: str | None, limit: int = 50) -> Sequence[Action]:
        """Return the newest first (by `at`), of one chamber where given."""
        asked = select(ACTIONS).order_by(ACTIONS.c.at.desc(), ACTIONS.c.id.desc()).limit(limit)
        if chamber is not None:
            asked = asked.where(ACTIONS.c.chamber == chamber)
        return [_action(row) for row in self._connection.execute(asked)]

    def within(self, span: Span) -> Sequence[Action]:
        """Return what was done within a span (by `at`), oldest first."""
        asked = (
            select(ACTIONS)
            .where(ACTIONS.c.at >= span.start, ACTIONS.c.at < span.end)
            .order_by(ACTIONS.c.at, ACTIONS.c.id)
        )
        return [_action(row) for row in self._connection.execute(asked)]


def _action(row: Row[Any]) -> Action:
    return Action(
        row.id,
        row.chamber,
        Deed(row.deed),
        row.at,
        row.note,
        row.recorded,
        row.via,
        row.amount,
        row.standing_g,
        row.advised,
    )
