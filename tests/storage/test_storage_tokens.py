"""Tokens in the database, and looking a text up in a database as it is."""

import sqlite3
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy.exc import IntegrityError

from chamberwatch.core.errors import StorageError
from chamberwatch.service.small_books import Token
from chamberwatch.storage.book import SqlBooks, kept_text
from tests.servers import only_files

HOUR = timedelta(hours=1)


def test_tokens_are_kept_used_and_revoked(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        assert book.tokens.all() == []
        lamp = book.tokens.add("a lamp", "d1", noon)
        clock = book.tokens.add("a clock", "d2", noon + HOUR)
        book.tokens.use(lamp.id, noon + 2 * HOUR)
        assert book.tokens.revoke(clock.id, noon + 3 * HOUR) is not None
    assert (lamp, clock) == (Token(1, "a lamp", noon), Token(2, "a clock", noon + HOUR))
    used = Token(1, "a lamp", noon, noon + 2 * HOUR)
    gone = Token(2, "a clock", noon + HOUR, None, noon + 3 * HOUR)
    with books.read() as book:
        assert book.tokens.all() == [used, gone]
        assert book.tokens.of_digest("d1") == used
        assert book.tokens.of_digest("d2") == gone
        assert book.tokens.of_digest("d3") is None


def test_revoking_twice_keeps_the_first_time(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        lamp = book.tokens.add("a lamp", "d1", noon)
        first = book.tokens.revoke(lamp.id, noon + HOUR)
        assert book.tokens.revoke(lamp.id, noon + 2 * HOUR) == first
        assert book.tokens.revoke(9, noon) is None


def test_no_two_tokens_are_the_same(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        book.tokens.add("a lamp", "d1", noon)
    with pytest.raises(IntegrityError), books.write() as book:
        book.tokens.add("a clock", "d1", noon)


def test_a_text_is_looked_up_beside_an_open_database(books: SqlBooks, url: str) -> None:
    with books.write() as book:
        book.kept.keep_text("a", "b")
    assert kept_text(url, "a") == "b"
    assert kept_text(url, "c") is None


@only_files("a file is there, or not")
def test_looking_makes_no_database_and_brings_none_up_to_date(url: str, tmp_path: Path) -> None:
    file = tmp_path / "chamberwatch.db"
    assert kept_text(url, "a") is None
    assert not file.exists()
    file.touch()
    assert kept_text(url, "a") is None
    with sqlite3.connect(file) as made:
        assert made.execute("SELECT count(*) FROM sqlite_schema").fetchone() == (0,)
    made.close()


@only_files("a server's database is always one")
def test_what_is_no_database_says_so(url: str, tmp_path: Path) -> None:
    (tmp_path / "chamberwatch.db").write_text("a shopping list, " * 100)
    with pytest.raises(StorageError, match="is not a database"):
        kept_text(url, "a")
