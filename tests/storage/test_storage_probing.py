"""A look at the database and its disk from beside."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.storage.migrations import STEPS
from chamberwatch.storage.probing import look_at_database, look_at_disk
from tests.make import NOON, at, humidity
from tests.storage.older import make_older


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "cw.db"


def opened(file: Path) -> SqlBooks:
    return open_books(f"sqlite:///{file}", NOON)


def test_a_sound_one_beside_a_writer(file: Path) -> None:
    books = opened(file)
    with books.write() as book:
        book.readings.add([humidity(90.0, 3)])
        # Looked at while another one holds the write lock: it sees what was there before.
        assert look_at_database(file, 5.0).newest is None
    found = look_at_database(file, 5.0)
    books.close()
    assert (found.there, found.trouble, found.damage) == (True, "", "")
    assert (found.steps_missing, found.looked_through, found.newest) == (
        0,
        True,
        humidity(90.0, 3),
    )


def test_nothing_is_made(file: Path) -> None:
    assert not look_at_database(file, 5.0).there
    assert list(file.parent.iterdir()) == []


def test_one_that_was_only_begun(file: Path) -> None:
    """A start that was refused, or killed at once, leaves an empty file."""
    file.write_bytes(b"")
    found = look_at_database(file, 5.0)
    assert (found.trouble, found.steps_missing) == ("", len(STEPS))


def test_an_old_one_stays_old(file: Path) -> None:
    make_older(file, 2)
    assert look_at_database(file, 5.0).steps_missing == 2
    assert look_at_database(file, 5.0).steps_missing == 2


@pytest.mark.parametrize(
    ("content", "part"),
    [
        pytest.param(
            b"a shopping list, long enough to be none of ours " * 40,
            "is not a database",
            id="a list",
        ),
        pytest.param(None, "belongs to another program", id="of another program"),
    ],
)
def test_one_of_no_use(file: Path, content: bytes | None, part: str) -> None:
    if content is not None:
        file.write_bytes(content)
    else:
        with closing(sqlite3.connect(file)) as other:
            other.execute("create table theirs (a)")
    assert part in look_at_database(file, 5.0).trouble


def filled(file: Path, rows: int) -> None:
    books = opened(file)
    with books.write() as book:
        book.readings.add(
            Reading(at(n / 60), "middle", Quantity.HUMIDITY, 90.0) for n in range(rows)
        )
    books.close()


def test_a_damaged_one(file: Path) -> None:
    filled(file, 5000)
    with closing(sqlite3.connect(file)) as connection:
        (page,) = connection.execute(
            "select rootpage from sqlite_schema where name = 'readings'"
        ).fetchone()
        (size,) = connection.execute("pragma page_size").fetchone()
    with file.open("r+b") as raw:
        raw.seek((page - 1) * size + 8)
        raw.write(b"\xff" * (size - 8))
    found = look_at_database(file, 5.0)
    assert found.damage or "is damaged" in found.trouble


def test_a_large_one_is_not_seen_to_its_end(file: Path) -> None:
    filled(file, 60_000)
    # On a busy machine the alarm may ring only after the end; not every time, though.
    tries = (look_at_database(file, 0.0001) for _ in range(50))
    found = next((each for each in tries if not each.looked_through), look_at_database(file, 60.0))
    assert (found.looked_through, found.damage, found.trouble) == (False, "", "")
    assert found.budget_s == 0.0001
    assert look_at_database(file, 60.0).looked_through


def test_a_disk(tmp_path: Path, file: Path) -> None:
    found = look_at_disk(file)
    assert found.place == str(tmp_path)
    assert found.free_bytes
    assert found.writable
    file.touch()
    assert look_at_disk(file).writable


def test_a_folder_that_is_missing(tmp_path: Path) -> None:
    found = look_at_disk(tmp_path / "nowhere" / "cw.db")
    assert (found.free_bytes, found.trouble) == (None, "No such file or directory")


def test_a_place_that_cannot_be_written(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The kernel lets root write everywhere, so its answer is given here."""
    monkeypatch.setattr(os, "access", lambda _place, _mode: False)
    assert not look_at_disk(file).writable
