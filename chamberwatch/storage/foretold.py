"""When limits were expected to be reached, and what came of it."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from chamberwatch.core.watch.foretold import Foretold, Outcome
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Side
from chamberwatch.storage.tables import FORETOLD


class SqlForetold:
    """Forecasts of limits."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def add(self, foretold: Foretold) -> Foretold:
        """Keep it; return it with its id."""
        fresh = insert(FORETOLD).values(**_columns(foretold))
        number = self._connection.execute(fresh.returning(FORETOLD.c.id)).scalar_one()
        return replace(foretold, id=number)

    def save(self, foretold: Foretold) -> None:
        """Keep its new state."""
        self._connection.execute(
            update(FORETOLD).where(FORETOLD.c.id == foretold.id).values(**_columns(foretold))
        )

    def open(self, chamber: str) -> Sequence[Foretold]:
        """Return those of a chamber that still wait for what comes, oldest first."""
        asked = (
            select(FORETOLD)
            .where(FORETOLD.c.chamber == chamber, FORETOLD.c.outcome == Outcome.OPEN.value)
            .order_by(FORETOLD.c.at, FORETOLD.c.id)
        )
        return [_foretold(row) for row in self._connection.execute(asked)]

    def recent(self, chamber: str, since: datetime, limit: int = 200) -> Sequence[Foretold]:
        """Return those of a chamber made since a time, newest first."""
        asked = (
            select(FORETOLD)
            .where(FORETOLD.c.chamber == chamber, FORETOLD.c.at >= since)
            .order_by(FORETOLD.c.at.desc(), FORETOLD.c.id.desc())
            .limit(limit)
        )
        return [_foretold(row) for row in self._connection.execute(asked)]


def _columns(foretold: Foretold) -> dict[str, Any]:
    return {
        "chamber": foretold.chamber,
        "sensor": foretold.sensor,
        "quantity": foretold.quantity.value,
        "side": foretold.side.value,
        "limit": foretold.limit,
        "at": foretold.at,
        "earliest": foretold.earliest,
        "likely": foretold.likely,
        "latest": foretold.latest,
        "told": foretold.told,
        "came": foretold.came,
        "outcome": foretold.outcome.value,
    }


def _foretold(row: Row[Any]) -> Foretold:
    return Foretold(
        row.id,
        row.chamber,
        row.sensor,
        Quantity(row.quantity),
        Side(row.side),
        row.limit,
        row.at,
        row.earliest,
        row.likely,
        row.latest,
        row.told,
        row.came,
        Outcome(row.outcome),
    )
