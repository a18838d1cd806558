"""The growing record: takes in what is told of batches, and says what they are.

Each telling is one transaction: read, checked against all that was told before, kept. What can't
have happened is refused with the reason, and leaves nothing behind.
"""

import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import (
    Batch,
    Entry,
    EntryKind,
    Start,
    check_split,
    split_start,
)
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.life_words import day
from chamberwatch.core.growing.lineage import check_origin
from chamberwatch.core.growing.species import Species, SpeciesTable
from chamberwatch.core.growing.telling import check_next
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.books import Book, Books
from chamberwatch.service.growing.folding import as_of, batches_of, entries_of, no_batch, read
from chamberwatch.service.growing.places import Place as Place
from chamberwatch.service.growing.places import check_place, check_room
from chamberwatch.service.growing.starting import (
    carried,
    check_circle,
    check_offspring,
    check_sense,
    history,
)
from chamberwatch.service.growing.told import (
    NOT_CORRECTED,
    NOT_TOLD,
    entry_of,
    put,
    said,
)
from chamberwatch.service.growing.told import Telling as Telling
from chamberwatch.service.ports import Clock

log = logging.getLogger(__name__)

OLDEST: Final = timedelta(days=5 * 366)
LONGEST_NOTE: Final = 2000
LEAST_PICKED_G: Final = 1.0
"""Below this a unit was mistaken. [g]"""


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
        self._lost: set[str] = set()

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
        entry = put(replace(entry, start=start), place)
        _check_year(entry.at, now)
        with self._p.books.write() as book:
            batch = self._start(book, entry, now)
        self._told()
        return batch

    def tell(self, batch: int, telling: Telling, via: str) -> Batch:
        """Record what happened to a batch.

        Raises:
            UnknownNameError: no such batch, chamber or shelf.
            RefusedError: it can't have happened; the text says why and what would work.
        """
        if telling.kind in NOT_TOLD:
            raise RefusedError(NOT_TOLD[telling.kind])
        now = self._p.clock.now()
        with self._p.books.write() as book:
            entries = entries_of(book, batch)
            known = self._add(book, entries, said(telling, batch, now, via), now)
        self._told()
        return known

    def split(
        self,
        batch: int,
        count: int,
        place: Place | None,
        at: datetime | None,
        via: str,
        note: str = "",
    ) -> tuple[Batch, Batch]:
        """Take some out of a batch, to be a batch of their own.

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
        when = at or now
        with self._p.books.write() as book:
            entries = entries_of(book, batch)
            species, today = read(entries, self._p.species)
            if when < today.started:
                raise RefusedError(
                    f"Batch {batch} was started on {day(today.started)}, later than that. Give "
                    "the time at which it was split."
                )
            before = fold(as_of(entries, when), species)
            check_split(before, count)
            told = replace(
                entry_of(EntryKind.SPLIT, when, now, via, note), batch=batch, count=count
            )
            new = self._split_off(book, before, told, place, now)
            stays = self._add(book, entries, replace(told, other=new.id), now)
        self._told()
        return stays, new

    def _split_off(
        self, book: Book, before: Batch, told: Entry, place: Place | None, now: datetime
    ) -> Batch:
        """Start what is taken out as a batch that has come as far as the one it is taken from."""
        bare = replace(told, kind=EntryKind.STARTED, at=before.started, count=None)
        # On its way it may stand in no chamber, so that a full shelf counts only where it goes.
        start = split_start(before, told.count or 0)
        new = self._start(book, replace(bare, start=start), now)
        here = Place(before.chamber, before.shelf)
        moved = put(replace(bare, kind=EntryKind.MOVED, at=told.at, note=""), place or here)
        species = self._read(entries_of(book, before.id))[0]
        for entry in (*history(before, moved), moved):
            if entry.kind is not EntryKind.MOVED or entry.chamber is not None:
                fresh = replace(entry, batch=new.id)
                new = self._add(book, entries_of(book, new.id), fresh, now, species)
        return new

    def correct(self, entry: int, telling: Telling, via: str) -> Batch:
        """Let what is told now stand in place of an entry, which is kept as well.

        Args:
            entry: id of the one that was wrong.
            telling: of the same kind; without a time, that of the old one.
            via: page, api or command line.

        Raises:
            UnknownNameError: no such entry, chamber or shelf.
            RefusedError: it can't be corrected so.
        """
        now = self._p.clock.now()
        with self._p.books.write() as book:
            old = _find(book, entry)
            if old.kind in (EntryKind.STARTED, EntryKind.SPLIT):
                raise RefusedError(NOT_CORRECTED[old.kind])
            told = replace(telling, at=telling.at or old.at)
            fresh = replace(said(told, old.batch, now, via), corrects=entry)
            batch = self._add(book, entries_of(book, old.batch), fresh, now)
        self._told()
        return batch

    def correct_start(
        self, batch: int, start: Start, at: datetime | None, place: Place | None, via: str
    ) -> Batch:
        """Correct what was said when a batch was started; without a time or place the old ones.

        Raises:
            UnknownNameError: no such batch, species, chamber or shelf.
            RefusedError: it can't have been so.
        """
        now = self._p.clock.now()
        with self._p.books.write() as book:
            old = _beginning(entries_of(book, batch))
            _check_year(at or now, now)
            was = old.start or start
            if start.species != was.species:
                self._p.species.get(start.species)
            start = replace(start, split_from=was.split_from)
            fresh = replace(old, at=at or old.at, start=start, via=via)
            fresh = put(fresh, place) if place is not None else fresh
            self._check_start(book, fresh)
            known = self._restart(book, fresh, now)
            check_offspring(batches_of(book.growing.all(), self._p.species), batch)
        self._told()
        return known

    def _restart(self, book: Book, fresh: Entry, now: datetime) -> Batch:
        """Correct a start, and with it those of all that was taken out of the batch since."""
        entries = entries_of(book, fresh.batch)
        old = _beginning(entries)
        told = replace(fresh, id=0, recorded=now, corrects=old.id)
        known = self._add(book, entries, told, now)
        for entry in effective(entries):
            if entry.other is None or old.start is None or fresh.start is None:
                continue
            part = _beginning(entries_of(book, entry.other))
            if part.start is not None:
                start = carried(part.start, old.start, fresh.start)
                at = fresh.at if part.at == old.at else part.at
                if (start, at) != (part.start, part.at):
                    part = replace(part, at=at, start=start, via=fresh.via)
                    self._restart(book, part, now)
        return known

    def withdraw(self, entry: int, via: str, note: str = "") -> Batch:
        """Say that what an entry tells did not happen; it is kept as well.

        Raises:
            UnknownNameError: no such entry.
            RefusedError: what came after it could not have happened without it.
        """
        now = self._p.clock.now()
        with self._p.books.write() as book:
            old = _find(book, entry)
            if old.kind is EntryKind.SPLIT:
                raise RefusedError(NOT_CORRECTED[old.kind])
            told = entry_of(EntryKind.WITHDRAWN, old.at, now, via, note)
            fresh = replace(told, batch=old.batch, corrects=entry)
            batch = self._add(book, entries_of(book, old.batch), fresh, now)
        self._told()
        return batch

    # ------------------------------------------------------------ what is known

    def batch(self, number: int) -> Batch:
        """Return a batch as it is today.

        Raises:
            UnknownNameError: no such batch.
        """
        try:
            return self.batches()[number]
        except KeyError:
            raise no_batch(number) from None

    def batches(self) -> Mapping[int, Batch]:
        """Return all batches by number, ended ones too; the same mapping while nothing is told."""
        with self._lock, self._p.books.read() as book:
            newest = book.growing.newest_id()
            if newest != self._known[0]:
                made = batches_of(book.growing.all(), self._p.species)
                self._known = newest, MappingProxyType(made)
                self._mention_lost(made)
            return self._known[1]

    def _mention_lost(self, batches: Mapping[int, Batch]) -> None:
        names = {batch.start.species for batch in batches.values()}
        for name in sorted(names - self._p.species.species.keys() - self._lost):
            log.warning(
                "There are batches of “%s”, which the species table has no longer: nobody knows "
                "what air they want. Put it back into species.toml.",
                name,
            )
            self._lost.add(name)

    def entries(self, number: int) -> tuple[Entry, ...]:
        """Return all that was told of a batch, corrected entries too, as it was told.

        Raises:
            UnknownNameError: no such batch.
        """
        with self._p.books.read() as book:
            return entries_of(book, number)

    # ------------------------------------------------------------ inside

    def _told(self) -> None:
        self._p.changed()

    def _start(self, book: Book, entry: Entry, now: datetime) -> Batch:
        self._check_start(book, entry)
        self._check(entry)
        species = self._p.species.known(entry.start.species if entry.start is not None else "")
        batch = check_next([], replace(entry, batch=_next_number(book)), species, now)
        self._check_room(book, batch, None)
        return replace(batch, id=book.growing.start(entry).batch)

    def _check_start(self, book: Book, entry: Entry) -> None:
        start = entry.start
        if start is None:
            return
        check_sense(start)
        batches = batches_of(book.growing.all(), self._p.species)
        check_origin(batches, start, entry.at)
        check_circle(batches, entry.batch, start)

    def _check(self, entry: Entry) -> None:
        if len(entry.note) > LONGEST_NOTE:
            raise RefusedError(f"The note is longer than {LONGEST_NOTE} characters; shorten it.")
        if entry.weight_g is not None and 0.0 < entry.weight_g < LEAST_PICKED_G:
            raise RefusedError(
                f"{entry.weight_g:g} g is less than a scale shows; check the unit (g, kg, oz, lb)."
            )
        if entry.chamber is not None:
            check_place(self._p.house, Place(entry.chamber, entry.shelf))

    def _add(
        self,
        book: Book,
        entries: Sequence[Entry],
        entry: Entry,
        now: datetime,
        species: Species | None = None,
    ) -> Batch:
        """Keep one more entry about a batch, if it can have happened."""
        self._check(entry)
        read_by, before = self._read(entries)
        species = species or read_by
        if entry.start is not None and entry.start.species != before.start.species:
            species = self._p.species.known(entry.start.species)
        batch = check_next(entries, entry, species, now)
        self._check_room(book, batch, before)
        # Folded again: a harvest names its entry, whose id is known only now.
        return fold((*entries, book.growing.add(entry)), species)

    def _check_room(self, book: Book, batch: Batch, before: Batch | None) -> None:
        """Refuse to put a batch where there is no room; one that stood there already may stay."""
        if before is not None and _stands(before) == _stands(batch):
            return
        others = batches_of(book.growing.all(), self._p.species)
        others.pop(batch.id, None)
        check_room(self._p.house, batch, others.values())

    def _read(self, entries: Sequence[Entry]) -> tuple[Species, Batch]:
        return read(entries, self._p.species)


def _find(book: Book, number: int) -> Entry:
    found = book.growing.get(number)
    if found is None:
        raise UnknownNameError(f"There is no entry {number}. Ask for the entries of the batch.")
    return found


def _check_year(at: datetime, now: datetime) -> None:
    """Refuse a start long ago; all else is held against the start."""
    if at < now - OLDEST:
        raise RefusedError("That time lies more than five years back; look at the year.")


def _beginning(entries: Sequence[Entry]) -> Entry:
    return next(entry for entry in effective(entries) if entry.kind is EntryKind.STARTED)


def _next_number(book: Book) -> int:
    return max((entry.batch for entry in book.growing.all()), default=0) + 1


def _stands(batch: Batch) -> tuple[str | None, str | None] | None:
    """Return where a batch stands, None when it has ended."""
    return None if batch.ended is not None else (batch.chamber, batch.shelf)
