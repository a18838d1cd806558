"""Growing in the rounds: bands renewed where somebody else wrote, tasks put up and told by day.

A task is a reminder of low priority with a life of its own: it is raised when it can first be
done and returns when it was done. It is told in the hours in which the grower usually comes by,
everything new in one message; nothing about growing is worth waking anybody for.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, tzinfo
from typing import Final, Protocol

from chamberwatch.core.day_words import together
from chamberwatch.core.growing.task import TaskKind
from chamberwatch.core.watch.advice import untold
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.reminder import (
    TASK_CALLS,
    Call,
    Event,
    Move,
    Priority,
    Reminder,
    State,
    advance,
)
from chamberwatch.core.wording import Message
from chamberwatch.service.books import Book
from chamberwatch.service.growing.duties import Batches, TaskNow
from chamberwatch.service.growing.standing import Standing
from chamberwatch.service.ports import Clock
from chamberwatch.service.telling import Teller

CALL_OF: Final[Mapping[TaskKind, Call]] = {
    TaskKind.OPEN: Call.OPEN,
    TaskKind.CASE: Call.CASE,
    TaskKind.AIR: Call.AIR,
    TaskKind.HARVEST: Call.HARVEST,
    TaskKind.SOAK: Call.SOAK,
    TaskKind.WATER: Call.WATER,
    TaskKind.START: Call.START,
    TaskKind.CLEAR_OUT: Call.CLEAR_OUT,
}

OUTDOORS: Final = ""
"""Stands in a reminder for no chamber: a log under the trees."""


class Listed(Protocol):
    """Knows what can be done today."""

    def tasks(self) -> tuple[TaskNow, ...]:
        """Return it, the most urgent first."""
        ...


class Planned(Protocol):
    """Plans the starts."""

    def renew(self) -> None:
        """Plan afresh where anything has changed; may take seconds."""
        ...


@dataclass(frozen=True, slots=True)
class Tending:
    """What the rounds do about growing. Only their thread uses it.

    Attributes:
        record: knows the batches.
        duties: what can be done today.
        plan: of starts.
        standing: the bands.
        house: what the grower declared.
        teller: writes messages.
        clock: the time.
        zone: for times of day.
    """

    record: Batches
    duties: Listed
    plan: Planned
    standing: Standing
    house: House
    teller: Teller
    clock: Clock
    zone: tzinfo

    def look(self) -> tuple[TaskNow, ...]:
        """Let the bands follow what was told elsewhere; return what can be done today.

        Raises:
            StorageError: the book can't be read just now.
        """
        self.standing.renew(self.record.batches(), self.clock.now())
        self.plan.renew()
        return self.duties.tasks()

    def write(self, book: Book, tasks: Sequence[TaskNow], now: datetime) -> bool:
        """Raise, return and tell the reminders about tasks; return whether any changed."""
        listed = {_key(shown): shown for shown in tasks}
        live = {
            (r.call, r.subject): r
            for r in book.reminders.all()
            if r.call in TASK_CALLS and (r.active or (r.call, r.subject) in listed)
        }
        changed = False
        for key, reminder in live.items():
            if key not in listed:
                changed |= _move(book, reminder, _ended(reminder), now, "done, or no longer due")
        raised = []
        for key, shown in listed.items():
            found = live.get(key) or book.reminders.of(shown.task.chamber or OUTDOORS, *key)
            if not found.active:
                changed |= _move(book, found, (Event.RAISED,), now, "it can be done now")
                found = book.reminders.of(found.chamber, *key)
            raised.append((found, shown))
        return self._tell(book, raised, now) or changed

    def _tell(self, book: Book, raised: Sequence[tuple[Reminder, TaskNow]], now: datetime) -> bool:
        """Tell everything that is new in one message, by day; return whether there was any."""
        new = [
            (reminder, shown)
            for reminder, shown in raised
            if untold([reminder]) and self._by_day(reminder.chamber, now)
        ]
        if not new:
            return False
        words = together([Message(shown.title, shown.body) for _, shown in new])
        book.outbox.add(self.teller.rows(new[0][0], words, Priority.LOW, now))
        for reminder, _ in new:
            book.reminders.save(replace(reminder, told=now), ())
        return True

    def _by_day(self, chamber: str, now: datetime) -> bool:
        """Tell whether it is between the first and the last hour at which the grower comes by."""
        declared = self.house.chambers.get(chamber) or Chamber(chamber, chamber)
        local: time = now.astimezone(self.zone).time()
        return declared.visits[0] <= local <= declared.visits[-1]


def _key(shown: TaskNow) -> tuple[Call, str]:
    return CALL_OF[shown.task.kind], shown.task.key


def _ended(reminder: Reminder) -> tuple[Event, ...]:
    # Who does what was asked has seen it; who never was told has nothing to acknowledge.
    unseen = reminder.state is State.UNACKNOWLEDGED
    return (Event.SEEN, Event.RETURNED) if unseen else (Event.RETURNED,)


def _move(
    book: Book, reminder: Reminder, events: Sequence[Event], now: datetime, cause: str
) -> bool:
    moves: list[Move] = []
    for event in events:
        reminder, move = advance(reminder, event, now, cause)
        moves.append(move)
    book.reminders.save(replace(reminder, priority=Priority.LOW), moves)
    return bool(moves)
