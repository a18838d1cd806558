"""A database of its own for each test: in a file, and on a server, as in life."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import pytest

from chamberwatch.storage.book import SqlBooks, open_books
from tests.servers import POSTGRESQL, SQLITE, TestServer, needs_server


@pytest.fixture
def noon() -> datetime:
    return datetime(2025, 3, 1, 12, 0, 0, 123456, tzinfo=UTC)


@pytest.fixture(params=[SQLITE, pytest.param(POSTGRESQL, marks=needs_server)])
def kind(request: pytest.FixtureRequest) -> str:
    """On what a test runs: on both, unless it says why not."""
    named: str = request.param
    return named


@pytest.fixture
def fresh(kind: str, tmp_path: Path, request: pytest.FixtureRequest) -> Callable[[], str]:
    """Return what gives the address of a new database each time; on a server the same, cleared."""
    if kind == SQLITE:
        numbers = count()
        return lambda: f"sqlite:///{tmp_path / f'{next(numbers)}.db'}"
    server: TestServer = request.getfixturevalue("server")
    return server.cleared


@pytest.fixture
def url(kind: str, tmp_path: Path, request: pytest.FixtureRequest) -> str:
    if kind == SQLITE:
        return f"sqlite:///{tmp_path / 'chamberwatch.db'}"
    server: TestServer = request.getfixturevalue("server")
    return server.cleared()


@pytest.fixture
def books(url: str, noon: datetime) -> Iterator[SqlBooks]:
    opened = open_books(url, noon)
    yield opened
    opened.close()
