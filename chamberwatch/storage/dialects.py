"""What each kind of database says in words of its own."""

from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, Connection, Function, Table, func
from sqlalchemy.dialects import sqlite

from chamberwatch.storage.columns import POSTGRESQL

if TYPE_CHECKING:
    from sqlalchemy.dialects import postgresql


def insert(connection: Connection, table: Table) -> "sqlite.Insert | postgresql.Insert":
    """Return an insertion that can say what shall be done with a row that is there already."""
    if connection.dialect.name == POSTGRESQL:
        # It takes 3 MB, and most houses have no server.
        from sqlalchemy.dialects import postgresql

        return postgresql.insert(table)
    return sqlite.insert(table)


def lesser(
    connection: Connection, one: ColumnElement[Any], other: ColumnElement[Any]
) -> Function[Any]:
    """Return the lesser of two values of one row."""
    on_server = connection.dialect.name == POSTGRESQL
    return func.least(one, other) if on_server else func.min(one, other)


def greater(
    connection: Connection, one: ColumnElement[Any], other: ColumnElement[Any]
) -> Function[Any]:
    """Return the greater of two values of one row."""
    on_server = connection.dialect.name == POSTGRESQL
    return func.greatest(one, other) if on_server else func.max(one, other)
