"""What time alone brings about: sensors gone quiet, shelves that end."""

import logging
import threading
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Final, Protocol, TypeVar

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.silence import Silence, silence
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books
from chamberwatch.service.coming_back import come_back
from chamberwatch.service.doubting import Doubting
from chamberwatch.service.finding import Finding
from chamberwatch.service.foreseeing import Foreseeing
from chamberwatch.service.growing.duties import TaskNow
from chamberwatch.service.growing.tending import Tending
from chamberwatch.service.knowing import Knowing
from chamberwatch.service.nights import Nights
from chamberwatch.service.ports import Clock
from chamberwatch.service.refilling import Refilling
from chamberwatch.service.responding import Responding
from chamberwatch.service.returning import Returning
from chamberwatch.service.summing_up import SummingUp
from chamberwatch.service.telling import Teller
from chamberwatch.service.wetting import Wetting

log = logging.getLogger(__name__)

Done = TypeVar("Done")

EVERY_S: Final = 20.0
"""Silence is told within this long of its limit."""

TENDING: Final = "Telling what is due"
FAILED: Final = "%s failed; it is tried again."

SEARCH_EVERY_S: Final = 60.0
"""Mistings and ventings are looked for once in so long, and at once while there is a backlog."""


class Writes(Protocol):
    """A part of the rounds that tells of something."""

    def write(self, book: Book, now: datetime) -> bool:
        """Look and tell; return whether anything was."""
        ...


@dataclass(frozen=True, slots=True)
class RoundsParts:
    """What the rounds are made of."""

    books: Books
    clock: Clock
    house: House
    board: Board
    teller: Teller
    wake_delivery: threading.Event
    doubting: Doubting
    finding: Finding | None = None
    knowing: Knowing | None = None
    wetting: Wetting | None = None
    tending: Tending | None = None
    nights: Nights | None = None
    returning: Returning | None = None
    foreseeing: Foreseeing | None = None
    responding: Responding | None = None
    refilling: Refilling | None = None
    summing: SummingUp | None = None


