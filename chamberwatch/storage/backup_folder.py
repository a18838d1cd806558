"""A folder of backups: a file for each, and the photos of all of them once.

    chamberwatch-20260120-031000.db             the database, one file
    chamberwatch-20260120-031000.toml           the settings, without their secrets
    photos/                                     by their digests, so that none is there twice

A mark says that backups belong there. Without it nothing is written: where a stick is not plugged
in, its mount point is an empty folder of the card.
"""

import fcntl
import os
import shutil
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import BinaryIO, Final

from chamberwatch.core.backups import Stay, name_of, staying, time_of
from chamberwatch.core.errors import ChamberwatchError, RefusedError, StorageError
from chamberwatch.service.backup_ports import Made, Pace, Progress, Rotated
from chamberwatch.service.whose import HOUSE
from chamberwatch.storage.backup_photos import copy_photo, files_of, photos_in
from chamberwatch.storage.copying import copy_database, look_through, unwritable
from chamberwatch.storage.photo_files import FOLDER as PHOTOS
from chamberwatch.storage.photo_files import settle

MARK: Final = "backups-of-chamberwatch"
MARKED: Final = "Backups of chamberwatch go into this folder. Without this file none is written.\n"
PART: Final = ".part"
DATABASE, COPYING_PHOTOS, LOOKING = "database", "photos", "looking it through"
LOOK_EVERY_S: Final = 5.0
"""Whether another backup is done. [s]"""
ROOM_BEYOND_BYTES: Final = 20_000_000
"""So much stays free on the disk of the backups."""


