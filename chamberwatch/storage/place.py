"""Where everything is kept: a file of ours, or a database on a server."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

import sqlalchemy.exc as sql_errors
from sqlalchemy import Connection, Engine
from sqlalchemy.engine import make_url

from chamberwatch.core.errors import StorageError
from chamberwatch.core.self_check import Database
from chamberwatch.core.wear import Card
from chamberwatch.storage.alone import alone_with, is_taken
from chamberwatch.storage.columns import POSTGRESQL
from chamberwatch.storage.cut_off import commits_cut_off
from chamberwatch.storage.engine import (
    explained,
    make_reader,
    make_writer,
    path_of,
    prepare,
    use_wal,
)
from chamberwatch.storage.probing import look_at_database
from chamberwatch.storage.wearing import look_at_card


class Place(Protocol):
    """Where everything is kept. As a text, it names itself without any password."""

    def there(self, wait_s: float) -> bool:
        """Tell whether anything is kept there already.

        Args:
            wait_s: how long to wait for a turn. [s]

        Raises:
            StorageError: it can't be looked at.
        """
        ...

    def prepare(self) -> None:
        """Make what has to be there before it is opened for the first time.

        Raises:
            StorageError: it can't be made.
        """
        ...

    def await_it(self, wait: Callable[[float], object]) -> None:
        """Wait for what may start later than we do; `wait` lets so many seconds pass.

        Raises:
            StorageError: it is still away, or does not let us in.
        """
        ...

    def writer(self, wait_s: float) -> Engine:
        """Return the engine of transactions that hold the write lock from their first line."""
        ...

    def reader(self, wait_s: float) -> Engine:
        """Return the engine of transactions that see one state and can't write."""
        ...

    def explained(self) -> AbstractContextManager[None]:
        """Turn troubles with it into a `StorageError` that says what to do."""
        ...

    def settle(self, writer: Engine, wait_s: float, now: datetime) -> None:
        """Do what has to be done at each start, before the steps of the schema."""
        ...

    def tidy(self, connection: Connection) -> None:
        """Do what is good for it once a day."""
        ...

    def look(self, budget_s: float) -> Database:
        """Return how it stands with it.

        Args:
            budget_s: how long it may be looked through. [s]
        """
        ...

    def cut_off(self) -> int:
        """Return how many commits a power cut took; asked once, before anything is opened.

        Raises:
            StorageError: it can't be used.
        """
        ...

    def card(self) -> Card:
        """Return what it takes on a disk of this machine.

        Raises:
            StorageError: it can't be read.
        """
        ...

    def taken(self) -> bool:
        """Tell whether a daemon runs with it, or a command that keeps daemons off.

        Raises:
            StorageError: it can't be looked at.
        """
        ...

    def alone(self, lost: Callable[[str], None]) -> AbstractContextManager[None]:
        """Keep other daemons off until the block is left.

        Args:
            lost: is told, from another thread, when it turns out that another one is there.

        Raises:
            StorageError: another daemon runs with it.
        """
        ...


@dataclass(frozen=True, slots=True)
class File:
    """A file of SQLite.

    Attributes:
        path: of the file.
    """

    path: Path

    def __str__(self) -> str:
        """Name it in a text."""
        return str(self.path)

    def there(self, wait_s: float) -> bool:
        """Tell whether the file is there."""
        return self.path.exists()

    def prepare(self) -> None:
        """Make the file, for its owner's eyes.

        Raises:
            StorageError: its folder is missing, or we may not write there.
        """
        prepare(self.path)

    def await_it(self, wait: Callable[[float], object]) -> None:
        """Do nothing: a file is there or not."""

    def writer(self, wait_s: float) -> Engine:
        """Return the engine of transactions that hold the write lock from their first line."""
        return make_writer(self.path, wait_s)

    def reader(self, wait_s: float) -> Engine:
        """Return the engine of transactions that see one state and can't write."""
        return make_reader(self.path, wait_s)

    def explained(self) -> AbstractContextManager[None]:
        """Turn troubles of the file into a `StorageError` that says what to do."""
        return explained(self.path)

    def settle(self, writer: Engine, wait_s: float, now: datetime) -> None:
        """Switch to a write-ahead log.

        Raises:
            StorageError: the disk can't do it.
        """
        use_wal(writer, self.path, wait_s)

    def tidy(self, connection: Connection) -> None:
        """Let SQLite renew what it knows of its indexes."""
        connection.exec_driver_sql("PRAGMA optimize")

    def look(self, budget_s: float) -> Database:
        """Return how it stands with the file."""
        return look_at_database(self.path, budget_s)

    def cut_off(self) -> int:
        """Return how many commits at the end of its log can't be read any more."""
        return commits_cut_off(self.path)

    def card(self) -> Card:
        """Return the size of the file and its log, and what this process wrote."""
        return look_at_card(self.path)

    def taken(self) -> bool:
        """Tell whether the lock beside the file is held."""
        return is_taken(self.path)

    def alone(self, lost: Callable[[str], None]) -> AbstractContextManager[None]:
        """Keep other daemons off; the kernel holds that lock, so it can't be lost.

        Raises:
            StorageError: another daemon runs with it, or the lock can't be made.
        """
        return alone_with(self.path)


def place_of(url: str) -> Place:
    """Return the place that a database address names.

    Raises:
        StorageError: it names none, or its driver is not installed.
    """
    try:
        parts = make_url(url)
    except sql_errors.ArgumentError:
        return File(path_of(url))
    if parts.get_backend_name() != POSTGRESQL:
        return File(path_of(url))
    try:
        from chamberwatch.storage.server import server_of
    except ImportError as exc:
        raise StorageError(
            "The driver for PostgreSQL is not installed. Install it where chamberwatch is: "
            "pip install 'chamberwatch[postgres]'."
        ) from exc
    return server_of(parts)
