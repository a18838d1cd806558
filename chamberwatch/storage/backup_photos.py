"""Photos of backups: those that a copy of a database names, each file once for all of them."""

import hashlib
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from chamberwatch.core.errors import StorageError
from chamberwatch.service.backup_ports import Pace
from chamberwatch.storage.copying import standing_still
from chamberwatch.storage.photo_files import PhotoFolder


def photos_in(path: Path) -> Sequence[str]:
    """Return the digests of the photos that a copy of a database names.

    Raises:
        StorageError: it can't be read.
    """
    try:
        with closing(standing_still(path)) as copy:
            there = copy.execute("SELECT 1 FROM sqlite_schema WHERE name = 'photos'").fetchone()
            if there is None:
                return ()
            asked = "SELECT DISTINCT digest FROM photos WHERE removed IS NULL ORDER BY digest"
            return [digest for (digest,) in copy.execute(asked)]
    except sqlite3.Error as exc:
        raise StorageError(f"{path} can't be read ({exc}). Take another backup.") from exc


def files_of(digest: str) -> tuple[str, str]:
    """Return the names of the files of a photo: the picture, and a small one of it."""
    return f"{digest}.jpg", f"{digest}-small.jpg"


def copy_photo(digest: str, source: Path, target: Path, pace: Pace) -> bool:
    """Copy the files of a photo that are not there yet; tell whether both are there now.

    Raises:
        StorageError: they can't be read or written.
    """
    files, copies = PhotoFolder(source), PhotoFolder(target)
    whole = True
    for name in files_of(digest):
        if (target / name).exists():
            continue
        began_s = pace.clock.monotonic()
        data = files.read(name)
        # The picture is named by what it holds: one that was damaged is no use to anybody.
        if data is None or (name == f"{digest}.jpg" and _digest(data) != digest):
            whole = False
        else:
            copies.keep(name, data)
            pace.rest(began_s)
    return whole


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
