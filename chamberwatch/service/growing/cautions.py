"""Cautions that stand, and who has seen them."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import Batch, EntryKind
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.sign_table import SIGNS
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.growing.spores import (
    Caution,
    Hazard,
    Seeing,
    about_contamination,
    about_spores,
    read_id,
)
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.books import Book, Books
from chamberwatch.service.ports import Clock

WHO_CHARS: Final = 80

DIGITS: Final = 18
"""A number with more of them is no batch, and more than a database takes."""


@dataclass(frozen=True, slots=True)
class Cautions:
    """Says what is to be minded, until somebody has seen it.

    Attributes:
        books: keep who has seen what.
        clock: for when.
        table: names what grows; None: its name in the record is used.
    """

    books: Books
    clock: Clock
    table: SpeciesTable | None = None

    def standing(
        self, chamber_name: str, batches: Mapping[int, Batch], house: House
    ) -> tuple[Caution, ...]:
        """Return the cautions of a chamber that nobody has seen yet.

        Args:
            chamber_name: which.
            batches: all there are, ended ones too.
            house: says which chamber stands in a living space.

        Raises:
            UnknownNameError: no such chamber.
        """
        chamber = house.chamber(chamber_name)
        here = [b for b in batches.values() if b.chamber == chamber_name]
        was_here = [b for b in batches.values() if _last_stood(b) == chamber_name]
        with self.books.read() as book:
            found = [self._contaminated(book, batch) for batch in was_here]
            if chamber.living_space:
                seen = _seen(book, Hazard.SPORES, chamber_name)
                found.insert(0, about_spores(chamber_name, chamber.title, here, seen))
        return tuple(caution for caution in found if caution is not None)

    def acknowledge(self, caution_id: str, who: str, via: str) -> None:
        """Keep who has seen a caution.

        Args:
            caution_id: of one that stands.
            who: a name.
            via: page, api or command line.

        Raises:
            UnknownNameError: no such caution can stand.
            RefusedError: no name was given, or one that is too long.
        """
        name = " ".join(who.split())
        if not name or len(name) > WHO_CHARS:
            raise RefusedError(f"Give the name of who has seen it, in 1 to {WHO_CHARS} letters.")
        about = read_id(caution_id)
        with self.books.write() as book:
            if about is None or not _possible(book, *about):
                raise UnknownNameError(
                    f"There is no caution “{caution_id}”. Take the id of one that stands."
                )
            hazard, of, count = about
            seen = [*_seen(book, hazard, of), Seeing(name, self.clock.now(), via, count)]
            book.kept.keep_text(_key(hazard, of), _written(seen))

    def seen(self, hazard: Hazard, of: str) -> tuple[Seeing, ...]:
        """Return who has seen a caution so far, oldest first.

        Args:
            hazard: what it is about.
            of: name of the chamber (spores) or number of the batch.
        """
        with self.books.read() as book:
            return _seen(book, hazard, of)

    def _contaminated(self, book: Book, batch: Batch) -> Caution | None:
        seen = _seen(book, Hazard.CONTAMINATED, str(batch.id))
        if seen:
            return None
        name = batch.start.species
        title = self.table.known(name).title if self.table is not None else name
        return about_contamination(batch, title, _suspected(book, batch.id), seen)


def _last_stood(batch: Batch) -> str | None:
    """Return where a batch stands, or stood before it ended."""
    return batch.chamber if batch.ended is None else next(reversed(batch.chambers), None)


def _suspected(book: Book, batch: int) -> datetime | None:
    """Return when patches of mould were first told of a batch."""
    return next((at for at, sign in _looks(book, batch) if _is_mould(sign)), None)


def _looks(book: Book, batch: int) -> Iterator[tuple[datetime, str]]:
    for entry in effective(book.growing.of(batch)):
        if entry.kind is EntryKind.LOOKED:
            yield entry.at, entry.sign


def _is_mould(sign: str) -> bool:
    return sign in SIGNS and SIGNS[sign].contamination


def _possible(book: Book, hazard: Hazard, of: str, count: int) -> bool:
    """Tell whether a caution like that may ever have stood, given what was recorded."""
    if hazard is Hazard.CONTAMINATED:
        known = count == 1 and of.isascii() and of.isdigit() and len(of) <= DIGITS
        return known and bool(book.growing.of(int(of)))
    stood = {entry.batch for entry in book.growing.all() if entry.chamber == of}
    return len(stood) >= count


def _key(hazard: Hazard, of: str) -> str:
    return f"caution seen: {hazard.value} {of}"


def _seen(book: Book, hazard: Hazard, of: str) -> tuple[Seeing, ...]:
    text = book.kept.text(_key(hazard, of))
    return tuple(
        Seeing(row["who"], datetime.fromisoformat(row["at"]), row["via"], row["count"])
        for row in json.loads(text or "[]")
    )


def _written(seen: list[Seeing]) -> str:
    return json.dumps(
        [
            {"who": each.who, "at": each.at.isoformat(), "via": each.via, "count": each.count}
            for each in seen
        ],
        ensure_ascii=False,
    )
