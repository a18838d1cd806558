"""A look at the database and its disk that changes nothing, also beside a daemon that runs."""

import os
import shutil
import sqlite3
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, Engine

from chamberwatch.core.errors import StorageError
from chamberwatch.core.self_check import Database, Disk
from chamberwatch.storage import migrations
from chamberwatch.storage.cut_off import KEPT_AS, CutOff
from chamberwatch.storage.engine import explained, make_reader
from chamberwatch.storage.kept import SqlKept
from chamberwatch.storage.readings import KnownSeries, SqlReadings

WAIT_S: Final = 2.0
SOUND: Final = "ok"


def look_at_disk(path: Path) -> Disk:
    """Return how it stands with the disk that a database lies on, or will lie on."""
    folder = path.parent
    try:
        free = shutil.disk_usage(folder).free
    except OSError as error:
        return Disk(str(folder), None, writable=False, trouble=error.strerror or str(error))
    places = [folder, path] if path.exists() else [folder]
    return Disk(str(folder), free, writable=all(os.access(each, os.W_OK) for each in places))


def look_at_database(path: Path, budget_s: float) -> Database:
    """Return how it stands with a database.

    It opens it as any reader does, so a daemon that writes is not held up; nothing is made or
    brought up to date.

    Args:
        path: of the file.
        budget_s: how long it may be looked through; a large one is then not seen to its end. [s]
    """
    if not path.exists():
        return Database(str(path), there=False)
    engine = make_reader(path, WAIT_S)
    try:
        with explained(path), engine.begin() as connection:
            return _looked_at(path, engine, connection, budget_s)
    except StorageError as error:
        return Database(str(path), trouble=str(error))
    finally:
        engine.dispose()


def _looked_at(path: Path, engine: Engine, connection: Connection, budget_s: float) -> Database:
    done = migrations.applied(connection)
    migrations.check(done)
    missing = len(migrations.missing(done))
    newest = () if missing else SqlReadings(connection, KnownSeries()).newest().values()
    kept = None if missing else SqlKept(connection).text(KEPT_AS)
    cut_off = CutOff.read(kept) if kept is not None else None
    damage, whole = _damage(engine, budget_s)
    return Database(
        str(path),
        steps_missing=missing,
        damage=damage,
        looked_through=whole,
        budget_s=budget_s,
        newest=max(newest, default=None),
        cut_off=(cut_off.at, cut_off.commits) if cut_off is not None else None,
    )


def _damage(engine: Engine, budget_s: float) -> tuple[str, bool]:
    """Look through the file; return what is damaged first, and whether all of it was seen."""
    pooled = engine.raw_connection()
    connection = pooled.driver_connection
    if not isinstance(connection, sqlite3.Connection):
        raise StorageError("The database can't be looked through with this driver; install ours.")
    late = threading.Event()

    def stop() -> None:
        late.set()
        connection.interrupt()

    timer = threading.Timer(budget_s, stop)
    timer.start()
    try:
        # Without the check of every index against its table, which takes many times as long.
        found = "".join(str(row[0]) for row in connection.execute("PRAGMA quick_check(1)"))
    except sqlite3.OperationalError:
        if not late.is_set():
            raise
        return "", False
    finally:
        timer.cancel()
        timer.join()
        pooled.close()
    if late.is_set():
        return "", False
    return ("" if found == SOUND else found), True


def versions() -> Mapping[str, str]:
    """Return the version of the schema that this program makes, and that of SQLite."""
    return {"schema": str(len(migrations.STEPS)), "SQLite": sqlite3.sqlite_version}
