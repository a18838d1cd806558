"""Where backups go, as the service sees it."""

import threading
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Final, Protocol

from chamberwatch.core.backups import Stay
from chamberwatch.core.errors import RefusedError
from chamberwatch.service.ports import Clock

SHORTEST_REST_S: Final = 0.02
STOPPED: Final = (
    "Broken off: nothing of it is left, and what was there before is as it was. Begin it again "
    "when you like."
)

Progress = Callable[[str, float], None]
"""Told what is done, and how much of it, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Pace:
    """How a long job goes on beside others: with rests, and only until it is told to stop.

    Attributes:
        stopping: ends it in between.
        clock: measures the rests.
    """

    stopping: threading.Event
    clock: Clock

    def check(self) -> None:
        """Go on, or not.

        Raises:
            RefusedError: it is to stop.
        """
        if self.stopping.is_set():
            raise RefusedError(STOPPED)

    def rest(self, since_s: float) -> float:
        """Rest as long as the work took that began then; return when the next begins. [s]."""
        took_s = self.clock.monotonic() - since_s
        self.clock.wait(self.stopping, max(SHORTEST_REST_S, took_s))
        return self.clock.monotonic()


@dataclass(frozen=True, slots=True)
class Made:
    """A backup that was made and looked through.

    Attributes:
        file: the copy of the database.
        at: the moment that it shows.
        size: of that file. [B]
        readings: how many single readings are in it.
        photos: how many photos belong to it.
        lost_photos: how many of them had no file to copy.
    """

    file: Path
    at: datetime
    size: int
    readings: int
    photos: int = 0
    lost_photos: int = 0


@dataclass(frozen=True, slots=True)
class Rotated:
    """What was taken away since newer ones stand in for it.

    Attributes:
        gone: names of backups.
        trouble: what could not be done of it, with the cure; empty: nothing.
    """

    gone: tuple[str, ...] = ()
    trouble: str = ""


class BackupPlace(Protocol):
    """A folder for backups."""

    @property
    def folder(self) -> Path:
        """Return where it is."""
        ...

    def alone(self, pace: Pace, patience_s: float) -> AbstractContextManager[None]:
        """Keep other backups out of the place until the block is left.

        Args:
            pace: when to stop waiting.
            patience_s: how long to wait for another one to be done. [s]

        Raises:
            StorageError: there is no such place, or the other one is not done in time.
            RefusedError: another one is being made and shall not be waited for, or it was told
                to stop.
        """
        ...

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
        ...

    def rotate(self, stay: Stay, zone: tzinfo, made: Made) -> Rotated:
        """Take away those of the same house that stay no longer, never the one just made.

        See `alone`.
        """
        ...
