"""What grows without end, as the service sees it: each part dropped a few rows at a time."""

from contextlib import AbstractContextManager
from datetime import datetime
from typing import Protocol

from chamberwatch.service.books import KeptBook
from chamberwatch.service.summed_books import SummingBook


class ThinningBook(Protocol):
    """Drops what is old. Each call drops at most about `limit` rows, the oldest first.

    It returns how many went; fewer than `limit`: nothing is left of what was asked for.
    """

    def oldest(self) -> datetime | None:
        """Return the time of the oldest reading, None where there is none."""
        ...

    def newest(self, until: datetime) -> datetime | None:
        """Return the time of the newest reading up to a time, None where there is none."""
        ...

    def readings(self, before: datetime, limit: int) -> int:
        """Drop readings; ask `summing.drop_before` first up to where they may go."""
        ...

    def messages(self, before: datetime, limit: int) -> int:
        """Drop messages to people that were put in the outbox before, and wait no more."""
        ...

    def links(self, before: datetime, limit: int) -> int:
        """Drop what is known of links that were used before."""
        ...

    def undated(self, keep: int, limit: int) -> int:
        """Drop values that can never be dated, but for so many of the newest."""
        ...


class ThinnedBook(Protocol):
    """One transaction on what is dropped, and on what must know of it."""

    @property
    def thinning(self) -> ThinningBook: ...  # noqa: D102 - named for what it holds
    @property
    def summing(self) -> SummingBook: ...  # noqa: D102
    @property
    def kept(self) -> KeptBook: ...  # noqa: D102


class ThinnedBooks(Protocol):
    """Opens such books. Safe to use from several threads."""

    def write(self) -> AbstractContextManager[ThinnedBook]:
        """Open for reading and writing, alone."""
        ...

    def read(self) -> AbstractContextManager[ThinnedBook]:
        """Open for reading."""
        ...
