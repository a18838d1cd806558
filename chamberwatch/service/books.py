"""What is kept, as the service sees it. Storage satisfies these by shape.

A `Book` is one transaction on everything that is kept. `Books.write()` holds the write lock from
its first line, so what is read there can't change before it is written back; `Books.read()` sees
one consistent state. Leaving the block commits; an exception rolls everything back.
"""

from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.found import Exchange, Found
from chamberwatch.core.watch.reading import Quantity, Reading, Undated
from chamberwatch.core.watch.reminder import Call, Move, Reminder, State
from chamberwatch.core.watch.rule import Watched
from chamberwatch.service.carried_book import CarriedBook
from chamberwatch.service.chronicle_book import ChronicleBook
from chamberwatch.service.out_row import OutKind as OutKind
from chamberwatch.service.out_row import OutRow as OutRow
from chamberwatch.service.out_row import OutState as OutState
from chamberwatch.service.small_books import (
    CalibrationsBook,
    ForetoldBook,
    GrowingBook,
    PhotosBook,
    RejectsBook,
    TokensBook,
)
from chamberwatch.service.span import Span as Span  # for all who ask for a stretch
from chamberwatch.service.summed_books import SummariesBook, SummingBook


@dataclass(frozen=True, slots=True)
class Bucket:
    """Readings of one series in one step of time."""

    start: datetime
    count: int
    least: float
    mean: float
    most: float


class ReadingsBook(Protocol):
    """Readings, and what came in without a usable time."""

    def add(self, readings: Iterable[Reading]) -> int:
        """Keep readings; one of a (time, sensor, quantity) already kept is left out.

        Returns how many were new.
        """
        ...

    def newest(self) -> Mapping[tuple[str, Quantity], Reading]:
        """Return the newest reading of each series."""
        ...

    def within(
        self, sensors: Sequence[str], quantity: Quantity, span: Span, limit: int
    ) -> Sequence[Reading]:
        """Return readings of these sensors in order of (time, sensor), at most `limit`."""
        ...

    def buckets(
        self, sensors: Sequence[str], quantity: Quantity, span: Span, step_s: float, limit: int
    ) -> Sequence[Bucket]:
        """Return buckets aligned to whole steps since 1970, empty ones left out."""
        ...

    def page(
        self, sensor: str | None, span: Span, after: Reading | None, limit: int
    ) -> Sequence[Reading]:
        """Return readings of every quantity in the order they lie, those behind `after` only."""
        ...

    def correct(self, readings: Sequence[Reading]) -> int:
        """Keep what these are worth now, unless the sensor sent something else.

        Returns how many were kept.
        """
        ...

    def count(self) -> int:
        """Return how many readings are kept."""
        ...

    def add_undated(self, values: Iterable[Undated]) -> None:
        """Keep values without a usable time."""
        ...

    def take_waiting(self, boot: str) -> Sequence[Undated]:
        """Remove and return the undated values of this boot, oldest first."""
        ...

    def forget_boots(self, boot: str) -> int:
        """Mark undated values of any other boot as never to be dated; return how many."""
        ...

    def count_undated(self) -> tuple[int, int]:
        """Return how many wait for the clock, and how many can never be dated."""
        ...


class RemindersBook(Protocol):
    """Reminders and their moves."""

    def all(self, states: frozenset[State] | None = None) -> Sequence[Reminder]:
        """Return reminders by id, of these states only where given."""
        ...

    def get(self, number: int) -> Reminder | None:
        """Return one by its id."""
        ...

    def named(self, chamber: str, numbers: Iterable[int]) -> Sequence[Reminder]:
        """Return those of a chamber that have one of these ids, by id."""
        ...

    def of(self, chamber: str, call: Call, subject: str) -> Reminder:
        """Return the reminder of this cause, made (normal, with an id) if it is new."""
        ...

    def save(self, reminder: Reminder, moves: Sequence[Move]) -> None:
        """Keep its new state and the moves that led there."""
        ...

    def moves(
        self, number: int | None = None, after: int = 0, limit: int = 200
    ) -> Sequence[tuple[int, Move]]:
        """Return moves with their own ids above `after`, oldest first."""
        ...

    def newest_move(self) -> int:
        """Return the id of the newest move, 0 if there is none."""
        ...

    def moves_within(self, span: Span) -> Sequence[Move]:
        """Return the moves of a span in the order of the log."""
        ...

    def held_at(self, moment: datetime) -> Sequence[Move]:
        """Return what was logged before a moment of each episode whose cause held then.

        From its raise on, in the order of the log.
        """
        ...


class WatchedBook(Protocol):
    """How far each rule has come: the timers of the on- and off-delays."""

    def load(self) -> Sequence[Watched]:
        """Return all."""
        ...

    def save(self, watched: Iterable[Watched]) -> None:
        """Keep these in place of what was kept of them."""
        ...


