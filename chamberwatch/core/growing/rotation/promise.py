"""A plan that is kept to for its week.

Planned anew from each day, a start can be put off again and again: from the day on which it was
due another day is as good. So a plan stands until the next Monday. What is started takes its
place in it; when more is started than it says, or a batch is lost, it is made anew.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.rotation.plan import (
    WEEK_D,
    Awaited,
    Plan,
    PlannedStart,
    Space,
    Wanted,
)


@dataclass(frozen=True, slots=True)
class Promise:
    """A plan, and what there was when it was made.

    Attributes:
        made: the day of it.
        wanted: the wish that it is for.
        spaces: where it found room.
        plan: its starts in the order of their days, each with its turn.
        begun: how many batches of each species had been started by then.
        lost: how many had been thrown out.
    """

    made: date
    wanted: tuple[Wanted, ...]
    spaces: tuple[Space, ...]
    plan: Plan
    begun: Mapping[str, int]
    lost: int

    def answers(self, wanted: Sequence[Wanted], spaces: Sequence[Space]) -> bool:
        """Tell whether it was made for this wish and these chambers."""
        return (self.wanted, self.spaces) == (tuple(wanted), tuple(spaces))

    def holds(self, batches: Iterable[Batch], today: date) -> bool:
        """Tell whether the plan still stands."""
        known = tuple(batches)
        same_week = self.made.isocalendar()[:2] == today.isocalendar()[:2]
        begun, planned = _begun(known), Counter(start.species for start in self.plan.starts)
        as_planned = all(
            count - self.begun.get(name, 0) <= planned[name] for name, count in begun.items()
        )
        return same_week and as_planned and _lost(known) == self.lost

    def left(self, batches: Iterable[Batch]) -> tuple[PlannedStart, ...]:
        """Return the starts that have not been made; the earliest of a species count as made."""
        begun = _begun(batches)
        return tuple(s for s in self.plan.starts if s.turn > begun.get(s.species, 0))


def promise(
    plan: Plan,
    wanted: Iterable[Wanted],
    spaces: Iterable[Space],
    batches: Iterable[Batch],
    today: date,
) -> Promise:
    """Return a plan that was made today, to be kept to.

    Args:
        plan: what was found.
        wanted: the wish that it is for.
        spaces: where it found room.
        batches: all of them.
        today: the day.
    """
    known = tuple(batches)
    begun = _begun(known)
    starts = tuple(_counted(sorted(plan.starts, key=lambda start: start.on), begun))
    numbered = replace(plan, starts=starts)
    return Promise(today, tuple(wanted), tuple(spaces), numbered, begun, _lost(known))


def _counted(starts: Iterable[PlannedStart], begun: Mapping[str, int]) -> Iterator[PlannedStart]:
    turns = Counter(begun)
    for start in starts:
        turns[start.species] += 1
        yield replace(start, turn=turns[start.species])


def _begun(batches: Iterable[Batch]) -> dict[str, int]:
    """Return how many of each species were started; what was split off is no start."""
    return dict(Counter(b.start.species for b in batches if b.start.split_from is None))


def _lost(batches: Iterable[Batch]) -> int:
    return sum(batch.stage is Stage.CONTAMINATED for batch in batches)


# ------------------------------------------------------------------ as it is shown


def cut(plan: Plan, weeks: int) -> Plan:
    """Return the first weeks of a plan.

    Args:
        plan: of as many weeks or more.
        weeks: how many are left, at least one.
    """
    shown = plan.weeks[:weeks]
    end = shown[-1].monday + timedelta(days=WEEK_D)
    gives = tuple(each for each in plan.gives if each.week < end)
    return replace(
        plan,
        starts=tuple(start for start in plan.starts if start.on < end),
        weeks=shown,
        gives=gives,
        meets=not gives,
        helps=plan.helps if gives else (),
    )


def put_off(start: PlannedStart, first: date) -> PlannedStart:
    """Return a start with all its days so much later that it is not before a day."""
    late = max(first - start.on, timedelta(0))
    return replace(
        start,
        on=start.on + late,
        opens_on=start.opens_on + late,
        leaves_on=start.leaves_on + late,
        harvests=tuple(
            Awaited(crop.low + late, crop.high + late, crop.kg_low, crop.kg_high)
            for crop in start.harvests
        ),
    )


def where_free(
    starts: Iterable[PlannedStart],
    spaces: Iterable[Space],
    taken: Iterable[tuple[str, str]],
    today: date,
) -> Iterator[PlannedStart]:
    """Yield starts; those that are due lose a place that is still taken.

    Args:
        starts: by day.
        spaces: where batches can stand.
        taken: chamber and shelf of each batch that stands in one.
        today: the day.
    """
    room = Counter({(s.chamber, shelf): s.holds for s in spaces for shelf in s.shelves})
    room.subtract(taken)
    for start in starts:
        place = start.colonise_at
        if start.on > today or place is None:
            yield start
            continue
        free = room[place] > 0
        room[place] -= 1
        yield start if free else replace(start, colonise_at=None)
