"""A plan that is kept to for its week.

Planned anew from each day, a start can be put off again and again: from the day on which it was
due another day is as good. So a plan stands until the next Monday. What is started takes its
place in it; when more is started than it says, or a batch is lost, it is made anew.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.rotation.plan import PlannedStart


@dataclass(frozen=True, slots=True)
class Promise:
    """A plan and what there was when it was made.

    Attributes:
        made: the day of it.
        starts: in the order of their days.
        begun: how many batches of each species had been started by then.
        lost: how many had been thrown out.
    """

    made: date
    starts: tuple[PlannedStart, ...]
    begun: Mapping[str, int]
    lost: int

    def holds(self, batches: Iterable[Batch], today: date) -> bool:
        """Tell whether the plan still stands."""
        known = tuple(batches)
        same_week = self.made.isocalendar()[:2] == today.isocalendar()[:2]
        begun, planned = _begun(known), Counter(start.species for start in self.starts)
        as_planned = all(
            count - self.begun.get(name, 0) <= planned[name] for name, count in begun.items()
        )
        return same_week and as_planned and _lost(known) == self.lost

    def left(self, batches: Iterable[Batch]) -> tuple[PlannedStart, ...]:
        """Return the starts that have not been made; the earliest of a species count as made."""
        return tuple(self._left(_begun(batches)))

    def _left(self, begun: Mapping[str, int]) -> Iterator[PlannedStart]:
        made = {name: count - self.begun.get(name, 0) for name, count in begun.items()}
        for start in self.starts:
            if made.get(start.species, 0) > 0:
                made[start.species] -= 1
            else:
                yield start


def promise(starts: Iterable[PlannedStart], batches: Iterable[Batch], today: date) -> Promise:
    """Return a plan that was made today, to be kept to."""
    known = tuple(batches)
    ordered = tuple(sorted(starts, key=lambda start: start.on))
    return Promise(today, ordered, _begun(known), _lost(known))


def _begun(batches: Iterable[Batch]) -> Mapping[str, int]:
    """Return how many of each species were started; what was split off is no start."""
    return Counter(b.start.species for b in batches if b.start.split_from is None)


def _lost(batches: Iterable[Batch]) -> int:
    return sum(batch.stage is Stage.CONTAMINATED for batch in batches)
