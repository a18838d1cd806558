"""Transactions, threads and the troubles of a file."""

import gc
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.exc import IntegrityError, OperationalError

import chamberwatch
from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call
from chamberwatch.service.books import Book, Books, Span
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.storage.engine import explained, use_wal
from tests.servers import only_files

T0 = datetime(2025, 3, 1, 12, 0, tzinfo=UTC)
RH = Quantity.HUMIDITY
DEADLINE_S = 60.0


def file_of(books: SqlBooks) -> Path:
    return Path(str(books.place))


def reading(second: int, sensor: str = "top") -> Reading:
    return Reading(T0 + timedelta(seconds=second), sensor, RH, 90.0)


def test_the_books_have_the_shape_the_service_asks_for(books: SqlBooks) -> None:
    asked: Books = books
    with asked.write() as book:
        shaped: Book = book
        assert shaped.readings.add([reading(0)]) == 1
    with asked.read() as book:
        assert book.readings.count() == 1


def test_what_is_kept_is_there_after_a_restart(url: str) -> None:
    first = open_books(url, T0)
    with first.write() as book:
        book.readings.add([reading(0)])
        book.kept.keep_text("name", "value")
    first.close()
    second = open_books(url, T0)
    with second.read() as book:
        assert book.readings.count() == 1
        assert book.kept.text("name") == "value"
    second.close()


def fail_midway(books: SqlBooks) -> None:
    with books.write() as book:
        book.readings.add([reading(0)])
        book.reminders.of("tent", Call.MIST, "")
        book.actions.add(Action(0, "tent", Deed.MISTED, T0, "", T0, "page"))
        book.kept.keep_text("name", "value")
        raise RuntimeError("midway")


def test_a_failure_leaves_nothing(books: SqlBooks) -> None:
    with pytest.raises(RuntimeError, match="midway"):
        fail_midway(books)
    with books.read() as book:
        assert book.readings.count() == 0
        assert book.readings.newest() == {}
        assert book.reminders.all() == []
        assert book.actions.recent(None) == []
        assert book.kept.text("name") is None


def test_writers_side_by_side_lose_nothing(books: SqlBooks) -> None:
    start = threading.Barrier(2)

    def work(sensor: str) -> int:
        start.wait(DEADLINE_S)
        new = 0
        for number in range(200):
            with books.write() as book:
                total = int(book.kept.text("total") or "0")
                new += book.readings.add([reading(number, sensor), reading(number, "shared")])
                book.kept.keep_text("total", str(total + 1))
        return new

    with ThreadPoolExecutor(2) as pool:
        counts = list(pool.map(work, ["left", "right"], timeout=DEADLINE_S))
    with books.read() as book:
        assert book.kept.text("total") == "400"
        assert book.readings.count() == 600 == sum(counts)
        for sensor in ("left", "right", "shared"):
            assert len(book.readings.within([sensor], RH, Span(T0, T0 + timedelta(1)), 999)) == 200


def test_it_is_tidied_between_other_work(books: SqlBooks) -> None:
    with books.write() as book:
        book.readings.add([reading(n) for n in range(99)])
    with books.read() as book:
        books.tidy()
        assert book.readings.count() == 99
    with books.write() as book:
        assert book.readings.add([reading(99)]) == 1


def test_readers_are_not_held_up_by_a_writer(books: SqlBooks) -> None:
    def look() -> int:
        with books.read() as book:
            return book.readings.count()

    with ThreadPoolExecutor(8) as pool, books.write() as book:
        book.readings.add([reading(0)])
        counts = [pool.submit(look) for _ in range(32)]
        assert [count.result(DEADLINE_S) for count in counts] == [0] * 32


def test_a_reader_sees_one_state(books: SqlBooks) -> None:
    with books.read() as book:
        with books.write() as other:
            other.readings.add([reading(0)])
        assert book.readings.count() == 0
        assert book.readings.newest() == {}
    with books.read() as book:
        assert book.readings.count() == 1


def test_a_reader_can_not_write(books: SqlBooks) -> None:
    with pytest.raises(StorageError, match="can't be written"), books.read() as book:
        book.kept.keep_text("name", "value")
    with books.write() as book:
        assert book.kept.text("name") is None


