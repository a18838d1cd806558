"""From a file to a server: all of it, or nothing that could be taken for all."""

import sqlite3
import subprocess
import sys
import tracemalloc
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reading import Quantity, Reading, Reject
from chamberwatch.service.books import Span
from chamberwatch.storage.alone import alone_with
from chamberwatch.storage.book import open_books
from chamberwatch.storage.migrations import STEPS
from chamberwatch.storage.moving import Moved, move
from chamberwatch.storage.place import File, place_of
from chamberwatch.storage.server import Server
from tests.faults.processes import environment
from tests.servers import TestServer, needs_server
from tests.storage.test_storage_dumps import ACTION, T0, fill, look

pytestmark = needs_server

EVER = Span(T0 - timedelta(days=9999), T0 + timedelta(days=9999))


@pytest.fixture
def file(tmp_path: Path) -> File:
    """Something in every table."""
    path = tmp_path / "cw.db"
    with closing(open_books(f"sqlite:///{path}", T0)) as books, books.write() as book:
        fill(book)
    return File(path)


@pytest.fixture
def target(server: TestServer) -> Iterator[Server]:
    place = place_of(server.emptied())
    assert isinstance(place, Server)
    yield place
    server.emptied()


def quietly(what: str, done: int, of: int) -> None:
    """Hear how far it is."""


def held(file: File) -> int:
    """Count the rows of a file without our own code."""
    with closing(sqlite3.connect(file.path)) as connection:
        names = [row[0] for row in connection.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        )]  # fmt: skip
        return sum(
            connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0]  # noqa: S608
            for name in names
        )


def test_everything_is_there_and_goes_on(file: File, target: Server, server: TestServer) -> None:
    before, rows = file.path.read_bytes(), held(file)
    heard: list[tuple[str, int, int]] = []
    moved = move(file, target, lambda *each: heard.append(each))
    assert moved.rows == rows
    assert heard[-1] == ("compared", 2 * rows, 2 * rows)
    assert [done for what, done, _ in heard if what == "copied"][-1] == rows
    assert file.path.read_bytes() == before
    assert {each.name for each in file.path.parent.iterdir()} == {"cw.db", "cw.db.lock"}
    with closing(open_books(server.url(), T0)) as books:
        with books.write() as book:
            look(book, len(STEPS))
            # Numbers follow the last that was given out.
            assert book.actions.add(replace(ACTION, id=0)).id == 2
            assert book.reminders.all()[0].id == 1
            assert book.readings.add([Reading(T0, "new", Quantity.CO2, 400.0)]) == 1
        with books.read() as book:
            assert [action.id for action in book.actions.recent(None)] == [2, 1]


def test_values_come_out_to_the_last_bit(file: File, target: Server, server: TestServer) -> None:
    values = [5e-324, 1.7976931348623157e308, 0.1 + 0.2, -0.0, -1e-7, 2.0**53, float("inf")]
    odd = [
        Reading(T0 + n * timedelta(microseconds=1), name, Quantity.CO2, value, raw=value)
        for n, value in enumerate(values)
        for name in ("Zink", "ash", "älv", "a-b", "a b", "🍄")
    ] + [Reading(T0 - timedelta(days=365 * 80), "long-ago", Quantity.CO2, 1.0)]
    with closing(open_books(f"sqlite:///{file.path}", T0)) as books, books.write() as book:
        book.readings.add(odd)
        book.rejects.add([Reject("a\0b", T0, "none\0", "'\t\\N\n\r\\.")])
        kept = book.readings.page(None, EVER, None, 999)
    move(file, target, quietly)
    with closing(open_books(server.url(), T0)) as books, books.read() as book:
        assert repr(book.readings.page(None, EVER, None, 999)) == repr(kept)
        # What a server's text can't hold.
        assert book.rejects.recent()[0] == Reject("a?b", T0, "none?", "'\t\\N\n\r\\.")


def large(file: File, rows: int) -> None:
    with closing(sqlite3.connect(file.path)) as connection, connection:
        (series,) = connection.execute("SELECT id FROM series").fetchone()
        connection.executemany(
            "INSERT INTO readings VALUES (?, ?, ?, 1, NULL)",
            ((n, series, n / 7) for n in range(rows)),
        )


def test_memory_does_not_grow_with_the_rows(file: File, target: Server) -> None:
    peaks = []
    for rows in (1_000, 10_000):
        with closing(sqlite3.connect(file.path)) as connection, connection:
            connection.execute("DELETE FROM readings")
        large(file, rows)
        tracemalloc.start()
        move(file, target, quietly, start_over=True, batch=250)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        begun = target.writer(5.0)
        with begun.begin() as connection_:
            connection_.exec_driver_sql("CREATE TABLE unfinished_move (rows bigint)")
        begun.dispose()
    assert peaks[1] < 1.2 * peaks[0]


