"""Readings that other loggers wrote down, kept beside our own and never spoken of.

They go into the history and past the judging: what they tell is over. Each transaction holds a
few hundred, and between two of them others get as long to write as it took, so that the daemon is
never kept waiting. What is kept already is left alone, so that an import that broke off is simply
begun anew.
"""

import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import Final, TypeVar

from chamberwatch.core.logged.log import Row
from chamberwatch.core.watch.reading import Reading, Reject
from chamberwatch.service.books import Book, Books
from chamberwatch.service.correcting import Corrector
from chamberwatch.service.ports import Clock

AT_ONCE: Final = 250
"""Rows in one transaction."""

PAUSE_AT_MOST_S: Final = 1.0
"""Longer than this nobody waits who wants to write; the transaction may have waited itself."""

T = TypeVar("T")
_Minute = tuple[str, str, datetime]


@dataclass(frozen=True, slots=True)
class Source:
    """Where rows come from.

    Attributes:
        name: of the file, for a person.
        digest: tells it from any other.
        as_they_stand: they were taken from such a book as ours, and corrected there.
    """

    name: str
    digest: str
    as_they_stand: bool = False


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of readings.

    Attributes:
        new: so many were kept.
        known: so many were kept before.
        rejects: so many values were counted as rejects.
    """

    new: int = 0
    known: int = 0
    rejects: int = 0


class Importing:
    """Keeps what a file tells; used by one thread.

    Attributes:
        done: what became of the readings up to now; right at any time, however it ends.
    """

    def __init__(self, books: Books, clock: Clock, corrector: Corrector) -> None:
        """Write into these books what the corrector makes of readings."""
        self._books = books
        self._clock = clock
        self._corrector = corrector
        self._never = threading.Event()
        self._lately: frozenset[_Minute] = frozenset()
        self.done = Imported()

    def would(self, rows: Iterable[Row]) -> Imported:
        """Return what would become of rows; changes nothing."""
        new = known = rejects = 0
        for some in _some(rows):
            told = [reading for row in some for reading in row.readings]
            readings = list({(r.time, r.sensor, r.quantity): r for r in told}.values())
            with self._books.read() as book:
                # What is summed up for ever counts as kept, unless it stands there as well.
                absorbed = set(book.carried.absorbed(readings))
                here = len(absorbed) + book.carried.present(
                    [r for r in readings if r not in absorbed]
                )
            new += len(readings) - here
            known += here + len(told) - len(readings)
            rejects += sum(len(row.refused) for row in some)
        return Imported(new, known, rejects)

    def keep(self, rows: Iterable[Row], source: Source) -> Imported:
        """Keep what rows tell, and count what can't be right as rejects, once for each file.

        Raises:
            StorageError: the database can't be used; `done` says how far it came.
        """
        self.done, seen = Imported(), 0
        counted = self._counted(source)
        for some in _some(rows):
            began_s = self._clock.monotonic()
            rejects = list(self._rejects(some, source))
            fresh = rejects[max(counted - seen, 0) :]
            seen += len(rejects)
            with self._books.write() as book:
                done = self._keep(book, some, source)
                if fresh:
                    book.rejects.add(fresh)
                    book.kept.keep_text(_key(source), str(seen))
            self.done = Imported(
                self.done.new + done.new,
                self.done.known + done.known,
                self.done.rejects + len(fresh),
            )
            took_s = self._clock.monotonic() - began_s
            self._clock.wait(self._never, min(took_s, PAUSE_AT_MOST_S))
        return self.done

    def _keep(self, book: Book, rows: Iterable[Row], source: Source) -> Imported:
        readings = [reading for row in rows for reading in row.readings]
        if not source.as_they_stand:
            self._corrector.catch_up(book)
            readings = [self._corrector.corrected(reading) for reading in readings]
        minutes = {reading: _minute(reading) for reading in readings}
        # A minute that the rows before began may be summed up by now; it goes on all the same.
        absorbed = {
            reading
            for reading in book.carried.absorbed(readings)
            if minutes[reading] not in self._lately
        }
        new = book.readings.add(reading for reading in readings if reading not in absorbed)
        self._lately = frozenset(
            minute for reading, minute in minutes.items() if reading not in absorbed
        )
        return Imported(new, len(readings) - new)

    def _rejects(self, rows: Iterable[Row], source: Source) -> Iterator[Reject]:
        now = self._clock.now()
        for row in rows:
            for reason in row.refused:
                yield Reject(f"import {source.name}", now, reason, row.excerpt)

    def _counted(self, source: Source) -> int:
        """Return how many rejects of this file were counted before."""
        with self._books.read() as book:
            return int(book.kept.text(_key(source)) or 0)


def _key(source: Source) -> str:
    return f"rejects of import {source.digest}"


def _minute(reading: Reading) -> _Minute:
    return reading.sensor, reading.quantity.value, reading.time.replace(second=0, microsecond=0)


def _some(each: Iterable[T]) -> Iterator[list[T]]:
    rest = iter(each)
    while some := list(islice(rest, AT_ONCE)):
        yield some
