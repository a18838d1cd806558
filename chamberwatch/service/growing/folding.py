"""From entries to batches, for all of them at once."""

import logging
from collections.abc import Iterable, Sequence
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import Batch, Entry
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.service.books import Book

log = logging.getLogger(__name__)

NOT_KEPT_YET: Final = 2**63


def batches_of(entries: Iterable[Entry], table: SpeciesTable) -> dict[int, Batch]:
    """Return every batch that these entries tell of, by number.

    One that can't be folded, because its species has lost a stage since, is left out and logged:
    it must not take the others with it.
    """
    told: dict[int, list[Entry]] = {}
    for entry in entries:
        told.setdefault(entry.batch, []).append(entry)
    found = {}
    for number, each in told.items():
        try:
            found[number] = fold(each, table.known(species_of(each)))
        except RefusedError as error:
            log.warning("Batch %d can't be read as it was told: %s", number, error)
    return found


def species_of(entries: Sequence[Entry]) -> str:
    """Return the species of a batch: as its start says, or the newest correction of it.

    An entry that is not kept yet (id 0) is the newest.
    """
    starts = [
        e.start for e in sorted(entries, key=lambda e: e.id or NOT_KEPT_YET) if e.start is not None
    ]
    return starts[-1].species if starts else ""


def entries_of(book: Book, number: int) -> tuple[Entry, ...]:
    """Return all that was told of a batch, by id.

    Raises:
        UnknownNameError: no such batch.
    """
    found = tuple(book.growing.of(number))
    if not found:
        raise no_batch(number)
    return found


def no_batch(number: int) -> UnknownNameError:
    """Return the error that says so."""
    return UnknownNameError(f"There is no batch {number}. Ask for the list of batches.")
