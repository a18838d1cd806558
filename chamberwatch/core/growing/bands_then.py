"""What a chamber's band followed in the past, from what was told of the batches.

As if all of it had been told at once: a batch that was told late stood there all the same, and
what was corrected or withdrawn never was.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby

from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.species import Species, SpeciesTable
from chamberwatch.core.growing.wants import Following, Grown, Voices, follow


@dataclass(frozen=True, slots=True)
class Since:
    """What a chamber followed from a time on.

    Attributes:
        at: from when on; None: ever since.
        following: what the batches made of its band; None: none had stood there yet, and the
            general band of the stated stage held.
    """

    at: datetime | None
    following: Following | None


Life = Sequence[tuple[datetime, Batch]]
"""What a batch was, and from when on, oldest first."""


@dataclass(slots=True)
class _Stood:
    """What lives in a chamber at one moment, and what it followed up to then.

    Attributes:
        living: by number.
        changed: something of it is otherwise than when the band was last made.
        found: what it followed, oldest first.
    """

    living: dict[int, Grown] = field(default_factory=dict)
    changed: bool = True
    found: list[Since] = field(default_factory=lambda: [Since(None, None)])

    def put(self, number: int, batch: Grown | None) -> None:
        """Have a batch live here as it is now; None: not any more."""
        if self.living.get(number) != batch:
            self.changed = True
        if batch is not None:
            self.living[number] = batch
        else:
            self.living.pop(number, None)


def followed(
    chambers: Iterable[str], lives: Iterable[Life], table: SpeciesTable
) -> Mapping[str, tuple[Since, ...]]:
    """Return what chambers followed, oldest first; the first is what held before any batch.

    Each thing told is looked at once, in the chambers it names, however many batches there are.

    Args:
        chambers: their names.
        lives: of all batches that were ever told of.
        table: the species.
    """
    told = sorted((each for life in lives for each in life), key=_when)
    stood = {name: _Stood() for name in chambers}
    asked: Voices = {}
    for at, group in groupby(told, key=_when):
        # The last word on each; what is told of the same moment changes a band once.
        now = {batch.id: batch for _, batch in group}
        touched = {name for batch in now.values() for name in batch.chambers if name in stood}
        for batch in now.values():
            for name in batch.chambers:
                if name in stood:
                    stood[name].put(batch.id, _living(batch, name, table))
        for name in touched:
            here = stood[name]
            if here.changed:
                here.changed = False
                here.found.append(Since(at, follow(here.living.values(), table.sources, asked)))
    return {name: tuple(here.found) for name, here in stood.items()}


def _when(told: tuple[datetime, Batch]) -> datetime:
    return told[0]


def _living(batch: Batch, chamber: str, table: SpeciesTable) -> Grown | None:
    if batch.chamber != chamber or batch.ended is not None:
        return None
    return grown(batch, table.known)


def grown(batch: Batch, species: Callable[[str], Species]) -> Grown:
    """Return a batch as far as its air goes.

    Args:
        batch: which.
        species: gives a species by its name.
    """
    return Grown(batch.id, species(batch.start.species), batch.stage, batch.sealed)
