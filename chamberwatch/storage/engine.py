"""Connections to the database file, and what its troubles mean for the person who runs it."""

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

import sqlalchemy.exc as sql_errors
from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.pool import QueuePool

from chamberwatch.core.errors import StorageError

WAL_TRY_S: Final = 0.05

# By the first result code of SQLite, https://www.sqlite.org/rescode.html
CURES: Final[dict[int, str]] = {
    sqlite3.SQLITE_BUSY: (
        "is held by another program, or by a job of ours that takes too long. Close other "
        "programs that have it open; it is tried again with the next message."
    ),
    sqlite3.SQLITE_NOTADB: (
        "is not a database. Name another file, or put a backup in its place with “restore”."
    ),
    sqlite3.SQLITE_CORRUPT: (
        "is damaged. Stop chamberwatch, keep the file aside and put the last backup in its place "
        "with “restore”."
    ),
    sqlite3.SQLITE_FULL: "can't grow: the disk is full. Make room on it.",
    sqlite3.SQLITE_READONLY: (
        "can't be written. Give the account that runs chamberwatch the right to write the file "
        "and its folder."
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "can't be opened. Give the account that runs chamberwatch the right to read and write "
        "the file and its folder."
    ),
    sqlite3.SQLITE_IOERR: "can't be read or written. Look at the disk or card it lies on.",
}

# These speak of a fault in our own code, not of the file; they go on as they are.
OURS: Final = (
    sql_errors.IntegrityError,
    sql_errors.ProgrammingError,
    sql_errors.InterfaceError,
    sql_errors.DataError,
)


def path_of(url: str) -> Path:
    """Return the file that a database address names.

    Raises:
        StorageError: it isn't the address of an SQLite file, or the file can't be there.
    """
    example = "Write it like sqlite:////var/lib/chamberwatch/chamberwatch.db"
    try:
        parts = make_url(url)
    except sql_errors.ArgumentError as exc:
        raise StorageError(f"“{url}” is not a database address. {example}.") from exc
    if parts.get_backend_name() != "sqlite":
        kind = parts.get_backend_name()
        if kind == "postgresql":
            raise StorageError(
                "This needs a database in a file; that of these settings lies on a server, which "
                "is copied and brought back there (pg_dump, pg_restore)."
            )
        raise StorageError(f"Databases of the kind “{kind}” are not supported. {example}.")
    if not parts.database or parts.database == ":memory:" or parts.query:
        raise StorageError(f"“{url}” names no file to keep things in. {example}.")
    return Path(parts.database)


def prepare(path: Path) -> None:
    """Make sure the file is there, for its owner's eyes: it holds the key that signs links.

    Raises:
        StorageError: its folder is missing, or we may not write there.
    """
    if not path.parent.is_dir():
        raise StorageError(
            f"The folder {path.parent} for the database does not exist. Make it, or name another."
        )
    if path.is_dir():
        raise StorageError(f"{path} is a folder. Name a file in it for the database.")
    try:
        path.touch(mode=0o600)
        with path.open("r+b"):
            pass
    except OSError as exc:
        cure = CURES[sqlite3.SQLITE_READONLY]
        raise StorageError(f"The database {path} {cure} ({exc.strerror})") from exc


def make_writer(path: Path, wait_s: float) -> Engine:
    """Return the engine of transactions that hold the write lock from their first line.

    SQLite lets one write at a time. Threads of this process queue for the one connection, which
    is fairer than its own waiting; other processes are waited for by its busy timeout.
    """
    return _make(path, wait_s, "BEGIN IMMEDIATE", only_read=False)


def make_reader(path: Path, wait_s: float) -> Engine:
    """Return the engine of transactions that see one state and can't write."""
    return _make(path, wait_s, "BEGIN", only_read=True)


def _make(path: Path, wait_s: float, begin: str, *, only_read: bool) -> Engine:
    engine = create_engine(
        URL.create("sqlite+pysqlite", database=str(path)),
        # None: the driver must not begin or commit by itself, else a failed migration stays.
        # A connection wanders between threads, but serves one at a time.
        connect_args={"isolation_level": None, "check_same_thread": False},
        poolclass=QueuePool,
        pool_size=4 if only_read else 1,
        max_overflow=-1 if only_read else 0,
        pool_timeout=wait_s,
    )

    @event.listens_for(engine, "connect")
    def _set_up(connection: sqlite3.Connection, _: object) -> None:
        connection.execute(f"PRAGMA busy_timeout = {round(wait_s * 1000)}")
        # FULL: NORMAL may lose commits in a power cut after the broker was told they are safe.
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute(f"PRAGMA query_only = {int(only_read)}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)
        if only_read:
            # A plain BEGIN waits for the first look before it settles on a state; look now.
            connection.exec_driver_sql("SELECT 1 FROM sqlite_schema LIMIT 1").close()

    return engine


def use_wal(writer: Engine, path: Path, wait_s: float) -> None:
    """Switch the file to a write-ahead log, where readers and the writer don't wait.

    Raises:
        StorageError: the disk can't do it.
    """
    # SQLite's own waiting does not cover this switch when several start at once.
    pause = threading.Event()
    left = round(wait_s / WAL_TRY_S)
    while (mode := _switch(writer)) is None:
        left -= 1
        if left < 0:
            raise StorageError(f"The database {path} {CURES[sqlite3.SQLITE_BUSY]}")
        pause.wait(WAL_TRY_S)
    if mode != "wal":
        raise StorageError(
            f"The disk that holds {path} can't keep a write-ahead log. Put the database on a disk "
            "of this machine, not on a network drive."
        )


def _switch(writer: Engine) -> str | None:
    """Try to switch; return the mode that holds now, None if others hold the file."""
    # Not within a transaction: there the switch is refused.
    with closing(writer.raw_connection()) as connection, closing(connection.cursor()) as cursor:
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as exc:
            if _code(exc) != sqlite3.SQLITE_BUSY:
                raise
            return None
        return "".join(*cursor.fetchall())


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn troubles of the file into a `StorageError` that says what to do."""
    try:
        yield
    except sql_errors.TimeoutError as exc:
        raise StorageError(f"The database {path} {CURES[sqlite3.SQLITE_BUSY]}") from exc
    except sql_errors.DBAPIError as exc:
        if isinstance(exc, OURS) or not isinstance(exc.orig, sqlite3.Error):
            raise
        raise _explain(path, exc.orig) from exc
    except sqlite3.Error as exc:
        raise _explain(path, exc) from exc


def _explain(path: Path, trouble: sqlite3.Error) -> StorageError:
    cure = CURES.get(_code(trouble), "can't be used. Look at the log and at the disk it lies on.")
    return StorageError(f"The database {path} {cure} ({trouble})")


def _code(trouble: sqlite3.Error) -> int:
    """Return the first result code; 0 where the driver itself complains."""
    code: int = getattr(trouble, "sqlite_errorcode", 0)
    return code & 0xFF
