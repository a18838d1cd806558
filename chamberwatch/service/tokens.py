"""Tokens for programs: made, listed, revoked, and known again when one comes.

A token is shown once, when it is made; only its SHA-256 is kept. It holds 256 random bits, so
nobody comes upon it by guessing, and a quick hash is enough.
"""

import hashlib
import logging
import secrets
from collections.abc import Sequence
from datetime import timedelta
from typing import Final

from chamberwatch.core.errors import RefusedError, StorageError, UnknownNameError
from chamberwatch.service.books import Books
from chamberwatch.service.ports import Clock
from chamberwatch.service.small_books import Token

log = logging.getLogger(__name__)

LONGEST_NAME: Final = 100
AT_MOST: Final = 50
USED_EVERY: Final = timedelta(hours=1)
"""The date of last use is written no more often: a card has so many writes."""


def digest_of(secret: str) -> str:
    """Return what is kept of a token."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


class Tokens:
    """What programs come in with. Safe to use from several threads."""

    def __init__(self, books: Books, clock: Clock) -> None:
        """Take what it stands on."""
        self._books = books
        self._clock = clock

    def make(self, name: str) -> tuple[Token, str]:
        """Make a token; return it with its secret, which nobody can read again.

        Raises:
            RefusedError: no usable name, or there are too many.
        """
        name = name.strip()
        if not name or len(name) > LONGEST_NAME or not name.isprintable():
            raise RefusedError(
                f"Name the program that will use it, in 1 to {LONGEST_NAME} characters."
            )
        secret = secrets.token_urlsafe(32)
        with self._books.write() as book:
            living = [token for token in book.tokens.all() if token.revoked is None]
            if len(living) >= AT_MOST:
                raise RefusedError(
                    f"There are {AT_MOST} tokens already; revoke one that is not needed any more."
                )
            return book.tokens.add(name, digest_of(secret), self._clock.now()), secret

    def all(self) -> Sequence[Token]:
        """Return all there ever were, by number."""
        with self._books.read() as book:
            return book.tokens.all()

    def revoke(self, number: int) -> Token:
        """Let a token open nothing from now on; once more changes nothing.

        Raises:
            UnknownNameError: there is no such token.
        """
        with self._books.write() as book:
            token = book.tokens.revoke(number, self._clock.now())
        if token is None:
            raise UnknownNameError(
                f"There is no token {number}; chamberwatch token list names those there are."
            )
        return token

    def known(self, secret: str) -> Token | None:
        """Return the token that a program sent, None if it isn't one or was revoked."""
        with self._books.read() as book:
            token = book.tokens.of_digest(digest_of(secret))
        if token is None or token.revoked is not None:
            return None
        now = self._clock.now()
        if token.used is None or now - token.used >= USED_EVERY:
            self._note_use(token)
        return token

    def _note_use(self, token: Token) -> None:
        try:
            with self._books.write() as book:
                book.tokens.use(token.id, self._clock.now())
        except StorageError as exc:
            # What the program asks for must not fail because of a date.
            log.warning("The use of token %d could not be noted: %s", token.id, exc)