# ---------------------------------------------------------------- what keeps it from beginning


@pytest.mark.parametrize(
    ("make", "words"),
    [
        pytest.param("CREATE TABLE photographs (a integer)", "is not empty", id="another program"),
        pytest.param("", "is not empty", id="of chamberwatch"),
    ],
)
def test_a_target_that_is_not_empty_stays_as_it_is(
    file: File, target: Server, server: TestServer, make: str, words: str
) -> None:
    if make:
        server.run(make)
    else:
        open_books(server.url(), T0).close()
    for start_over in (False, True):
        with pytest.raises(StorageError, match=words):
            move(file, target, quietly, start_over=start_over)
    if not make:
        with closing(open_books(server.url(), T0)) as books, books.read() as book:
            assert book.readings.count() == 0


def test_a_daemon_at_either_end_is_stopped_first(
    file: File, target: Server, server: TestServer
) -> None:
    with alone_with(file.path), pytest.raises(StorageError, match="Stop it first"):
        move(file, target, quietly)
    with target.alone(pytest.fail), pytest.raises(StorageError, match="Stop it first"):
        move(file, target, quietly)
    assert not target.there(5.0)


def test_a_command_that_writes_waits_for_the_end(file: File, target: Server) -> None:
    books = open_books(f"sqlite:///{file.path}", T0, wait_s=0.02)

    def told(what: str, done: int, of: int) -> None:
        with pytest.raises(StorageError, match="held by another"), books.write():
            pytest.fail("it would have been left behind")

    move(file, target, told)
    with books.write() as book:
        book.kept.keep_text("later", "on")
    books.close()


def older(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("DELETE FROM migrations WHERE name = ?", (STEPS[-1][0],))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        pytest.param(Path.unlink, "is not there yet", id="no file"),
        pytest.param(older, "of an older version", id="an older one"),
        pytest.param(lambda path: path.write_bytes(b""), "of an older version", id="empty"),
        pytest.param(lambda path: path.write_bytes(b"list" * 999), "no", id="no database"),
    ],
)
def test_a_file_that_can_not_be_moved(
    file: File, target: Server, make: Callable[[Path], object], words: str
) -> None:
    make(file.path)
    with pytest.raises(StorageError, match=words):
        move(file, target, quietly)
    assert not target.there(5.0)


# ---------------------------------------------------------------- what breaks off


DIES = """
import os, sys
from pathlib import Path
from chamberwatch.storage.moving import move
from chamberwatch.storage.place import File, place_of

def told(what, done, of):
    if what == sys.argv[3]:
        os._exit(9)

move(File(Path(sys.argv[1])), place_of(sys.argv[2]), told)
"""


@pytest.mark.parametrize("during", ["copied", "compared"])
def test_one_that_died_is_taken_for_what_it_is(
    file: File, target: Server, server: TestServer, during: str
) -> None:
    died = subprocess.run(
        [sys.executable, "-c", DIES, str(file.path), server.url(), during], env=environment(),
        check=False, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (died.returncode, died.stderr) == (9, "")
    with pytest.raises(StorageError, match="--start-over, or go on with the file"):
        open_books(server.url(), T0)
    assert "did not end" in target.look(5.0).trouble
    with pytest.raises(StorageError, match="Give --start-over to throw that away"):
        move(file, target, quietly)
    assert isinstance(move(file, target, quietly, start_over=True), Moved)
    with closing(open_books(server.url(), T0)) as books, books.write() as book:
        look(book, len(STEPS))


def test_a_difference_is_found_and_named(file: File, target: Server, server: TestServer) -> None:
    def meddle(what: str, done: int, of: int) -> None:
        if what == "copied" and done == of:
            server.run("UPDATE texts SET value = 'another key' WHERE name = 'link key'")

    with pytest.raises(StorageError, match="The table texts came out otherwise") as caught:
        move(file, target, meddle)
    assert "move again with --start-over" in str(caught.value)
    with pytest.raises(StorageError, match="did not end"):
        open_books(server.url(), T0)


def test_a_server_that_goes_away_says_so(file: File, target: Server, server: TestServer) -> None:
    def leave(what: str, done: int, of: int) -> None:
        if what == "copied":
            server.stop("immediate")

    with pytest.raises(StorageError, match=r"Look whether the server runs|an end and a"):
        move(file, target, leave)
    server.start()
    assert move(file, target, quietly, start_over=True).rows == held(file)
