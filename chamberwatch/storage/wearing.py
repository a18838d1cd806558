"""What the database takes on its disk, and what this process has written to any."""

from contextlib import suppress
from pathlib import Path
from typing import Final

from chamberwatch.core.wear import Card
from chamberwatch.storage.engine import explained, make_reader

WAIT_S: Final = 2.0
IO: Final = Path("/proc/self/io")
WRITTEN, TAKEN_BACK = "write_bytes", "cancelled_write_bytes"


def look_at_card(path: Path, io: Path = IO) -> Card:
    """Return how it stands.

    Args:
        path: of the database.
        io: where the kernel says what this process wrote.

    Raises:
        StorageError: the database can't be read.
    """
    return Card(_size(path), _size(Path(f"{path}-wal")), _free(path), _written(io))


def written_alone() -> Card:
    """Return what this process wrote, where the database lies on another machine."""
    return Card(0, 0, 0, _written(IO))


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _free(path: Path) -> int:
    """Return the room in the file that rows left which were dropped. [B]."""
    if not _size(path):
        return 0
    engine = make_reader(path, WAIT_S)
    try:
        with explained(path), engine.begin() as connection:
            pages = connection.exec_driver_sql("PRAGMA freelist_count").scalar_one()
            return int(pages) * int(connection.exec_driver_sql("PRAGMA page_size").scalar_one())
    finally:
        engine.dispose()


def _written(io: Path) -> int | None:
    """Return what was sent to disks, without what was taken back before it came there. [B]."""
    with suppress(OSError, ValueError, KeyError):
        lines = (line.partition(":") for line in io.read_text(encoding="ascii").splitlines())
        said = {name: int(number) for name, _, number in lines}
        return said[WRITTEN] - said[TAKEN_BACK]
    return None
