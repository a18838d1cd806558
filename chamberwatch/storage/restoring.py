"""Putting a backup in the place of the database, whole or not at all; what was there stays aside.

All is made ready in a file beside the database: copied, brought to the newest schema, looked
through. Then a rename puts it in place, at one instant: a power cut leaves the one or the other.
"""

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from chamberwatch.core.backups import time_of
from chamberwatch.core.errors import StorageError
from chamberwatch.service.backing_up import LAST, TROUBLE, as_kept
from chamberwatch.service.backup_ports import Pace, Progress
from chamberwatch.service.whose import HOUSE
from chamberwatch.storage import migrations
from chamberwatch.storage.backup_folder import COPYING_PHOTOS, LOOKING, house_in
from chamberwatch.storage.backup_photos import copy_photo, photos_in
from chamberwatch.storage.book import WAIT_S
from chamberwatch.storage.columns import from_micros
from chamberwatch.storage.copying import look_through, stand_alone, standing_still
from chamberwatch.storage.engine import explained, make_writer
from chamberwatch.storage.photo_files import FOLDER as PHOTOS
from chamberwatch.storage.photo_files import settle

COPYING: Final = "copy"
BRINGING_UP_TO_DATE: Final = "bringing it up to date"
CHUNK: Final = 2**20
ROOM_BEYOND_BYTES: Final = 50_000_000
"""So much stays free: bringing a database to a newer schema may take some."""
LOGS: Final = ("-wal", "-journal")
"""What SQLite may have beside a database; it belongs to that very file."""
SQLITE: Final = b"SQLite format 3\0"
"""So begins every database file. Source: https://www.sqlite.org/fileformat2.html"""


@dataclass(frozen=True, slots=True)
class Seen:
    """What a backup holds, looked through.

    Attributes:
        file: the backup.
        rows: how many each table has.
        newest: time of the newest reading; None: there is none.
        steps_missing: how many steps lead from it to the newest schema.
    """

    file: Path
    rows: Mapping[str, int]
    newest: datetime | None
    steps_missing: int


@dataclass(frozen=True, slots=True)
class Restored:
    """What came of it.

    Attributes:
        seen: what is in place now.
        steps: of the schema that were taken.
        aside: where what was there lies now; None: there was nothing.
        photos: how many belong to it.
        lost_photos: how many of them have no file.
    """

    seen: Seen
    steps: Sequence[str]
    aside: Path | None
    photos: int
    lost_photos: int


def look_into(file: Path, pace: Pace) -> Seen:
    """Look a backup through, and change nothing.

    Raises:
        StorageError: it can't be used; the text says why and what to do.
        RefusedError: it was told to stop.
    """
    try:
        return _looked_into(file, pace)
    except OSError as exc:
        raise StorageError(
            f"The backup {file} can't be read: {exc.strerror or exc}. Look who may read it."
        ) from exc


def _looked_into(file: Path, pace: Pace) -> Seen:
    if not file.is_file():
        raise StorageError(f"There is no file {file}. Name a backup: a file that ends in .db.")
    for log in (Path(f"{file}{ending}") for ending in LOGS):
        if log.exists() and log.stat().st_size:
            raise StorageError(
                f"{log.name} lies beside {file}: it is a database in use and no backup, and part "
                "of it is still there. Make a backup of it (chamberwatch backup), and take that."
            )
    with file.open("rb") as begin:
        if begin.read(len(SQLITE)) not in (SQLITE, b""):
            raise StorageError(
                f"{file} is no backup: what it holds is no database. Name one that chamberwatch "
                "made, a file that ends in .db."
            )
    with _not_whole(file, sqlite3.Error), closing(standing_still(file)) as backup:
        names = {name for (name,) in backup.execute("SELECT name FROM sqlite_schema")}
        if not {"migrations", "readings"} <= names:
            raise StorageError(
                f"{file} holds nothing of chamberwatch's. Name a backup of chamberwatch."
            )
        done = frozenset(name for (name,) in backup.execute("SELECT name FROM migrations"))
        migrations.check(done)
        (newest,) = backup.execute("SELECT max(time) FROM readings").fetchone()
    with _not_whole(file, sqlite3.Error, StorageError):
        rows = look_through(file, pace)
    at = None if newest is None else from_micros(newest)
    return Seen(file, rows, at, len(migrations.STEPS) - len(done))


@contextmanager
def _not_whole(file: Path, *errors: type[Exception]) -> Iterator[None]:
    """Say of a backup that is damaged that the database is not."""
    try:
        yield
    except errors as exc:
        raise StorageError(
            f"The backup {file} is damaged or not whole. Your database was not touched. Put an "
            "older one in place; its folder lists them: chamberwatch restore FOLDER"
        ) from exc


def restore(seen: Seen, database: Path, now: datetime, pace: Pace, progress: Progress) -> Restored:
    """Put a backup in the place of the database. Nothing else may have that open.

    Args:
        seen: the backup, looked through.
        database: the file; its photos lie beside it.
        now: names what is put aside.
        pace: when to stop.
        progress: told how it goes.

    Raises:
        StorageError: it can't be done; what was there is there as it was.
        RefusedError: it was told to stop, likewise.
    """
    part = database.with_name(f".{database.name}.restoring")
    try:
        _clear(part)
        _copy(seen.file, part, pace, lambda share: progress(COPYING, share))
        steps = _bring_up_to_date(part, now, progress)
        progress(LOOKING, 0.0)
        rows = look_through(part, pace)
        if any(rows.get(n) != k for n, k in seen.rows.items() if n != "migrations"):
            raise StorageError(
                f"What was made of {seen.file} beside {database} does not hold what it should. "
                "Nothing was changed; look at the disk, and try again."
            )
        progress(LOOKING, 1.0)
        _tell_the_copy(part, seen.file, house_in(database))
        photos, lost = _photos(seen.file, part, database, pace, progress)
        _belongs_like(part, database)
        aside = _put_in_place(part, database, now)
    except OSError as exc:
        raise StorageError(
            f"The backup can't be put in the place of {database}: {exc.strerror or exc}. Look "
            "whether the disk is full and who may write there; what was there is there as it was."
        ) from exc
    finally:
        with suppress(OSError):
            _clear(part)
    return Restored(seen, steps, aside, photos, lost)


