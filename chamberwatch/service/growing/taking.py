"""One transaction on the growing record: what is known in it, what is checked, what is added."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Batch, Entry, EntryKind, Start
from chamberwatch.core.growing.corrections import as_of, beginning, effective
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.life_words import day
from chamberwatch.core.growing.lineage import check_circle, check_offspring, check_origin
from chamberwatch.core.growing.species import Species, SpeciesTable
from chamberwatch.core.growing.splitting import carried, split_past, split_start
from chamberwatch.core.growing.telling import check_next
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.books import Book
from chamberwatch.service.growing.folding import entries_of, read, species_of
from chamberwatch.service.growing.places import Place, check_place, check_room
from chamberwatch.service.growing.told import put


@dataclass(slots=True)
class Taking:
    """Takes entries in while the book is open for writing. Refused: leave, and nothing is kept.

    Attributes:
        book: open for writing, alone.
        house: what the grower declared.
        table: the species table.
        now: the time of telling.
        batches: all there are, as they are after what was added so far.
        newest: id of the entry told last.
    """

    book: Book
    house: House
    table: SpeciesTable
    now: datetime
    batches: dict[int, Batch] = field(default_factory=dict)
    newest: int = 0

    def start(self, entry: Entry) -> Batch:
        """Keep the start of a new batch.

        Raises:
            UnknownNameError: no such chamber or shelf.
            RefusedError: it can't be as told.
        """
        self._check_start(entry)
        self._check(entry)
        # A part may be of a species that the table has lost; a new batch was checked before.
        species = self.table.known(entry.start.species if entry.start is not None else "")
        self._check_room(check_next([], entry, species, self.now), None)
        return self._keep((), self.book.growing.start(entry))

    def add(self, entry: Entry, species: Species | None = None) -> Batch:
        """Keep one more entry about a batch, if it can have happened.

        Args:
            entry: without an id yet.
            species: to go by; None: as the batch is read.

        Raises:
            UnknownNameError: no such batch, chamber or shelf.
            RefusedError: it can't have happened.
        """
        entries = entries_of(self.book, entry.batch)
        self._check(entry)
        read_by, before = self._before(entries, entry)
        species = species or read_by
        if entry.start is not None and entry.start.species != read_by.name:
            species = self.table.known(entry.start.species)
        self._check_room(check_next(entries, entry, species, self.now), before)
        return self._keep(entries, self.book.growing.add(entry))

    def _before(self, entries: Sequence[Entry], entry: Entry) -> tuple[Species, Batch | None]:
        """Return the species of a batch, and what it was so far; None: that can't be read."""
        try:
            return read(entries, self.table)
        except RefusedError:
            # What is told in place of the entry that is at fault may mend it.
            if entry.corrects is None:
                raise
            return self.table.known(species_of(entries)), None

    def split(self, told: Entry, place: Place | None) -> tuple[Batch, Batch]:
        """Take some out of a batch; return what stays, and the new one.

        The part is told the past of the whole, as far as it is known now; what is corrected of
        the one later is not of the other, except for the start.

        Args:
            told: the split, without the number of the new one.
            place: where they go; None: they stay beside the others.

        Raises:
            UnknownNameError: no such batch, chamber or shelf.
            RefusedError: it can't be split so.
        """
        entries = entries_of(self.book, told.batch)
        species, today = read(entries, self.table)
        if told.at < today.started:
            raise RefusedError(
                f"Batch {today.id} was started on {day(today.started)}, later than that. Give "
                "the time at which it was split."
            )
        past = as_of(entries, told.at)
        whole = fold(past, species)
        here = Place(whole.chamber, whole.shelf)
        start = split_start(whole, told.count or 0)
        begun = replace(told, batch=0, kind=EntryKind.STARTED, at=whole.started, count=None)
        # Until then it is told to stand in no chamber: a full shelf counts only where it goes.
        new = self.start(replace(begun, start=start))
        for each in split_past(past, species):
            retold = replace(each, recorded=self.now, via=told.via)
            self.add(replace(retold, id=0, batch=new.id), species)
        new = self._set_down(replace(told, batch=new.id, count=None, note=""), place or here)
        return self.add(replace(told, other=new.id)), new

    def _set_down(self, told: Entry, place: Place) -> Batch:
        """Tell where a part went when it was split off."""
        if place.chamber is None:
            return self.batches[told.batch]
        return self.add(put(replace(told, kind=EntryKind.MOVED), place))

    def restart(self, fresh: Entry) -> Batch:
        """Correct a start, and with it those of all that was taken out of the batch since.

        Args:
            fresh: the start as it should have been told; its id is that of the one that holds.

        Raises:
            UnknownNameError: no such chamber or shelf.
            RefusedError: it can't have been so.
        """
        self._check_start(fresh)
        restarted = list(self._restarted(fresh))
        for number in restarted:
            check_offspring(self.batches, number)
        return self.batches[fresh.batch]

    def _restarted(self, fresh: Entry) -> Sequence[int]:
        entries = entries_of(self.book, fresh.batch)
        old = beginning(entries)
        self._recount(old.start, fresh)
        self.add(replace(fresh, id=0, recorded=self.now, corrects=old.id))
        numbers = [fresh.batch]
        for entry in effective(entries):
            if entry.other is not None and old.start is not None and fresh.start is not None:
                numbers += self._carry(entry.other, old, old.start, fresh)
        return numbers

    def _carry(self, number: int, old: Entry, was: Start, fresh: Entry) -> Sequence[int]:
        """Correct the start of what was taken out, as far as it was that of the whole."""
        part = beginning(entries_of(self.book, number))
        if part.start is None or fresh.start is None:
            return ()
        start = carried(part.start, was, fresh.start)
        at = fresh.at if part.at == old.at else part.at
        if (start, at) == (part.start, part.at):
            return ()
        return self._restarted(replace(part, at=at, start=start, via=fresh.via))

    def _check_start(self, entry: Entry) -> None:
        if entry.start is not None:
            check_origin(self.batches, entry.start, entry.at)
            check_circle(self.batches, entry.batch, entry.start)

    def _recount(self, was: Start | None, fresh: Entry) -> None:
        """Let the split that a batch came of tell as many as its corrected start does."""
        new = fresh.start
        if was is None or new is None or was.split_from is None or was.count == new.count:
            return
        for entry in effective(entries_of(self.book, was.split_from)):
            if entry.other == fresh.batch:
                told = replace(entry, id=0, recorded=self.now, via=fresh.via)
                self.add(replace(told, count=new.count, corrects=entry.id))

    def _check(self, entry: Entry) -> None:
        if entry.chamber is not None:
            check_place(self.house, Place(entry.chamber, entry.shelf))

    def _check_room(self, batch: Batch, before: Batch | None) -> None:
        """Refuse to put a batch where there is no room; one that stood there already may stay."""
        here = batch.chamber, batch.shelf
        if before is None or (before.chamber, before.shelf) != here:
            others = (other for other in self.batches.values() if other.id != batch.id)
            check_room(self.house, batch, others)

    def _keep(self, entries: Sequence[Entry], entry: Entry) -> Batch:
        # Read again: a harvest names its entry, whose id is known only now.
        batch = read((*entries, entry), self.table)[1]
        self.batches[batch.id] = batch
        self.newest = entry.id
        return batch
