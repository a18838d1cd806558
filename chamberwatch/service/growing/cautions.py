"""Cautions that stand, and who has seen them."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Entry, EntryKind
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.sign_table import SIGNS
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.growing.spores import (
    MOST_OPEN,
    Caution,
    Hazard,
    Seeing,
    Stay,
    about_contamination,
    about_spores,
    about_stale_air,
    last_stood,
    many_since,
    read_id,
    sheddings,
    sheds,
    stays,
)
from chamberwatch.core.growing.wants import CO2
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.service.books import Book, Books
from chamberwatch.service.ports import Clock

WHO_CHARS: Final = 80


@dataclass(frozen=True, slots=True)
class _Told:
    """What the entries of a batch say that the batch itself doesn't.

    Attributes:
        batch: as it was when they were read; it is another object after anything told of it.
        mould: when patches of mould were first told of.
        stood: where it stood.
    """

    batch: Batch
    mould: datetime | None
    stood: tuple[Stay, ...]


@dataclass(frozen=True, slots=True)
class Cautions:
    """Says what is to be minded, until somebody has seen it. Safe to ask from any thread.

    Attributes:
        books: keep who has seen what.
        clock: for when.
        table: names what grows; None: its name in the record is used.
    """

    books: Books
    clock: Clock
    table: SpeciesTable | None = None
    # What was read of each batch, so that the entries of all need not be read for each page.
    _told: dict[int, _Told] = field(default_factory=dict, init=False, repr=False, compare=False)

    def standing(
        self, chamber_name: str | None, batches: Mapping[int, Batch], house: House
    ) -> tuple[Caution, ...]:
        """Return the cautions of a chamber that nobody has seen yet.

        Args:
            chamber_name: which; None: of what stands in none, outdoors say.
            batches: all there are, ended ones too.
            house: says which chamber stands in a living space, and what each one follows.

        Raises:
            UnknownNameError: no such chamber.
        """
        chamber = house.chamber(chamber_name) if chamber_name is not None else None
        with self.books.read() as book:
            return tuple(self._of(book, chamber, batches, house))

    def everywhere(self, batches: Mapping[int, Batch], house: House) -> tuple[Caution, ...]:
        """Return all cautions that nobody has seen yet, of what stands in no chamber last.

        Args:
            batches: all there are, ended ones too.
            house: says which chamber stands in a living space, and what each one follows.
        """
        with self.books.read() as book:
            return tuple(self._all(book, batches, house))

    def around(
        self, told: Iterable[Batch], batches: Mapping[int, Batch], house: House
    ) -> tuple[Caution, ...]:
        """Return what is to be minded by who stands before these batches.

        Args:
            told: batches of which something was told; of one in no chamber its own alone counts.
            batches: all there are, ended ones too.
            house: says which chamber stands in a living space, and what each one follows.
        """
        numbers = {batch.id for batch in told}
        places = dict.fromkeys(_place(batches[number], house) for number in sorted(numbers))
        found = (each for name in places for each in self.standing(name, batches, house))
        return tuple(c for c in found if c.chamber is not None or c.batch in numbers)

    def acknowledge(
        self, caution_id: str, who: str, via: str, batches: Mapping[int, Batch], house: House
    ) -> None:
        """Keep who has seen a caution. One that was seen already stays as it was.

        Args:
            caution_id: of one that stands.
            who: a name.
            via: page, api or command line.
            batches: all there are, ended ones too.
            house: says which chamber stands in a living space, and what each one follows.

        Raises:
            UnknownNameError: no such caution stands; it can't be seen beforehand.
            RefusedError: no name was given, or one that is too long.
        """
        name = " ".join(who.split())
        if not name or len(name) > WHO_CHARS:
            raise RefusedError(f"Give the name of who has seen it, in 1 to {WHO_CHARS} letters.")
        about = read_id(caution_id)
        with self.books.write() as book:
            stand = [caution.id for caution in self._all(book, batches, house)]
            known = () if about is None else _seen(book, *about[:2])
            if about is not None and caution_id in stand:
                seeing = Seeing(name, self.clock.now(), via, about[2])
                book.kept.keep_text(_key(*about[:2]), _written([*known, seeing]))
            elif about is None or about[2] not in {seeing.count for seeing in known}:
                raise UnknownNameError(
                    f"No caution “{caution_id}” stands. "
                    f"Those that do: {', '.join(stand) or 'none'}."
                )

    def seen(self, hazard: Hazard, of: str) -> tuple[Seeing, ...]:
        """Return who has seen a caution so far, oldest first.

        Args:
            hazard: what it is about.
            of: name of the chamber (spores, stale air) or number of the batch.
        """
        with self.books.read() as book:
            return _seen(book, hazard, of)

    # ------------------------------------------------------------ inside

    def _all(self, book: Book, batches: Mapping[int, Batch], house: House) -> Iterator[Caution]:
        for chamber in (*house.chambers.values(), None):
            yield from self._of(book, chamber, batches, house)

    def _of(
        self, book: Book, chamber: Chamber | None, batches: Mapping[int, Batch], house: House
    ) -> Iterator[Caution]:
        name = chamber.name if chamber is not None else None
        found: list[Caution | None] = []
        if chamber is not None:
            found = [self._spores(book, chamber, batches), _stale_air(book, chamber, batches)]
        was_here = (batch for batch in batches.values() if _place(batch, house) == name)
        found += [self._contaminated(book, batch) for batch in was_here]
        # A chamber that is in the settings no longer is no place that one could be led to.
        yield from (replace(caution, chamber=name) for caution in found if caution is not None)

    def _spores(
        self, book: Book, chamber: Chamber, batches: Mapping[int, Batch]
    ) -> Caution | None:
        if not chamber.living_space:
            return None
        here = [batch for batch in batches.values() if batch.chamber == chamber.name]
        count = sum(sheds(batch) for batch in here)
        last = _newest(_seen(book, Hazard.SPORES, chamber.name), count)
        if last is None or count <= MOST_OPEN:
            return about_spores(chamber.name, chamber.title, here, ())
        # What had ended before it was seen can't tell what has become of the number since.
        since = many_since(
            shed
            for batch in batches.values()
            if _stood_since(batch, chamber.name, last.at)
            for shed in sheddings(batch, chamber.name, self._read(book, batch).stood)
        )
        still = [last] if since is not None and since <= last.at else []
        return about_spores(chamber.name, chamber.title, here, still)

    def _contaminated(self, book: Book, batch: Batch) -> Caution | None:
        # It is asked for every batch that there ever was: most of them are over.
        if batch.stage is Stage.SPENT:
            return None
        suspected = self._read(book, batch).mould
        if suspected is None and batch.stage is not Stage.CONTAMINATED:
            return None
        name = batch.start.species
        title = self.table.known(name).title if self.table is not None else name
        seen = _seen(book, Hazard.CONTAMINATED, str(batch.id))
        return about_contamination(batch, title, suspected, seen)

    def _read(self, book: Book, batch: Batch) -> _Told:
        """Return what the entries of a batch say, read anew after something was told of it."""
        told = self._told.get(batch.id)
        if told is None or told.batch is not batch:
            entries = book.growing.of(batch.id)
            told = self._told[batch.id] = _Told(batch, _mould(entries), stays(entries))
        return told


def _place(batch: Batch, house: House) -> str | None:
    """Return in which chamber of the house a batch stands, or stood before it ended."""
    stood = last_stood(batch)
    return stood if stood in house.chambers else None


def _stood_since(batch: Batch, chamber: str, first: datetime) -> bool:
    """Tell whether a batch stood in a chamber, and lived after that time."""
    return chamber in batch.chambers and (batch.ended is None or batch.ended > first)


def _newest(seen: Sequence[Seeing], count: int) -> Seeing | None:
    """Return who has seen it last of so many or more, or of fewer where nobody has."""
    of_as_many = [seeing for seeing in seen if seeing.count >= count]
    return max(of_as_many or seen, key=lambda seeing: seeing.at, default=None)


def _stale_air(book: Book, chamber: Chamber, batches: Mapping[int, Batch]) -> Caution | None:
    band = chamber.following.band(CO2) if chamber.following is not None else None
    here = [batch for batch in batches.values() if batch.chamber == chamber.name]
    if about_stale_air(chamber.name, chamber.title, band, here, ()) is None:
        return None
    seen = _seen(book, Hazard.CO2, chamber.name)
    return about_stale_air(chamber.name, chamber.title, band, here, seen)


def _mould(entries: Sequence[Entry]) -> datetime | None:
    """Return when patches of mould were first told of a batch."""
    looks = (entry for entry in effective(entries) if entry.kind is EntryKind.LOOKED)
    return next((entry.at for entry in looks if _is_mould(entry.sign)), None)


def _is_mould(sign: str) -> bool:
    return sign in SIGNS and SIGNS[sign].contamination


def _key(hazard: Hazard, of: str) -> str:
    return f"caution seen: {hazard.value} {of}"


def _seen(book: Book, hazard: Hazard, of: str) -> tuple[Seeing, ...]:
    text = book.kept.text(_key(hazard, of))
    return tuple(
        Seeing(row["who"], datetime.fromisoformat(row["at"]), row["via"], row["count"])
        for row in json.loads(text or "[]")
    )


def _written(seen: Sequence[Seeing]) -> str:
    return json.dumps(
        [
            {"who": each.who, "at": each.at.isoformat(), "via": each.via, "count": each.count}
            for each in seen
        ],
        ensure_ascii=False,
    )
