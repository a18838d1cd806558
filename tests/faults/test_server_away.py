"""The database server goes away while readings come: nothing that was confirmed is lost."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.books import Book, Books, Span
from tests.make import NOON
from tests.servers import TestServer, needs_server
from tests.service.machine import Bench

pytestmark = needs_server

EVER = Span(NOON - timedelta(days=9), NOON + timedelta(days=9))


@pytest.fixture
def bench(tmp_path: Path, server: TestServer) -> Iterator[Bench]:
    made = Bench(tmp_path, url=server.cleared())
    yield made
    made.close()


def speak(bench: Bench, value: float) -> None:
    """Take a message in and leave it waiting."""
    bench.clock.turn(minutes=1)
    said = f"middle humidity {value} {bench.clock.now().isoformat()}"
    bench.intake.take(bench.arrival(said))


def kept(bench: Bench) -> list[float]:
    with bench.sql.read() as book:
        found = book.readings.within(["middle"], Quantity.HUMIDITY, EVER, 99)
    return [reading.value for reading in found]


@pytest.mark.parametrize("how", ["fast", "immediate"])
def test_what_came_meanwhile_waits_and_is_kept_once(
    bench: Bench, server: TestServer, how: str
) -> None:
    speak(bench, 90.0)
    bench.intake.commit()
    server.stop(how)
    for value in (91.0, 92.0):
        speak(bench, value)
        with pytest.raises(StorageError, match="Look whether the server runs"):
            bench.intake.commit()
    assert [arrival.mid for arrival in bench.broker.acknowledged] == [1]
    server.start()
    speak(bench, 93.0)
    bench.intake.commit()
    assert [arrival.mid for arrival in bench.broker.acknowledged] == [1, 2, 3, 4]
    assert kept(bench) == [90.0, 91.0, 92.0, 93.0]


@dataclass
class AnswerLost:
    """Books whose connection breaks after the server has committed, before it could say so."""

    books: Books
    breaks: bool = True

    @contextmanager
    def write(self) -> Iterator[Book]:
        with self.books.write() as book:
            yield book
        if self.breaks:
            raise StorageError("The connection was lost.")

    @contextmanager
    def read(self) -> Iterator[Book]:
        with self.books.read() as book:
            yield book


def test_a_commit_whose_answer_was_lost_is_made_again_and_changes_nothing(bench: Bench) -> None:
    bench.books.books = lost = AnswerLost(bench.sql)
    speak(bench, 91.0)
    with pytest.raises(StorageError, match="was lost"):
        bench.intake.commit()
    assert bench.broker.acknowledged == []
    lost.breaks = False
    bench.intake.commit()
    assert [arrival.mid for arrival in bench.broker.acknowledged] == [1]
    assert kept(bench) == [91.0]
    assert bench.stored() == 1
