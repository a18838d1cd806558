"""Dropping what is old, a few rows in a transaction.

What was dropped leaves free pages in the file, which the next readings fill: as much comes in a
day as goes. The file is not made smaller (no auto_vacuum): moving pages to its front each night
would write to the card what is written again a day later.
"""

from datetime import datetime
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Table, delete, func, select

from chamberwatch.service.books import OutState
from chamberwatch.storage.columns import from_micros
from chamberwatch.storage.counters import count_up, counted
from chamberwatch.storage.readings import COUNTED, COUNTED_UNTIL
from chamberwatch.storage.tables import OUTBOX, READINGS, UNDATED, USED_LINKS

_UNSETTLED: Final = (OutState.WAITING.value, OutState.SENDING.value)


class SqlThinning:
    """Drops what is old, the oldest first."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def oldest(self) -> datetime | None:
        """Return the time of the oldest reading, None where there is none."""
        found: datetime | None = self._connection.execute(
            select(func.min(READINGS.c.time))
        ).scalar_one()
        return found

    def newest(self, until: datetime) -> datetime | None:
        """Return the time of the newest reading up to a time, None where there is none."""
        found: datetime | None = self._connection.execute(
            select(func.max(READINGS.c.time)).where(READINGS.c.time <= until)
        ).scalar_one()
        return found

    def readings(self, before: datetime, limit: int) -> int:
        """Drop readings; `summing.drop_before` says up to where they may go.

        All of one time go together, so it may be a few more than `limit`.
        """
        # The counter knows of those before this hour; they lie there, or something is wrong.
        before = min(before, from_micros(counted(self._connection, COUNTED_UNTIL)))
        old = READINGS.c.time < before
        asked = select(READINGS.c.time).where(old).order_by(READINGS.c.time).offset(limit - 1)
        last = self._connection.scalar(asked.limit(1))
        # One stretch of the key: whole pages become free.
        going = delete(READINGS).where(old if last is None else READINGS.c.time <= last)
        gone = self._connection.execute(going).rowcount
        count_up(self._connection, COUNTED, -gone)
        return gone

    def messages(self, before: datetime, limit: int) -> int:
        """Drop messages to people that were put in the outbox before, and wait no more."""
        settled = OUTBOX.c.state.not_in(_UNSETTLED)
        return self._drop(OUTBOX, OUTBOX.c.id, limit, OUTBOX.c.created < before, settled)

    def links(self, before: datetime, limit: int) -> int:
        """Drop what is known of links that were used before."""
        return self._drop(USED_LINKS, USED_LINKS.c.digest, limit, USED_LINKS.c.used < before)

    def undated(self, keep: int, limit: int) -> int:
        """Drop values that can never be dated, but for so many of the newest."""
        lost = UNDATED.c.boot.is_(None)
        newest = select(UNDATED.c.id).where(lost).order_by(UNDATED.c.id.desc())
        last = self._connection.scalar(newest.offset(keep).limit(1))
        if last is None:
            return 0
        return self._drop(UNDATED, UNDATED.c.id, limit, lost, UNDATED.c.id <= last)

    def _drop(
        self, table: Table, key: ColumnElement[Any], limit: int, *which: ColumnElement[bool]
    ) -> int:
        going = select(key).where(*which).order_by(key).limit(limit).scalar_subquery()
        return self._connection.execute(delete(table).where(key.in_(going))).rowcount
