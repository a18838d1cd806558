"""Books of few lines, as the service sees them: of corrections, tokens, batches and the like."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from chamberwatch.core.growing.batch import Entry
from chamberwatch.core.growing.photo import Photo
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.foretold import Foretold
from chamberwatch.core.watch.reading import Reject


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


class GrowingBook(Protocol):
    """What was told of batches. Only ever added to: what was wrong is corrected by an entry."""

    def start(self, entry: Entry) -> Entry:
        """Keep the first entry of a new batch; return it with its id and the batch's."""
        ...

    def add(self, entry: Entry) -> Entry:
        """Keep it; return it with its id."""
        ...

    def of(self, batch: int) -> Sequence[Entry]:
        """Return the entries of one batch, by id; none if there is no such batch."""
        ...

    def get(self, entry: int) -> Entry | None:
        """Return one by its id."""
        ...

    def all(self) -> Sequence[Entry]:
        """Return the entries of every batch, by id."""
        ...

    def newest_id(self) -> int:
        """Return the id of the one told last, 0 if there is none; cheap enough for any round."""
        ...


class PhotosBook(Protocol):
    """Photos of notes. A removed one keeps its row, so that its number is never used again."""

    def add(self, entry: int, photo: Photo) -> Photo:
        """Keep one that belongs to an entry; return it with its id."""
        ...

    def of(self, batch: int) -> Sequence[Photo]:
        """Return those of a batch that are there, by id."""
        ...

    def get(self, number: int) -> Photo | None:
        """Return one by its id, removed or not."""
        ...

    def named(self, digest: str) -> bool:
        """Tell whether one that is there has this digest."""
        ...

    def remove(self, number: int, now: datetime) -> None:
        """Keep that it was taken away, unless it was before."""
        ...


class ForetoldBook(Protocol):
    """When limits were expected to be reached, and what came of it."""

    def add(self, foretold: Foretold) -> Foretold:
        """Keep it; return it with its id."""
        ...

    def save(self, foretold: Foretold) -> None:
        """Keep its new state."""
        ...

    def open(self, chamber: str) -> Sequence[Foretold]:
        """Return those of a chamber that still wait for what comes, oldest first."""
        ...

    def recent(self, chamber: str, since: datetime, limit: int = 200) -> Sequence[Foretold]:
        """Return those of a chamber made since a time, newest first."""
        ...


class RejectsBook(Protocol):
    """The last 200 messages that could not be taken in, and how many there were."""

    def add(self, rejects: Iterable[Reject]) -> None:
        """Keep them, drop the oldest beyond 200, and count."""
        ...

    def recent(self, limit: int = 200) -> Sequence[Reject]:
        """Return the newest first."""
        ...

    def count(self) -> int:
        """Return how many there have ever been."""
        ...