class Rounds:
    """Looks after everything once in a while."""

    def __init__(self, parts: RoundsParts) -> None:
        """Begin with those the book knows to be quiet."""
        self._p = parts
        self._told = parts.doubting.silent()
        self.looked_s = parts.clock.monotonic()
        self._search_s = self.looked_s
        self._failing: set[str] = set()

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
            self.search()
            self.sum_up()

    def search(self) -> None:
        """Look for mistings and ventings, when it is time; nothing that goes wrong ends us."""
        if self._p.finding is None or self._p.clock.monotonic() < self._search_s:
            return
        more = self._guarded("Looking for mistings and ventings", self._p.finding.look)
        if not more:
            self._learn()
        now_s = self._p.clock.monotonic()
        self._search_s = now_s if more else now_s + SEARCH_EVERY_S

    def sum_up(self) -> None:
        """Sum up some of what is not summed up yet; nothing that goes wrong ends us."""
        if self._p.summing is not None:
            self._guarded("Summing readings up", self._p.summing.look)

    def _learn(self) -> None:
        """Learn from what was found; where one part fails, the next still learns."""
        parts, books, now = self._p, self._p.books, self._p.clock.now()
        if parts.knowing is not None:
            look = partial(parts.knowing.look, books, now, parts.board.doubts())
            self._guarded("Learning the ways of the chambers", look)
        if parts.responding is not None:
            look = partial(parts.responding.look, books, now)
            self._guarded("Judging what deeds have done", look)
        if parts.foreseeing is not None:
            self._guarded("Looking ahead", parts.foreseeing.look)

    def _guarded(self, what: str, work: Callable[[], Done]) -> Done | None:
        """Do it; whatever goes wrong here must not end the rounds, and is said once."""
        try:
            done = work()
        except StorageError as error:
            log.warning("%s has to wait; it is tried again: %s", what, error)
            return None
        except Exception:
            if self._is_news(what):
                log.exception(FAILED, what)
            return None
        self._failing.discard(what)
        return done

    def _is_news(self, what: str) -> bool:
        """Tell whether what has just failed did not fail the last time as well."""
        news = what not in self._failing
        self._failing.add(what)
        return news

    def _tasks(self) -> Sequence[TaskNow] | None:
        """Return what can be done today; None where that could not be told.

        A fault in what is reckoned of the crop must not end the watch over its air.
        """
        if self._p.tending is None:
            return None
        try:
            tasks = self._p.tending.look()
        except StorageError:
            raise
        except Exception:
            if self._is_news(TENDING):
                log.exception(FAILED, TENDING)
            return None
        self._failing.discard(TENDING)
        return tasks

    def look(self) -> None:
        """Make one round."""
        now = self._p.clock.now()
        silent = unheard(self._p.house, self._p.board, self._p.clock.monotonic(), self._told)
        quiet = silent.sensors
        gone = quiet - self._told
        back = frozenset(
            name
            for name in self._told - quiet
            if name not in self._p.house.sensors or self._p.board.has_heard(name)
        )
        tasks = self._tasks()
        with self._p.books.write() as book:
            changed = come_back(self._p.teller, book, now)
            changed |= self._p.teller.realarm(book, now)
            if self._p.tending is not None and tasks is not None:
                changed |= self._p.tending.write(book, tasks, now)
            found = self._p.doubting.look(book, (self._told | gone) - back, now)
            changed |= self._p.doubting.write(
                book, found, now, all_silent=self._all_silent(silent)
            )
            wet = self._p.wetting.write(book, now) if self._p.wetting is not None else None
            changed |= wet is not None and wet.moved
            changed |= self._told_besides(book, now)
        self._told = (self._told | gone) - back
        self._p.doubting.written(found)
        if self._p.wetting is not None and wet is not None:
            self._p.wetting.written(wet)
        self._log(gone, back)
        if changed:
            self._p.board.stir()
            self._p.wake_delivery.set()

    def _all_silent(self, found: Silence) -> bool | None:
        """Tell whether nothing is heard; None right after a start, when nobody has spoken yet."""
        heard = any(self._p.board.has_heard(name) for name in self._p.house.sensors)
        return True if found.everything else (False if heard else None)

    def _told_besides(self, book: Book, now: datetime) -> bool:
        """Tell of what came of deeds, of harm that is over, and of what won't hold."""
        parts = (self._p.responding, self._p.refilling, self._p.returning, self._p.nights)
        told = False
        for part in parts:
            if part is not None:
                told |= self._told_by(part, book, now)
        return told

    def _told_by(self, part: Writes, book: Book, now: datetime) -> bool:
        """Let one part write; a fault in what it reckons must not end the watch over the air."""
        name = f"A part of the rounds ({type(part).__name__})"
        try:
            told = part.write(book, now)
        except StorageError:
            raise
        except Exception:
            if self._is_news(name):
                log.exception(FAILED, name)
            return False
        self._failing.discard(name)
        return told

    @staticmethod
    def _log(gone: frozenset[str], back: frozenset[str]) -> None:
        for sensor in sorted(gone):
            log.warning("Nothing heard from sensor %s for longer than it may be quiet.", sensor)
        for sensor in sorted(back):
            log.warning("Sensor %s is heard again.", sensor)


def unheard(house: House, board: Board, now_s: float, told: Collection[str]) -> Silence:
    """Return the sensors that have been quiet for longer than they may be.

    Args:
        house: what the grower declared.
        board: when each was last heard.
        now_s: monotonic. [s]
        told: those whose silence is known already.
    """
    quiet_s = {name: board.quiet_s(name, now_s) for name in house.sensors}
    limits_s = {name: s.unheard_after.total_seconds() for name, s in house.sensors.items()}
    return silence(quiet_s, limits_s, told)
