"""A database as an older version of the program left it, with nothing in it."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from chamberwatch.storage.engine import make_writer
from chamberwatch.storage.migrations import STEPS, migrate

THEN: Final = datetime(2026, 1, 20, 12, 0, tzinfo=UTC)


def make_older(path: Path, missing: int) -> None:
    """Make a database that the newest steps of the schema are missing in."""
    writer = make_writer(path, 1.0)
    migrate(writer, THEN, STEPS[:-missing])
    writer.dispose()