class OutboxBook(Protocol):
    """Messages on their way to people."""

    def add(self, rows: Iterable[OutRow]) -> None:
        """Keep new rows."""
        ...

    def due(self, now: datetime) -> Sequence[OutRow]:
        """Return waiting rows whose next try has come, highest priority and oldest first."""
        ...

    def next_try(self) -> datetime | None:
        """Return when the next waiting row is due."""
        ...

    def in_state(self, state: OutState, limit: int = 200) -> Sequence[OutRow]:
        """Return rows of this state, newest first."""
        ...

    def waiting(self, address: str) -> Sequence[OutRow]:
        """Return all that waits for one address, due or not, oldest first."""
        ...

    def sent_since(self, since: datetime) -> Sequence[OutRow]:
        """Return what went out after a time, oldest first; of what was put here lately."""
        ...

    def within(self, span: Span) -> Sequence[OutRow]:
        """Return rows that were created within a span, oldest first."""
        ...

    def save(self, row: OutRow) -> None:
        """Keep its new state."""
        ...


class ActionsBook(Protocol):
    """What people did. Only ever added to: what was wrong is corrected by a newer deed."""

    def add(self, action: Action) -> Action:
        """Keep it; return it with its id."""
        ...

    def get(self, number: int) -> Action | None:
        """Return one by its id, whether it holds or not."""
        ...

    def instead_of(self, number: int) -> Action | None:
        """Return what was told in place of a deed; None: it holds as it is."""
        ...

    def recent(self, chamber: str | None, limit: int = 50) -> Sequence[Action]:
        """Return those that hold, the newest first (by `at`), of one chamber where given."""
        ...

    def within(self, span: Span) -> Sequence[Action]:
        """Return what holds of what was done within a span (by `at`), oldest first."""
        ...


class FoundBook(Protocol):
    """Mistings and ventings found in the readings."""

    def add(self, found: Found) -> Found:
        """Keep it; return it with its id."""
        ...

    def save(self, found: Found) -> None:
        """Keep its new state."""
        ...

    def get(self, number: int) -> Found | None:
        """Return one by its id."""
        ...

    def within(self, chamber: str, span: Span) -> Sequence[Found]:
        """Return what began within a span, oldest first."""
        ...


class ExchangesBook(Protocol):
    """Air changes over stretches of time. Only ever added to."""

    def add(self, exchange: Exchange) -> Exchange:
        """Keep it; return it with its id."""
        ...

    def within(self, chamber: str, span: Span) -> Sequence[Exchange]:
        """Return stretches that began within a span, oldest first."""
        ...


@dataclass(frozen=True, slots=True)
class Answer:
    """What was answered to a write with an `Idempotency-Key`."""

    fingerprint: str
    status: int
    body: str


class KeptBook(Protocol):
    """Small things that must outlive a restart."""

    def text(self, name: str) -> str | None:
        """Return a kept text (for instance the key that signs links)."""
        ...

    def keep_text(self, name: str, value: str) -> None:
        """Keep it in place of the former."""
        ...

    def use_link(self, digest: str, now: datetime) -> bool:
        """Mark a link as used; return False if it was used before."""
        ...

    def link_used(self, digest: str) -> bool:
        """Tell whether a link was used."""
        ...

    def answer(self, key: str) -> Answer | None:
        """Return what was answered to this key."""
        ...

    def keep_answer(self, key: str, answer: Answer, now: datetime) -> None:
        """Keep an answer; those older than two days may be dropped."""
        ...


class Book(Protocol):
    """One transaction on everything that is kept."""

    @property
    def readings(self) -> ReadingsBook: ...  # noqa: D102 - named for what it holds
    @property
    def reminders(self) -> RemindersBook: ...  # noqa: D102
    @property
    def watched(self) -> WatchedBook: ...  # noqa: D102
    @property
    def outbox(self) -> OutboxBook: ...  # noqa: D102
    @property
    def actions(self) -> ActionsBook: ...  # noqa: D102
    @property
    def calibrations(self) -> CalibrationsBook: ...  # noqa: D102
    @property
    def found(self) -> FoundBook: ...  # noqa: D102
    @property
    def exchanges(self) -> ExchangesBook: ...  # noqa: D102
    @property
    def foretold(self) -> ForetoldBook: ...  # noqa: D102
    @property
    def growing(self) -> GrowingBook: ...  # noqa: D102
    @property
    def photos(self) -> PhotosBook: ...  # noqa: D102
    @property
    def rejects(self) -> RejectsBook: ...  # noqa: D102
    @property
    def chronicle(self) -> ChronicleBook: ...  # noqa: D102
    @property
    def carried(self) -> CarriedBook: ...  # noqa: D102
    @property
    def kept(self) -> KeptBook: ...  # noqa: D102
    @property
    def tokens(self) -> TokensBook: ...  # noqa: D102
    @property
    def summaries(self) -> SummariesBook: ...  # noqa: D102
    @property
    def summing(self) -> SummingBook: ...  # noqa: D102


class Books(Protocol):
    """Opens books. Safe to use from several threads."""

    def write(self) -> AbstractContextManager[Book]:
        """Open for reading and writing, alone."""
        ...

    def read(self) -> AbstractContextManager[Book]:
        """Open for reading."""
        ...
