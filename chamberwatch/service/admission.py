"""The passcode: set, changed, taken away, and tried by those who want to come in.

Only its hash is kept. From hash and *turn* follows a mark that every session carries, so that a
new passcode, or a new turn, ends all of them at once.
"""

import hashlib
import secrets
import threading
import unicodedata
from itertools import pairwise
from typing import Final, Protocol

from chamberwatch.core.errors import RefusedError
from chamberwatch.service.books import Book, Books
from chamberwatch.service.guessing import Guesses, of_whom
from chamberwatch.service.ports import Clock

PASSCODE_NAME: Final = "access.passcode"
TURN_NAME: Final = "access.turn"

SHORTEST: Final = 8
LONGEST: Final = 200
FEWEST_DIFFERENT: Final = 4
FIRST_TRIED: Final = frozenset(
    {"passcode", "password", "chamberwatch", "mushroom", "mushrooms", "qwertyui", "qwertyuiop"}
)
"""What anybody tries first."""

MARK_LENGTH: Final = 24


class Hashing(Protocol):
    """Makes hashes that are dear to guess from."""

    def hash(self, passcode: str) -> str:
        """Return a hash, another each time."""
        ...

    def fits(self, passcode: str, kept: str) -> bool:
        """Tell whether a passcode is the one that the kept hash was made from.

        Raises:
            UnreadableHashError: the kept hash can't be read.
        """
        ...


class UnreadableHashError(RefusedError):
    """What is kept of the passcode can't be read, so nobody can log in."""

    def __init__(self) -> None:
        """Say what helps."""
        super().__init__(
            "What is kept of the passcode can't be read, so nobody can log in. Set it anew on the "
            "machine itself: chamberwatch passcode."
        )


class WrongPasscodeError(RefusedError):
    """It is not the passcode; `wrong` is how often in a row it wasn't."""

    def __init__(self, wrong: int) -> None:
        """Keep the count."""
        super().__init__("That is not the passcode. Nothing else was looked at.")
        self.wrong = wrong


class TooSoonError(RefusedError):
    """Too many guesses; the next is looked at after `wait_s` seconds."""

    def __init__(self, wait_s: float) -> None:
        """Keep the wait."""
        super().__init__("Too many wrong passcodes; this one was not looked at.")
        self.wait_s = wait_s


def tidied(passcode: str) -> str:
    """Return a passcode as it is compared: one spelling of each letter, no blanks around it.

    Keyboards of phones write letters with accents in more than one way, and add a blank.
    """
    return unicodedata.normalize("NFKC", passcode).strip()


def acceptable(passcode: str) -> str:
    """Return a new passcode as it is kept.

    Raises:
        RefusedError: it is too easy, or can't be typed again.
    """
    tidy = tidied(passcode)
    if len(tidy) < SHORTEST:
        raise RefusedError(f"Take at least {SHORTEST} characters; three plain words are good.")
    if len(tidy) > LONGEST:
        raise RefusedError(f"Take no more than {LONGEST} characters.")
    if not tidy.isprintable():
        raise RefusedError("Take characters that can be seen and typed on a phone.")
    if _easy(tidy.casefold()):
        raise RefusedError("That is one of the first that anybody tries. Take another.")
    return tidy


def _easy(passcode: str) -> bool:
    steps = {ord(b) - ord(a) for a, b in pairwise(passcode)}
    counted = len(steps) == 1 and steps <= {-1, 0, 1}
    return counted or passcode in FIRST_TRIED or len(set(passcode)) < FEWEST_DIFFERENT


class Admission:
    """Keeps the passcode, and lets in who knows it. Safe to use from several threads."""

    def __init__(self, books: Books, clock: Clock, hashing: Hashing) -> None:
        """Take what it stands on."""
        self._books = books
        self._clock = clock
        self._hashing = hashing
        self._guesses = Guesses()
        # One try at a time: each takes some 20 MB while it lasts.
        self._one = threading.Lock()

    def mark(self) -> str | None:
        """Return what sessions must carry to count; None while no passcode is set."""
        with self._books.read() as book:
            return _mark(book)

    def choose_first(self, passcode: str) -> str:
        """Set the passcode where none is; return the mark of sessions.

        Raises:
            RefusedError: too easy, or one is set already.
        """
        hashed = self._hashed(passcode)
        with self._books.write() as book:
            if book.kept.text(PASSCODE_NAME):
                raise RefusedError(
                    "A passcode is set already. Log in with it; it is changed on the machine "
                    "itself with chamberwatch passcode."
                )
            book.kept.keep_text(PASSCODE_NAME, hashed)
            return _marked(book, hashed)

    def choose(self, passcode: str) -> bool:
        """Set the passcode, in place of the former; tell whether there was one.

        Raises:
            RefusedError: too easy.
        """
        hashed = self._hashed(passcode)
        with self._books.write() as book:
            former = book.kept.text(PASSCODE_NAME)
            book.kept.keep_text(PASSCODE_NAME, hashed)
        return bool(former)

    def remove(self) -> bool:
        """Take the passcode away; tell whether there was one."""
        with self._books.write() as book:
            former = book.kept.text(PASSCODE_NAME)
            book.kept.keep_text(PASSCODE_NAME, "")
        return bool(former)

    def let_in(self, passcode: str, host: str) -> str:
        """Return the mark of sessions to who knows the passcode.

        Args:
            passcode: as it was typed.
            host: address of whoever typed it.

        Raises:
            TooSoonError: too many guesses; this one was not looked at.
            WrongPasscodeError: it isn't the passcode.
            UnreadableHashError: what is kept of it can't be read.
            RefusedError: none is set.
        """
        with self._books.read() as book:
            kept, mark = book.kept.text(PASSCODE_NAME), _mark(book)
        if not kept or mark is None:
            raise RefusedError("No passcode is set, so there is nothing to log in with.")
        guesser, right, wrong = of_whom(host), False, 0
        wait_s = self._guesses.begin(guesser, self._clock.monotonic())
        if wait_s > 0.0:
            raise TooSoonError(wait_s)
        try:
            with self._one:
                right = self._hashing.fits(tidied(passcode), kept)
        finally:
            wrong = self._guesses.end(guesser, self._clock.monotonic(), right=right)
        if not right:
            raise WrongPasscodeError(wrong)
        return mark

    def end_sessions(self) -> None:
        """Log everybody out, everywhere."""
        with self._books.write() as book:
            book.kept.keep_text(TURN_NAME, secrets.token_hex(8))

    def _hashed(self, passcode: str) -> str:
        # Before any book is opened: it takes its time.
        tidy = acceptable(passcode)
        with self._one:
            return self._hashing.hash(tidy)


def _mark(book: Book) -> str | None:
    kept = book.kept.text(PASSCODE_NAME)
    return _marked(book, kept) if kept else None


def _marked(book: Book, hashed: str) -> str:
    turn = book.kept.text(TURN_NAME) or ""
    return hashlib.sha256(f"{hashed}\n{turn}".encode()).hexdigest()[:MARK_LENGTH]
