"""Pictures as files in a folder beside the database; each is there wholly or not at all."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from chamberwatch.core.errors import StorageError

FOLDER: Final = "photos"


class PhotoFolder:
    """A folder of pictures. Safe from any thread, and beside another process."""

    def __init__(self, folder: Path) -> None:
        """Use a folder; it is made with the first picture."""
        self.folder = folder

    def keep(self, name: str, data: bytes) -> None:
        """Keep one, wholly or not at all.

        Raises:
            StorageError: it can't be written.
        """
        with self._explained("written"):
            self.folder.mkdir(mode=0o700, exist_ok=True)
            self._write(self.folder / name, data)

    def _write(self, path: Path, data: bytes) -> None:
        # Renaming within a folder is done at once: a power cut leaves all of it or nothing.
        handle, made = tempfile.mkstemp(prefix=".", suffix=".part", dir=self.folder)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(made).replace(path)
        except BaseException:
            Path(made).unlink(missing_ok=True)
            raise
        settle(self.folder)

    def read(self, name: str) -> bytes | None:
        """Return one; None: it is not there.

        Raises:
            StorageError: it can't be read.
        """
        with self._explained("read"):
            try:
                return (self.folder / name).read_bytes()
            except FileNotFoundError:
                return None

    def drop(self, name: str) -> None:
        """Take one away, if it is there.

        Raises:
            StorageError: it can't be taken away.
        """
        with self._explained("taken away"):
            (self.folder / name).unlink(missing_ok=True)

    @contextmanager
    def _explained(self, what: str) -> Iterator[None]:
        try:
            yield
        except OSError as exc:
            raise StorageError(
                f"A photo in {self.folder} can't be {what}: {exc.strerror}. Look whether the disk "
                "is full, and give the account that runs chamberwatch the right to that folder."
            ) from exc


def photo_folder(folder: Path) -> PhotoFolder:
    """Return the folder of pictures that belongs to a database, by that of its files."""
    return PhotoFolder(folder / FOLDER)


def settle(folder: Path) -> None:
    """Have the new name of a file on the disk before its row is."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
