"""The growing record: takes in what is told of batches, and says what they are.

Each telling is one transaction: read, checked against all that was told before, kept. What can't
have happened is refused with the reason, and leaves nothing behind.
"""

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import (
    Batch,
    Entry,
    EntryKind,
    Start,
    check_split,
    split_stage,
    split_start,
)
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.lineage import check_origin
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.growing.telling import check_next
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.books import Book, Books
from chamberwatch.service.growing.folding import batches_of, entries_of, no_batch, species_of
from chamberwatch.service.growing.places import Place as Place
from chamberwatch.service.growing.places import check_place, check_room
from chamberwatch.service.ports import Clock

OLDEST: Final = timedelta(days=5 * 366)
LONGEST_NOTE: Final = 2000
MOST_CONTAINERS: Final = 1000
WETTEST_PCT: Final = 90.0
"""Substrate that holds more water than this drips; 60 to 75 % is usual (common practice). [%]"""


@dataclass(frozen=True, slots=True)
class Telling:
    """What a person says of a batch; see `Entry` for the fields."""

    kind: EntryKind
    at: datetime | None = None
    note: str = ""
    chamber: str | None = None
    shelf: str | None = None
    weight_g: float | None = None
    stage: Stage | None = None
    flush: int | None = None
    sign: str = ""


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

    # ------------------------------------------------------------ what is told

    def start(
        self, start: Start, place: Place | None, at: datetime | None, note: str, via: str
    ) -> Batch:
        """Record a new batch.

        Raises:
            UnknownNameError: no such species, chamber or shelf.
            RefusedError: it can't be as told; the text says why.
        """
        now = self._p.clock.now()
        entry = _entry(EntryKind.STARTED, at or now, now, via, note)
        entry = _put(replace(entry, start=start), place)
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
        if telling.kind in _NOT_TOLD:
            raise RefusedError(_NOT_TOLD[telling.kind])
        now = self._p.clock.now()
        with self._p.books.write() as book:
            entries = entries_of(book, batch)
            known = self._add(book, entries, _said(telling, batch, now, via), now)
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
            species = self._p.species.known(species_of(entries))
            before = fold([e for e in effective(entries) if e.at <= when], species)
            check_split(before, count)
            told = replace(_entry(EntryKind.SPLIT, when, now, via, note), batch=batch, count=count)
            new = self._split_off(book, before, told, place, now)
            stays = self._add(book, entries, replace(told, other=new.id), now)
        self._told()
        return stays, new

    def _split_off(
        self, book: Book, before: Batch, told: Entry, place: Place | None, now: datetime
    ) -> Batch:
        """Start what is taken out as a batch that has come as far as the one it is taken from."""
        count = told.count or 0
        here = Place(before.chamber, before.shelf) if before.chamber is not None else None
        bare = replace(told, kind=EntryKind.STARTED, at=before.started, count=None)
        # On its way it may stand in no chamber, so that a full shelf counts only where it goes.
        new = self._start(book, replace(bare, start=split_start(before, count)), now)
        if before.white_at is not None:
            white = replace(told, kind=EntryKind.WHITE, at=before.white_at, count=None)
            self._add_to(book, new.id, white, now)
        moved = _put(replace(told, kind=EntryKind.MOVED, count=None), place or here)
        if moved.chamber is not None:
            self._add_to(book, new.id, moved, now)
        if (staged := split_stage(before)) is not None:
            stage, flush = staged
            set_ = replace(told, kind=EntryKind.STAGED, count=None, stage=stage, flush=flush)
            self._add_to(book, new.id, set_, now)
        return self._folded(entries_of(book, new.id))

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
                raise RefusedError(_NOT_CORRECTED[old.kind])
            told = replace(telling, at=telling.at or old.at)
            fresh = replace(_said(told, old.batch, now, via), corrects=entry)
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
            entries = entries_of(book, batch)
            old = next(e for e in effective(entries) if e.kind is EntryKind.STARTED)
            was = old.start.split_from if old.start is not None else None
            fresh = replace(
                old,
                id=0,
                at=at or old.at,
                recorded=now,
                via=via,
                start=replace(start, split_from=was),
                corrects=old.id,
            )
            fresh = _put(fresh, place) if place is not None else fresh
            self._check_start(book, fresh)
            known = self._add(book, entries, fresh, now)
        self._told()
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
                raise RefusedError(_NOT_CORRECTED[old.kind])
            told = _entry(EntryKind.WITHDRAWN, old.at, now, via, note)
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
            return self._known[1]

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
        self._check(entry, now)
        species = self._p.species.known(species_of([entry]))
        batch = check_next([], replace(entry, batch=_next_number(book)), species, now)
        self._check_room(book, batch, None)
        return replace(batch, id=book.growing.start(entry).batch)

    def _check_start(self, book: Book, entry: Entry) -> None:
        start = entry.start
        if start is None:
            return
        self._p.species.get(start.species)
        if start.count > MOST_CONTAINERS:
            raise RefusedError(
                f"A batch of {start.count} is too many; count those that move together, at most "
                f"{MOST_CONTAINERS}."
            )
        if start.moisture_pct is not None and start.moisture_pct > WETTEST_PCT:
            raise RefusedError(
                f"Substrate with {start.moisture_pct:g} % water would drip; 60 to 75 % is usual. "
                f"Give the water as a share of the filled weight."
            )
        check_origin(batches_of(book.growing.all(), self._p.species), start, entry.at)

    def _check(self, entry: Entry, now: datetime) -> None:
        if len(entry.note) > LONGEST_NOTE:
            raise RefusedError(f"The note is longer than {LONGEST_NOTE} characters; shorten it.")
        if entry.at < now - OLDEST:
            raise RefusedError("That time lies more than five years back; look at the year.")
        if entry.chamber is not None:
            check_place(self._p.house, Place(entry.chamber, entry.shelf))

    def _add_to(self, book: Book, number: int, entry: Entry, now: datetime) -> Batch:
        return self._add(book, entries_of(book, number), replace(entry, batch=number), now)

    def _add(self, book: Book, entries: Sequence[Entry], entry: Entry, now: datetime) -> Batch:
        """Keep one more entry about a batch, if it can have happened."""
        self._check(entry, now)
        name = species_of([*entries, entry])
        batch = check_next(entries, entry, self._p.species.known(name), now)
        self._check_room(book, batch, self._folded(entries))
        book.growing.add(entry)
        return batch

    def _check_room(self, book: Book, batch: Batch, before: Batch | None) -> None:
        """Refuse to put a batch where there is no room; one that stood there already may stay."""
        if before is not None and _stands(before) == _stands(batch):
            return
        others = batches_of(book.growing.all(), self._p.species)
        others.pop(batch.id, None)
        check_room(self._p.house, batch, others.values())

    def _folded(self, entries: Sequence[Entry]) -> Batch:
        return fold(entries, self._p.species.known(species_of(entries)))


