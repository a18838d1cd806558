"""The figures of `core.wear` held against a real file, and what the kernel says was written."""

import random
import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.wear import EMPTY_BYTES, YEAR, Card, file_bytes
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.summing_up import SummingUp
from chamberwatch.service.wear import LONG_ENOUGH_S, Wear, load_of
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.storage.wearing import look_at_card
from tests.fakes import HandClock
from tests.make import NOON

T, RH, CO2 = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2
SERIES = [(s, q) for s in ("low", "middle", "top") for q in (T, RH, CO2)][:8]
HOURS = 6
COMMIT, KEEP = timedelta(seconds=30), timedelta(days=366)


def fill(books: SqlBooks, clock: HandClock) -> None:
    """Have some hours of eight series, every five seconds, and sum them up."""
    rng = random.Random(1)  # noqa: S311 - noise, no secret
    start = NOON.replace(hour=0)
    with books.write() as book:
        book.readings.add(
            Reading(
                start + timedelta(seconds=5 * n, milliseconds=37 * place),
                sensor,
                quantity,
                round(80 + rng.gauss(0, 1), 1),
            )
            for n in range(HOURS * 720)
            for place, (sensor, quantity) in enumerate(SERIES)
        )
    clock.wall = start + timedelta(hours=HOURS, minutes=3)
    summing = SummingUp(books, clock, BandsThen(House({}, {}), SpeciesTable({}, {})))
    while summing.look():
        pass


def test_a_file_is_as_large_as_reckoned(tmp_path: Path) -> None:
    path, clock = tmp_path / "cw.db", HandClock()
    books = open_books(f"sqlite:///{path}", NOON)
    with closing(sqlite3.connect(path)) as file:
        file.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    empty = path.stat().st_size
    assert empty == pytest.approx(EMPTY_BYTES, rel=0.2)
    fill(books, clock)
    card = look_at_card(path)
    assert card.log_bytes > 0
    wear = Wear(books, clock, lambda: look_at_card(path), COMMIT, KEEP).now()
    books.close()
    load = wear.load
    assert (load.series, load.lines) == (8, 8 + 2 * 4 + 4)
    # Three minutes have gone by since the last.
    assert load.per_day == pytest.approx(8 * 17280, rel=0.01)
    whole = load_of(dict.fromkeys(SERIES, 17280), COMMIT, KEEP)
    expected = file_bytes(whole, timedelta(hours=HOURS)) - EMPTY_BYTES
    found = path.stat().st_size - empty
    assert found == pytest.approx(expected, rel=0.1)
    assert set(wear.file_after_bytes) == {1, 2, 5, 10}
    assert wear.file_after_bytes[10] == file_bytes(load, 10 * YEAR)


def test_what_was_dropped_is_room_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "cw.db"
    books = open_books(f"sqlite:///{path}", NOON)
    assert look_at_card(path).free_bytes == 0
    with books.write() as book:
        book.readings.add(
            Reading(NOON - timedelta(seconds=n), "top", RH, 80.0) for n in range(20_000)
        )
    with books.write() as book:
        assert book.thinning.readings(NOON - timedelta(seconds=5_000), 99_999) > 14_000
    assert look_at_card(path).free_bytes > 300_000
    books.close()


def test_where_nothing_is_yet(tmp_path: Path) -> None:
    card = look_at_card(tmp_path / "none.db", tmp_path / "no kernel")
    assert card == Card(0, 0, 0, None)
    assert not (tmp_path / "none.db").exists()


def test_what_the_kernel_says_was_written(tmp_path: Path) -> None:
    io = tmp_path / "io"
    io.write_text("rchar: 1\nwrite_bytes: 9000\ncancelled_write_bytes: 4096\n")
    assert look_at_card(tmp_path / "none.db", io).written_bytes == 4904
    io.write_text("something else altogether\n")
    assert look_at_card(tmp_path / "none.db", io).written_bytes is None
    assert (look_at_card(tmp_path / "none.db").written_bytes or 0) >= 0


@pytest.mark.parametrize(
    ("seconds", "before", "after", "per_day"),
    [
        pytest.param(LONG_ENOUGH_S - 1, 0, 10**6, None, id="not for long"),
        pytest.param(LONG_ENOUGH_S, 1000, 1000 + 10**6, 24e6, id="an hour"),
        pytest.param(2 * 86_400, 0, 10**8, 5e7, id="two days"),
        pytest.param(86_400, None, None, None, id="the kernel doesn't say"),
    ],
)
def test_what_is_written_in_a_day(
    tmp_path: Path, seconds: float, before: int | None, after: int | None, per_day: float | None
) -> None:
    books, clock = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON), HandClock()
    said = iter([before, after])
    wear = Wear(books, clock, lambda: Card(1, 2, 3, next(said)), COMMIT, KEEP)
    clock.turn(seconds=seconds)
    now = wear.now()
    books.close()
    assert now.written_per_day_bytes == per_day
    assert now.expected_per_day_bytes == 0.0
    assert now.card == Card(1, 2, 3, after)


def test_batteries_are_kept_and_not_summed_up() -> None:
    load = load_of({("a", Quantity.BATTERY): 24, ("a", CO2): 24}, COMMIT, KEEP)
    assert (load.series, load.lines) == (2, 1)


@pytest.mark.parametrize(
    ("hours", "per_day"),
    [
        pytest.param(0.5, 17_280, id="half an hour"),
        pytest.param(23.99, 17_280, id="nearly a day"),
        pytest.param(48, 17_280, id="two days"),
    ],
)
def test_a_day_is_reckoned_from_what_was_heard_of_it(
    tmp_path: Path, hours: float, per_day: float
) -> None:
    books, clock = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON), HandClock()
    with books.write() as book:
        book.readings.add(
            Reading(NOON - timedelta(seconds=5 * n), "low", CO2, 700.0)
            for n in range(1, round(hours * 720) + 1)
        )
    wear = Wear(books, clock, lambda: Card(1, 2, 3, None), COMMIT, KEEP).now()
    books.close()
    assert wear.load.per_day == pytest.approx(per_day, rel=0.01)
