"""A look at a database changes nothing of it."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.storage.book import open_books
from chamberwatch.storage.looking import look_at
from tests.make import humidity

NOON = datetime(2026, 1, 20, 12, tzinfo=UTC)


def test_it_reads_beside_the_one_that_writes(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'a.db'}"
    books = open_books(url, NOON)
    with books.write() as book:
        book.readings.add([humidity(80.0)])
    with look_at(url) as look, look.read() as book:
        assert book.readings.count() == 1
    with look_at(url) as look, pytest.raises(StorageError), look.write() as book:
        book.kept.keep_text("a", "b")
    books.close()


def test_it_makes_none(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with pytest.raises(StorageError, match="is not there yet"), look_at(f"sqlite:///{path}"):
        pass
    assert not path.exists()


def test_it_brings_none_to_the_newest_schema(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    path.touch()
    with pytest.raises(StorageError, match="older version"), look_at(f"sqlite:///{path}"):
        pass
    assert path.read_bytes() == b""
