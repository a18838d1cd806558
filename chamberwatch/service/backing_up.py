"""Backups: made, rotated, and what is known of the last one, for whoever asks how it stands."""

import json
import logging
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Final

from chamberwatch.core.backups import BackupStand, Stay
from chamberwatch.core.errors import ChamberwatchError, RefusedError, StorageError
from chamberwatch.service.backup_ports import BackupPlace, Made, Pace, Progress, Rotated
from chamberwatch.service.books import Book, Books
from chamberwatch.service.ports import Clock
from chamberwatch.service.whose import HOUSE, Keeps, house_of

log = logging.getLogger(__name__)

LAST: Final = "last backup"
TROUBLE: Final = "trouble with backups"
"""Names of kept texts."""

PATIENCE_AT_NIGHT_S: Final = 2 * 3600.0
"""Another house may make its own in the same folder at the same hour. [s]"""

FAULT: Final = "It failed for a fault of ours, which was written to the log."


def as_kept(file: Path, at: datetime, size: int) -> str:
    """Write what is kept of the last backup under `LAST`: its file, its moment, its size [B]."""
    return json.dumps({"file": str(file), "at": at.isoformat(), "size": size})


def stand(kept: Keeps) -> BackupStand:
    """Return how it stands with backups, from `book.kept`."""
    last, trouble = _read(kept.text(LAST)), _read(kept.text(TROUBLE))
    return BackupStand(
        file=str(last.get("file", "")),
        at=datetime.fromisoformat(last["at"]) if "at" in last else None,
        size=int(last.get("size", 0)),
        trouble=str(trouble.get("words", "")),
        since=datetime.fromisoformat(trouble["since"]) if "since" in trouble else None,
    )


@dataclass(frozen=True, slots=True)
class BackingUp:
    """Makes backups in one place.

    Attributes:
        books: keep what is known of the last one.
        clock: the time.
        place: where they go.
        stay: how many stay; None: all of them.
        zone: whose days, weeks and months those are.
        beside: texts to keep with each, by the ends of their names.
    """

    books: Books
    clock: Clock
    place: BackupPlace
    stay: Stay | None
    zone: tzinfo
    beside: Callable[[], Mapping[str, str]] = dict

    def make(
        self,
        stopping: threading.Event,
        progress: Progress = lambda _, __: None,
        patience_s: float = 0.0,
    ) -> tuple[Made, Rotated]:
        """Make one; return it, and what went since it is there.

        Args:
            stopping: ends it in between.
            progress: told how it goes.
            patience_s: how long to wait for another one in the same place to be done. [s]

        Raises:
            StorageError: it can't be made; that is kept, to be shown.
            RefusedError: it was told to stop.
        """
        try:
            self._sign()
            pace = Pace(stopping, self.clock)
            with self.place.alone(pace, patience_s):
                made = self.place.make(self.clock.now(), self.beside(), pace, progress)
                went = self._rotated(made)
        except StorageError as error:
            self._keep_trouble(str(error))
            raise
        self._keep_made(made)
        return made, went

    def _rotated(self, made: Made) -> Rotated:
        """Take old ones away; that it fails makes the new one no worse."""
        if self.stay is None:
            return Rotated()
        try:
            return self.place.rotate(self.stay, self.zone, made)
        except StorageError as error:
            return Rotated(trouble=f"Old backups could not be taken away. {error}")

    def _keep_made(self, made: Made) -> None:
        """Keep what was made; where even that can't be written, the log has it."""
        try:
            with self.books.write() as book:
                book.kept.keep_text(LAST, as_kept(made.file, made.at, made.size))
                book.kept.keep_text(TROUBLE, "{}")
        except StorageError as error:
            log.warning("The backup %s is there, but that could not be kept: %s", made.file, error)

    def _sign(self) -> None:
        """See to it that a copy tells whose it is: other houses may use the same folder."""
        # A copy is made also of a database that can't be written any more.
        with suppress(StorageError):
            with self.books.read() as book:
                signed = book.kept.text(HOUSE) is not None
            if not signed:
                with self.books.write() as book:
                    house_of(book.kept)

    def night(self, stopping: threading.Event) -> None:
        """Make one; whatever goes wrong is kept, and said once. Nothing is raised."""
        before = self._trouble()
        try:
            made, went = self.make(stopping, patience_s=PATIENCE_AT_NIGHT_S)
        except RefusedError:
            log.info("The backup was broken off; the next one is made tomorrow night.")
        except ChamberwatchError as error:
            if str(error) != before:
                log.warning("There is no backup of tonight. %s", error)
        except Exception:
            if before != FAULT:
                log.exception("There is no backup of tonight. %s", FAULT)
            self._keep_trouble(FAULT)
        else:
            self._say(made, went)

    def _say(self, made: Made, went: Rotated) -> None:
        more = f"; gone: {', '.join(went.gone)}" if went.gone else ""
        log.info("Backup made: %s, %d MB%s", made.file, made.size // 1_000_000, more)
        if went.trouble:
            log.warning("%s", went.trouble)
        if made.lost_photos:
            log.warning(
                "%d of %d photos have no sound file to be copied. Put the folder of photos back "
                "from an older backup, if there is one.",
                made.lost_photos,
                made.photos,
            )

    def _trouble(self) -> str:
        try:
            with self.books.read() as book:
                return stand(book.kept).trouble
        except StorageError:
            return ""

    def _keep_trouble(self, words: str) -> None:
        """Keep why there is none; where even that can't be written, the log has it."""
        try:
            with self.books.write() as book:
                old = stand(book.kept)
                since = old.since if old.trouble == words and old.since else self.clock.now()
                told = {"words": words, "since": since.isoformat()}
                book.kept.keep_text(TROUBLE, json.dumps(told))
        except StorageError as error:
            log.warning("What is wrong with the backup could not be kept: %s", error)


def copy_as_it_is(
    place: BackupPlace,
    clock: Clock,
    beside: Mapping[str, str],
    stopping: threading.Event,
    progress: Progress,
) -> Made:
    """Make a backup of a database that must not be written.

    Nothing is noted in it, and every older backup stays.

    Raises:
        StorageError: it can't be made.
        RefusedError: it was told to stop.
    """
    pace = Pace(stopping, clock)
    with place.alone(pace, 0.0):
        return place.make(clock.now(), beside, pace, progress)


def last_backup(book: Book) -> BackupStand:
    """Return how it stands with backups."""
    return stand(book.kept)


def _read(text: str | None) -> dict[str, str]:
    """Return what was kept; nothing where it can't be read."""
    try:
        found = json.loads(text or "{}")
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}
