"""A database on a PostgreSQL server: connections to it, and who holds it."""

import logging
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import psycopg
import sqlalchemy.exc as sql_errors
from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect
from sqlalchemy.pool import NullPool, Pool, QueuePool

from chamberwatch.core.errors import StorageError
from chamberwatch.core.self_check import Database
from chamberwatch.core.wear import Card
from chamberwatch.storage.server_alone import Keeper, held_by_somebody
from chamberwatch.storage.server_probing import look_at_server
from chamberwatch.storage.server_troubles import ServerAwayError, explain, held
from chamberwatch.storage.tables import MIGRATIONS
from chamberwatch.storage.wearing import written_alone
from chamberwatch.storage.whole import begin_whole

log = logging.getLogger(__name__)

READERS: Final = 4
READERS_MORE: Final = 12
"""So many connections are kept for readers, and so many more are made while they are wanted."""

LOOK_WITHIN_S: Final = 2.0
PATIENCE_S: Final = 60.0
ASK_AGAIN_S: Final = 2.0
"""A daemon that starts before its server waits so long, and asks so often. [s]"""

WRITING: Final = 0x6377_0001
"""Names the lock of those who write. Others of this database server have names of their own."""

# Both ends must notice a cable that was pulled: ours, so that nobody waits for ever; the server's,
# so that it lets go of our locks.
_NOTICING: Final[dict[str, Any]] = {
    "connect_timeout": 10,
    "keepalives_idle": 30,
    "keepalives_interval": 10,
    "keepalives_count": 3,
    "tcp_user_timeout": 60_000,
}
_SET_UP: Final = """
SET lock_timeout = {wait_ms};
SET tcp_keepalives_idle = 30;
SET tcp_keepalives_interval = 10;
SET tcp_keepalives_count = 3;
SET client_min_messages = warning;
SELECT set_config('synchronous_commit', 'on', false)
WHERE current_setting('synchronous_commit') = 'off';
"""


