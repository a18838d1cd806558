"""What other loggers wrote down, kept beside our own."""

import random
import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, timedelta
from pathlib import Path

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.core.errors import StorageError
from chamberwatch.core.logged.log import Asked, LogReader, Row, understood
from chamberwatch.core.logged.shape import LOOKED_AT, Shape
from chamberwatch.core.logged.survey import Survey, surveyed
from chamberwatch.core.review.summary import Columns
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.files.reading import LogFile
from chamberwatch.files.writing import whole_file, write_table
from chamberwatch.service.books import Books, Span
from chamberwatch.service.correcting import Corrector
from chamberwatch.service.export_rows import Kind
from chamberwatch.service.exporting import EVER, Exporting, Wanted
from chamberwatch.service.importing import AT_ONCE, Imported, Importing, Source
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import FullDisk, HandClock
from tests.make import NOON, at, house
from tests.plain_summaries import QUANTITIES

T, RH, CO2, P, V = Quantity
FILE = Source("log.csv", "abc")
STEPS_S = (60, 900, 3600, 86_400)
DAY = timedelta(days=1)


@dataclass
class Kept:
    """A database of its own."""

    file: Path
    books: SqlBooks = field(init=False)

    def __post_init__(self) -> None:
        self.books = open_books(f"sqlite:///{self.file}", NOON)

    def readings(self) -> Sequence[tuple[Reading, float | None]]:
        with self.books.read() as book:
            return [(r, r.raw) for r in sorted(book.readings.page(None, EVER, None, 100_000))]

    def sum_up(self) -> None:
        while True:
            with self.books.write() as book:
                more = book.summing.reach_on(NOON + 100 * DAY) or book.summing.reach_back()
                book.summing.add_late()
                waiting = book.summing.waiting(10_000)
                book.summing.keep(book.summing.reckon(waiting))
            if not more and not waiting:
                return

    def summaries(self) -> list[Columns]:
        span = Span(NOON - 50 * DAY, NOON + 50 * DAY)
        with self.books.read() as book:
            return [
                found
                for step_s in STEPS_S
                for found in book.summaries.columns(
                    ("middle", "top"), QUANTITIES, step_s, span
                ).values()
            ]

    def drop_before(self, days: int) -> None:
        """Drop readings as they are thinned, with what is summed up of them kept."""
        with self.books.write() as book:
            day = book.summing.drop_before(NOON - days * DAY)
        connection = sqlite3.connect(self.file)
        connection.execute("DELETE FROM readings WHERE time < ?", (int(day.timestamp() * 1e6),))
        connection.commit()
        connection.close()


@pytest.fixture
def make(tmp_path: Path) -> Iterator[Callable[[str], Kept]]:
    made: list[Kept] = []

    def one(name: str) -> Kept:
        made.append(Kept(tmp_path / f"{name}.db"))
        return made[-1]

    yield one
    for each in made:
        each.books.close()


@pytest.fixture
def kept(make: Callable[[str], Kept]) -> Kept:
    return make("kept")


def importing(books: Books, clock: HandClock | None = None) -> Importing:
    return Importing(books, clock or HandClock(), Corrector(house()))


def rows(first: int, count: int, value: float = 20.0, sensor: str = "middle") -> list[Row]:
    """Return rows of a minute each, from so many minutes after noon on."""
    return [
        Row((Reading(at(n), sensor, T, value), Reading(at(n), sensor, RH, 80.0)))
        for n in range(first, first + count)
    ]


def refusing(count: int) -> list[Row]:
    return [Row((), (f"humidity {180 + n} % is outside",), f"{n};180") for n in range(count)]


# ------------------------------------------------------------------ there and back


