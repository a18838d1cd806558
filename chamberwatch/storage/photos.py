"""What is known of photos; the pictures lie in files, named by their digests."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from chamberwatch.core.growing.photo import Photo
from chamberwatch.storage.tables import ENTRIES, PHOTOS


class SqlPhotos:
    """Photos of notes. A removed one keeps its row, so that its number is never used again."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def add(self, entry: int, photo: Photo) -> Photo:
        """Keep one that belongs to an entry; return it with its id."""
        fresh = insert(PHOTOS).values(
            entry=entry,
            digest=photo.digest,
            width=photo.size[0],
            height=photo.size[1],
            small_width=photo.small[0],
            small_height=photo.small[1],
            stored=photo.stored,
        )
        return _photo(self._connection.execute(fresh.returning(PHOTOS)).one())

    def of(self, batch: int) -> Sequence[Photo]:
        """Return those of a batch that are there, by id."""
        asked = (
            select(PHOTOS)
            .join(ENTRIES, ENTRIES.c.id == PHOTOS.c.entry)
            .where(ENTRIES.c.batch == batch, PHOTOS.c.removed.is_(None))
            .order_by(PHOTOS.c.id)
        )
        return [_photo(row) for row in self._connection.execute(asked)]

    def get(self, number: int) -> Photo | None:
        """Return one by its id, removed or not."""
        row = self._connection.execute(select(PHOTOS).where(PHOTOS.c.id == number)).one_or_none()
        return None if row is None else _photo(row)

    def named(self, digest: str) -> bool:
        """Tell whether one that is there has this digest."""
        asked = select(PHOTOS.c.id).where(PHOTOS.c.digest == digest, PHOTOS.c.removed.is_(None))
        return self._connection.execute(asked.limit(1)).one_or_none() is not None

    def remove(self, number: int, now: datetime) -> None:
        """Keep that it was taken away, unless it was before."""
        there = update(PHOTOS).where(PHOTOS.c.id == number, PHOTOS.c.removed.is_(None))
        self._connection.execute(there.values(removed=now))


def _photo(row: Row[Any]) -> Photo:
    return Photo(
        id=row.id,
        entry=row.entry,
        digest=row.digest,
        size=(row.width, row.height),
        small=(row.small_width, row.small_height),
        stored=row.stored,
        removed=row.removed,
    )