def _copy(source: Path, target: Path, pace: Pace, told: Callable[[float], None]) -> None:
    size, done = source.stat().st_size, 0
    free = shutil.disk_usage(target.parent).free
    if free < size + ROOM_BEYOND_BYTES:
        raise StorageError(
            f"{target.parent} has {free // 1_000_000} MB free, and the backup needs "
            f"{(size + ROOM_BEYOND_BYTES) // 1_000_000} MB beside what is there. Make room."
        )
    target.touch(mode=0o600)
    with source.open("rb") as original, target.open("r+b") as copy:
        while chunk := original.read(CHUNK):
            pace.check()
            copy.write(chunk)
            done += len(chunk)
            told(done / size)


def _bring_up_to_date(part: Path, now: datetime, progress: Progress) -> Sequence[str]:
    writer = make_writer(part, WAIT_S)
    try:
        with explained(part):
            taken = migrations.migrate(
                writer, now, before_step=lambda _: progress(BRINGING_UP_TO_DATE, 0.0)
            )
        if taken:
            progress(BRINGING_UP_TO_DATE, 1.0)
    finally:
        writer.dispose()
    with explained(part):
        stand_alone(part)
    return taken


def _tell_the_copy(part: Path, backup: Path, house: str | None) -> None:
    """Let the copy know what it could not: which backup there is, and whose it is now.

    Args:
        part: the copy.
        backup: what it was made of.
        house: of the database that it takes the place of; None: there is none.
    """
    at, known = time_of(backup.name), {TROUBLE: "{}"}
    if at is not None:
        known[LAST] = as_kept(backup, at, backup.stat().st_size)
    if house is not None:
        known[HOUSE] = house
    with explained(part), closing(sqlite3.connect(part)) as copy, copy:
        copy.executemany(
            "INSERT INTO texts (name, value) VALUES (?, ?) "
            "ON CONFLICT (name) DO UPDATE SET value = excluded.value",
            known.items(),
        )


def _photos(
    backup: Path, part: Path, database: Path, pace: Pace, progress: Progress
) -> tuple[int, int]:
    """Bring the pictures back that are not there; those that are stay, for what is put aside."""
    digests = photos_in(part)
    target = database.parent / PHOTOS
    lost = 0
    for number, digest in enumerate(digests, start=1):
        pace.check()
        lost += not copy_photo(digest, backup.parent / PHOTOS, target, pace)
        progress(COPYING_PHOTOS, number / len(digests))
    if target.is_dir():
        for each in (target, *target.iterdir()):
            _belongs_like(each, database)
    return len(digests), lost


def _belongs_like(path: Path, database: Path) -> None:
    """Give a file to whom the database belongs, or its folder: root may be at work here."""
    model = (database if database.exists() else database.parent).stat()
    if os.geteuid() == 0:
        os.chown(path, model.st_uid, model.st_gid)


def _put_in_place(part: Path, database: Path, now: datetime) -> Path | None:
    aside = None
    if database.exists():
        _fold(database)
        aside = database.with_name(f"{database.name}.before-{now.astimezone(UTC):%Y%m%d-%H%M%S}")
        _also_as(database, aside)
    # A log of a database that is not there any more would be taken for that of the new one.
    for ending in (*LOGS, "-shm"):
        log = Path(f"{database}{ending}")
        # A sound one is folded in and gone by now; one that could not be is not thrown away.
        if aside is not None and ending in LOGS and log.exists():
            _also_as(log, Path(f"{aside}{ending}"))
        log.unlink(missing_ok=True)
    part.replace(database)
    settle(database.parent)
    return aside


def _fold(database: Path) -> None:
    """Make of the database one file, so that nothing of it lies in a log that would be left.

    Where it is damaged, what its log holds is written back as far as SQLite can, and it stays as
    it is otherwise.

    Raises:
        StorageError: others have it open.
    """
    in_use = StorageError(
        f"The database {database} is open in another program. End it, and restore again."
    )
    try:
        with closing(sqlite3.connect(database, timeout=0, isolation_level=None)) as old:
            (mode,) = old.execute("PRAGMA journal_mode = DELETE").fetchone()
    except sqlite3.OperationalError as exc:
        if getattr(exc, "sqlite_errorcode", 0) & 0xFF in {
            sqlite3.SQLITE_BUSY,
            sqlite3.SQLITE_LOCKED,
        }:
            raise in_use from exc
        return
    except sqlite3.DatabaseError:
        return  # It is damaged: perhaps that is why it is replaced.
    if mode != "delete":
        raise in_use


def _also_as(path: Path, name: Path) -> None:
    """Give a file a second name; where a disk can't, the name is that of a copy."""
    try:
        name.hardlink_to(path)
    except FileExistsError:
        raise
    except OSError:
        shutil.copy2(path, name)
        with name.open("rb") as file:
            os.fsync(file.fileno())


def _clear(part: Path) -> None:
    for ending in ("", *LOGS, "-shm"):
        Path(f"{part}{ending}").unlink(missing_ok=True)
