"""Books in memory, so that a winter takes minutes: the same shapes, no file and no transactions.

Nothing is rolled back: whoever raises inside a block ends the bench. What was read, and what
was found in it, is in `memory_record`; here are reminders, messages and deeds.
"""

from bisect import insort
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import islice

from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.found import Found
from chamberwatch.core.watch.reminder import Call, Move, Reminder, State
from chamberwatch.core.watch.rule import Watched
from chamberwatch.service.books import Answer, OutRow, OutState, Span
from chamberwatch.service.chronicle_book import Turn
from chamberwatch.service.small_books import Token
from tests.bench.winter.memory_record import (
    MemoryCalibrations,
    MemoryExchanges,
    MemoryForetold,
    MemoryFound,
    MemoryGrowing,
    MemoryReadings,
    MemoryRejects,
    NoPhotos,
    NothingCarried,
)
from tests.plain_summaries import PlainSummaries, PlainSumming


class MemoryReminders:
    """Reminders by id, and all of their moves."""

    def __init__(self) -> None:
        self._rows: dict[int, Reminder] = {}
        self._ids: dict[tuple[str, Call, str], int] = {}
        self._moves: list[Move] = []

    def all(self, states: frozenset[State] | None = None) -> Sequence[Reminder]:
        return [r for r in self._rows.values() if states is None or r.state in states]

    def get(self, number: int) -> Reminder | None:
        return self._rows.get(number)

    def named(self, chamber: str, numbers: Iterable[int]) -> Sequence[Reminder]:
        wanted = set(numbers)
        return [r for r in self._rows.values() if r.id in wanted and r.chamber == chamber]

    def of(self, chamber: str, call: Call, subject: str) -> Reminder:
        key = (chamber, call, subject)
        if key not in self._ids:
            number = len(self._rows) + 1
            self._ids[key] = number
            self._rows[number] = Reminder(number, chamber, call, subject)
        return self._rows[self._ids[key]]

    def save(self, reminder: Reminder, moves: Sequence[Move]) -> None:
        self._rows[reminder.id] = reminder
        self._moves += moves

    def moves(
        self, number: int | None = None, after: int = 0, limit: int = 200
    ) -> Sequence[tuple[int, Move]]:
        found = [
            (place, move)
            for place, move in enumerate(self._moves[after:], start=after + 1)
            if number is None or move.reminder == number
        ]
        return found[:limit]

    def newest_move(self) -> int:
        return len(self._moves)

    def moves_within(self, span: Span) -> Sequence[Move]:
        raise NotImplementedError("Nobody looks back on weeks in this bench.")

    def held_at(self, moment: datetime) -> Sequence[Move]:
        raise NotImplementedError("Nobody looks back on weeks in this bench.")


class MemoryWatched:
    """How far each rule has come."""

    def __init__(self) -> None:
        self._rows: dict[tuple[object, ...], Watched] = {}

    def load(self) -> Sequence[Watched]:
        return list(self._rows.values())

    def save(self, watched: Iterable[Watched]) -> None:
        self._rows |= {each.key: each for each in watched}


class MemoryOutbox:
    """Messages; those that wait are kept apart, for they are asked for every minute."""

    def __init__(self) -> None:
        self._rows: dict[int, OutRow] = {}
        self._waiting: set[int] = set()
        self.arrived: list[OutRow] = []
        """What went out, alone or within another, in that order."""

    def add(self, rows: Iterable[OutRow]) -> None:
        for row in rows:
            self.save(replace(row, id=len(self._rows) + 1))

    def due(self, now: datetime) -> Sequence[OutRow]:
        rows = (self._rows[number] for number in self._waiting)
        due = [row for row in rows if row.next_try <= now]
        return sorted(due, key=lambda row: (-row.priority, row.created, row.id))

    def next_try(self) -> datetime | None:
        return min((self._rows[number].next_try for number in self._waiting), default=None)

    def in_state(self, state: OutState, limit: int = 200) -> Sequence[OutRow]:
        if state is OutState.WAITING:
            rows = [self._rows[number] for number in self._waiting]
        else:
            rows = [row for row in self._rows.values() if row.state is state]
        return sorted(rows, key=lambda row: (row.created, row.id), reverse=True)[:limit]

    def waiting(self, address: str) -> Sequence[OutRow]:
        rows = [self._rows[number] for number in self._waiting]
        own = [row for row in rows if row.address == address]
        return sorted(own, key=lambda row: (row.created, row.id))

    def sent_since(self, since: datetime) -> Sequence[OutRow]:
        found: list[OutRow] = []
        for row in reversed(self.arrived):
            if row.sent is not None and row.sent <= since:
                break
            if row.state is OutState.SENT:
                found.append(row)
        return found[::-1]

    def within(self, span: Span) -> Sequence[OutRow]:
        raise NotImplementedError("Nobody looks back on weeks in this bench.")

    def save(self, row: OutRow) -> None:
        self._rows[row.id] = row
        if row.state in (OutState.SENT, OutState.FOLDED):
            self.arrived.append(row)
        if row.state is OutState.WAITING:
            self._waiting.add(row.id)
        else:
            self._waiting.discard(row.id)


