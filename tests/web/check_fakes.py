"""A desk from which a sensor can be checked, on a real database."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.board import Board
from chamberwatch.service.calibrating import Calibrating
from chamberwatch.service.correcting import Corrector
from chamberwatch.service.guided import Guided
from chamberwatch.storage.book import SqlBooks, open_books
from tests.make import ALL_AIR, ROOM, TENT, at, house
from tests.web.desk_fakes import AIR, MOIST, Played, chamber_now, sensor_now

DEW = Sensor("dew", "tent", quantities=(Quantity.HUMIDITY,))


@dataclass
class Checked:
    """The desk, and what lies behind it."""

    played: Played
    books: SqlBooks
    board: Board
    calibrating: Calibrating
    guided: Guided

    def heard(self, drift: float = 0.0, sensor: str = "middle") -> None:
        """Let a sensor say 77.1 % for an hour, moved by so much in half an hour."""
        now = self.played.clock.now()
        readings = []
        for n in range(60, -1, -1):
            time = now + (at(-n) - at(0))
            readings += [
                Reading(time, sensor, Quantity.HUMIDITY, 77.1 - drift * n / 30.0),
                Reading(time, sensor, Quantity.TEMPERATURE, 20.4),
                Reading(time, sensor, Quantity.CO2, 455.0),
            ]
        with self.books.write() as book:
            book.readings.add(readings)
        for reading in readings[-3:]:
            self.board.show(reading)


@contextmanager
def checked(folder: Path) -> Iterator[Checked]:
    """Give such a desk."""
    played = Played()
    heard = [
        sensor_now(Sensor("middle", "tent", quantities=ALL_AIR), played.clock, MOIST),
        sensor_now(DEW, played.clock, MOIST),
    ]
    played.put(chamber_now(TENT, heard, AIR))
    played.put(chamber_now(ROOM))
    books = open_books(f"sqlite:///{folder / 'check.db'}", at(0))
    known, board = house(DEW), Board(0.0)
    calibrating = Calibrating(books, played.clock, known, board, Corrector(known))
    guided = Guided(books, played.clock, known)
    played.desk = replace(played.desk, books=books, calibrating=calibrating, guided=guided)
    yield Checked(played, books, board, calibrating, guided)
    books.close()
