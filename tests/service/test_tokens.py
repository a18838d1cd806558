"""Tokens: made once, known again, revoked; nothing of the secret is kept."""

import logging
import sqlite3
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.service.tokens import AT_MOST, Tokens, digest_of
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import FullDisk, HandClock
from tests.make import NOON


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def books(tmp_path: Path) -> Iterator[SqlBooks]:
    opened = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield opened
    opened.close()


@pytest.fixture
def tokens(books: SqlBooks, clock: HandClock) -> Tokens:
    return Tokens(books, clock)


def test_made_listed_and_known_again(tokens: Tokens) -> None:
    first, secret = tokens.make(" a lamp ")
    second, other = tokens.make("a lamp")
    assert (first.id, first.name, first.made, first.used) == (1, "a lamp", NOON, None)
    assert [token.id for token in tokens.all()] == [1, 2]
    assert len(secret) >= 40
    assert (secret == other, second.id) == (False, 2)
    known = tokens.known(other)
    assert known is not None
    assert known.id == 2
    assert tokens.known(secret[:-1]) is None
    assert tokens.known("") is None
    assert tokens.known("\udcff") is None


def test_only_the_digest_is_kept(tokens: Tokens, books: SqlBooks) -> None:
    _, secret = tokens.make("a lamp")
    with sqlite3.connect(str(books.place)) as file:
        whole = "\n".join(file.iterdump())
    file.close()
    assert secret not in whole
    assert digest_of(secret) in whole


def test_revoked_it_opens_nothing(tokens: Tokens, clock: HandClock) -> None:
    token, secret = tokens.make("a lamp")
    clock.turn(minutes=5)
    gone = tokens.revoke(token.id)
    assert gone.revoked == NOON + timedelta(minutes=5)
    clock.turn(minutes=5)
    assert tokens.revoke(token.id) == gone
    assert tokens.known(secret) is None
    assert tokens.all() == [gone]


def test_there_is_none_to_revoke(tokens: Tokens) -> None:
    with pytest.raises(UnknownNameError, match="no token 7"):
        tokens.revoke(7)


def test_its_last_use_is_written_once_an_hour(tokens: Tokens, clock: HandClock) -> None:
    _, secret = tokens.make("a lamp")
    seen = []
    for minutes in (3, 30, 29, 1, 59):
        clock.turn(minutes=minutes)
        assert tokens.known(secret) is not None
        seen.append(tokens.all()[0].used)
    first, second = NOON + timedelta(minutes=3), NOON + timedelta(minutes=63)
    assert seen == [first, first, first, second, second]


def test_a_full_disk_keeps_no_program_out(
    books: SqlBooks, clock: HandClock, caplog: pytest.LogCaptureFixture
) -> None:
    disk = FullDisk(books)
    tokens = Tokens(disk, clock)
    _, secret = tokens.make("a lamp")
    disk.full = True
    with caplog.at_level(logging.WARNING):
        assert tokens.known(secret) is not None
    assert "use of token 1 could not be noted" in caplog.text


@pytest.mark.parametrize("name", ["", "  ", "x" * 101, "two\nlines"])
def test_a_token_needs_a_name(tokens: Tokens, name: str) -> None:
    with pytest.raises(RefusedError, match="Name the program"):
        tokens.make(name)


def test_there_is_an_end_to_them(tokens: Tokens) -> None:
    for _ in range(AT_MOST):
        tokens.make("a lamp")
    with pytest.raises(RefusedError, match="revoke one"):
        tokens.make("one more")
    tokens.revoke(1)
    assert tokens.make("one more")[0].id == AT_MOST + 1
