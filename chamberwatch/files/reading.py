"""Files of others: their letters made out, their lines and rows counted from the top."""

import csv
import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice, takewhile
from pathlib import Path
from typing import Final, TextIO

from chamberwatch.core.errors import RefusedError

LOOKED_AT_BYTES: Final = 1_000_000
LONGEST_LINE: Final = 100_000
"""Characters. What is longer is no table."""

_BEGINS: Final = ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


@dataclass(frozen=True, slots=True)
class LogFile:
    """A file, and in which letters it is written."""

    path: Path
    encoding: str

    @classmethod
    def found(cls, path: Path) -> "LogFile":
        """Return a file with its letters made out.

        Raises:
            RefusedError: it can't be read, or isn't text.
        """
        try:
            with path.open("rb") as file:
                top = file.read(LOOKED_AT_BYTES)
        except OSError as error:
            raise RefusedError(
                f"{path} can't be read ({error.strerror}). Look at its name, and who may read it."
            ) from error
        if not top.strip():
            raise RefusedError(f"{path} is empty. Look whether the logger was read out.")
        encoding = _encoding(top)
        if "\0" in top.decode(encoding, "replace"):
            raise RefusedError(
                f"{path} is no text. Save it as CSV in the program that wrote it, and import that."
            )
        return cls(path, encoding)

    @property
    def letters(self) -> str:
        """Name its letters to a person."""
        return "UTF-8" if self.encoding == "utf-8-sig" else self.encoding

    def top(self, lines: int) -> list[str]:
        """Return the first lines, without their ends."""
        with self._opened() as file:
            # A line that never ends would fill the memory.
            found = (file.readline(LONGEST_LINE) for _ in range(lines))
            return [line.rstrip("\r\n") for line in takewhile(bool, found)]

    def rows(self, delimiter: str, first: int) -> Iterator[tuple[int, Sequence[str], float]]:
        """Yield the rows that hold anything: number of the line, cells, share of the file read.

        A row whose quotes are never closed is yielded without cells.
        """
        size = max(self.path.stat().st_size, 1)
        with self._opened() as file:
            for _ in islice(file, first):
                pass
            reader = csv.reader(file, delimiter=delimiter, skipinitialspace=True)
            while True:
                cells: Sequence[str] = ()
                try:
                    cells = next(reader)
                except StopIteration:
                    return
                except csv.Error:
                    yield first + reader.line_num, (), 1.0
                if any(cell.strip() for cell in cells):
                    # The text read ahead is not told apart; the bytes beneath are near enough.
                    yield first + reader.line_num, cells, min(file.buffer.tell() / size, 1.0)

    def digest(self) -> str:
        """Return what tells this file from any other."""
        with self.path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()

    @contextmanager
    def _opened(self) -> Iterator[TextIO]:
        try:
            with self.path.open(encoding=self.encoding, errors="replace", newline="") as file:
                yield file
        except OSError as error:
            raise RefusedError(f"{self.path} can't be read ({error.strerror}).") from error


def _encoding(top: bytes) -> str:
    """Return in which letters bytes are written; UTF-8 unless they can't be."""
    for mark, name in _BEGINS:
        if top.startswith(mark):
            return name
    try:
        top.decode("utf-8")
    except UnicodeDecodeError as error:
        # A letter may be cut through at the end of what was read.
        if len(top) < LOOKED_AT_BYTES or error.start < len(top) - 4:
            return "cp1252"
    return "utf-8-sig"
