"""Stand-ins for the edges: a clock one turns by hand, a reader, a broker, a phone."""

import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from chamberwatch.core.errors import BadPayloadError, StorageError
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.books import Book, Books
from chamberwatch.service.ports import Answering, Arrival, Links, Outcome, Said
from tests.make import NOON


@dataclass
class HandClock:
    """A clock that stands until it is turned; wall and monotonic can be turned apart."""

    wall: datetime = NOON
    elapsed_s: float = 1000.0
    boot: str = "boot-1"
    synced: bool = True

    def now(self) -> datetime:
        return self.wall

    def monotonic(self) -> float:
        return self.elapsed_s

    def synchronised(self) -> bool:
        return self.synced

    def wait(self, event: threading.Event, seconds: float) -> bool:
        self.turn(seconds=seconds)
        return event.is_set()

    def turn(self, *, minutes: float = 0.0, seconds: float = 0.0) -> None:
        step = timedelta(minutes=minutes, seconds=seconds)
        self.wall += step
        self.elapsed_s += step.total_seconds()


@dataclass
class PlainReader:
    """Reads payloads of our own: `sensor quantity value [ISO time]`, several by `;`."""

    def read_all(self, arrival: Arrival) -> tuple[Sequence[Said], Sequence[str]]:
        said: list[Said] = []
        for part in arrival.payload.decode().split(";"):
            words = part.split()
            if len(words) not in (3, 4):
                raise BadPayloadError(f"{part!r} has {len(words)} words; send three or four.")
            time = datetime.fromisoformat(words[3]) if len(words) == 4 else None
            said.append(Said(words[0], Quantity(words[1]), float(words[2]), time))
        return said, ()


@dataclass
class Broker:
    """Remembers what was acknowledged."""

    acknowledged: list[Arrival] = field(default_factory=list)

    def acknowledge(self, arrivals: Sequence[Arrival]) -> None:
        self.acknowledged.extend(arrivals)


@dataclass
class Phone:
    """Remembers what was sent; can be out of reach."""

    name: str = "phone"
    links: Links | None = None
    sent: list[tuple[str, str]] = field(default_factory=list)
    outcome: Outcome = field(default_factory=lambda: Outcome(ok=True))
    pictures: bool = False
    got: list[bytes | None] = field(default_factory=list)

    def send(self, title: str, body: str, picture: bytes | None = None) -> Outcome:
        self.sent.append((title, body))
        self.got.append(picture)
        return self.outcome


@dataclass
class PlainLinks:
    """Links that can be read."""

    def link(self, reminder: int, episode: int, answering: Answering) -> str:
        return f"http://tent/do/{reminder}.{episode}.{answering}"


@dataclass
class FullDisk:
    """Books that can't be written while `full`."""

    books: Books
    full: bool = False

    @contextmanager
    def write(self) -> Iterator[Book]:
        if self.full:
            raise StorageError("The disk is full; make room.")
        with self.books.write() as book:
            yield book

    @contextmanager
    def read(self) -> Iterator[Book]:
        with self.books.read() as book:
            yield book
