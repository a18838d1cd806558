"""Photos beside notes: taken in, shown, taken away.

The files are written before the row, so that a row never names a file that is not there; what a
refused note leaves behind is taken away again.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from chamberwatch.core.errors import RefusedError, StorageError, UnknownNameError
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.photo import Photo, Size
from chamberwatch.service.books import Book, Books
from chamberwatch.service.growing.record import GrowingRecord
from chamberwatch.service.growing.told import Telling
from chamberwatch.service.ports import Clock

MOST_BYTES: Final = 12 * 2**20
"""Of one upload: what phones send, and a little more."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A JPEG of ours."""

    data: bytes
    size: Size


@dataclass(frozen=True, slots=True)
class Developed:
    """What was made of an upload: a picture, and a small one of it."""

    picture: Picture
    small: Picture


class Darkroom(Protocol):
    """Makes pictures of uploads."""

    def develop(self, upload: bytes) -> Developed:
        """Return a picture and a small one of it, without anything else that the upload held.

        Raises:
            RefusedError: it is no picture we take, or too large; the text says what to do.
        """
        ...


class PhotoFiles(Protocol):
    """Keeps pictures by their names."""

    def keep(self, name: str, data: bytes) -> None:
        """Keep one, wholly or not at all.

        Raises:
            StorageError: it can't be written.
        """
        ...

    def read(self, name: str) -> bytes | None:
        """Return one; None: it is not there.

        Raises:
            StorageError: it can't be read.
        """
        ...

    def drop(self, name: str) -> None:
        """Take one away, if it is there.

        Raises:
            StorageError: it can't be taken away.
        """
        ...


@dataclass(frozen=True, slots=True)
class Photos:
    """Takes photos in and gives them out. Safe from any thread.

    Attributes:
        books: keep what is known of them.
        record: keeps the notes that they belong to.
        files: keep the pictures.
        darkroom: makes the pictures.
        clock: the time.
    """

    books: Books
    record: GrowingRecord
    files: PhotoFiles
    darkroom: Darkroom
    clock: Clock

    def develop(self, upload: bytes) -> Developed:
        """Make a picture of an upload; nothing is kept yet. It may take a second or two.

        Raises:
            RefusedError: it is no picture we take, or too large.
        """
        return self.darkroom.develop(upload)

    def add(self, batch: int, note: Telling, developed: Developed, via: str) -> Batch:
        """Keep a photo with its note, both or neither.

        Raises:
            UnknownNameError: no such batch.
            RefusedError: the note can't be told so.
            StorageError: the picture can't be written.
        """
        picture, small = developed.picture, developed.small
        digest = hashlib.sha256(picture.data).hexdigest()
        photo = Photo(0, 0, digest, picture.size, small.size, len(picture.data))

        def beside(book: Book, entry: int) -> None:
            book.photos.add(entry, photo)

        try:
            for name, data in zip(_names(digest), (picture.data, small.data), strict=True):
                self.files.keep(name, data)
            return self.record.tell_all(batch, (note,), via, beside)
        except (RefusedError, UnknownNameError, StorageError):
            self._drop_unnamed(digest)
            raise

    def of(self, batch: int) -> Mapping[int, Sequence[Photo]]:
        """Return the photos of a batch that are there, by the entry that they belong to."""
        with self.books.read() as book:
            found = book.photos.of(batch)
        by: dict[int, list[Photo]] = {}
        for photo in found:
            by.setdefault(photo.entry, []).append(photo)
        return by

    def get(self, number: int) -> Photo:
        """Return what is known of one.

        Raises:
            UnknownNameError: no such photo, or it was taken away.
        """
        with self.books.read() as book:
            found = book.photos.get(number)
        if found is None or found.removed is not None:
            raise UnknownNameError(f"There is no photo {number}, or it was taken away.")
        return found

    def picture(self, number: int, *, small: bool) -> bytes:
        """Return the JPEG of one, or the small one.

        Raises:
            UnknownNameError: no such photo, or its file is lost.
        """
        data = self.files.read(_names(self.get(number).digest)[small])
        if data is None:
            raise UnknownNameError(
                f"The file of photo {number} is not there. Put the folder of photos back from "
                "the backup that belongs to this database."
            )
        return data

    def remove(self, number: int) -> int:
        """Take a photo away for good; return the entry that it belonged to.

        Raises:
            UnknownNameError: no such photo, or it was taken away already.
        """
        photo = self.get(number)
        with self.books.write() as book:
            book.photos.remove(number, self.clock.now())
        self._drop_unnamed(photo.digest)
        return photo.entry

    def _drop_unnamed(self, digest: str) -> None:
        """Drop the files of a picture unless a photo that is there names them."""
        with self.books.read() as book:
            named = book.photos.named(digest)
        if not named:
            for name in _names(digest):
                self.files.drop(name)


def _names(digest: str) -> tuple[str, str]:
    return f"{digest}.jpg", f"{digest}-small.jpg"