class MemoryActions:
    """What people did, in the order in which they did it."""

    def __init__(self) -> None:
        self._rows: list[Action] = []
        self._instead: dict[int, Action] = {}

    def add(self, action: Action) -> Action:
        kept = replace(action, id=len(self._rows) + 1)
        insort(self._rows, kept, key=lambda a: (a.at, a.id))
        if action.corrects is not None:
            self._instead[action.corrects] = kept
        return kept

    def get(self, number: int) -> Action | None:
        return next((a for a in self._rows if a.id == number), None)

    def instead_of(self, number: int) -> Action | None:
        return self._instead.get(number)

    def recent(self, chamber: str | None, limit: int = 50) -> Sequence[Action]:
        rows = (a for a in self._holding(reversed(self._rows)) if chamber in (None, a.chamber))
        return list(islice(rows, limit))

    def within(self, span: Span) -> Sequence[Action]:
        return [a for a in self._holding(self._rows) if span.start <= a.at < span.end]

    def _holding(self, rows: Iterable[Action]) -> Iterator[Action]:
        return (a for a in rows if not a.withdrawn and a.id not in self._instead)


class MemoryChronicle:
    """None: nobody reads the log."""

    def deeds(self, turn: Turn) -> Sequence[tuple[Action, Action | None]]:
        raise NotImplementedError("Nobody reads the log in this bench.")

    def explained(self, deeds: Sequence[Action]) -> Sequence[Found]:
        raise NotImplementedError("Nobody reads the log in this bench.")

    def found(self, turn: Turn) -> Sequence[Found]:
        raise NotImplementedError("Nobody reads the log in this bench.")

    def moves(self, turn: Turn) -> Sequence[tuple[int, Move, Reminder]]:
        raise NotImplementedError("Nobody reads the log in this bench.")

    def messages(self, turn: Turn, besides: str) -> Sequence[OutRow]:
        raise NotImplementedError("Nobody reads the log in this bench.")


class MemoryTokens:
    """None: no program asks."""

    def add(self, name: str, digest: str, made: datetime) -> Token:
        raise NotImplementedError("No program asks in this bench.")

    def all(self) -> Sequence[Token]:
        return ()

    def of_digest(self, digest: str) -> Token | None:
        return None

    def use(self, number: int, now: datetime) -> None:
        raise NotImplementedError("No program asks in this bench.")

    def revoke(self, number: int, now: datetime) -> Token | None:
        return None


class MemoryKept:
    """Small texts."""

    def __init__(self) -> None:
        self._texts: dict[str, str] = {}

    def text(self, name: str) -> str | None:
        return self._texts.get(name)

    def keep_text(self, name: str, value: str) -> None:
        self._texts[name] = value

    def use_link(self, digest: str, now: datetime) -> bool:
        raise NotImplementedError("The messages of this bench carry no links.")

    def link_used(self, digest: str) -> bool:
        raise NotImplementedError("The messages of this bench carry no links.")

    def answer(self, key: str) -> Answer | None:
        raise NotImplementedError("Nobody writes through the API in this bench.")

    def keep_answer(self, key: str, answer: Answer, now: datetime) -> None:
        raise NotImplementedError("Nobody writes through the API in this bench.")


@dataclass
class MemoryBook:
    """All that is kept."""

    readings: MemoryReadings = field(default_factory=MemoryReadings)
    reminders: MemoryReminders = field(default_factory=MemoryReminders)
    watched: MemoryWatched = field(default_factory=MemoryWatched)
    outbox: MemoryOutbox = field(default_factory=MemoryOutbox)
    actions: MemoryActions = field(default_factory=MemoryActions)
    calibrations: MemoryCalibrations = field(default_factory=MemoryCalibrations)
    found: MemoryFound = field(default_factory=MemoryFound)
    exchanges: MemoryExchanges = field(default_factory=MemoryExchanges)
    growing: MemoryGrowing = field(default_factory=MemoryGrowing)
    photos: NoPhotos = field(default_factory=NoPhotos)
    carried: NothingCarried = field(default_factory=NothingCarried)
    rejects: MemoryRejects = field(default_factory=MemoryRejects)
    kept: MemoryKept = field(default_factory=MemoryKept)
    foretold: MemoryForetold = field(default_factory=MemoryForetold)
    chronicle: MemoryChronicle = field(default_factory=MemoryChronicle)
    tokens: MemoryTokens = field(default_factory=MemoryTokens)
    summaries: PlainSummaries = field(default_factory=PlainSummaries)
    summing: PlainSumming = field(default_factory=PlainSumming)


@dataclass
class MemoryBooks:
    """Opens the one book; used by one thread."""

    book: MemoryBook = field(default_factory=MemoryBook)

    @contextmanager
    def write(self) -> Iterator[MemoryBook]:
        yield self.book

    @contextmanager
    def read(self) -> Iterator[MemoryBook]:
        yield self.book