def pragmas(books: SqlBooks, *, writing: bool) -> dict[str, object]:
    names = ("journal_mode", "synchronous", "busy_timeout", "foreign_keys", "query_only")
    engine = books._writer if writing else books._reader
    with engine.begin() as connection:
        return {name: connection.scalar(text(f"PRAGMA {name}")) for name in names}


@only_files("pragmas are SQLite's")
@pytest.mark.parametrize("writing", [True, False])
def test_every_connection_is_set_up_as_promised(books: SqlBooks, writing: bool) -> None:
    assert pragmas(books, writing=writing) == {
        "journal_mode": "wal",
        "synchronous": 2,  # FULL
        "busy_timeout": 5000,
        "foreign_keys": 1,
        "query_only": int(not writing),
    }


@only_files("without strict tables SQLite takes any type")
def test_strict_tables_refuse_a_text_for_a_number(books: SqlBooks) -> None:
    with books.write() as book:
        book.readings.add([reading(0)])
    with books._writer.begin() as connection:
        with pytest.raises(IntegrityError, match="cannot store TEXT value in REAL column"):
            connection.exec_driver_sql("INSERT INTO readings VALUES (1, 1, 'ninety', 1, NULL)")
        with pytest.raises(IntegrityError, match="FOREIGN KEY"):
            connection.exec_driver_sql("INSERT INTO readings VALUES (1, 77, 90.0, 1, NULL)")


