"""Keeps the database as it is before an upgrade changes how it is laid out, and puts it back.

    keep_database.py copy SETTINGS             says where the copy lies; nothing if none is needed
    keep_database.py put-back SETTINGS COPY    if the layout has changed since

Run by install.sh with the Python of the new version, as the service's own user, while the service
is stopped.
"""

import os
import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from typing import Final

from chamberwatch.core.errors import ChamberwatchError, StorageError
from chamberwatch.settings import load
from chamberwatch.storage.engine import path_of
from chamberwatch.storage.migrations import STEPS

COPY: Final = ".before-upgrade"
SET_ASIDE: Final = ".of-failed-upgrade"
WITH_IT: Final = ("", "-wal", "-shm")
"""SQLite's own files beside a database belong to it and move with it."""

SPARE_BYTES: Final = 50_000_000


def steps_of(path: Path) -> frozenset[str]:
    """Return the names of the steps that a database has behind it."""
    with closing(sqlite3.connect(path)) as connection:
        tables = connection.execute("SELECT name FROM sqlite_schema WHERE name = 'migrations'")
        if not tables.fetchall():
            return frozenset()
        return frozenset(name for (name,) in connection.execute("SELECT name FROM migrations"))


def copy(path: Path) -> Path | None:
    """Copy a database that the new version will change; return where to, None if it won't.

    Raises:
        StorageError: it can't be copied, or the copy is not sound.
    """
    if not path.exists() or not (done := steps_of(path)):
        return None
    if done >= {name for name, _ in STEPS}:
        return None
    kept = path.with_name(path.name + COPY)
    needed = sum(each.stat().st_size for each in _files(path)) + SPARE_BYTES
    free = shutil.disk_usage(path.parent).free
    if free < needed:
        raise StorageError(
            f"The database {path} is kept as it is before the upgrade changes it, and that needs "
            f"{needed / 1e6:.0f} MB; {free / 1e6:.0f} MB are free. Free some (df -h)."
        )
    part = kept.with_name(kept.name + ".part")
    part.unlink(missing_ok=True)
    _copy(path, part)
    part.replace(kept)
    _onto_the_disk(kept.parent)
    return kept


def _copy(path: Path, part: Path) -> None:
    part.touch(mode=0o600)
    with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(part)) as target:
        source.backup(target)
        target.execute("PRAGMA journal_mode = DELETE")
        ((said,),) = target.execute("PRAGMA integrity_check(1)").fetchall()
    if said != "ok":
        part.unlink()
        raise StorageError(
            f"The database {path} is damaged ({said}), so it was not upgraded. Put the last "
            "backup in its place."
        )
    _onto_the_disk(part)


def put_back(path: Path, kept: Path) -> bool:
    """Put a copy back if the layout has changed since; tell whether it has.

    What the database became is set aside, not removed. At every moment there is one in its place.

    Raises:
        StorageError: the copy is gone.
    """
    if not kept.exists():
        raise StorageError(f"{kept} is not there. Put the last backup in the place of {path}.")
    if path.exists():
        if steps_of(path) == steps_of(kept):
            return False
        _set_aside(path)
    kept.replace(path)
    _onto_the_disk(path.parent)
    return True


def _set_aside(path: Path) -> None:
    aside = path.with_name(path.name + SET_ASIDE)
    for each in _files(aside):
        each.unlink()
    # The log of the one must not be taken for the other's.
    for each in _files(path)[1:]:
        each.replace(aside.with_name(each.name.replace(path.name, aside.name, 1)))
    aside.hardlink_to(path)


def _files(path: Path) -> list[Path]:
    named = [path.with_name(path.name + end) for end in WITH_IT]
    return [each for each in named if each.exists()]


def _onto_the_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def main() -> None:
    """Do what the arguments say."""
    deed, settings, *kept = sys.argv[1:]
    try:
        database = load(Path(settings), os.environ).database
        if database.on_server:
            # Its steps are taken in one transaction each, and copies of it are made there.
            return
        path = path_of(database.url)
        if deed == "copy":
            made = copy(path)
            sys.stdout.write("" if made is None else f"{made}\n")
        elif put_back(path, Path(kept[0])):
            sys.stdout.write(
                f"  The database is as it was before the upgrade. What it became is "
                f"{path}{SET_ASIDE}.\n"
            )
    except ChamberwatchError as error:
        sys.exit(str(error))
    except (OSError, sqlite3.Error) as error:
        sys.exit(f"The database can't be kept as it is: {error}. Look at the disk it lies on.")


if __name__ == "__main__":
    main()
