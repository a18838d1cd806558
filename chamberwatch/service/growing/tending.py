"""Growing in the rounds: bands renewed where somebody else wrote, tasks put up and told by day.

A task is a reminder of low priority with a life of its own: it is raised when it can first be
done and returns when it was done. What people are told of is today's list, a reminder of its
own: everything new in one message, in the hours in which the grower usually comes by. Nothing
about growing is worth waking anybody for.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, tzinfo
from typing import Final, Protocol

from chamberwatch.core.day_words import together
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.task import TaskKind
from chamberwatch.core.watch.advice import untold
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.reminder import (
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
from chamberwatch.service.growing.duties import TaskNow
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

ASKED: Final = frozenset(CALL_OF.values())

NOWHERE: Final = ""
"""Stands in a reminder for no chamber: a log under the trees, or all that is to do today."""

EVENING: Final = time(21, 0)
"""Who comes by once a day may be told up to then."""

LIVE: Final = frozenset(State) - {State.NORMAL}


class Record(Protocol):
    """Knows every batch there ever was."""

    def state(self) -> tuple[int, Mapping[int, Batch]]:
        """Return the id of the last entry, and all batches by their number as it left them."""
        ...


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

    record: Record
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
        newest, batches = self.record.state()
        self.standing.renew(batches, self.clock.now(), newest)
        self.plan.renew()
        return self.duties.tasks()

    def write(self, book: Book, tasks: Sequence[TaskNow], now: datetime) -> bool:
        """Raise, return and tell the reminders about tasks; return whether any changed."""
        listed = {_key(shown): shown for shown in tasks}
        live = {(r.call, r.subject): r for r in book.reminders.all(LIVE) if r.call in ASKED}
        changed = False
        for key, reminder in live.items():
            if key not in listed and reminder.active:
                changed |= _move(book, reminder, _ended(reminder), now, "done, or no longer due")
        raised = []
        for key, shown in listed.items():
            found, moved = _raised(book, live.get(key), shown, now)
            raised.append((found, shown))
            changed |= moved
        return self._tell(book, raised, now) or changed

    def _tell(self, book: Book, raised: Sequence[tuple[Reminder, TaskNow]], now: datetime) -> bool:
        """Tell what is new of today's list, by day; return whether anything changed."""
        today = book.reminders.of(NOWHERE, Call.TODAY, "")
        if not raised:
            return today.active and _move(book, today, _ended(today), now, "all is done")
        by_day = [(r, shown) for r, shown in raised if self._by_day(r.chamber, now)]
        new = [(r, shown) for r, shown in by_day if untold([r])]
        # A list that was put off and whose time has come is told again as it stands by then.
        again = by_day if untold([today]) else []
        if not new and not again:
            return False
        if new:
            event = Event.WORSENED if today.active else Event.RAISED
            _move(book, today, (event,), now, "more can be done")
            today = book.reminders.of(NOWHERE, Call.TODAY, "")
        for reminder, _ in new:
            book.reminders.save(replace(reminder, told=now), ())
        if untold([today]):
            words = together([Message(s.title, s.body) for _, s in new or again])
            book.outbox.add(self.teller.rows(today, words, Priority.LOW, now))
            book.reminders.save(replace(today, told=now), ())
        return True

    def _by_day(self, chamber: str, now: datetime) -> bool:
        """Tell whether the grower has come by today, and is still about."""
        declared = self.house.chambers.get(chamber) or Chamber(chamber, chamber)
        local = now.astimezone(self.zone).time()
        return declared.visits[0] <= local <= max(declared.visits[-1], EVENING)


def _raised(
    book: Book, live: Reminder | None, shown: TaskNow, now: datetime
) -> tuple[Reminder, bool]:
    """Return the reminder of a task, raised, and whether that moved anything.

    One that stands in another chamber by now goes on there as it was, so that nobody is told
    again of what was moved.
    """
    chamber = shown.task.chamber or NOWHERE
    if live is not None and live.active and live.chamber == chamber:
        return live, False
    found = book.reminders.of(chamber, *_key(shown))
    events = [Event.RAISED] if not found.active else []
    told = found.told
    if live is not None and live.active:
        _move(book, live, _ended(live), now, "it was moved")
        events += [Event.SEEN] if live.state is State.ACKNOWLEDGED else []
        told = live.told
    _move(book, found, events, now, "it can be done now")
    found = replace(book.reminders.of(chamber, *_key(shown)), told=told)
    book.reminders.save(found, ())
    return found, True


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
