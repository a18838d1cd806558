"""Messages on their way to people."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import Connection, Row, func, insert, select, update

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.service.books import OutKind, OutRow, OutState, Span
from chamberwatch.storage.tables import OUTBOX

_WAITING = OUTBOX.c.state == OutState.WAITING.value

WAITED_AT_MOST: Final = timedelta(days=3)
"""What was put here longer before is not looked through for what went out since: there is no
index on when a message went out, and hardly any waits for so long."""


class SqlOutbox:
    """Messages on their way to people."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def add(self, rows: Iterable[OutRow]) -> None:
        """Keep new rows."""
        fresh = [_columns(row) for row in rows]
        if fresh:
            self._connection.execute(insert(OUTBOX), fresh)

    def due(self, now: datetime) -> Sequence[OutRow]:
        """Return waiting rows whose next try has come, highest priority and oldest first."""
        asked = (
            select(OUTBOX)
            .where(_WAITING, OUTBOX.c.next_try <= now)
            .order_by(OUTBOX.c.priority.desc(), OUTBOX.c.created, OUTBOX.c.id)
        )
        return [out_row_of(row) for row in self._connection.execute(asked)]

    def next_try(self) -> datetime | None:
        """Return when the next waiting row is due."""
        earliest: datetime | None = self._connection.execute(
            select(func.min(OUTBOX.c.next_try)).where(_WAITING)
        ).scalar_one()
        return earliest

    def in_state(self, state: OutState, limit: int = 200) -> Sequence[OutRow]:
        """Return rows of this state, newest first."""
        asked = (
            select(OUTBOX)
            .where(OUTBOX.c.state == state.value)
            .order_by(OUTBOX.c.created.desc(), OUTBOX.c.id.desc())
            .limit(limit)
        )
        return [out_row_of(row) for row in self._connection.execute(asked)]

    def waiting(self, address: str) -> Sequence[OutRow]:
        """Return all that waits for one address, due or not, oldest first."""
        asked = (
            select(OUTBOX)
            .where(_WAITING, OUTBOX.c.address == address)
            .order_by(OUTBOX.c.created, OUTBOX.c.id)
        )
        return [out_row_of(row) for row in self._connection.execute(asked)]

    def within(self, span: Span) -> Sequence[OutRow]:
        """Return rows that were created within a span, oldest first."""
        asked = (
            select(OUTBOX)
            .where(OUTBOX.c.created >= span.start, OUTBOX.c.created < span.end)
            .order_by(OUTBOX.c.created, OUTBOX.c.id)
        )
        return [out_row_of(row) for row in self._connection.execute(asked)]

    def sent_since(self, since: datetime) -> Sequence[OutRow]:
        """Return what went out after a time, oldest first; of what was put here lately."""
        asked = (
            select(OUTBOX)
            .where(
                OUTBOX.c.created > since - WAITED_AT_MOST,
                OUTBOX.c.sent > since,
                OUTBOX.c.state == OutState.SENT.value,
            )
            .order_by(OUTBOX.c.sent, OUTBOX.c.id)
        )
        return [out_row_of(row) for row in self._connection.execute(asked)]

    def save(self, row: OutRow) -> None:
        """Keep its new state.

        Raises:
            StorageError: it was never added.
        """
        changed = update(OUTBOX).where(OUTBOX.c.id == row.id).values(_columns(row))
        if self._connection.execute(changed).rowcount != 1:
            raise StorageError(f"There is no message {row.id} to keep. Add it first.")


def _columns(row: OutRow) -> dict[str, Any]:
    return {
        "reminder": row.reminder,
        "episode": row.episode,
        "address": row.address,
        "title": row.title,
        "body": row.body,
        "priority": int(row.priority),
        "state": row.state.value,
        "created": row.created,
        "next_try": row.next_try,
        "tries": row.tries,
        "expires": row.expires,
        "again": row.again,
        "error": row.error,
        "kind": row.kind.value,
        "chamber": row.chamber,
        "sent": row.sent,
    }


def out_row_of(row: Row[Any]) -> OutRow:
    """Return a row as a message."""
    return OutRow(
        id=row.id,
        reminder=row.reminder,
        episode=row.episode,
        address=row.address,
        title=row.title,
        body=row.body,
        priority=Priority(row.priority),
        state=OutState(row.state),
        created=row.created,
        next_try=row.next_try,
        tries=row.tries,
        expires=row.expires,
        again=row.again,
        error=row.error,
        kind=OutKind(row.kind),
        chamber=row.chamber,
        sent=row.sent,
    )
