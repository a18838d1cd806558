"""What is carried out of the house into files, and whether what is carried in is there already."""

from collections.abc import Sequence
from typing import Protocol

from chamberwatch.core.growing.batch import Entry
from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.reading import Reading
from chamberwatch.core.watch.reminder import Move
from chamberwatch.service.span import Span


class CarriedBook(Protocol):
    """Reads; keeps nothing of its own. Pages go by id, so that none is read twice."""

    def entries(self, span: Span, after: int, limit: int) -> Sequence[tuple[Entry, int | None]]:
        """Return what was told of batches within a span (by `at`), with ids above `after`.

        Beside each stands the id of the entry that was told in its place; None: it holds.
        """
        ...

    def actions(self, span: Span, after: int, limit: int) -> Sequence[tuple[Action, int | None]]:
        """Return deeds of a span (by `at`) in the same way."""
        ...

    def moves(self, span: Span, after: int, limit: int) -> Sequence[tuple[int, Move]]:
        """Return moves of reminders of a span with their own ids above `after`, oldest first."""
        ...

    def present(self, readings: Sequence[Reading]) -> int:
        """Return how many of these (time, sensor, quantity) are kept already."""
        ...

    def absorbed(self, readings: Sequence[Reading]) -> Sequence[Reading]:
        """Return those of which only summaries are kept: their minute is summed up for ever.

        Whether just this reading is in them nobody can tell any more.
        """
        ...