@only_files("the lock is one of the file")
def test_a_locked_database_says_what_to_do(url: str) -> None:
    books = open_books(url, T0, wait_s=0.05)
    with closing(sqlite3.connect(file_of(books), isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StorageError, match="Close other programs"), books.write():
            pytest.fail("the lock was not held")
        other.execute("ROLLBACK")
    with books.write() as book:
        book.kept.keep_text("name", "value")
    books.close()


def test_a_second_writer_of_this_process_waits_its_turn_and_then_says_so(url: str) -> None:
    books = open_books(url, T0, wait_s=0.05)
    with books.write() as book:
        with pytest.raises(StorageError, match="takes too long"), books.write():
            pytest.fail("two writers at once")
        book.kept.keep_text("name", "value")
    with books.read() as book:
        assert book.kept.text("name") == "value"
    books.close()


@only_files("files are counted")
def test_closing_leaves_one_file_and_no_connection(url: str) -> None:
    books = open_books(url, T0)
    with books.write() as book, books.read(), books.read():
        book.readings.add([reading(0)])
    books.close()
    books.close()
    gc.collect()
    assert [path.name for path in file_of(books).parent.iterdir()] == [file_of(books).name]
    for opening in (books.read, books.write):
        with pytest.raises(StorageError, match="Start chamberwatch again"), opening():
            pytest.fail("it was closed")


@only_files("the rights of files")
def test_the_file_is_for_its_owner_only(books: SqlBooks) -> None:
    assert file_of(books).stat().st_mode & 0o077 == 0
    with books.write() as book:
        book.kept.keep_text("link key", "secret")
        log = file_of(books).with_name(f"{file_of(books).name}-wal")
        assert log.stat().st_mode & 0o077 == 0


def folder_missing(tmp_path: Path) -> Path:
    return tmp_path / "nowhere" / "chamberwatch.db"


def a_folder(tmp_path: Path) -> Path:
    return tmp_path


def not_writable(tmp_path: Path) -> Path:
    return Path("/proc/chamberwatch.db")


def not_a_database(tmp_path: Path) -> Path:
    path = tmp_path / "notes.txt"
    path.write_text("Two squeezes at noon.\n" * 100)
    return path


def of_another_program(tmp_path: Path) -> Path:
    path = tmp_path / "other.db"
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE photographs (id INTEGER)")
    return path


def newer(tmp_path: Path) -> Path:
    path = tmp_path / "newer.db"
    open_books(f"sqlite:///{path}", T0).close()
    with closing(sqlite3.connect(path)) as other, other:
        other.execute("INSERT INTO migrations VALUES ('tables of next year', 1)")
    return path


def damaged(tmp_path: Path) -> Path:
    path = tmp_path / "damaged.db"
    open_books(f"sqlite:///{path}", T0).close()
    content = bytearray(path.read_bytes())
    content[100:] = b"\xff" * (len(content) - 100)
    path.write_bytes(content)
    return path


def looked_at(path: Path) -> bytes | None:
    return path.read_bytes() if path.is_file() else None


@pytest.mark.parametrize(
    ("make", "cure"),
    [
        pytest.param(folder_missing, "Make it, or name another", id="folder missing"),
        pytest.param(a_folder, "Name a file in it", id="a folder"),
        pytest.param(not_writable, "Give the account that runs chamberwatch", id="not writable"),
        pytest.param(not_a_database, "is not a database. Name another file", id="not a database"),
        pytest.param(of_another_program, "belongs to another program", id="another program's"),
        pytest.param(newer, "Install that version again", id="from the future"),
        pytest.param(damaged, "put the last backup in its place", id="damaged"),
    ],
)
def test_a_file_that_can_not_be_used_is_left_alone_and_says_what_to_do(
    tmp_path: Path, make: Callable[[Path], Path], cure: str
) -> None:
    path = make(tmp_path)
    before = looked_at(path)
    with pytest.raises(StorageError, match=cure):
        open_books(f"sqlite:///{path}", T0, wait_s=0.05)
    assert looked_at(path) == before


@pytest.mark.parametrize(
    ("url", "cure"),
    [
        pytest.param("chamberwatch.db", "is not a database address", id="no address"),
        pytest.param("mysql://db/house", "“mysql” are not supported", id="another kind"),
        pytest.param("sqlite://", "names no file", id="no file"),
        pytest.param("sqlite:///:memory:", "names no file", id="memory"),
        pytest.param("sqlite:///file:x?mode=ro&uri=true", "names no file", id="options"),
    ],
)
def test_an_address_that_can_not_be_used_shows_how_to_write_one(url: str, cure: str) -> None:
    with pytest.raises(StorageError, match=cure) as caught:
        open_books(url, T0)
    assert "sqlite:////var/lib/chamberwatch/chamberwatch.db" in str(caught.value)


def test_opening_a_file_that_others_hold_waits_and_then_says_so(tmp_path: Path) -> None:
    path = tmp_path / "busy.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StorageError, match="Close other programs"):
            open_books(f"sqlite:///{path}", T0, wait_s=0.1)


def test_a_disk_that_can_not_keep_a_log_is_named(tmp_path: Path) -> None:
    memory = create_engine("sqlite://")
    with pytest.raises(StorageError, match="not on a network drive"):
        use_wal(memory, tmp_path / "x.db", 0.0)
    memory.dispose()


@pytest.mark.parametrize(
    ("trouble", "cure"),
    [
        pytest.param(sqlite3.OperationalError("odd"), "Look at the log", id="unknown"),
        pytest.param(
            OperationalError("SELECT 1", {}, sqlite3.OperationalError("odd")), "Look at the log",
            id="unknown, through the library",
        ),
    ],
)  # fmt: skip
def test_a_trouble_nobody_foresaw_still_says_what_to_do(trouble: Exception, cure: str) -> None:
    with pytest.raises(StorageError, match=cure), explained(Path("x.db")):
        raise trouble


@only_files("a file can be told how large it may be")
def test_a_full_disk_says_so(books: SqlBooks) -> None:
    with books._writer.connect() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count = 40")
    with pytest.raises(StorageError, match="Make room"), books.write() as book:
        book.kept.keep_text("large", "x" * 1_000_000)
    with books.read() as book:
        assert book.kept.text("large") is None


OPEN_WHEN_TOLD = """
import sys
from datetime import datetime, UTC
from chamberwatch.storage.book import open_books
print("ready", flush=True)
sys.stdin.readline()
books = open_books(sys.argv[1], datetime(2025, 3, 1, tzinfo=UTC))
with books.write() as book:
    book.kept.keep_text(sys.argv[2], "here")
books.close()
"""


def test_processes_that_start_together_all_get_in(url: str) -> None:
    root = Path(chamberwatch.__file__).parents[1]
    started = [
        subprocess.Popen(
            [sys.executable, "-c", OPEN_WHEN_TOLD, url, f"process {number}"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            text=True, cwd=root,
        )
        for number in range(4)
    ]  # fmt: skip
    for process in started:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    for process in started:
        assert process.stdin is not None
        process.stdin.write("\n")
        process.stdin.flush()
    for process in started:
        _, errors = process.communicate(timeout=DEADLINE_S)
        assert (process.returncode, errors) == (0, "")
    books = open_books(url, T0)
    with books.read() as book:
        assert [book.kept.text(f"process {number}") for number in range(4)] == ["here"] * 4
    books.close()
