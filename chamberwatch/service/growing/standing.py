"""What stands in each chamber, and the band that follows: kept ready for every thread.

A `House` is what the grower declared. The one that `Standing.house` gives is the same with one
difference: its chambers are looked up afresh each time, so that who asks for a band gets the one
that holds now, whichever thread told of a batch a moment ago.
"""

import threading
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Final

from chamberwatch.core.growing.bands_then import grown
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.growing.wants import Following, follow
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.service.board import SETTLING, Board


class LiveChambers(Mapping[str, Chamber]):
    """Chambers by name. Renewed as a whole, so that a reader never sees half a change."""

    def __init__(self, chambers: Mapping[str, Chamber]) -> None:
        """Begin with these."""
        self._chambers = dict(chambers)

    def renew(self, chambers: Mapping[str, Chamber]) -> None:
        """Put these in place of all."""
        self._chambers = dict(chambers)

    def __getitem__(self, name: str) -> Chamber:
        return self._chambers[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._chambers)

    def __len__(self) -> int:
        return len(self._chambers)


class Standing:
    """Which batches stand where, and what follows. Safe to ask from any thread."""

    def __init__(self, declared: House, table: SpeciesTable, board: Board) -> None:
        """Begin with nothing recorded: each chamber has the general band of its stated stage."""
        self._declared = declared
        self._table = table
        self._board = board
        self._chambers = LiveChambers(declared.chambers)
        self._turn = threading.Lock()
        self._newest = 0
        self.house: Final = replace(declared, chambers=self._chambers)

    def renew(
        self, batches: Mapping[int, Batch], now: datetime | None, newest: int | None = None
    ) -> frozenset[str]:
        """Let the bands follow the batches as they are now.

        Args:
            batches: all of them, ended ones too.
            now: when this was told; those whose band changes settle from then on. None at the
                start, when nothing has changed.
            newest: id of the last entry that made them what they are; what another thread told
                meanwhile is not undone by an older one. None: nobody else tells anything.

        Returns:
            Names of the chambers whose band is another one now.
        """
        with self._turn:
            if newest is not None and newest < self._newest:
                return frozenset()
            self._newest = self._newest if newest is None else newest
            before = dict(self._chambers)
            after = {
                name: replace(chamber, following=following_of(chamber, batches, self._table))
                for name, chamber in self._declared.chambers.items()
            }
            self._chambers.renew(after)
        changed = frozenset(
            name
            for name, chamber in after.items()
            if chamber.judged_by() != before[name].judged_by()
        )
        if now is not None:
            for name in changed:
                self._board.settle(name, now, now + SETTLING)
        if after != before:
            self._board.stir()
        return changed

    def settles_until(self, chamber: str, now: datetime) -> datetime | None:
        """Return until when a chamber is left in peace after a change of its band."""
        return self._board.settling(chamber, now)


def following_of(
    chamber: Chamber, batches: Mapping[int, Batch], table: SpeciesTable
) -> Following | None:
    """Return what a chamber's band follows.

    None for a room, and while no batch was ever recorded in the chamber: the general band of its
    stated stage holds then. A chamber that has become empty follows nothing and is not judged.
    """
    ever = any(chamber.name in batch.chambers for batch in batches.values())
    if chamber.stage is None or not ever:
        return None
    here = [b for b in batches.values() if b.chamber == chamber.name and b.ended is None]
    return follow((grown(batch, table.known) for batch in here), table.sources)