def some_readings(seed: int) -> list[Reading]:
    """Return readings of two sensors over some days: odd times, gaps, corrections."""
    draw, found, when = random.Random(seed), [], NOON - 3 * DAY  # noqa: S311
    while when < NOON:
        when += timedelta(seconds=draw.choice([5.0, 60.0, 293.5, 900.25, 4000.0]))
        for sensor in draw.sample(("middle", "top"), draw.choice([1, 1, 2])):
            for quantity in draw.sample(list(Quantity), draw.choice([1, 2, 5])):
                value = draw.uniform(5.0, 40.0)
                found.append(
                    Reading(
                        when,
                        sensor,
                        quantity,
                        40_000.0 + value if quantity is P else value,
                        timed=draw.random() < 0.8,
                        raw=draw.choice([None, value + 0.1]),
                    )
                )
    return found


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_was_exported_comes_back_as_it_was(
    make: Callable[[str], Kept], tmp_path: Path, seed: int
) -> None:
    """Equal readings and equal summaries, through a file and into an empty database."""
    here, there = make("here"), make("there")
    with here.books.write() as book:
        book.readings.add(some_readings(seed))
    path, exporting = tmp_path / "readings.csv", Exporting(here.books)
    with whole_file(path, overwrite=False) as out:
        told = exporting.rows(Kind.READINGS, Wanted(), lambda _: None)
        write_table(out, exporting.columns(Kind.READINGS, Wanted()), told)

    file = LogFile.found(path)

    def cells(shape: Shape) -> Iterator[Sequence[str]]:
        return (cells for _, cells, _ in file.rows(shape.delimiter, shape.first))

    log = understood(file.top(LOOKED_AT), cells, Asked(), UTC)
    survey = Survey()
    numbered = ((line, row) for line, row, _ in file.rows(",", log.shape.first))
    found = surveyed(numbered, LogReader(log, {"middle": "middle", "top": "top"}), survey)
    done = importing(there.books).keep(found, Source("readings.csv", "x", as_they_stand=True))

    assert (survey.unread, survey.refused, survey.others) == (0, 0, {})
    assert there.readings() == here.readings()
    assert done == Imported(new=len(here.readings()))
    here.sum_up()
    there.sum_up()
    assert there.summaries() == here.summaries()
    assert any(columns.number for columns in there.summaries())


# ------------------------------------------------------------------ keeping


def test_the_second_time_nothing_changes(kept: Kept) -> None:
    told = [*rows(0, 600), *refusing(3)]
    assert importing(kept.books).would(told) == Imported(1200, 0, 3)
    assert importing(kept.books).keep(told, FILE) == Imported(1200, 0, 3)
    before = kept.readings()
    assert importing(kept.books).would(told) == Imported(0, 1200, 3)
    assert importing(kept.books).keep(told, FILE) == Imported(0, 1200, 0)
    assert kept.readings() == before
    with kept.books.read() as book:
        assert book.rejects.count() == 3
        assert (book.readings.count(), book.readings.newest()["middle", T].time) == (1200, at(599))


def test_what_stands_in_a_file_twice_is_one(kept: Kept) -> None:
    told = [*rows(0, 10), *rows(0, 10)]
    assert importing(kept.books).would(told) == Imported(20, 20)
    assert importing(kept.books).keep(told, FILE) == Imported(20, 20)


def test_looking_alone_changes_nothing(kept: Kept) -> None:
    importing(kept.books).would([*rows(0, 10), *refusing(2)])
    assert kept.readings() == []
    with kept.books.read() as book:
        assert book.rejects.count() == 0


def test_what_is_there_stays_as_it_is(kept: Kept) -> None:
    importing(kept.books).keep(rows(0, 2, 20.0), FILE)
    assert importing(kept.books).keep(rows(0, 3, 25.0), FILE) == Imported(2, 4)
    assert [r.value for r, _ in kept.readings() if r.quantity is T] == [20.0, 20.0, 25.0]


def test_rejects_can_be_looked_at(kept: Kept) -> None:
    importing(kept.books).keep(refusing(1), FILE)
    with kept.books.read() as book:
        (reject,) = book.rejects.recent()
    assert (reject.topic, reject.time, reject.excerpt) == ("import log.csv", NOON, "0;180")
    assert reject.reason == "humidity 180 % is outside"


def test_calibrations_hold_for_them(kept: Kept) -> None:
    with kept.books.write() as book:
        book.calibrations.add(Calibration(0, "middle", T, 1.0, -0.5, at(1), "Ann", "so", NOON))
    importing(kept.books).keep(rows(0, 2), FILE)
    assert [(r.value, raw) for r, raw in kept.readings() if r.quantity is T] == [
        (20.0, None),
        (19.5, 20.0),
    ]


def test_what_was_taken_from_such_a_book_stays_as_it_stands(kept: Kept) -> None:
    with kept.books.write() as book:
        book.calibrations.add(Calibration(0, "middle", T, 1.0, -0.5, at(0), "Ann", "so", NOON))
    reading = Reading(at(1), "middle", T, 20.0, timed=False, raw=19.0)
    importing(kept.books).keep([Row((reading,))], Source("a", "b", as_they_stand=True))
    assert kept.readings() == [(reading, 19.0)]


def test_what_is_old_is_never_spoken(kept: Kept) -> None:
    importing(kept.books).keep(rows(0, 300, value=60.0), FILE)
    with kept.books.read() as book:
        assert list(book.reminders.all()) == []
        assert book.outbox.next_try() is None


# ------------------------------------------------------------------ beside a daemon


