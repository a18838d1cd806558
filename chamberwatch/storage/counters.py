"""Counters that live in the database, so that a rollback takes them back too."""

from sqlalchemy import Connection, select

from chamberwatch.storage.dialects import insert
from chamberwatch.storage.tables import COUNTERS


def counted(connection: Connection, name: str) -> int:
    """Return where a counter stands; 0 if it never moved."""
    found = connection.scalar(select(COUNTERS.c.value).where(COUNTERS.c.name == name))
    return 0 if found is None else int(found)


def count_up(connection: Connection, name: str, by: int) -> None:
    """Move a counter on."""
    if by:
        fresh = insert(connection, COUNTERS).values(name=name, value=by)
        total = COUNTERS.c.value + fresh.excluded.value
        connection.execute(
            fresh.on_conflict_do_update(index_elements=["name"], set_={"value": total})
        )


def put_counter(connection: Connection, name: str, value: int) -> None:
    """Let a counter stand at a value."""
    fresh = insert(connection, COUNTERS).values(name=name, value=value)
    connection.execute(
        fresh.on_conflict_do_update(index_elements=["name"], set_={"value": fresh.excluded.value})
    )
