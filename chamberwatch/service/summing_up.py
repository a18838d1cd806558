"""Summing readings up, in the rounds: what is over, what changed, and bit by bit what was before.

The reckoning happens with no write lock held; only what came of it is written, in transactions of
a few milliseconds. What changes meanwhile is noticed (`Unsummed.touched`) and reckoned once more.
Whatever is not summed up is answered from the readings, so that being late makes no answer wrong.
"""

from dataclasses import dataclass, field
from typing import Final

from chamberwatch.core.review.summary import Rules
from chamberwatch.service.books import Books
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.ports import Clock

AT_ONCE: Final = 4
"""Quarter-hours in one transaction."""

IN_A_ROUND: Final = 96
"""Quarter-hours in one round: a year of before is summed up in two hours, a day a round."""


@dataclass(slots=True)
class SummingUp:
    """Keeps the summaries; used by one thread."""

    books: Books
    clock: Clock
    bands: BandsThen
    _followed: Rules | None = field(default=None, init=False)

    def look(self) -> bool:
        """Sum up what there is to sum up, for a while; return whether there is more.

        Raises:
            StorageError: it could not all be kept; what was kept is right.
        """
        self._follow()
        with self.books.write() as book:
            book.summing.reach_on(self.clock.now())
            book.summing.add_late()
        done = 0
        while done < IN_A_ROUND:
            kept = self._some()
            if not kept:
                return self._reach_back()
            done += kept
        return True

    def _follow(self) -> None:
        """Hold readings against the bands that held, as far as is known today."""
        with self.books.read() as book:
            rules = self.bands.rules(book)
        if rules == self._followed:
            return
        with self.books.write() as book:
            book.summing.follow(rules)
        self._followed = rules

    def _some(self) -> int:
        """Sum up some quarter-hours; return how many."""
        with self.books.read() as book:
            quarters = book.summing.waiting(AT_ONCE)
            if not quarters:
                return 0
            reckoned = book.summing.reckon(quarters)
        with self.books.write() as book:
            book.summing.keep(reckoned)
        return len(quarters)

    def _reach_back(self) -> bool:
        with self.books.write() as book:
            return book.summing.reach_back()