@dataclass(frozen=True, slots=True)
class BackupFolder:
    """Where backups of one database go.

    Attributes:
        folder: where.
        database: the file; its photos lie beside it.
    """

    folder: Path
    database: Path

    def begin(self) -> None:
        """Put the mark there; the folder is made, but not what it lies in.

        Raises:
            StorageError: it can't be written.
        """
        self._must_be_another()
        try:
            self.folder.mkdir(mode=0o700, exist_ok=True)
            (self.folder / MARK).write_text(MARKED, encoding="utf-8")
            owner = self.database if self.database.exists() else self.database.parent
            _give(owner.stat(), self.folder, self.folder / MARK)
        except OSError as exc:
            raise unwritable(self.folder, exc.strerror or str(exc)) from exc

    def trouble(self) -> str:
        """Return why nothing would be written here, with the cure; empty: it would be."""
        try:
            if not (self.folder / MARK).is_file():
                return str(self._unmarked())
        except OSError as exc:  # a disk that dies, or a folder that is closed to us
            return str(unwritable(self.folder, exc.strerror or str(exc)))
        if not os.access(self.folder, os.W_OK):
            return (
                f"Nothing can be written to {self.folder}: it is mounted to be read only, or it "
                f"belongs to somebody else. Look at the stick, or: sudo chown chamberwatch: "
                f"{self.folder}"
            )
        return ""

    @staticmethod
    def missed(last: str) -> str:
        """Return that a backup is not where it was made any more; empty: it is."""
        file = Path(last)
        if not last or not file.parent.is_dir() or file.exists():
            return ""
        return f"The last backup, {file}, is not there any more. Make one now: chamberwatch backup"

    def all(self) -> Sequence[tuple[datetime, Path]]:
        """Return every backup there is, the newest first."""
        found = ((time_of(path.name), path) for path in self.folder.glob("*.db"))
        return sorted(((at, path) for at, path in found if at is not None), reverse=True)

    # ------------------------------------------------------------ making one

    def make(
        self,
        now: datetime,
        beside: Mapping[str, str],
        pace: Pace,
        progress: Progress,
    ) -> Made:
        """Copy everything, look the copy through, and only then give it its name; see `alone`.

        Args:
            now: names it.
            beside: texts to keep with it, by the ends of their names.
            pace: when to rest, and to stop.
            progress: told how it goes.

        Raises:
            StorageError: it can't be made; nothing of it is left, and the others are as they were.
            RefusedError: it was told to stop.
        """
        self._must_be_another()
        if trouble := self.trouble():
            raise StorageError(trouble)
        try:
            return self._make(now, beside, pace, progress)
        except OSError as exc:
            raise unwritable(self.folder, exc.strerror or str(exc)) from exc
        finally:
            with suppress(OSError):
                self._tidy()
                # Root may be at work here, and the service makes the next one.
                photos = self.folder / PHOTOS
                made = self.folder.glob("chamberwatch-*")
                _give((self.folder / MARK).stat(), *made, photos, *photos.glob("*.jpg"))

    def _must_be_another(self) -> None:
        if self.folder.resolve() == self.database.parent.resolve():
            raise StorageError(
                f"{self.folder} is where the database itself and its photos lie; a backup there "
                "would be lost with them, and photos be taken for copies. Name another folder, on "
                "a disk of its own."
            )

    def _make(
        self, now: datetime, beside: Mapping[str, str], pace: Pace, progress: Progress
    ) -> Made:
        self._tidy()
        self._must_have_room()
        at, path = self._free_name(now)
        part = path.with_name(f".{path.name}{PART}")
        made = self._made(at, path, part, pace, progress)
        for ending, text in beside.items():
            self._keep(path.with_name(f"{path.stem}{ending}"), text)
        part.replace(path)
        settle(self.folder)
        return made

    @staticmethod
    def _keep(path: Path, text: str) -> None:
        part = path.with_name(f".{path.name}{PART}")
        part.touch(mode=0o600)
        with part.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)

    def _made(self, at: datetime, path: Path, part: Path, pace: Pace, progress: Progress) -> Made:
        rows = copy_database(self.database, part, pace, lambda share: progress(DATABASE, share))
        photos, lost = self._copy_photos(part, pace, progress)
        progress(LOOKING, 0.0)
        seen = look_through(part, pace)
        progress(LOOKING, 1.0)
        if seen != rows:
            wrong = ", ".join(name for name in rows if seen.get(name) != rows[name])
            raise StorageError(
                f"The backup in {self.folder} does not hold what the database does ({wrong}). It "
                "was not kept; look at that disk, and try again."
            )
        return Made(path, at, part.stat().st_size, rows.get("readings", 0), photos, lost)

    def _copy_photos(self, copy: Path, pace: Pace, progress: Progress) -> tuple[int, int]:
        """Copy the pictures that are not there yet; return how many there are, and are lost."""
        digests = photos_in(copy)
        lost = 0
        for number, digest in enumerate(digests, start=1):
            pace.check()
            lost += not copy_photo(
                digest, self.database.parent / PHOTOS, self.folder / PHOTOS, pace
            )
            progress(COPYING_PHOTOS, number / len(digests))
        return len(digests), lost

    def _free_name(self, now: datetime) -> tuple[datetime, Path]:
        """Return a time that no backup has yet, and the name of it."""
        at = now.replace(microsecond=0)
        while (path := self.folder / name_of(at)).exists():
            at += timedelta(seconds=1)
        return at, path

    def _must_have_room(self) -> None:
        need = sum(
            path.stat().st_size
            for path in (self.database, Path(f"{self.database}-wal"))
            if path.exists()
        )
        free = shutil.disk_usage(self.folder).free
        if free < need + ROOM_BEYOND_BYTES:
            others = self._of_others()
            more = (
                f" {others} of the backups there are of another house or don't say of which: they "
                "stay until you delete them."
                if others
                else ""
            )
            raise StorageError(
                f"{self.folder} has {free // 1_000_000} MB free, and a backup needs "
                f"{(need + ROOM_BEYOND_BYTES) // 1_000_000} MB. Make room there, let fewer stay "
                f"(days, weeks, months under [backup]), or take a larger disk.{more}"
            )

    def _of_others(self) -> int:
        """Return how many backups are not known to be of this house."""
        house = house_in(self.database)
        return sum(1 for _, path in self.all() if house is None or house_in(path) != house)

    @contextmanager
    def alone(self, pace: Pace, patience_s: float) -> Iterator[None]:
        """Keep other backups out of the folder until the block is left.

        Args:
            pace: when to stop waiting.
            patience_s: how long to wait for another one to be done. [s]

        Raises:
            StorageError: it is no place for backups, or the other one is not done in time.
            RefusedError: another one is being made and shall not be waited for, or it was told
                to stop.
        """
        until_s = pace.clock.monotonic() + patience_s
        with self._mark() as mark:
            while not self._taken(mark):
                if pace.clock.monotonic() >= until_s:
                    raise self._busy(patience_s)
                pace.clock.wait(pace.stopping, LOOK_EVERY_S)
                pace.check()
            yield

    @contextmanager
    def _mark(self) -> Iterator[BinaryIO]:
        try:
            mark = (self.folder / MARK).open("r+b")
        except FileNotFoundError:
            raise self._unmarked() from None
        except OSError as exc:
            raise unwritable(self.folder, exc.strerror or str(exc)) from exc
        with mark:
            yield mark

    def _taken(self, mark: BinaryIO) -> bool:
        """Take the mark; tell whether nobody else holds it."""
        try:
            fcntl.flock(mark, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError as exc:  # some folders of a network know no locks
            raise unwritable(self.folder, exc.strerror or str(exc)) from exc
        return True

    def _busy(self, patience_s: float) -> ChamberwatchError:
        """Return what to say: to a person beside it, or of a night without a backup."""
        if not patience_s:
            return RefusedError(
                f"Another backup is being made in {self.folder}. Wait until it is done."
            )
        return StorageError(
            f"Another backup was still being made in {self.folder} after "
            f"{patience_s / 3600:.1f} h. Look for a chamberwatch backup that hangs; if another "
            "house uses that folder, give one of them another hour (at under [backup])."
        )

    def _unmarked(self) -> StorageError:
        if not self.folder.is_dir():
            return StorageError(
                f"The folder {self.folder} for backups is not there. Plug the stick in and mount "
                "it; if the folder is new, begin it once: "
                f"chamberwatch backup --new-place --to {self.folder}"
            )
        return StorageError(
            f"{self.folder} is not marked as a place for backups: perhaps the stick is not "
            f"plugged in, or not mounted (sudo mount {self.folder}). Only where the right disk is "
            f"there and new, begin it once: chamberwatch backup --new-place --to {self.folder}"
        )

    def _tidy(self) -> None:
        """Take away what a backup left that was broken off."""
        for folder in (self.folder, self.folder / PHOTOS):
            for path in folder.glob(f".*{PART}*"):
                path.unlink(missing_ok=True)
        for path in self.folder.glob("chamberwatch-*.toml"):
            # Of ours alone: others may keep a file of theirs under a name like it.
            name = f"{path.name.partition('.')[0]}.db"
            if time_of(name) is not None and not (self.folder / name).exists():
                path.unlink(missing_ok=True)

    # ------------------------------------------------------------ which stay

    def rotate(self, stay: Stay, zone: tzinfo, made: Made) -> Rotated:
        """Take away those of this house that stay no longer, never the one just made.

        Whatever does not say that it is of this house stays: another one may use the same folder.
        See `alone`: a backup that is being made may rest on photos that none names yet.

        Raises:
            StorageError: they can't be taken away.
        """
        try:
            house, there = house_in(made.file), self.all()
            ours = {at: path for at, path in there if house and house_in(path) == house}
            keeping = staying(ours, stay, zone) | {made.at}
            going = [path for at, path in ours.items() if at not in keeping]
            for path in going:
                for each in self.folder.glob(f"{path.stem}.*"):
                    each.unlink()
            left = [path for _, path in there if path not in going]
            trouble = self._drop_photos(left) if going else ""
        except OSError as exc:
            raise unwritable(self.folder, exc.strerror or str(exc)) from exc
        return Rotated(tuple(path.name for path in going), trouble)

    def _drop_photos(self, stays: Sequence[Path]) -> str:
        """Take the pictures away that none of the backups names that stay.

        Return what is wrong where one can't be read: then all pictures stay.
        """
        named = set[str]()
        for path in stays:
            try:
                named |= {name for digest in photos_in(path) for name in files_of(digest)}
            except StorageError:
                return (
                    f"{path} can't be read, so no photo was taken away, for fear that it is of "
                    "that backup. Look who may read it, and at the disk; if it is damaged, "
                    "delete it."
                )
        for path in (self.folder / PHOTOS).glob("*.jpg"):
            if path.name not in named:
                path.unlink()
        return ""


def _give(owner: os.stat_result, *paths: Path) -> None:
    """Give files that root made to whom they are for; a disk that knows no owners is left so."""
    if os.geteuid() != 0:
        return
    for path in paths:
        with suppress(OSError):
            os.chown(path, owner.st_uid, owner.st_gid)


def house_in(path: Path) -> str | None:
    """Return of which house a database is, None where it does not say or can't be read."""
    if not path.exists():
        return None
    # Where nobody has it open nothing is left beside it.
    log = Path(f"{path}-wal")
    in_use = log.exists() and log.stat().st_size > 0
    uri = f"{path.absolute().as_uri()}?mode=ro{'' if in_use else '&immutable=1'}"
    asked = "SELECT value FROM texts WHERE name = ?"
    try:
        with closing(sqlite3.connect(uri, uri=True)) as copy:
            found = copy.execute(asked, (HOUSE,)).fetchone()
    except sqlite3.Error:
        return None
    return str(found[0]) if found else None
