"""A week told in moves: what happened to a few reminders, at minutes after its Monday began."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from chamberwatch.core.review.episode import episodes
from chamberwatch.core.review.record import Done, Fate, Kind, Record, Telling
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import (
    Call,
    Cause,
    Event,
    Evidence,
    Move,
    Out,
    Priority,
    Reminder,
    advance,
)

MONDAY = datetime(2026, 11, 16, tzinfo=UTC)
DAY = 24 * 60.0
WEEK = 7 * DAY

DRY = Evidence("middle", Quantity.HUMIDITY, 79.0, 80.0, 95.0, None, None)
SILENT = Evidence("middle", None, None, None, None, None, None)

MIST, VENT, LOOK, COOL, TODAY = 1, 2, 3, 4, 5


def mon(minutes: float) -> datetime:
    """Return the moment so many minutes after the week began; before it for a negative number."""
    return MONDAY + timedelta(minutes=minutes)


def kept() -> dict[int, Reminder]:
    """Return the reminders of an invented tent, by their ids."""
    return {
        MIST: Reminder(MIST, "tent", Call.MIST, evidence=DRY),
        VENT: Reminder(VENT, "tent", Call.VENT),
        LOOK: Reminder(LOOK, "tent", Call.CHECK_SENSOR, "middle", evidence=SILENT),
        COOL: Reminder(COOL, "tent", Call.COOL),
        TODAY: Reminder(TODAY, "", Call.TODAY, priority=Priority.LOW),
    }


@dataclass
class Told:
    """What is written down as it happens."""

    reminders: dict[int, Reminder] = field(default_factory=kept)
    moves: list[Move] = field(default_factory=list)
    tellings: list[Telling] = field(default_factory=list)
    deeds: list[Done] = field(default_factory=list)

    def move(self, number: int, event: Event, minutes: float, shelf_min: float = 0.0) -> None:
        """Let something happen to a reminder; it must be possible."""
        before = self.reminders[number]
        shelf = timedelta(minutes=shelf_min) if shelf_min else None
        spoke = before.evidence if event in (Event.RAISED, Event.WORSENED) else None
        cause = Cause("test", spoke, shelf, Out("Ann", "test"))
        self.reminders[number], move = advance(before, event, mon(minutes), cause)
        self.moves.append(move)

    def episode(self, number: int, raised: float, ended: float | None = None) -> None:
        """Let a cause hold from one minute to another."""
        self.move(number, Event.RAISED, raised)
        if ended is not None:
            self.move(number, Event.RETURNED, ended)

    def tell(
        self,
        number: int,
        minutes: float,
        sent: float | None = None,
        *,
        kind: Kind = Kind.REMINDER,
        fate: Fate = Fate.OUT,
        priority: Priority = Priority.MEDIUM,
    ) -> None:
        """Write a message about the present episode of a reminder."""
        episode = self.reminders[number].episode if number else 0
        told = None if sent is None else mon(sent)
        self.tellings.append(
            Telling(number, episode, kind, "tent", priority, mon(minutes), told, fate)
        )

    def told(self, number: int, raised: float, ended: float | None = None) -> None:
        """Let a cause hold, and tell of it at once."""
        self.move(number, Event.RAISED, raised)
        self.tell(number, raised, raised)
        if ended is not None:
            self.move(number, Event.RETURNED, ended)

    def did(self, deed: Deed, minutes: float, *, recorded: bool = True) -> None:
        """Let somebody do something in the tent."""
        self.deeds.append(Done("tent", deed, mon(minutes), recorded))

    def record(self, now: float = WEEK + DAY) -> Record:
        """Return the week as it is known at a minute."""
        return Record(
            start=MONDAY,
            end=mon(WEEK),
            now=mon(now),
            reminders=self.reminders,
            episodes=episodes(self.moves),
            tellings=self.tellings,
            deeds=self.deeds,
        )
