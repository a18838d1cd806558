"""What can be done today: the list of a day, made from what is due."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from itertools import groupby
from operator import attrgetter
from typing import Final, Protocol

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container
from chamberwatch.core.growing.due import Due, DueKind, Window, dues
from chamberwatch.core.growing.own_times import OwnTimes
from chamberwatch.core.growing.species import SpeciesTable


class TaskKind(StrEnum):
    """What a person can do, what spoils soonest first."""

    HARVEST = "harvest"
    OPEN = "open"
    CASE = "case"
    AIR = "give more air"
    SOAK = "soak"
    WATER = "water"
    START = "start the next"
    CLEAR_OUT = "clear out"


START_WITHIN: Final = timedelta(days=3)
"""A start may be so late before it leaves a gap in the harvest (our choice)."""

_TASK_OF: Final[Mapping[DueKind, TaskKind]] = {
    DueKind.CASE: TaskKind.CASE,
    DueKind.OPEN: TaskKind.OPEN,
    DueKind.AIR: TaskKind.AIR,
    DueKind.HARVEST: TaskKind.HARVEST,
    DueKind.FLUSH: TaskKind.HARVEST,
    DueKind.SOAK: TaskKind.SOAK,
    DueKind.WATER: TaskKind.WATER,
    DueKind.SPENT: TaskKind.CLEAR_OUT,
}


class PlannedStart(Protocol):
    """A start that the rotation asks for and that has not been made yet."""

    @property
    def species(self) -> str:
        """Return the name of the species."""

    @property
    def on(self) -> date:
        """Return the day."""

    @property
    def colonise_at(self) -> tuple[str, str] | None:
        """Return the chamber and the shelf to put it on; None: that place is still taken."""

    @property
    def turn(self) -> int:
        """Return which one of its species it is, of all that were ever started."""


@dataclass(frozen=True, slots=True)
class Task:
    """One thing that can be done today.

    Attributes:
        key: stays the same while it waits, such as harvest-14-2 (batch and flush).
        kind: what to do.
        batch: number of the batch; None with a start.
        species: its name.
        chamber: where it stands, or is to stand; None: in no chamber, or in more than one.
        shelf: the shelf there.
        window: when it is best done.
        count: own figures in the window.
        source: of the window.
        times: how many batches to start; 1 with everything else.
    """

    key: str
    kind: TaskKind
    batch: int | None
    species: str
    chamber: str | None
    shelf: str | None
    window: Window
    count: int = 0
    source: str = ""
    times: int = 1


def tasks(
    batches: Iterable[Batch],
    table: SpeciesTable,
    own: OwnTimes,
    now: datetime,
    starts: Iterable[PlannedStart] = (),
) -> tuple[Task, ...]:
    """Return what can be done today, what spoils soonest first.

    Args:
        batches: all of them; those that have ended ask for nothing.
        table: all species.
        own: what the grower's own batches took.
        now: the time; a planned start begins with its day in the zone of this.
        starts: planned ones that have not been made.
    """
    found = [task for batch in batches for task in _of_batch(batch, table, own, now)]
    by_day = attrgetter("on", "species")
    found += [
        start_task(tuple(same), now) for _, same in groupby(sorted(starts, key=by_day), by_day)
    ]
    order = list(TaskKind)
    return tuple(
        sorted(
            (task for task in found if task.window.low <= now),
            key=lambda task: (order.index(task.kind), task.window.high, task.key),
        )
    )


def _of_batch(batch: Batch, table: SpeciesTable, own: OwnTimes, now: datetime) -> Iterator[Task]:
    ahead = dues(batch, table.known(batch.start.species), own, now)
    for due in ahead:
        if due.kind in _TASK_OF and _asked(due, ahead, batch):
            yield Task(
                due.key,
                _TASK_OF[due.kind],
                batch.id,
                batch.start.species,
                batch.chamber,
                batch.shelf,
                due.window,
                due.count,
                due.source,
            )


def _asked(due: Due, ahead: Sequence[Due], batch: Batch) -> bool:
    """Tell whether a person could do it, with nothing else to be done before."""
    before = {other.kind for other in ahead if other.key != due.key}
    if due.kind is DueKind.SPENT:
        return not before & {DueKind.HARVEST, DueKind.FLUSH}
    if due.kind is DueKind.FLUSH:
        # What rests is soaked first; a log bears when the weather suits, so nobody is sent out.
        log = batch.start.container is Container.LOG
        resting = batch.stage is Stage.RESTING and due.flush == batch.flush + 1
        return resting and DueKind.SOAK not in before and not log
    return True


def start_task(starts: Sequence[PlannedStart], now: datetime) -> Task:
    """Return the task of starting what is planned of one species for one day.

    Args:
        starts: all of that day, at least one.
        now: the time; a day begins in the zone of this.
    """
    first = starts[0]
    low = datetime.combine(first.on, time(), now.tzinfo)
    places = [start.colonise_at or ("", "") for start in starts]
    chambers, shelves = {chamber for chamber, _ in places}, set(places)
    return Task(
        f"start-{first.species}-{first.on:%Y-%m-%d}",
        TaskKind.START,
        None,
        first.species,
        (places[0][0] or None) if len(chambers) == 1 else None,
        (places[0][1] or None) if len(shelves) == 1 else None,
        Window(low, low + START_WITHIN),
        0,
        "rotation",
        len(starts),
    )


def overdue(task: Task, now: datetime) -> bool:
    """Tell whether its window is over."""
    return now > task.window.high
