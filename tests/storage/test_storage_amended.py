"""Deeds that stand in for others: in the database, and in the books that need no file."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from sqlalchemy.exc import IntegrityError

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.service.books import Books, Span
from chamberwatch.storage.book import SqlBooks
from tests.bench.winter.memory_books import MemoryBooks
from tests.servers import POSTGRESQL, SQLITE, needs_server

MINUTE = timedelta(minutes=1)


@pytest.fixture(params=["fake", SQLITE, pytest.param(POSTGRESQL, marks=needs_server)])
def kind(request: pytest.FixtureRequest) -> str:
    named: str = request.param
    return named


@pytest.fixture
def either(kind: str, request: pytest.FixtureRequest) -> Books:
    if kind == "fake":
        return MemoryBooks()
    found: Books = request.getfixturevalue("books")
    return found


@pytest.fixture
def misted(noon: datetime) -> Callable[[int], Action]:
    def made(minutes: int) -> Action:
        return Action(0, "tent", Deed.MISTED, noon + minutes * MINUTE, "", noon, "page", 3.0)

    return made


def test_a_correction_stands_in_place_of_what_was_wrong(
    either: Books, misted: Callable[[int], Action], noon: datetime
) -> None:
    with either.write() as book:
        wrong, other = book.actions.add(misted(5)), book.actions.add(misted(9))
        right = book.actions.add(replace(wrong, at=noon + 7 * MINUTE, amount=30.0, corrects=1))
    with either.read() as book:
        assert book.actions.recent("tent") == [other, right]
        assert book.actions.recent(None, limit=1) == [other]
        assert book.actions.within(Span(noon, noon + 8 * MINUTE)) == [right]
        assert book.actions.get(wrong.id) == wrong
        assert book.actions.instead_of(wrong.id) == right
        assert book.actions.instead_of(other.id) is None
        assert book.actions.get(99) is None


def test_what_was_withdrawn_is_read_no_more(
    either: Books, misted: Callable[[int], Action], noon: datetime
) -> None:
    with either.write() as book:
        wrong = book.actions.add(misted(5))
        right = book.actions.add(replace(wrong, amount=30.0, corrects=wrong.id))
        gone = book.actions.add(replace(right, corrects=right.id, withdrawn=True))
    with either.read() as book:
        assert book.actions.recent("tent") == []
        assert book.actions.within(Span(noon, noon + 9 * MINUTE)) == []
        assert book.actions.instead_of(right.id) == gone


def test_a_deed_is_corrected_once(books: SqlBooks, misted: Callable[[int], Action]) -> None:
    with books.write() as book:
        wrong = book.actions.add(misted(5))
        book.actions.add(replace(wrong, corrects=wrong.id))
    with pytest.raises((StorageError, IntegrityError)), books.write() as book:
        book.actions.add(replace(wrong, corrects=wrong.id))
