"""Copying a database that is being written, and looking a copy through.

SQLite's own backup copies page by page within one read transaction: it shows one moment, holds no
writer up, and can rest between pages. (`VACUUM INTO` would build the file anew in one go.)
"""

import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Final

from chamberwatch.core.errors import RefusedError, StorageError
from chamberwatch.service.backup_ports import STOPPED, Pace
from chamberwatch.storage.engine import explained

PAGES_AT_ONCE: Final = 256
"""A megabyte in one step."""
SETTLE_PAGES: Final = 2048
"""So much is written to the disk at a time: a heap that waits holds up all that is synced."""
OPERATIONS: Final = 200_000
"""Of SQLite's machine, between two looks whether to stop: some milliseconds."""

Share = Callable[[float], None]


def copy_database(source: Path, target: Path, pace: Pace, told: Share) -> Mapping[str, int]:
    """Copy a database as it is at this moment, whoever writes to it.

    Args:
        source: in use, perhaps by another process.
        target: is not there yet; left half made where this fails.
        pace: when to rest, and to stop.
        told: how much is copied, 0 to 1.

    Returns:
        How many rows each table has, counted in the source at that moment.

    Raises:
        StorageError: it can't be read or written; the text says which.
        RefusedError: it was told to stop.
    """
    with explained(source), closing(_opened(source)) as original, _stopped_by(original, pace):
        # Looked at once, so that all of it is of one moment: a copy over several would begin anew
        # with every write.
        original.execute("BEGIN").execute("SELECT 1 FROM sqlite_schema LIMIT 1").fetchall()
        with _explained_copy(target):
            _copy_pages(original, target, pace, told)
            stand_alone(target)
        return _counted(original)


def look_through(path: Path, pace: Pace) -> Mapping[str, int]:
    """Look a copy through from end to end; return how many rows each table has.

    Raises:
        StorageError: it is no sound database.
        RefusedError: it was told to stop.
    """
    with (
        explained(path),
        closing(standing_still(path)) as copy,
        _stopped_by(copy, pace),
    ):
        found = "".join(str(row[0]) for row in copy.execute("PRAGMA integrity_check(1)"))
        if found != "ok":
            why = found.splitlines()[-1]
            raise StorageError(
                f"{path} is damaged ({why}). Take another backup; if it was made a moment ago, "
                "the database or the disk it went to may be damaged: look at both, and keep the "
                "backups there are."
            )
        if copy.execute("PRAGMA foreign_key_check").fetchone() is not None:
            raise StorageError(f"{path} does not fit together. Take another backup.")
        return _counted(copy)


def standing_still(path: Path) -> sqlite3.Connection:
    """Open a file that nobody writes to, for reading; nothing is left beside it."""
    return sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)


def _opened(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    connection.execute("PRAGMA query_only = ON")
    return connection


def _copy_pages(original: sqlite3.Connection, target: Path, pace: Pace, told: Share) -> None:
    settled = began_s = 0.0

    def between(_: int, remaining: int, total: int) -> None:
        nonlocal settled, began_s
        pace.check()
        done = total - remaining
        told(done / total if total else 1.0)
        if done - settled >= SETTLE_PAGES:
            os.fdatasync(file)
            settled = done
        # As long a rest as the step took: the other half of the disk's time is for others.
        began_s = pace.rest(began_s)

    file = os.open(target, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with closing(sqlite3.connect(target, isolation_level=None)) as copy:
            # It is of no use until it is whole and synced, below.
            copy.execute("PRAGMA journal_mode = OFF")
            copy.execute("PRAGMA synchronous = OFF")
            began_s = pace.clock.monotonic()
            original.backup(copy, pages=PAGES_AT_ONCE, progress=between)
    finally:
        os.close(file)


def stand_alone(target: Path) -> None:
    """Make of the copy one file that needs no log beside it, and have it on the disk."""
    with closing(sqlite3.connect(target, isolation_level=None)) as copy:
        copy.execute("PRAGMA locking_mode = EXCLUSIVE")  # without shared memory, as on a stick
        copy.execute("PRAGMA journal_mode = DELETE").fetchall()
    with target.open("rb") as file:
        os.fsync(file.fileno())
        # So that it is looked through as the disk has it, and not as memory still does.
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def _counted(connection: sqlite3.Connection) -> dict[str, int]:
    names = connection.execute(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    ).fetchall()
    return {
        name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608 - of ours
        for (name,) in names
    }


@contextmanager
def _explained_copy(target: Path) -> Iterator[None]:
    """Tell troubles of the copy apart from those of the original."""
    try:
        yield
    except OSError as exc:
        raise unwritable(target.parent, exc.strerror or str(exc)) from exc
    except sqlite3.Error as exc:
        raise unwritable(target.parent, str(exc)) from exc


def unwritable(folder: Path, why: str) -> StorageError:
    """Return what to say where a backup can't be written."""
    return StorageError(
        f"No backup can be written in {folder}: {why}. Is the stick still plugged in, has it "
        "room, does it let itself be written, and does it take files of this size (4 GB at most "
        "on FAT32)?"
    )


@contextmanager
def _stopped_by(connection: sqlite3.Connection, pace: Pace) -> Iterator[None]:
    connection.set_progress_handler(pace.stopping.is_set, OPERATIONS)
    try:
        yield
    except sqlite3.OperationalError as exc:
        if pace.stopping.is_set():
            raise RefusedError(STOPPED) from exc
        raise
    finally:
        with suppress(sqlite3.Error):
            connection.set_progress_handler(None, 0)
