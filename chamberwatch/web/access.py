"""Signed links in messages: each does one thing, once, for two days.

The time of issue is part of what is signed and comes from the given clock, not from the library's
own, so that a paced or corrected clock holds for links too.
"""

import hashlib
import secrets
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Final

from itsdangerous import BadData, URLSafeSerializer

from chamberwatch.core.errors import LinkError
from chamberwatch.service.books import Books
from chamberwatch.service.ports import Answering, Clock
from chamberwatch.web.language import _

LIVES: Final = timedelta(days=2)
# A clock that was set back a little must not make fresh links look forged.
AHEAD: Final = timedelta(minutes=10)
KEY_NAME: Final = "links.sign_key"
SALT: Final = "chamberwatch.link.1"


class OldLinkError(LinkError):
    """The link was good once; its time is over or it has done its work."""


def sign_key(books: Books) -> str:
    """Return the key that signs links, made once and kept."""
    with books.read() as book:
        key = book.kept.text(KEY_NAME)
    if key is not None:
        return key
    # Looked up again with the book to ourselves: another may have made it in between.
    with books.write() as book:
        key = book.kept.text(KEY_NAME)
        if key is None:
            key = secrets.token_urlsafe(32)
            book.kept.keep_text(KEY_NAME, key)
    return key


def signer(key: str, salt: str) -> URLSafeSerializer:
    """Return what signs texts for one purpose, and tells ours from others.

    Args:
        key: see `sign_key`.
        salt: names the purpose; what was signed for one is none for another.
    """
    hashed = {"digest_method": hashlib.sha256, "key_derivation": "hmac"}
    return URLSafeSerializer(key, salt=salt, signer_kwargs=hashed)


class SignedLinks:
    """Makes links for messages and reads them back."""

    def __init__(self, key: str, address: str, clock: Clock) -> None:
        """Take the key, the address a phone can reach, and the clock that dates the links."""
        self._address = address.rstrip("/")
        self._clock = clock
        self._signer = signer(key, SALT)

    def link(self, reminder: int, episode: int, answering: Answering) -> str:
        """Return a full address that, opened, asks once and then does it."""
        issued = int(self._clock.now().timestamp())
        token = self._signer.dumps(
            {"r": reminder, "e": episode, "a": answering.value, "t": issued}
        )
        return f"{self._address}/do/{token}"

    def opened(self, token: str, now: datetime) -> tuple[int, int, Answering]:
        """Read a token: the reminder, its episode, and what to do.

        Raises:
            LinkError: it was altered; `OldLinkError`: it is older than two days.
        """
        try:
            said = self._signer.loads(token)
            reminder, episode = int(said["r"]), int(said["e"])
            answering = Answering(said["a"])
            issued = datetime.fromtimestamp(int(said["t"]), UTC)
        except (BadData, KeyError, TypeError, ValueError, OverflowError, OSError) as exc:
            raise LinkError(
                _(
                    "This link does not arrive as it was sent; perhaps a part of it was cut off. "
                    "Nothing was changed. Open the page instead and answer there."
                )
            ) from exc
        if now - issued > LIVES or issued - now > AHEAD:
            raise OldLinkError(
                _(
                    "This link is older than two days, so it no longer does anything. "
                    "Open the page to see what is asked now."
                )
            )
        return reminder, episode, answering


class KeptLinks:
    """Reads links back that were signed with the kept key; it is looked up once."""

    def __init__(self, books: Books, clock: Clock) -> None:
        """Take what keeps the key, and the clock that dates the links."""
        self._books = books
        self._clock = clock

    @cached_property
    def _links(self) -> SignedLinks:
        return SignedLinks(sign_key(self._books), "", self._clock)

    def opened(self, token: str, now: datetime) -> tuple[int, int, Answering]:
        """Read a token, as `SignedLinks.opened` does.

        Raises:
            LinkError: it was altered; `OldLinkError`: it is older than two days.
        """
        return self._links.opened(token, now)


def digest(token: str) -> str:
    """Return what is kept of a used link; the link can't be made from it."""
    return hashlib.sha256(token.encode()).hexdigest()
