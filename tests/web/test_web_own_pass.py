"""What our own commands come in with once a passcode is set."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.service.books import Books
from chamberwatch.storage.book import open_books
from chamberwatch.web.own_pass import OwnPasses
from tests.make import NOON


@pytest.fixture
def books(tmp_path: Path) -> Iterator[Books]:
    made = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield made
    made.close()


@pytest.mark.parametrize(
    ("seconds", "good"),
    [(0, True), (60, True), (61, False), (-60, True), (-61, False), (86_400, False)],
)
def test_it_is_good_for_a_minute(books: Books, seconds: int, good: bool) -> None:
    made = OwnPasses(books).make(NOON)
    assert OwnPasses(books).good(made, NOON + timedelta(seconds=seconds)) is good


@pytest.mark.parametrize("given", ["", "x", "1768910400.0", "\N{SNOWMAN}", "a.b.c"])
def test_nobody_else_can_make_one(books: Books, given: str) -> None:
    assert not OwnPasses(books).good(given, NOON)


def test_one_of_another_house_is_none(books: Books, tmp_path: Path) -> None:
    other = open_books(f"sqlite:///{tmp_path / 'other.db'}", NOON)
    made = OwnPasses(other).make(NOON)
    other.close()
    assert not OwnPasses(books).good(made, NOON)
    assert not OwnPasses(books).good(made[:-1], NOON)