_NOT_TOLD: Final[Mapping[EntryKind, str]] = {
    EntryKind.STARTED: "A batch is started once; start a new one.",
    EntryKind.SPLIT: "Say how many are taken out, and where they go: split the batch.",
    EntryKind.WITHDRAWN: "Say which entry did not happen: withdraw that entry.",
}

_NOT_CORRECTED: Final[Mapping[EntryKind, str]] = {
    EntryKind.STARTED: "That is the start of the batch; correct its start.",
    EntryKind.SPLIT: "A batch came of that split, so it stays. Record what became of the new one.",
}


def _find(book: Book, number: int) -> Entry:
    found = book.growing.get(number)
    if found is None:
        raise UnknownNameError(f"There is no entry {number}. Ask for the entries of the batch.")
    return found


def _next_number(book: Book) -> int:
    return max((entry.batch for entry in book.growing.all()), default=0) + 1


def _entry(kind: EntryKind, at: datetime, now: datetime, via: str, note: str) -> Entry:
    return Entry(0, 0, kind, at, now, via, note.strip())


def _said(telling: Telling, batch: int, now: datetime, via: str) -> Entry:
    return Entry(
        id=0,
        batch=batch,
        kind=telling.kind,
        at=telling.at or now,
        recorded=now,
        via=via,
        note=telling.note.strip(),
        chamber=telling.chamber,
        shelf=telling.shelf,
        weight_g=telling.weight_g,
        stage=telling.stage,
        flush=telling.flush,
        sign=telling.sign,
    )


def _put(entry: Entry, place: Place | None) -> Entry:
    """Return an entry with its place; None: in no chamber."""
    there = place or Place(None)
    return replace(entry, chamber=there.chamber, shelf=there.shelf)


def _stands(batch: Batch) -> tuple[str | None, str | None] | None:
    """Return where a batch stands, None when it has ended."""
    return None if batch.ended is not None else (batch.chamber, batch.shelf)
