"""What our own commands come in with: who may read the database needs no token.

A pass is signed with the key that signs links, and good for a minute. It opens what a token opens.
"""

from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Final

from itsdangerous import BadData, URLSafeSerializer

from chamberwatch.service.books import Books
from chamberwatch.web.access import sign_key, signer

SALT: Final = "chamberwatch.own-pass"
LIVES: Final = timedelta(minutes=1)
AHEAD: Final = timedelta(minutes=1)
"""Two looks at one clock may be told in the wrong order where it is set in between."""


class OwnPasses:
    """Makes passes and knows them again; the key is looked up once, when it is needed."""

    def __init__(self, books: Books) -> None:
        """Take what keeps the key."""
        self._books = books

    @cached_property
    def _signer(self) -> URLSafeSerializer:
        return signer(sign_key(self._books), SALT)

    def make(self, now: datetime) -> str:
        """Return a pass that is good from now on.

        Raises:
            StorageError: the key can't be had.
        """
        return str(self._signer.dumps(now.timestamp()))

    def good(self, given: str, now: datetime) -> bool:
        """Tell whether a pass is ours and its minute is not over.

        Raises:
            StorageError: the key can't be had.
        """
        try:
            made = datetime.fromtimestamp(float(self._signer.loads(given)), UTC)
        except (BadData, TypeError, ValueError, OverflowError, OSError):
            return False
        return -AHEAD <= now - made <= LIVES
