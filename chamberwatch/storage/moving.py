"""From a file to a server: everything copied, counted and compared; the file stays as it is."""

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack
from typing import Any, Final, NamedTuple

import psycopg
from sqlalchemy import (
    BigInteger,
    Column,
    Connection,
    Engine,
    MetaData,
    Select,
    Table,
    func,
    inspect,
    select,
    text,
    type_coerce,
)

from chamberwatch.core.errors import StorageError
from chamberwatch.storage import migrations
from chamberwatch.storage.columns import UtcTime, Whole
from chamberwatch.storage.making_tables import METADATA
from chamberwatch.storage.place import File
from chamberwatch.storage.server import Server
from chamberwatch.storage.summed_tables import SUMMARIES  # noqa: F401 - declares its tables

WAIT_S: Final = 5.0
BATCH: Final = 5_000
"""So many rows are held in memory at a time, and kept in one transaction."""

# There from before the first row until all was compared: nobody takes a half for the whole.
UNFINISHED: Final = Table(
    migrations.UNFINISHED_MOVE, MetaData(), Column("rows", BigInteger, nullable=False)
)

Told = Callable[[str, int, int], None]
"""Hears what is being done, how many rows of that are done, and how many there are."""

Row = tuple[Any, ...]


class Moved(NamedTuple):
    """What was moved."""

    tables: int
    rows: int


class Digest(NamedTuple):
    """What all rows of a table come to."""

    rows: int
    digest: str


def move(
    source: File, target: Server, told: Told, *, start_over: bool = False, batch: int = BATCH
) -> Moved:
    """Copy everything, and compare both sides.

    Args:
        source: of the newest schema; it is held, and stays as it is.
        target: an empty database.
        told: hears how far it is.
        start_over: throw away what a move that did not end has left in the target.
        batch: so many rows are held in memory at a time.

    Raises:
        StorageError: a daemon runs with one of them, the target is not empty, one of them can't
            be used, or they differ in the end; what was begun stays marked as unfinished.
    """
    with ExitStack() as held:
        if not source.there(WAIT_S):
            raise StorageError(f"The database {source} is not there yet: nothing is to be moved.")
        held.enter_context(source.alone(lambda _: None))
        held.enter_context(target.alone(lambda _: None))
        held.enter_context(target.explained())
        held.enter_context(source.explained())
        # The one who may write, so that nobody else does meanwhile.
        own = source.writer(WAIT_S)
        held.callback(own.dispose)
        there = held.enter_context(own.connect())
        there.begin()
        _check(source, there)
        return _Move(there, target, told, batch).run(start_over=start_over)


def _check(source: File, connection: Connection) -> None:
    done = migrations.applied(connection)
    migrations.check(done)
    if migrations.missing(done):
        raise StorageError(
            f"The database {source} is of an older version. Start chamberwatch run once, stop it, "
            "and move it then."
        )


