"""What people did."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

from sqlalchemy import Connection, Row, exists, insert, select

from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.service.books import Span
from chamberwatch.storage.tables import ACTIONS

_LATER = ACTIONS.alias("later")

HOLDS: Final = ~ACTIONS.c.withdrawn & ~exists().where(_LATER.c.corrects == ACTIONS.c.id)
"""What was neither corrected nor withdrawn since."""


class SqlActions:
    """What people did. Only ever added to: what was wrong is corrected by a newer deed."""

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
            corrects=action.corrects,
            withdrawn=action.withdrawn,
        )
        number = self._connection.execute(fresh.returning(ACTIONS.c.id)).scalar_one()
        return replace(action, id=number)

    def get(self, number: int) -> Action | None:
        """Return one by its id, whether it holds or not."""
        row = self._connection.execute(select(ACTIONS).where(ACTIONS.c.id == number)).first()
        return None if row is None else action_of(row)

    def instead_of(self, number: int) -> Action | None:
        """Return what was told in place of a deed; None: it holds as it is."""
        asked = select(ACTIONS).where(ACTIONS.c.corrects == number)
        row = self._connection.execute(asked).first()
        return None if row is None else action_of(row)

    def recent(self, chamber: str | None, limit: int = 50) -> Sequence[Action]:
        """Return those that hold, the newest first (by `at`), of one chamber where given."""
        newest_first = ACTIONS.c.at.desc(), ACTIONS.c.id.desc()
        asked = select(ACTIONS).where(HOLDS).order_by(*newest_first).limit(limit)
        if chamber is not None:
            asked = asked.where(ACTIONS.c.chamber == chamber)
        return [action_of(row) for row in self._connection.execute(asked)]

    def within(self, span: Span) -> Sequence[Action]:
        """Return what holds of what was done within a span (by `at`), oldest first."""
        asked = (
            select(ACTIONS)
            .where(HOLDS, ACTIONS.c.at >= span.start, ACTIONS.c.at < span.end)
            .order_by(ACTIONS.c.at, ACTIONS.c.id)
        )
        return [action_of(row) for row in self._connection.execute(asked)]


def action_of(row: Row[Any], labelled: str = "") -> Action:
    """Return a row as a deed; `labelled`: what its columns begin with."""
    said = {column.name: getattr(row, f"{labelled}{column.name}") for column in ACTIONS.columns}
    return Action(**said | {"deed": Deed(said["deed"])})
