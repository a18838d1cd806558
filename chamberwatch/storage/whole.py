"""The newest schema in one step, where there is no history of older ones."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Engine, insert

from chamberwatch.storage import migrations
from chamberwatch.storage.making_tables import METADATA
from chamberwatch.storage.summed_tables import SUMMARIES  # noqa: F401 - declares its tables
from chamberwatch.storage.tables import MIGRATIONS


def begin_whole(
    writer: Engine,
    now: datetime,
    steps: Sequence[tuple[str, migrations.Step]] = migrations.STEPS,
) -> bool:
    """Make every table in one transaction, with a record of all steps; tell whether it was new.

    Args:
        writer: an engine whose transactions hold the write lock from their first line.
        now: kept as the time of the steps.
        steps: of which the newest schema is made.

    Raises:
        StorageError: there is something else in the database.
    """
    with writer.begin() as connection:
        if migrations.applied(connection):
            return False
        METADATA.create_all(connection)
        connection.execute(
            insert(MIGRATIONS), [{"name": name, "applied": now} for name, _ in steps]
        )
    return True