@dataclass(frozen=True, slots=True)
class Server:
    """One database on a server, with one chamberwatch in each of its schemas.

    Attributes:
        url: where it is; its password, if it has one, is never shown.
    """

    url: URL

    def __str__(self) -> str:
        """Name it in a text."""
        return self.url.set(password=None).render_as_string()

    __repr__ = __str__

    def there(self, wait_s: float) -> bool:
        """Tell whether anything of ours is in it.

        Raises:
            StorageError: it can't be looked at.
        """
        reader = self.reader(wait_s)
        try:
            with self.explained(), reader.begin() as connection:
                return inspect(connection).has_table(MIGRATIONS.name)
        finally:
            reader.dispose()

    def prepare(self) -> None:
        """Do nothing: a database is made by who looks after the server."""

    def await_it(self, wait: Callable[[float], object], patience_s: float = PATIENCE_S) -> None:
        """Wait for a server that starts later than we do.

        Args:
            wait: lets so many seconds pass.
            patience_s: so long at the most. [s]

        Raises:
            StorageError: it is still away, or does not let us in.
        """
        for turn in range(round(patience_s / ASK_AGAIN_S)):
            try:
                self.there(ASK_AGAIN_S)
            except ServerAwayError as away:
                if not turn:
                    log.warning("Waiting for the database, %.0f s at most. %s", patience_s, away)
                wait(ASK_AGAIN_S)
            else:
                return
        self.there(ASK_AGAIN_S)

    def settle(self, writer: Engine, wait_s: float, now: datetime) -> None:
        """Make all tables, if there are none."""
        begin_whole(writer, now)

    @staticmethod
    def tidy(connection: Connection) -> None:
        """Do nothing: the server tidies up by itself."""

    def look(self, budget_s: float) -> Database:
        """Return how it stands with it."""
        return look_at_server(str(self), self.reader, self.explained)

    def cut_off(self) -> int:
        """Return 0: a server mends its own log."""
        return 0

    def card(self) -> Card:
        """Return what this process wrote; the database lies on another disk."""
        return written_alone()

    def taken(self) -> bool:
        """Tell whether somebody holds the lock of the one daemon."""
        engine = self.reader(LOOK_WITHIN_S)
        try:
            with self.explained(), engine.begin() as connection:
                return held_by_somebody(connection)
        finally:
            engine.dispose()

    def alone(self, lost: Callable[[str], None]) -> AbstractContextManager[None]:
        """Keep other daemons off until the block is left.

        Args:
            lost: is told, from another thread, when another one has come in while the server was
                away.

        Raises:
            StorageError: another daemon runs with it, or it can't be had.
        """
        return Keeper(str(self), self.single, self.explained, lost).alone()

    # ------------------------------------------------------------ connections

    def writer(self, wait_s: float) -> Engine:
        """Return the engine of transactions that hold the write lock from their first line."""
        engine = self._engine(wait_s, QueuePool, pool_size=1, max_overflow=0, pool_timeout=wait_s)

        @event.listens_for(engine, "begin")
        def _begin(connection: Connection) -> None:
            connection.exec_driver_sql(
                "SELECT pg_advisory_xact_lock(%s, hashtext(coalesce(current_schema(), '')))",
                (WRITING,),
            ).close()

        return engine

    def reader(self, wait_s: float) -> Engine:
        """Return the engine of transactions that see one state and can't write."""
        engine = self._engine(
            wait_s,
            QueuePool,
            pool_size=READERS,
            max_overflow=READERS_MORE,
            pool_timeout=wait_s,
            isolation_level="REPEATABLE READ",
        )

        @event.listens_for(engine, "connect")
        def _set_up(connection: psycopg.Connection, _: object) -> None:
            connection.read_only = True

        @event.listens_for(engine, "begin")
        def _begin(connection: Connection) -> None:
            # A transaction settles on a state with its first look; look now.
            connection.exec_driver_sql("SELECT 1").close()

        return engine

    def single(self, wait_s: float, name: str) -> Engine:
        """Return the engine of one connection under a name, each statement for itself."""
        there = self.url.update_query_dict({"application_name": name})
        return Server(there)._engine(wait_s, NullPool, isolation_level="AUTOCOMMIT")  # noqa: SLF001

    def _engine(self, wait_s: float, pool: type[Pool], **more: Any) -> Engine:  # noqa: ANN401
        engine = create_engine(
            self.url,
            # What stands in the address holds.
            connect_args={k: v for k, v in _NOTICING.items() if k not in self.url.query},
            poolclass=pool,
            # A connection that broke while nobody used it is made anew before it is used.
            pool_pre_ping=True,
            # Values must not come into what is said of an error.
            hide_parameters=True,
            **more,
        )

        # Before the library asks anything: of some kinds of texts it can't read the answer.
        @event.listens_for(engine, "connect", insert=True)
        def _set_up(connection: psycopg.Connection, _: object) -> None:
            self._must_be_utf8(connection)
            usual = connection.autocommit
            connection.autocommit = True
            connection.execute(_SET_UP.format(wait_ms=max(1, round(wait_s * 1000))).encode())
            connection.autocommit = usual

        return engine

    def _must_be_utf8(self, connection: psycopg.Connection) -> None:
        """Refuse a database that can't keep what people write.

        Raises:
            StorageError: it is none of UTF-8.
        """
        encoding = connection.info.parameter_status("server_encoding")
        if encoding != "UTF8":
            raise StorageError(
                f"The database {self} keeps texts in {encoding}, which has no room for all that "
                "people write. Make another one: createdb --encoding=UTF8 --template=template0 "
                "--owner=ROLE NAME."
            )

    @contextmanager
    def explained(self) -> Iterator[None]:
        """Turn troubles of the server into a `StorageError` that says what to do."""
        try:
            yield
        except sql_errors.TimeoutError as exc:
            raise held(str(self)) from exc
        except (sql_errors.DBAPIError, psycopg.Error) as exc:
            explained = explain(str(self), self.url.password or "", exc)
            if explained is None:
                raise
            raise explained from exc


def server_of(url: URL) -> Server:
    """Return the server that an address names.

    Raises:
        StorageError: it names no database.
    """
    if url.get_driver_name() != "psycopg" or not url.database:
        shown = url.set(password=None).render_as_string()
        raise StorageError(
            f"“{shown}” is not a database address. "
            "Write it like postgresql+psycopg://chamberwatch@server.home/chamberwatch."
        )
    return Server(url)
