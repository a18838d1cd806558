"""What is due of each batch, and what can be done today, with the words for it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Protocol

from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.due import Due, dues
from chamberwatch.core.growing.due_words import due_words, task_words
from chamberwatch.core.growing.own_times import OwnTimes, learnt
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.growing.task import PlannedStart, Task, overdue, tasks
from chamberwatch.service.growing.slot import Slot
from chamberwatch.service.ports import Clock


class Batches(Protocol):
    """Knows every batch there ever was."""

    def batches(self) -> Mapping[int, Batch]:
        """Return all batches by their number; the same mapping while nothing was told."""
        ...


class Starts(Protocol):
    """Knows which starts are planned."""

    def starts(self) -> Sequence[PlannedStart]:
        """Return the planned starts, the next first."""
        ...


@dataclass(frozen=True, slots=True)
class DueNow:
    """A window that lies ahead of a batch, and one line about it."""

    due: Due
    words: str


@dataclass(frozen=True, slots=True)
class TaskNow:
    """Something that can be done today, and what is said of it."""

    task: Task
    title: str
    body: str
    overdue: bool


@dataclass(frozen=True, slots=True)
class Duties:
    """Answers what is due; changes nothing.

    Attributes:
        record: knows the batches.
        planned: knows which starts are planned.
        table: the species.
        clock: the time.
        zone: for dates.
    """

    record: Batches
    planned: Starts
    table: SpeciesTable
    clock: Clock
    zone: tzinfo
    _own: Slot[OwnTimes] = field(default_factory=Slot, init=False, repr=False, compare=False)

    def dues(self, batch: int | None = None) -> tuple[DueNow, ...]:
        """Return what is due of all living batches, of one where given, the next first."""
        batches, now = self.record.batches(), self.clock.now()
        own = self._learnt(batches)
        asked = [b for b in batches.values() if batch in (None, b.id) and b.ended is None]
        return self._dues(asked, own, now)

    def ahead_of(self, batch: Batch) -> tuple[DueNow, ...]:
        """Return what would be due of a batch that is not recorded, the next first."""
        return self._dues([batch], self._learnt(self.record.batches()), self.clock.now())

    def _dues(self, asked: Sequence[Batch], own: OwnTimes, now: datetime) -> tuple[DueNow, ...]:
        found = [
            due for b in asked for due in dues(b, self.table.known(b.start.species), own, now)
        ]
        found.sort(key=lambda due: (due.window.high, due.batch))
        return tuple(DueNow(due, due_words(due, now, self.zone)) for due in found)

    def tasks(self) -> tuple[TaskNow, ...]:
        """Return what can be done today, the most urgent first."""
        # A planned start begins with its day as the grower's calendar has it.
        batches, now = self.record.batches(), self.clock.now().astimezone(self.zone)
        own = self._learnt(batches)
        found = tasks(batches.values(), self.table, own, now, self.planned.starts())
        return tuple(self._worded(task, batches, now) for task in found)

    def _learnt(self, batches: Mapping[int, Batch]) -> OwnTimes:
        return self._own.of(batches, lambda: learnt(batches.values()))

    def _worded(self, task: Task, batches: Mapping[int, Batch], now: datetime) -> TaskNow:
        batch = batches.get(task.batch) if task.batch is not None else None
        name = batch.start.species if batch is not None else task.species or ""
        said = task_words(task, batch, self.table.known(name), now, self.zone)
        return TaskNow(task, said.title, said.body, overdue(task, now))
