"""What the book holds of batches, and what the batches are as it was told."""

import logging
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import combinations
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Entry, by_batch
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.species import Species, SpeciesTable, Wants
from chamberwatch.service.books import Book

log = logging.getLogger(__name__)

# Higher than any id that the book gives.
_NOT_KEPT_YET: Final = 2**63


def batches_of(
    entries: Iterable[Entry],
    table: SpeciesTable,
    mention: Callable[[int, RefusedError], None] | None = None,
) -> dict[int, Batch]:
    """Return every batch that these entries tell of, by number.

    One that can't be read in any way is left out: it must not take the others with it.

    Args:
        entries: of all of them.
        table: the species table.
        mention: told which is left out, and why; None: it is logged.
    """
    found = {}
    for number, each in by_batch(entries).items():
        try:
            found[number] = read(each, table)[1]
        except RefusedError as error:
            (mention or _log)(number, error)
    return found


def unread(number: int, reason: RefusedError) -> str:
    """Say that a batch can't be read."""
    return f"Batch {number} can't be read as it was told: {reason}"


def _log(number: int, reason: RefusedError) -> None:
    log.warning("%s", unread(number, reason))


def read(entries: Sequence[Entry], table: SpeciesTable) -> tuple[Species, Batch]:
    """Return what a batch is, and the species to go by.

    What was told stays readable when the table has lost the species, or one of its stages, since:
    it is then read with stages that fit, and without any wants.

    Raises:
        RefusedError: it can't be read in any way.
    """
    name = species_of(entries)
    known = table.species.get(name)
    for species in ([known] if known is not None else []) + list(_bare(name)):
        try:
            return species, fold(entries, species)
        except RefusedError:
            continue
    # For the reason, which is another where the species is known.
    species = table.known(name)
    return species, fold(entries, species)


# Most species pin and fruit; reishi grows antlers and a conk.
_USUAL: Final = ((Stage.PINNING, Stage.FRUITING), (Stage.ANTLER, Stage.CONK))


def _bare(name: str) -> Iterator[Species]:
    """Yield species without wants, for every choice of stages that one may have, usual first."""
    some = [stage for usual in _USUAL for stage in usual]
    choices = [c for size in range(len(some), -1, -1) for c in combinations(some, size)]
    for chosen in (*_USUAL, *choices):
        stages = (Stage.COLONISATION, Stage.CASE_RUN, *chosen)
        yield Species(name, name, "", {stage: Wants(stage) for stage in stages})


def species_of(entries: Sequence[Entry]) -> str:
    """Return the species of a batch: as its start says, or the newest correction of it.

    An entry that is not kept yet (id 0) is the newest.
    """
    starts = [
        e.start
        for e in sorted(entries, key=lambda e: e.id or _NOT_KEPT_YET)
        if e.start is not None
    ]
    return starts[-1].species if starts else ""


def entries_of(book: Book, number: int) -> tuple[Entry, ...]:
    """Return all that was told of a batch, by id.

    Raises:
        UnknownNameError: no such batch.
    """
    found = tuple(book.growing.of(number))
    if not found:
        raise UnknownNameError(f"There is no batch {number}. Ask for the list of batches.")
    return found


def find(book: Book, number: int) -> Entry:
    """Return an entry by its id.

    Raises:
        UnknownNameError: no such entry.
    """
    found = book.growing.get(number)
    if found is None:
        raise UnknownNameError(f"There is no entry {number}. Ask for the entries of the batch.")
    return found
