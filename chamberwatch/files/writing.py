"""Files that are there whole or not at all, and tables written into them."""

import csv
import errno
import io
import os
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import BinaryIO, Final, Protocol, TextIO

from chamberwatch.core.cells import plain_text, utc_text
from chamberwatch.core.errors import RefusedError

CURES: Final[dict[int, str]] = {
    errno.ENOSPC: "The disk is full. Make room on it, or name a folder on another.",
    errno.EDQUOT: "The disk is full for this account. Make room, or name a folder on another.",
    errno.EROFS: "That disk can only be read. Name a folder on another.",
    errno.EACCES: "Name a folder that this account may write to, or give it the right.",
    errno.EPERM: "Name a folder that this account may write to, or give it the right.",
}
_OTHERWISE: Final = "Look at the disk it lies on, or name a folder on another."

Cell = datetime | float | int | bool | str | None


class Text(Protocol):
    """Takes text."""

    def write(self, text: str, /) -> int:
        """Take some of it."""
        ...


def folder_for(path: Path) -> None:
    """Make a folder, if it isn't there.

    Raises:
        RefusedError: it can't be one.
    """
    if path.exists() and not path.is_dir():
        raise RefusedError(f"{path} is a file. Name a folder to write into.")
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RefusedError(_told(path, error)) from error


def must_be_free(path: Path, *, overwrite: bool) -> None:
    """Refuse to write over what is there, unless it was asked for.

    Raises:
        RefusedError: something is there.
    """
    if path.is_dir():
        raise RefusedError(f"{path} is a folder. Take it away, or name another folder.")
    if path.exists() and not overwrite:
        raise RefusedError(
            f"{path} is there already and was left as it is. Name another folder, or add "
            "--overwrite to write it anew."
        )


@contextmanager
def whole_bytes(path: Path, *, overwrite: bool) -> Iterator[BinaryIO]:
    """Open a file that gets its name only once it is whole and on the disk.

    Whatever happens in between, even a power cut, what stood under that name stays as it was.

    Raises:
        RefusedError: it can't be written; nothing is left of it.
    """
    must_be_free(path, overwrite=overwrite)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    _clear(path)
    try:
        with part.open("wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        # Somebody may have put one there meanwhile.
        must_be_free(path, overwrite=overwrite)
        part.replace(path)
        _keep_names(path.parent)
    except OSError as error:
        raise RefusedError(f"{_told(path, error)} Nothing was left there.") from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


@contextmanager
def whole_file(path: Path, *, overwrite: bool) -> Iterator[TextIO]:
    """Open such a file for text.

    Raises:
        RefusedError: it can't be written; nothing is left of it.
    """
    with whole_bytes(path, overwrite=overwrite) as file:
        text = io.TextIOWrapper(file, encoding="utf-8", newline="")
        try:
            yield text
            text.flush()
        finally:
            with suppress(OSError):
                text.detach()


def write_table(out: Text, columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> int:
    """Write a table as CSV (RFC 4180); return how many rows there were below the names."""
    writer, count = csv.writer(out), 0
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_written(cell) for cell in row])
        count += 1
    return count


def _written(cell: Cell) -> str:
    """Return a cell as text; of a number every digit that it takes to read it back."""
    match cell:
        case None:
            return ""
        case bool():
            return "yes" if cell else "no"
        case str():
            return plain_text(cell)
        case datetime():
            return utc_text(cell)
        case _:
            return repr(cell)


def _clear(path: Path) -> None:
    """Take away what was left of this file where the power went while it was written."""
    for part in path.parent.glob(f".{path.name}.*.part"):
        number = part.suffixes[-2][1:]
        if number.isdigit() and not _lives(int(number)):
            with suppress(OSError):
                part.unlink()


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def _keep_names(folder: Path) -> None:
    """Bring the names in a folder to the disk; some disks have no such thing."""
    number = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):
            os.fsync(number)
    finally:
        os.close(number)


def _told(path: Path, error: OSError) -> str:
    cure = CURES.get(error.errno or 0, _OTHERWISE)
    return f"{path} can't be written ({error.strerror}). {cure}"
