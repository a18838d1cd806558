"""The book of everything that happened, as the log reads it: by time, from an edge on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.found import Found
from chamberwatch.core.watch.reminder import Move, Reminder
from chamberwatch.service.out_row import OutRow


@dataclass(frozen=True, slots=True)
class Turn:
    """Which lines of one source are wanted.

    Of lines with the same time the one with the higher id is the newer.

    Attributes:
        time: of the edge.
        id: of the edge: a line at just that time is wanted only beyond this id.
        newer: lines after the edge, oldest first; else those before it, newest first.
        limit: at most so many.
        chamber: of this one only; None: of all.
    """

    time: datetime
    id: int
    newer: bool
    limit: int
    chamber: str | None = None

    def wants(self, time: datetime, number: int) -> bool:
        """Tell whether a line lies beyond the edge."""
        here, edge = (time, number), (self.time, self.id)
        return here > edge if self.newer else here < edge


class ChronicleBook(Protocol):
    """Reads; keeps nothing of its own."""

    def deeds(self, turn: Turn) -> Sequence[tuple[Action, Action | None]]:
        """Return deeds, each with what was told in its place; withdrawals are no lines."""
        ...

    def explained(self, deeds: Sequence[Action]) -> Sequence[Found]:
        """Return what the readings show of these deeds."""
        ...

    def found(self, turn: Turn) -> Sequence[Found]:
        """Return what the readings show and nobody recorded."""
        ...

    def moves(self, turn: Turn) -> Sequence[tuple[int, Move, Reminder]]:
        """Return moves of reminders with their ids."""
        ...

    def messages(self, turn: Turn, besides: str) -> Sequence[OutRow]:
        """Return messages by when they were written, but for those to one address.

        What was said within another message is left out.
        """
        ...
