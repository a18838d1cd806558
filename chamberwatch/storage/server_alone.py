"""One daemon for one database on a server: a lock that the server holds for as long as it runs."""

import logging
import os
import threading
import uuid
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Final

from sqlalchemy import Connection, Engine, text

from chamberwatch.core.errors import StorageError

log = logging.getLogger(__name__)

DAEMON: Final = 0x6377_0002
"""Names the lock of the one daemon."""
WAIT_S: Final = 5.0
TRY_EVERY_S: Final = 0.1
TRIES: Final = 20
"""A server needs a moment to notice that who held the lock was killed."""
LOOK_EVERY_S: Final = 5.0
GIVEN_S: Final = 120.0
"""So long a session of ours that was cut off may still hold the lock. [s]"""

_OF_US: Final = {"daemon": DAEMON}
_TAKE: Final = text(
    "SELECT pg_try_advisory_lock(:daemon, hashtext(coalesce(current_schema(), '')))"
)
# A session of our own that was cut off by the network, and of which the server doesn't know yet.
_END_OURS: Final = text(
    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
    "WHERE application_name = :name AND pid <> pg_backend_pid()"
)


# An advisory lock of two whole numbers is listed with the first as its class, the second as its
# object, both without a sign. Source: PostgreSQL 15, the view pg_locks.
_HELD: Final = text(
    "SELECT EXISTS (SELECT FROM pg_locks WHERE locktype = 'advisory' AND objsubid = 2 AND granted "
    "AND database = (SELECT oid FROM pg_database WHERE datname = current_database()) "
    "AND classid::bigint = :daemon AND objid::bigint = "
    "hashtext(coalesce(current_schema(), ''))::bigint & 4294967295)"
)


def held_by_somebody(connection: Connection) -> bool:
    """Tell whether a daemon holds the lock of the schema that is used here."""
    return bool(connection.execute(_HELD, _OF_US).scalar_one())


class Keeper:
    """Takes the lock, and takes it again when the server was away."""

    def __init__(
        self,
        database: str,
        single: Callable[[float, str], Engine],
        explained: Callable[[], AbstractContextManager[None]],
        lost: Callable[[str], None],
        look_every_s: float = LOOK_EVERY_S,
        given_s: float = GIVEN_S,
    ) -> None:
        """Take what it works with.

        Args:
            database: its name in texts.
            single: makes an engine of single connections that wait so long [s], under a name.
            explained: turns troubles of the server into texts.
            lost: is told when another daemon has come in.
            look_every_s: how often it is looked after. [s]
            given_s: how long another one may hold it before it is told of. [s]
        """
        self._database = database
        self._explained = explained
        self._lost = lost
        self._every_s, self._given_s = look_every_s, given_s
        # A lock belongs to a session, and a session can be cut off: so ours have a name.
        self._name = f"chamberwatch {os.getpid()} {uuid.uuid4().hex[:12]}"
        self._engine = single(WAIT_S, self._name)
        self._ended = threading.Event()
        self._connection: Connection | None = None

    @contextmanager
    def alone(self, wait: Callable[[float], object] | None = None) -> Iterator[None]:
        """Keep other daemons off until the block is left.

        Args:
            wait: waits so long [s] between the tries to come in.

        Raises:
            StorageError: another daemon runs with it, or the lock can't be had.
        """
        if not self._take_soon(wait or self._ended.wait):
            raise StorageError(
                f"Another chamberwatch runs with this database ({self._database}). Stop it first."
            )
        thread = threading.Thread(target=self._look_after, name="alone", daemon=True)
        thread.start()
        try:
            yield
        finally:
            self._ended.set()
            thread.join()
            self._drop()
            self._engine.dispose()

    def _take_soon(self, wait: Callable[[float], object]) -> bool:
        """Take the lock now or within two seconds; tell whether it is ours."""
        for _ in range(TRIES):
            if self._take():
                return True
            wait(TRY_EVERY_S)
        return self._take()

    def _take(self) -> bool:
        """Take the lock; tell whether it is ours."""
        with self._explained():
            connection = self._connection = self._engine.connect()
            mine: bool = connection.execute(_TAKE, _OF_US).scalar_one()
        if not mine:
            self._drop()
        return mine

    def _drop(self) -> None:
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.invalidate()
            connection.close()

    def _look_after(self) -> None:
        """Look whether the lock is still ours; take it again where the server was away."""
        left_s = self._given_s
        while not self._ended.wait(self._every_s):
            try:
                if self._holds() or self._take_again():
                    left_s = self._given_s
                    continue
            except StorageError:
                # Others say that the server is away, and nobody can take the lock meanwhile.
                self._drop()
                continue
            left_s -= self._every_s
            if left_s <= 0:
                self._lost(
                    f"Another chamberwatch took this database ({self._database}) while its server "
                    "was away. Stop one of the two."
                )
                return

    def _holds(self) -> bool:
        if self._connection is None:
            return False
        with self._explained():
            self._connection.execute(text("SELECT 1"))
        return True

    def _take_again(self) -> bool:
        with self._explained(), self._engine.connect() as connection:
            connection.execute(_END_OURS, {"name": self._name})
        taken = self._take()
        if taken:
            log.warning("The database can be reached again.")
        return taken
