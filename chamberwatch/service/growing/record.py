"""The growing record: takes in what is told of batches, and says what they are.

Each telling is one transaction: read, checked against all that was told before, kept. What can't
have happened is refused with the reason, and leaves nothing behind.
"""

import logging
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Final

from chamberwatch.core.errors import RefusedError, WrongTimeError
from chamberwatch.core.growing.batch import Batch, Entry, EntryKind, Start
from chamberwatch.core.growing.corrections import beginning
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.books import Book, Books
from chamberwatch.service.growing.folding import batches_of, entries_of, find, read, unread
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.slot import Slot
from chamberwatch.service.growing.taking import Taking
from chamberwatch.service.growing.told import (
    NOT_CORRECTED,
    NOT_TOLD,
    Telling,
    entry_of,
    put,
    said,
)
from chamberwatch.service.ports import Clock

log = logging.getLogger(__name__)

Beside = Callable[[Book, int], None]

# Of a start; all else is held against the start.
OLDEST: Final = timedelta(days=5 * 366)


@dataclass(frozen=True, slots=True)
class RecordParts:
    """What the record is made of.

    Attributes:
        books: where it is kept.
        clock: the time.
        house: what the grower declared.
        species: the species table.
        changed: called after each telling, once it is kept.
    """

    books: Books
    clock: Clock
    house: House
    species: SpeciesTable
    changed: Callable[[], None]


