"""What is done at night: a backup first, and then what is old goes. Neither ends the other."""

import json
import logging
import threading
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.errors import StorageError
from chamberwatch.service.backing_up import BackingUp
from chamberwatch.service.books import Books
from chamberwatch.service.ports import Clock
from chamberwatch.service.thinning import Thinned, Thinning

log = logging.getLogger(__name__)

LAST_NIGHT: Final = "last thinning"
"""Name of the kept text."""
A_NIGHT_AT_MOST: Final = timedelta(hours=26)
"""From one night to the next, with an hour for the clock that is put back and one to spare."""


@dataclass(frozen=True, slots=True)
class ThinningStand:
    """How it stands with old readings, for whoever asks.

    Attributes:
        at: when it was last looked for them, ISO 8601; empty: never.
        readings: how many went then.
        longest_ms: the longest that the database was held for it. [ms]
        waits: why they stay, in plain words; empty: they don't.
    """

    at: str = ""
    readings: int = 0
    longest_ms: int = 0
    waits: str = ""


def thinning_stand(books: Books) -> ThinningStand:
    """Return how it stands with old readings.

    Raises:
        StorageError: the database can't be read.
    """
    with books.read() as book:
        text = book.kept.text(LAST_NIGHT)
    try:
        return ThinningStand(**json.loads(text or "{}"))
    except (TypeError, ValueError):
        return ThinningStand()


@dataclass(slots=True)
class Upkeep:
    """The work of a night.

    Attributes:
        books: keep how it went.
        clock: the time.
        thinning: drops what is old.
        backing_up: makes the backup before that; None: nowhere to put one.
    """

    books: Books
    clock: Clock
    thinning: Thinning
    backing_up: BackingUp | None = None
    _tried: datetime | None = field(default=None, init=False)
    _at_work: threading.Lock = field(default_factory=threading.Lock, init=False)

    def if_missed(self, stopping: threading.Event) -> None:
        """Do it now where there was no night for more than a day: the machine was off then."""
        if self._missed(self.clock.now()):
            self.night(stopping)

    def _missed(self, now: datetime) -> bool:
        if self._tried is not None and now - self._tried < A_NIGHT_AT_MOST:
            return False
        try:
            at = thinning_stand(self.books).at
            return not at or now - datetime.fromisoformat(at) >= A_NIGHT_AT_MOST
        except (StorageError, ValueError):
            return False

    def night(self, stopping: threading.Event) -> None:
        """Do it all, until told to stop, unless it is being done; nothing is raised."""
        if not self._at_work.acquire(blocking=False):
            return
        try:
            self._tried = self.clock.now()
            if self.backing_up is not None:
                self.backing_up.night(stopping)
            if not stopping.is_set():
                self._thin(stopping)
        finally:
            self._at_work.release()

    def _thin(self, stopping: threading.Event) -> None:
        try:
            thinned = self.thinning.night(stopping)
            waited = thinning_stand(self.books).waits
            self._keep(thinned)
        except StorageError as error:
            log.warning("Old readings could not be dropped; it is tried the next night. %s", error)
        except Exception:
            log.exception("Dropping old readings failed; it is tried the next night.")
        else:
            self._say(thinned, waited)

    @staticmethod
    def _say(thinned: Thinned, waited: str) -> None:
        if thinned.waits and thinned.waits != waited:
            log.warning(thinned.waits)
        if thinned.readings and thinned.before is not None:
            log.info(
                "%d readings older than %s went; what they came to stays. The database was held "
                "for %.0f ms at the longest.",
                thinned.readings,
                f"{thinned.before:%Y-%m-%d}",
                1000 * thinned.longest_s,
            )

    def _keep(self, thinned: Thinned) -> None:
        told = {
            "at": self.clock.now().isoformat(),
            "readings": thinned.readings,
            "longest_ms": round(1000 * thinned.longest_s),
            "waits": thinned.waits,
        }
        with self.books.write() as book:
            book.kept.keep_text(LAST_NIGHT, json.dumps(told))
