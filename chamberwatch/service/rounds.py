"""What time alone brings about: sensors gone quiet, shelves that end."""

import logging
import threading
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reminder import Call
from chamberwatch.service.board import Board
from chamberwatch.service.books import Books
from chamberwatch.service.ports import Clock
from chamberwatch.service.telling import Teller

log = logging.getLogger(__name__)

EVERY_S: Final = 20.0
"""Silence is told within this long of its limit."""


@dataclass(frozen=True, slots=True)
class RoundsParts:
    """What the rounds are made of."""

    books: Books
    clock: Clock
    house: House
    board: Board
    teller: Teller
    wake_delivery: threading.Event


class Rounds:
    """Looks after everything once in a while."""

    def __init__(self, parts: RoundsParts) -> None:
        """Begin with those the book knows to be quiet."""
        self._p = parts
        with parts.books.read() as book:
            self._told = frozenset(
                reminder.subject
                for reminder in book.reminders.all()
                if reminder.call is Call.CHECK_SENSOR and reminder.active
            )
        self.looked_s = parts.clock.monotonic()

    def run(self, stopping: threading.Event) -> None:
        """Make rounds until told to stop."""
        while not self._p.clock.wait(stopping, EVERY_S):
            try:
                self.look()
            except StorageError as error:
                log.warning("This round could not be kept and is made again: %s", error)
            finally:
                # A file that can't be written just now is no reason to end the daemon.
                self.looked_s = self._p.clock.monotonic()

    def look(self) -> None:
        """Make one round."""
        now = self._p.clock.now()
        quiet = unheard(self._p.house, self._p.board, self._p.clock.monotonic())
        gone = quiet - self._told
        back = frozenset(
            name
            for name in self._told - quiet
            if name not in self._p.house.sensors or self._p.board.has_heard(name)
        )
        with self._p.books.write() as book:
            changed = self._p.teller.end_shelves(book, now)
            for sensor in sorted(gone):
                changed |= self._p.teller.silent(book, sensor, self._last(sensor), now)
            for sensor in sorted(back):
                changed |= self._p.teller.speaks_again(book, sensor, now)
        self._told = (self._told | gone) - back
        self._log(gone, back)
        if changed:
            self._p.board.stir()
            self._p.wake_delivery.set()

    def _last(self, sensor: str) -> datetime | None:
        newest = self._p.board.newest()
        return max((r.time for (name, _), r in newest.items() if name == sensor), default=None)

    @staticmethod
    def _log(gone: frozenset[str], back: frozenset[str]) -> None:
        for sensor in sorted(gone):
            log.warning("Nothing heard from sensor %s for longer than it may be quiet.", sensor)
        for sensor in sorted(back):
            log.warning("Sensor %s is heard again.", sensor)


def unheard(house: House, board: Board, now_s: float) -> frozenset[str]:
    """Return the sensors that have been quiet for longer than they may be."""
    return frozenset(
        name
        for name, sensor in house.sensors.items()
        if board.quiet_s(name, now_s) > sensor.unheard_after.total_seconds()
    )