class _Move:
    """One move."""

    def __init__(self, source: Connection, target: Server, told: Told, batch: int) -> None:
        self._source = source
        self._target = target
        self._told = told
        self._batch = batch
        self._tables = METADATA.sorted_tables  # what others refer to comes first

    def run(self, *, start_over: bool) -> Moved:
        totals = {table: _count(self._source, table) for table in self._tables}
        rows = sum(totals.values())
        writer, reader = self._target.writer(WAIT_S), self._target.reader(WAIT_S)
        try:
            self._begin(writer, rows, start_over=start_over)
            done = 0
            for table in self._tables:
                done = self._copy(writer, table, done, rows)
            self._compare(reader, rows)
            self._finish(writer)
        finally:
            reader.dispose()
            writer.dispose()
        return Moved(len(self._tables), rows)

    def _begin(self, writer: Engine, rows: int, *, start_over: bool) -> None:
        with writer.begin() as connection:
            there = frozenset(inspect(connection).get_table_names())
            self._allow(there, start_over=start_over)
            METADATA.drop_all(connection)
            UNFINISHED.drop(connection, checkfirst=True)
            UNFINISHED.create(connection)
            connection.execute(UNFINISHED.insert().values(rows=rows))
            METADATA.create_all(connection)

    def _allow(self, there: frozenset[str], *, start_over: bool) -> None:
        if not there:
            return
        if UNFINISHED.name not in there:
            raise StorageError(
                f"The database {self._target} is not empty. Name an empty one, or make one on the "
                "server: createdb --owner=ROLE NAME."
            )
        if not start_over:
            raise StorageError(
                f"A move into {self._target} was begun and did not end; what is there is not "
                "whole. Give --start-over to throw that away and begin again. The file it came "
                "from has everything."
            )

    def _copy(self, writer: Engine, table: Table, done: int, rows: int) -> int:
        names = ", ".join(writer.dialect.identifier_preparer.quote(c.name) for c in table.columns)
        into = f"COPY {table.name} ({names}) FROM STDIN"
        for batch in _batches(self._source, table, self._batch):
            with writer.begin() as connection:
                _copy_in(connection, into, batch)
            done += len(batch)
            self._told("copied", done, rows)
        return done

    def _compare(self, reader: Engine, rows: int) -> None:
        done = 0

        def counted(batch: int) -> None:
            nonlocal done
            done += batch
            self._told("compared", done, 2 * rows)

        with reader.begin() as connection:
            for table in self._tables:
                here, there = (
                    _digest(_batches(each, table, self._batch), counted)
                    for each in (self._source, connection)
                )
                if here != there:
                    raise StorageError(
                        f"The table {table.name} came out otherwise in {self._target}: "
                        f"{there.rows} rows where the file has {here.rows}, or not the same ones. "
                        "Nothing was lost: the file has everything. See whether another program "
                        "works with that database, and move again with --start-over."
                    )

    def _finish(self, writer: Engine) -> None:
        with writer.begin() as connection:
            for table in self._tables:
                _count_on(connection, table)
            connection.execute(text("ANALYZE"))
            UNFINISHED.drop(connection)


def _count(connection: Connection, table: Table) -> int:
    return connection.execute(select(func.count()).select_from(table)).scalar_one()


def _all(table: Table) -> Select[Any]:
    """Ask for all rows in the order of their keys, times as they lie there."""
    columns = [
        type_coerce(column, Whole) if isinstance(column.type, UtcTime) else column
        for column in table.columns
    ]
    return select(*columns).order_by(*table.primary_key.columns)


def _batches(connection: Connection, table: Table, size: int) -> Iterator[Sequence[Row]]:
    asked = connection.execute(_all(table), execution_options={"yield_per": size})
    for batch in asked.partitions():
        yield [_kept(row) for row in batch]


def _kept(row: Sequence[Any]) -> Row:
    """Return a row as a server can keep it: no text of its holds a null character."""
    return tuple(v.replace("\0", "?") if isinstance(v, str) and "\0" in v else v for v in row)


def _copy_in(connection: Connection, into: str, rows: Sequence[Row]) -> None:
    driver = connection.connection.driver_connection
    if not isinstance(driver, psycopg.Connection):
        raise StorageError("Rows can't be copied with this driver; install ours.")
    with driver.cursor() as cursor, cursor.copy(into.encode()) as copy:
        for row in rows:
            copy.write_row(row)


def _digest(batches: Iterable[Sequence[Row]], counted: Callable[[int], None]) -> Digest:
    made, number = hashlib.sha256(), 0
    for batch in batches:
        for row in batch:
            made.update(repr(row).encode())
        number += len(batch)
        counted(len(batch))
    return Digest(number, made.hexdigest())


def _count_on(connection: Connection, table: Table) -> None:
    """Have the next number of a table follow the last."""
    column = table.autoincrement_column
    if column is None:
        return
    last = connection.execute(select(func.max(column))).scalar_one()
    if last is not None:
        sequence = func.pg_get_serial_sequence(table.name, column.name)
        connection.execute(select(func.setval(sequence, last)))
