"""Books in memory, so that a winter takes minutes: the same shapes, no file and no transactions.

Nothing is rolled back: whoever raises inside a block ends the bench. Readings older than
`KEPT` are dropped, since nothing looks further back while it watches.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Final

from chamberwatch.core.growing.batch import Entry
from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.foretold import Foretold, Outcome
from chamberwatch.core.watch.found import Exchange, Found
from chamberwatch.core.watch.reading import Quantity, Reading, Reject, Undated
from chamberwatch.core.watch.reminder import Call, Move, Reminder, State
from chamberwatch.core.watch.rule import Watched
from chamberwatch.service.books import Answer, Bucket, OutRow, OutState, Span
from chamberwatch.service.small_books import Token

KEPT: Final = timedelta(days=4)
TRIM_BEYOND: Final = 12_000
EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)

Series = tuple[str, Quantity]


class MemoryReadings:
    """Readings by series, each in order of time."""

    def __init__(self) -> None:
        self._of: dict[Series, list[Reading]] = {}
        self._times: dict[Series, list[datetime]] = {}
        self._count = 0

    def add(self, readings: Iterable[Reading]) -> int:
        fresh = 0
        for reading in readings:
            key = (reading.sensor, reading.quantity)
            times, rows = self._times.setdefault(key, []), self._of.setdefault(key, [])
            place = len(times)
            if times and reading.time <= times[-1]:
                place = bisect_left(times, reading.time)
                if times[place] == reading.time:
                    continue
            times.insert(place, reading.time)
            rows.insert(place, reading)
            fresh += 1
            if len(times) > TRIM_BEYOND:
                cut = bisect_left(times, times[-1] - KEPT)
                del times[:cut], rows[:cut]
        self._count += fresh
        return fresh

    def newest(self) -> Mapping[Series, Reading]:
        return {key: rows[-1] for key, rows in self._of.items() if rows}

    def _cut(self, sensor: str, quantity: Quantity, span: Span) -> list[Reading]:
        key = (sensor, quantity)
        times = self._times.get(key, [])
        return self._of.get(key, [])[bisect_left(times, span.start) : bisect_left(times, span.end)]

    def within(
        self, sensors: Sequence[str], quantity: Quantity, span: Span, limit: int
    ) -> Sequence[Reading]:
        rows = [r for s in sensors for r in self._cut(s, quantity, span)]
        return sorted(rows, key=lambda r: (r.time, r.sensor))[:limit]

    def buckets(
        self, sensors: Sequence[str], quantity: Quantity, span: Span, step_s: float, limit: int
    ) -> Sequence[Bucket]:
        groups: dict[int, list[float]] = {}
        for sensor in sensors:
            for reading in self._cut(sensor, quantity, span):
                number = int((reading.time - EPOCH).total_seconds() // step_s)
                groups.setdefault(number, []).append(reading.value)
        return [
            Bucket(
                EPOCH + timedelta(seconds=number * step_s),
                len(values),
                min(values),
                sum(values) / len(values),
                max(values),
            )
            for number, values in sorted(groups.items())[:limit]
        ]

    def page(
        self, sensor: str | None, span: Span, after: Reading | None, limit: int
    ) -> Sequence[Reading]:
        keys = [key for key in self._of if sensor is None or key[0] == sensor]
        rows = sorted(
            (r for name, quantity in keys for r in self._cut(name, quantity, span)),
            key=lambda r: (r.time, r.sensor, r.quantity),
        )
        if after is not None:
            edge = (after.time, after.sensor, after.quantity)
            rows = [r for r in rows if (r.time, r.sensor, r.quantity) > edge]
        return rows[:limit]

    def correct(self, readings: Sequence[Reading]) -> int:
        raise NotImplementedError("Nobody calibrates a sensor in this bench.")

    def count(self) -> int:
        return self._count

    def add_undated(self, values: Iterable[Undated]) -> None:
        raise NotImplementedError("Every reading of this bench carries its time.")

    def take_waiting(self, boot: str) -> Sequence[Undated]:
        return ()

    def forget_boots(self, boot: str) -> int:
        return 0

    def count_undated(self) -> tuple[int, int]:
        return 0, 0


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
    """What people did, in the order it was told."""

    def __init__(self) -> None:
        self._rows: list[Action] = []

    def add(self, action: Action) -> Action:
        kept = replace(action, id=len(self._rows) + 1)
        self._rows.append(kept)
        return kept

    def recent(self, chamber: str | None, limit: int = 50) -> Sequence[Action]:
        rows = [a for a in self._rows[-2 * limit :] if chamber is None or a.chamber == chamber]
        return sorted(rows, key=lambda a: (a.at, a.id), reverse=True)[:limit]

    def within(self, span: Span) -> Sequence[Action]:
        raise NotImplementedError("Nobody looks back on weeks in this bench.")


class MemoryForetold:
    """When limits were expected, in the order it was foretold."""

    def __init__(self) -> None:
        self._rows: list[Foretold] = []
        self._open: dict[int, None] = {}

    def add(self, foretold: Foretold) -> Foretold:
        kept = replace(foretold, id=len(self._rows) + 1)
        self._rows.append(kept)
        self._open[kept.id] = None
        return kept

    def save(self, foretold: Foretold) -> None:
        self._rows[foretold.id - 1] = foretold
        if foretold.outcome is not Outcome.OPEN:
            self._open.pop(foretold.id, None)

    def open(self) -> Sequence[Foretold]:
        return [self._rows[number - 1] for number in self._open]

    def recent(self, chamber: str, since: datetime, limit: int = 200) -> Sequence[Foretold]:
        found: list[Foretold] = []
        for each in reversed(self._rows):
            if each.at < since or len(found) == limit:
                break
            if each.chamber == chamber:
                found.append(each)
        return found


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


class MemoryCalibrations:
    """None: the sensors stay as wrong as they are."""

    def add(self, calibration: Calibration) -> Calibration:
        raise NotImplementedError("Nobody calibrates a sensor in this bench.")

    def all(self) -> Sequence[Calibration]:
        return ()

    def newest_id(self) -> int:
        return 0


class MemoryFound:
    """Mistings and ventings, in order of their ids, nearly that of their starts."""

    def __init__(self) -> None:
        self._rows: list[Found] = []

    def add(self, found: Found) -> Found:
        kept = replace(found, id=len(self._rows) + 1)
        self._rows.append(kept)
        return kept

    def save(self, found: Found) -> None:
        self._rows[found.id - 1] = found

    def get(self, number: int) -> Found | None:
        return self._rows[number - 1] if 0 < number <= len(self._rows) else None

    def within(self, chamber: str, span: Span) -> Sequence[Found]:
        rows = []
        for found in reversed(self._rows):
            if found.start < span.start - timedelta(days=1):
                break
            if found.chamber == chamber and span.start <= found.start < span.end:
                rows.append(found)
        return sorted(rows, key=lambda f: (f.start, f.id))


class MemoryExchanges:
    """Air changes over stretches of time."""

    def __init__(self) -> None:
        self._rows: list[Exchange] = []

    def add(self, exchange: Exchange) -> Exchange:
        kept = replace(exchange, id=len(self._rows) + 1)
        self._rows.append(kept)
        return kept

    def within(self, chamber: str, span: Span) -> Sequence[Exchange]:
        rows = []
        for exchange in reversed(self._rows):
            if exchange.start < span.start - timedelta(days=1):
                break
            if exchange.chamber == chamber and span.start <= exchange.start < span.end:
                rows.append(exchange)
        return sorted(rows, key=lambda e: (e.start, e.id))


class MemoryGrowing:
    """Nothing is recorded of batches: the home band for the stated stage holds."""

    def start(self, entry: Entry) -> Entry:
        raise NotImplementedError("Nobody records a batch in this bench.")

    def add(self, entry: Entry) -> Entry:
        raise NotImplementedError("Nobody records a batch in this bench.")

    def of(self, batch: int) -> Sequence[Entry]:
        return ()

    def get(self, entry: int) -> Entry | None:
        return None

    def all(self) -> Sequence[Entry]:
        return ()

    def newest_id(self) -> int:
        return 0


class MemoryRejects:
    """The last refused messages."""

    def __init__(self) -> None:
        self._rows: list[Reject] = []

    def add(self, rejects: Iterable[Reject]) -> None:
        self._rows += rejects

    def recent(self, limit: int = 200) -> Sequence[Reject]:
        return self._rows[: -limit - 1 : -1]

    def count(self) -> int:
        return len(self._rows)


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
    rejects: MemoryRejects = field(default_factory=MemoryRejects)
    kept: MemoryKept = field(default_factory=MemoryKept)
    foretold: MemoryForetold = field(default_factory=MemoryForetold)
    tokens: MemoryTokens = field(default_factory=MemoryTokens)


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