class GrowingRecord:
    """Takes in what is told of batches. Safe to use from any thread."""

    def __init__(self, parts: RecordParts) -> None:
        """Begin with what the book holds."""
        self._p = parts
        self._lock = threading.Lock()
        self._known: tuple[int, Mapping[int, Batch]] = (-1, MappingProxyType({}))
        self._told: Slot[tuple[Entry, ...]] = Slot()
        self._mentioned: set[str] = set()

    # ------------------------------------------------------------ what is told

    def start(
        self, start: Start, place: Place | None, at: datetime | None, note: str, via: str
    ) -> Batch:
        """Record a new batch.

        Raises:
            UnknownNameError: no such species, chamber or shelf.
            RefusedError: it can't be as told; the text says why.
        """
        self._p.species.get(start.species)
        now = self._p.clock.now()
        entry = entry_of(EntryKind.STARTED, at or now, now, via, note)
        _check_year(entry.at, now)
        with self._taking(now) as taking:
            return taking.start(put(replace(entry, start=start), place))

    def tell(self, batch: int, telling: Telling, via: str) -> Batch:
        """Record what happened to a batch.

        Raises:
            UnknownNameError: no such batch, chamber or shelf.
            RefusedError: it can't have happened; the text says why and what would work.
        """
        return self.tell_all(batch, (telling,), via)

    def tell_all(
        self, batch: int, tellings: Sequence[Telling], via: str, beside: Beside | None = None
    ) -> Batch:
        """Record several things that happened to a batch, all or none.

        Args:
            batch: its number.
            tellings: at least one, in the order in which they happened.
            via: page, api or command line.
            beside: called with the open book and the id of the last entry, to keep what belongs
                to it in the same transaction.

        Raises:
            UnknownNameError: no such batch, chamber or shelf.
            RefusedError: one of them can't have happened; the text says why.
        """
        for telling in tellings:
            if telling.kind in NOT_TOLD:
                raise RefusedError(NOT_TOLD[telling.kind])
        now = self._p.clock.now()
        with self._taking(now) as taking:
            told = [taking.add(said(telling, batch, now, via)) for telling in tellings]
            if beside is not None:
                beside(taking.book, taking.newest)
        return told[-1]

    def split(
        self,
        batch: int,
        count: int,
        place: Place | None,
        at: datetime | None,
        via: str,
        note: str = "",
    ) -> tuple[Batch, Batch]:
        """Take some out of a batch, to be a batch of their own, with the same past.

        That past is in entries of its own from then on. A correction of the start is carried to
        the parts; one of anything else is not: the parts may have gone another way since, so each
        is corrected by itself.

        Args:
            batch: its number.
            count: how many are taken out.
            place: where they go; None: they stay beside the others.
            at: when; None: now.
            via: page, api or command line.
            note: free words.

        Returns:
            What stays, and the new one.

        Raises:
            UnknownNameError: no such batch, chamber or shelf.
            RefusedError: it can't be split so.
        """
        now = self._p.clock.now()
        told = entry_of(EntryKind.SPLIT, at or now, now, via, note)
        with self._taking(now) as taking:
            stays, new = taking.split(replace(told, batch=batch, count=count), place)
        return stays, new

    def correct(self, entry: int, telling: Telling, via: str) -> Batch:
        """Let what is told now stand in place of an entry, which is kept as well.

        What was split off from the batch keeps what it was told; see `split`.

        Args:
            entry: id of the one that was wrong.
            telling: of the same kind; without a time, that of the old one.
            via: page, api or command line.

        Raises:
            UnknownNameError: no such entry, chamber or shelf.
            RefusedError: it can't be corrected so.
        """
        now = self._p.clock.now()
        with self._taking(now) as taking:
            old = find(taking.book, entry)
            if old.kind in NOT_CORRECTED:
                raise RefusedError(NOT_CORRECTED[old.kind])
            told = replace(telling, at=telling.at or old.at)
            return taking.add(replace(said(told, old.batch, now, via), corrects=entry))

    def correct_start(
        self, batch: int, start: Start, at: datetime | None, place: Place | None, via: str
    ) -> Batch:
        """Correct what was said when a batch was started; without a time or place the old ones.

        Raises:
            UnknownNameError: no such batch, species, chamber or shelf.
            RefusedError: it can't have been so.
        """
        now = self._p.clock.now()
        if at is not None:
            _check_year(at, now)
        with self._taking(now) as taking:
            old = beginning(entries_of(taking.book, batch))
            was = old.start or start
            if start.species != was.species:
                self._p.species.get(start.species)
            start = replace(start, split_from=was.split_from)
            fresh = replace(old, at=at or old.at, start=start, via=via)
            return taking.restart(put(fresh, place) if place is not None else fresh)

    def withdraw(self, entry: int, via: str, note: str = "") -> Batch:
        """Say that what an entry tells did not happen; it is kept as well.

        Raises:
            UnknownNameError: no such entry.
            RefusedError: what came after it could not have happened without it.
        """
        now = self._p.clock.now()
        with self._taking(now) as taking:
            old = find(taking.book, entry)
            if old.kind is EntryKind.SPLIT:
                raise RefusedError(NOT_CORRECTED[old.kind])
            told = entry_of(EntryKind.WITHDRAWN, old.at, now, via, note)
            return taking.add(replace(told, batch=old.batch, corrects=entry))

    # ------------------------------------------------------------ what is known

    def batch(self, number: int) -> Batch:
        """Return a batch as it is today.

        Raises:
            UnknownNameError: no such batch.
            RefusedError: what was told of it can't be read; the text says why.
        """
        found = self.batches().get(number)
        return found if found is not None else read(self.entries(number), self._p.species)[1]

    def batches(self) -> Mapping[int, Batch]:
        """Return all batches by number, ended ones too; the same mapping while nothing is told."""
        return self.state()[1]

    def state(self) -> tuple[int, Mapping[int, Batch]]:
        """Return the batches, and before them the id of the entry told last.

        Of two states the one with the higher id is the newer; with the same they are equal.
        """
        with self._p.books.read() as book:
            return self._fresh(book)

    def entries(self, number: int) -> tuple[Entry, ...]:
        """Return all that was told of a batch, corrected entries too, as it was told.

        Raises:
            UnknownNameError: no such batch.
        """
        with self._p.books.read() as book:
            return entries_of(book, number)

    def all_entries(self) -> tuple[Entry, ...]:
        """Return all that was told of all batches, by id; the same ones while nothing is told."""
        with self._p.books.read() as book:
            return self._told.of(self._fresh(book)[1], lambda: tuple(book.growing.all()))

    def entry(self, number: int) -> Entry:
        """Return one thing that was told.

        Raises:
            UnknownNameError: no such entry.
        """
        with self._p.books.read() as book:
            return find(book, number)

    # ------------------------------------------------------------ inside

    @contextmanager
    def _taking(self, now: datetime) -> Iterator[Taking]:
        """Take entries in, all or none; then let it be known."""
        with self._p.books.write() as book:
            newest, batches = self._fresh(book)
            taking = Taking(book, self._p.house, self._p.species, now, dict(batches), newest)
            yield taking
        with self._lock:
            # Another thread may have read the book since, and then knows as much or more.
            if taking.newest > self._known[0]:
                known = dict(sorted(taking.batches.items()))
                self._known = taking.newest, MappingProxyType(known)
        self._p.changed()

    def _fresh(self, book: Book) -> tuple[int, Mapping[int, Batch]]:
        """Return what was told last, and the batches as they are after it."""
        with self._lock:
            newest = book.growing.newest_id()
            if newest != self._known[0]:
                made = batches_of(book.growing.all(), self._p.species, self._mention_unread)
                self._known = newest, MappingProxyType(made)
                self._mention_lost(made)
            return self._known

    def _mention_lost(self, batches: Mapping[int, Batch]) -> None:
        names = {batch.start.species for batch in batches.values()}
        for name in sorted(names - self._p.species.species.keys()):
            self._mention(
                f"There are batches of “{name}”, which is not in the species table that was read "
                "at the start: nobody knows what air they want. Restart chamberwatch if you have "
                "just added it, else put it back into species.toml."
            )

    def _mention_unread(self, number: int, reason: RefusedError) -> None:
        self._mention(unread(number, reason))

    def _mention(self, words: str) -> None:
        """Log something once, not with each telling."""
        if words not in self._mentioned:
            log.warning("%s", words)
            self._mentioned.add(words)


def _check_year(at: datetime, now: datetime) -> None:
    if at < now - OLDEST:
        raise WrongTimeError("That time lies more than five years back; look at the year.")