def test_it_goes_in_small_steps_and_lets_others_write(kept: Kept) -> None:
    """After each transaction it waits for as long as that took, but no longer than needed."""
    waits: list[float] = []

    class Busy(HandClock):
        def monotonic(self) -> float:
            self.elapsed_s += 5.0 if len(waits) == 2 else 0.2
            return self.elapsed_s

        def wait(self, event: object, seconds: float) -> bool:
            waits.append(seconds)
            return False

    importing(kept.books, Busy()).keep(rows(0, 2 * AT_ONCE + 1), FILE)
    assert waits == pytest.approx([0.2, 0.2, 1.0])


def test_another_program_writes_meanwhile(kept: Kept) -> None:
    """The daemon is another program with the same file open; both get their turn."""
    daemon = open_books(f"sqlite:///{kept.file}", NOON)
    failed: list[StorageError] = []
    done = threading.Event()

    def watch() -> None:
        number = 0
        while not done.wait(0.01):
            number += 1
            try:
                with daemon.write() as book:
                    book.readings.add([Reading(at(-number), "top", T, 20.0)])
            except StorageError as error:
                failed.append(error)
        written.append(number)

    written: list[int] = []
    thread = threading.Thread(target=watch)
    thread.start()
    try:
        found = Importing(kept.books, WallClock(), Corrector(house())).keep(
            rows(0, 4 * AT_ONCE), FILE
        )
    finally:
        done.set()
        thread.join()
        daemon.close()
    assert failed == []
    assert found == Imported(8 * AT_ONCE)
    assert written[0] > 0
    assert len(kept.readings()) == 8 * AT_ONCE + written[0]


def test_broken_off_it_can_be_begun_anew(kept: Kept) -> None:
    disk = FullDisk(kept.books)
    told = [*refusing(2), *rows(0, 2 * AT_ONCE), *refusing(4)]

    def until_full() -> Iterator[Row]:
        for number, row in enumerate(told):
            disk.full = number > AT_ONCE
            yield row

    first = importing(disk)
    with pytest.raises(StorageError):
        first.keep(until_full(), FILE)
    assert first.done == Imported(2 * (AT_ONCE - 2), 0, 2)
    again = importing(kept.books).keep(told, FILE)
    assert again == Imported(2 * (AT_ONCE + 2), 2 * (AT_ONCE - 2), 4)
    with kept.books.read() as book:
        assert book.rejects.count() == 6


def test_summaries_are_exact_again(make: Callable[[str], Kept]) -> None:
    """Late ones among what is summed up already, against a book that had them all at once."""
    late, whole = make("late"), make("whole")
    every = rows(-1500, 1500)
    with late.books.write() as book:
        book.readings.add(r for row in every[::2] for r in row.readings)
    late.sum_up()
    importing(late.books).keep(every[1::2], FILE)
    late.sum_up()
    with whole.books.write() as book:
        book.readings.add(r for row in every for r in row.readings)
    whole.sum_up()
    assert late.summaries() == whole.summaries()


def test_what_was_thinned_out_is_not_counted_twice(kept: Kept) -> None:
    """The single readings are gone, what they came to stays: the same file adds nothing."""
    old = rows(-40 * 1440, 2 * AT_ONCE)
    importing(kept.books).keep([*old, *rows(-100, 50)], FILE)
    kept.sum_up()
    before = kept.summaries()
    kept.drop_before(30)
    assert len(kept.readings()) == 100
    assert importing(kept.books).would(old) == Imported(0, 4 * AT_ONCE)
    assert importing(kept.books).keep(old, FILE) == Imported(0, 4 * AT_ONCE)
    kept.sum_up()
    assert kept.summaries() == before


def test_what_is_older_than_all_that_is_kept_is_added(kept: Kept) -> None:
    importing(kept.books).keep([*rows(-40 * 1440, 1), *rows(-100, 50)], FILE)
    kept.sum_up()
    kept.drop_before(30)
    # Thirty seconds apart, so that minutes lie on both sides of the ends of transactions, and
    # what the first of them told is summed up before the next comes.
    told = [
        Row((Reading(at(-39 * 1440 + n / 2 + 0.25), "middle", T, 20.0 + n % 5),))
        for n in range(2 * AT_ONCE + 1)
    ]

    def summing() -> Iterator[Row]:
        for number, row in enumerate(told):
            if number % AT_ONCE == 0:
                kept.sum_up()
            yield row

    assert importing(kept.books).keep(summing(), FILE) == Imported(len(told))
    kept.sum_up()
    span = Span(NOON - 45 * DAY, NOON - 35 * DAY)
    with kept.books.read() as book:
        found = book.summaries.columns(("middle",), ("temperature_c",), 86_400, span)
    assert sum(found["temperature_c"].number) == len(told) + 1
