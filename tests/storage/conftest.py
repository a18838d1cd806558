"""A database of its own for each test, in a file, as in life."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from chamberwatch.storage.book import SqlBooks, open_books


@pytest.fixture
def noon() -> datetime:
    return datetime(2025, 3, 1, 12, 0, 0, 123456, tzinfo=UTC)


@pytest.fixture
def url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'chamberwatch.db'}"


@pytest.fixture
def books(url: str, noon: datetime) -> Iterator[SqlBooks]:
    opened = open_books(url, noon)
    yield opened
    opened.close()
