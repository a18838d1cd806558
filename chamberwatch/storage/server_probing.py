"""A look at a database on a server that changes nothing, also beside a daemon that runs."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Final

from sqlalchemy import Engine

from chamberwatch.core.errors import StorageError
from chamberwatch.core.self_check import Database
from chamberwatch.storage import migrations
from chamberwatch.storage.readings import KnownSeries, SqlReadings

WAIT_S: Final = 2.0


def look_at_server(
    name: str,
    reader: Callable[[float], Engine],
    explained: Callable[[], AbstractContextManager[None]],
) -> Database:
    """Return how it stands with a database on a server; that it is whole is the server's to see.

    Args:
        name: of the database.
        reader: makes an engine for reading that waits so long. [s]
        explained: turns troubles into texts.
    """
    engine = reader(WAIT_S)
    try:
        with explained(), engine.begin() as connection:
            done = migrations.applied(connection)
            migrations.check(done)
            if not done:
                return Database(name, there=False, on_server=True)
            missing = len(migrations.missing(done))
            newest = () if missing else SqlReadings(connection, KnownSeries()).newest().values()
            return Database(
                name,
                on_server=True,
                steps_missing=missing,
                newest=max(newest, default=None),
            )
    except StorageError as error:
        return Database(name, trouble=str(error), on_server=True)
    finally:
        engine.dispose()
