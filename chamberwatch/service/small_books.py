"""Books of few lines, as the service sees them: corrections of sensors, tokens for programs."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from chamberwatch.core.watch.calibrated import Calibration


class CalibrationsBook(Protocol):
    """Corrections of sensors. Only ever added to."""

    def add(self, calibration: Calibration) -> Calibration:
        """Keep it; return it with its id."""
        ...

    def all(self) -> Sequence[Calibration]:
        """Return all in the order in which they hold: by `at`, then by id."""
        ...

    def newest_id(self) -> int:
        """Return the id of the one told last, 0 if there is none; cheap."""
        ...


@dataclass(frozen=True, slots=True)
class Token:
    """What a program comes in with; the secret itself is not kept.

    Attributes:
        id: given by the book.
        name: of the program.
        made: when.
        used: when it last opened something, to the hour; None: never.
        revoked: from when on it opens nothing; None: it is good.
    """

    id: int
    name: str
    made: datetime
    used: datetime | None = None
    revoked: datetime | None = None


class TokensBook(Protocol):
    """Tokens for programs, by the digest of their secret. Never removed."""

    def add(self, name: str, digest: str, made: datetime) -> Token:
        """Keep a new one; return it with its id."""
        ...

    def all(self) -> Sequence[Token]:
        """Return all, by id."""
        ...

    def of_digest(self, digest: str) -> Token | None:
        """Return the one with this digest, revoked or not."""
        ...

    def use(self, number: int, now: datetime) -> None:
        """Keep when it was last used."""
        ...

    def revoke(self, number: int, now: datetime) -> Token | None:
        """Revoke it, if it wasn't yet; return it, None if there is no such token."""
        ...
