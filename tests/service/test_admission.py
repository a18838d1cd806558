"""The passcode: what is taken, what is kept, who is let in, and what ends sessions."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.service.admission import (
    PASSCODE_NAME,
    Admission,
    TooSoonError,
    WrongPasscodeError,
    acceptable,
    tidied,
)
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import HandClock
from tests.make import NOON

GOOD = "wet straw in june"
PHONE, THIEF = "192.0.2.7", "192.0.2.66"


class Backwards:
    """Hashes that can be read, each another; counts how often it was asked."""

    def __init__(self) -> None:
        self.salt = 0
        self.asked = 0
        self.breaks = False

    def hash(self, passcode: str) -> str:
        self.salt += 1
        return f"{self.salt}:{passcode[::-1]}"

    def fits(self, passcode: str, kept: str) -> bool:
        self.asked += 1
        if self.breaks:
            raise ZeroDivisionError
        return kept.partition(":")[2] == passcode[::-1]


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def books(tmp_path: Path) -> Iterator[SqlBooks]:
    opened = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    yield opened
    opened.close()


@pytest.fixture
def hashing() -> Backwards:
    return Backwards()


@pytest.fixture
def admission(books: SqlBooks, clock: HandClock, hashing: Backwards) -> Admission:
    return Admission(books, clock, hashing)


@pytest.mark.parametrize(
    ("passcode", "kept"),
    [
        pytest.param(GOOD, GOOD, id="words"),
        pytest.param(f" {GOOD} ", GOOD, id="blanks-around"),
        pytest.param("gru\u0308nspan42", "grünspan42", id="letter-in-two-parts"),
        pytest.param("739105824", "739105824", id="digits"),
    ],
)
def test_taken(passcode: str, kept: str) -> None:
    assert acceptable(passcode) == kept == tidied(passcode)


@pytest.mark.parametrize(
    ("passcode", "says"),
    [
        pytest.param("", "at least 8", id="nothing"),
        pytest.param("   seven7   ", "at least 8", id="blanks-do-not-count"),
        pytest.param("x" * 150 + "abc" * 20, "no more than 200", id="long"),
        pytest.param("with\x07bell", "can be seen", id="bell"),
        pytest.param("12345678", "anybody tries", id="counted-up"),
        pytest.param("zyxwvutsr", "anybody tries", id="counted-down"),
        pytest.param("11111111", "anybody tries", id="one-digit"),
        pytest.param("abababab", "anybody tries", id="two-letters"),
        pytest.param("ChamberWatch", "anybody tries", id="our-name"),
    ],
)
def test_refused(admission: Admission, passcode: str, says: str) -> None:
    with pytest.raises(RefusedError, match=says):
        admission.choose(passcode)
    assert admission.mark() is None


def test_only_the_hash_is_kept(admission: Admission, books: SqlBooks) -> None:
    assert admission.choose(GOOD) is False
    with books.read() as book:
        assert book.kept.text(PASSCODE_NAME) == f"1:{GOOD[::-1]}"


def test_let_in_with_the_right_one_alone(admission: Admission) -> None:
    admission.choose(GOOD)
    assert admission.let_in(f"{GOOD} ", PHONE) == admission.mark()
    with pytest.raises(WrongPasscodeError) as refused:
        admission.let_in("wet straw in july", PHONE)
    assert refused.value.wrong == 1


def test_nobody_logs_in_while_none_is_set(admission: Admission) -> None:
    with pytest.raises(RefusedError, match="No passcode is set"):
        admission.let_in("", PHONE)


def test_a_guess_that_comes_too_soon_is_not_looked_at(
    admission: Admission, clock: HandClock, hashing: Backwards
) -> None:
    admission.choose(GOOD)
    for _ in range(5):
        with pytest.raises(WrongPasscodeError):
            admission.let_in("no", THIEF)
    with pytest.raises(TooSoonError) as refused:
        admission.let_in(GOOD, THIEF)
    assert (refused.value.wait_s, hashing.asked) == (2.0, 5)
    assert admission.let_in(GOOD, PHONE)
    clock.turn(seconds=2)
    assert admission.let_in(GOOD, THIEF)


def test_a_try_that_breaks_counts_and_holds_nothing_up(
    admission: Admission, hashing: Backwards
) -> None:
    admission.choose(GOOD)
    hashing.breaks = True
    with pytest.raises(ZeroDivisionError):
        admission.let_in(GOOD, PHONE)
    hashing.breaks = False
    with pytest.raises(WrongPasscodeError) as refused:
        admission.let_in("no", PHONE)
    assert refused.value.wrong == 2


def test_the_first_is_set_once(admission: Admission) -> None:
    mark = admission.choose_first(GOOD)
    assert mark == admission.mark()
    with pytest.raises(RefusedError, match="set already"):
        admission.choose_first("another good one")
    assert admission.let_in(GOOD, PHONE) == mark


def test_of_two_who_set_the_first_one_wins(admission: Admission) -> None:
    words, won = [f"passing phrase {n}" for n in range(8)], []

    def choose(passcode: str) -> None:
        try:
            admission.choose_first(passcode)
        except RefusedError:
            return
        won.append(passcode)

    threads = [threading.Thread(target=choose, args=(word,)) for word in words]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (winner,) = won
    assert admission.let_in(winner, PHONE)


def test_what_ends_every_session(admission: Admission) -> None:
    marks = []
    for _ in range(2):
        admission.choose(GOOD)
        marks.append(admission.mark())
        admission.end_sessions()
        marks.append(admission.mark())
    assert None not in marks
    assert len(set(marks)) == 4


def test_taken_away_and_set_again(admission: Admission) -> None:
    assert admission.remove() is False
    admission.choose(GOOD)
    assert admission.choose("another good one") is True
    assert admission.remove() is True
    assert admission.mark() is None
    assert admission.choose_first(GOOD) == admission.mark()
