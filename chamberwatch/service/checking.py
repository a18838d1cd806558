"""The watcher looks itself over: at its start, once a day, and as often as somebody asks."""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from typing import Final

from chamberwatch.core import self_check
from chamberwatch.core.self_check import Database, Disk, SelfCheck
from chamberwatch.core.watch.reading import Reading
from chamberwatch.service.ports import Clock

log = logging.getLogger(__name__)

BUDGET_S: Final = 5.0
"""How long the database is looked through while somebody waits, or the daemon starts. [s]"""
BUDGET_AT_NIGHT_S: Final = 20.0
"""Longer than in the day, and short enough for a stop to wait for. [s]"""
BROKER_WITHIN_S: Final = 3.0


@dataclass(frozen=True, slots=True)
class Probes:
    """Who looks.

    Attributes:
        disk: at the disk.
        database: at the database, for so long. [s]
        broker: what keeps the broker from us, None where it lets us in; waits so long. [s]
        address: of the broker, to be told.
    """

    disk: Callable[[], Disk]
    database: Callable[[float], Database]
    broker: Callable[[float], str | None]
    address: str


@dataclass(slots=True)
class Checkup:
    """Looks, and keeps what takes long to find.

    Attributes:
        probes: who looks.
        clock: the time, and whether it can be believed.
        newest: gives the newest reading; None: what the database says.
        zone: of the site, for times in words.
    """

    probes: Probes
    clock: Clock
    newest: Callable[[], Reading | None] | None = None
    zone: tzinfo = UTC
    _database: Database | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def look(self, budget_s: float = BUDGET_S) -> tuple[SelfCheck, ...]:
        """Look at everything."""
        found = self.probes.database(budget_s)
        with self._lock:
            self._database = found
        return self._lines(found, self.probes.broker(BROKER_WITHIN_S))

    def at_start(self) -> None:
        """Look at everything and log each line."""
        for line in self.look():
            log.log(
                logging.INFO if line.well else logging.WARNING, "%s: %s", line.name, line.words
            )

    def go_on_from(self, other: "Checkup") -> None:
        """Take over what another one found in the same database."""
        found = other.known()
        with self._lock:
            self._database = found

    def known(self) -> Database | None:
        """Return what was last found in the database, None before the first look."""
        with self._lock:
            return self._database

    def at_night(self) -> None:
        """Look at everything with more patience; log what is wrong."""
        for line in self.look(BUDGET_AT_NIGHT_S):
            if not line.well:
                log.warning("%s: %s", line.name, line.words)

    def now(self) -> tuple[SelfCheck, ...]:
        """Return how it is now; the database as it was when it was last looked through."""
        return self._lines(self.known(), self.probes.broker(0.0))

    def _lines(self, found: Database | None, trouble: str | None) -> tuple[SelfCheck, ...]:
        kept = found.newest if found is not None else None
        newest = self.newest() if self.newest is not None else kept
        lines = [
            self_check.clock(
                self.clock.now(),
                newest,
                synchronised=self.clock.synchronised(),
                zone=self.zone,
            ),
            self_check.disk(self.probes.disk()),
            self_check.broker(self.probes.address, trouble),
        ]
        if found is not None:
            lines.append(self_check.database(found, self.zone))
        return tuple(lines)
