"""Messages that could not be taken in."""

from collections.abc import Iterable, Sequence
from typing import Final

from sqlalchemy import Connection, delete, insert, select

from chamberwatch.core.watch.reading import Reject
from chamberwatch.storage.counters import count_up, counted
from chamberwatch.storage.tables import REJECTS

KEPT: Final = 200
EXCERPT_CHARACTERS: Final = 200
COUNTER: Final = "rejects"


class SqlRejects:
    """The last 200 messages that could not be taken in, and how many there were."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def add(self, rejects: Iterable[Reject]) -> None:
        """Keep them, drop the oldest beyond 200, and count."""
        rows = [
            {
                "topic": reject.topic,
                "time": reject.time,
                "reason": reject.reason,
                "excerpt": reject.excerpt[:EXCERPT_CHARACTERS],
            }
            for reject in rejects
        ]
        if not rows:
            return
        count_up(self._connection, COUNTER, len(rows))
        self._connection.execute(insert(REJECTS), rows[-KEPT:])
        newest_first = select(REJECTS.c.id).order_by(REJECTS.c.id.desc())
        oldest = newest_first.offset(KEPT).limit(1).scalar_subquery()
        self._connection.execute(delete(REJECTS).where(REJECTS.c.id <= oldest))

    def recent(self, limit: int = KEPT) -> Sequence[Reject]:
        """Return the newest first."""
        asked = select(REJECTS).order_by(REJECTS.c.id.desc()).limit(limit)
        return [
            Reject(row.topic, row.time, row.reason, row.excerpt)
            for row in self._connection.execute(asked)
        ]

    def count(self) -> int:
        """Return how many there have ever been."""
        return counted(self._connection, COUNTER)
