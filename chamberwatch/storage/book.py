"""Opens the book: one transaction on everything that is kept."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Final

from sqlalchemy import Connection, Engine, inspect

from chamberwatch.core.errors import StorageError
from chamberwatch.storage import migrations
from chamberwatch.storage.actions import SqlActions
from chamberwatch.storage.calibrations import SqlCalibrations
from chamberwatch.storage.carried import SqlCarried
from chamberwatch.storage.chronicle import SqlChronicle
from chamberwatch.storage.foretold import SqlForetold
from chamberwatch.storage.found import SqlExchanges, SqlFound
from chamberwatch.storage.growing import SqlGrowing
from chamberwatch.storage.kept import SqlKept
from chamberwatch.storage.outbox import SqlOutbox
from chamberwatch.storage.photos import SqlPhotos
from chamberwatch.storage.place import Place, place_of
from chamberwatch.storage.readings import KnownSeries, SqlReadings
from chamberwatch.storage.rejects import SqlRejects
from chamberwatch.storage.reminders import SqlReminders
from chamberwatch.storage.summaries import SqlSummaries
from chamberwatch.storage.summing import SqlSumming
from chamberwatch.storage.tables import TEXTS
from chamberwatch.storage.thinning import SqlThinning
from chamberwatch.storage.tokens import SqlTokens
from chamberwatch.storage.watched import SqlWatched

# How long a transaction waits for its turn. [s]
WAIT_S: Final = 5.0


class SqlBook:
    """One transaction. Of no use once its block is left."""

    def __init__(self, connection: Connection, known: KnownSeries) -> None:
        """Open every part on the same transaction."""
        self.readings = SqlReadings(connection, known)
        self.reminders = SqlReminders(connection)
        self.watched = SqlWatched(connection)
        self.outbox = SqlOutbox(connection)
        self.actions = SqlActions(connection)
        self.chronicle = SqlChronicle(connection)
        self.carried = SqlCarried(connection)
        self.calibrations = SqlCalibrations(connection)
        self.found = SqlFound(connection)
        self.exchanges = SqlExchanges(connection)
        self.foretold = SqlForetold(connection)
        self.growing = SqlGrowing(connection)
        self.photos = SqlPhotos(connection)
        self.rejects = SqlRejects(connection)
        self.kept = SqlKept(connection)
        self.tokens = SqlTokens(connection)
        self.summaries = SqlSummaries(connection)
        self.summing = SqlSumming(connection)
        self.thinning = SqlThinning(connection)


class SqlBooks:
    """Opens books in one place, for several threads at once. Made by `open_books`."""

    def __init__(self, place: Place, writer: Engine, reader: Engine) -> None:
        """Take the engines over; `close` gives them up."""
        self.place = place
        self._writer = writer
        self._reader = reader
        self._known = KnownSeries()
        self._closed = False

    @contextmanager
    def write(self) -> Iterator[SqlBook]:
        """Open for reading and writing, alone; commit at the end of the block.

        Raises:
            StorageError: the database can't be used, or others held it for too long.
        """
        with self._open(self._writer) as book:
            yield book
        # Only now: what a rolled back transaction had learned would be wrong.
        self._known.learn(book.readings.learned)

    @contextmanager
    def read(self) -> Iterator[SqlBook]:
        """Open for reading one consistent state.

        Raises:
            StorageError: the database can't be used.
        """
        with self._open(self._reader) as book:
            yield book

    @contextmanager
    def _open(self, engine: Engine) -> Iterator[SqlBook]:
        if self._closed:
            raise StorageError(f"The database {self.place} was closed. Start chamberwatch again.")
        with self.place.explained(), engine.begin() as connection:
            yield SqlBook(connection, self._known)

    def tidy(self) -> None:
        """Let it renew what it knows of its indexes; quick, once a day is plenty.

        Raises:
            StorageError: the database can't be used.
        """
        with self.place.explained(), self._writer.begin() as connection:
            self.place.tidy(connection)

    def close(self) -> None:
        """Close every connection. Call it when no book is open any more."""
        self._closed = True
        # The writer last: it can then fold the log back into the file.
        self._reader.dispose()
        self._writer.dispose()


class OlderError(StorageError):
    """The database is of an older version, and whoever asked may not change that."""


def open_books(
    url: str,
    now: datetime,
    *,
    wait_s: float = WAIT_S,
    before_step: migrations.BeforeStep = migrations.nobody_hears,
    leave_older: bool = False,
) -> SqlBooks:
    """Open the database, make it if it isn't there, and bring it to the newest schema.

    Args:
        url: for instance sqlite:////var/lib/chamberwatch/chamberwatch.db, or
            postgresql+psycopg://chamberwatch@server.home/chamberwatch
        now: kept as the time of the schema's steps, aware UTC.
        wait_s: how long a transaction waits for its turn. [s]
        before_step: told the name of each step of the schema before an older database takes it,
            which lasts for minutes where it is large.
        leave_older: leave an older one alone: an older daemon may be at work with it.

    Raises:
        OlderError: it is an older one that was to be left alone.
        StorageError: it can't be used; the text says what to do.
    """
    place = place_of(url)
    place.prepare()
    writer, reader = place.writer(wait_s), place.reader(wait_s)
    books = SqlBooks(place, writer, reader)
    try:
        with place.explained():
            # Looked at before anything is changed: it may belong to another program.
            with reader.begin() as connection:
                done = migrations.applied(connection)
                migrations.check(done)
            if leave_older and done:
                must_be_newest(place, done)
            # In a new one there is nothing that could take long.
            told = before_step if done else migrations.nobody_hears
            place.settle(writer, wait_s, now)
            migrations.migrate(writer, now, before_step=told)
    except BaseException:
        books.close()
        raise
    return books


def must_be_newest(place: Place, done: frozenset[str]) -> None:
    """Refuse a database of an older version.

    Raises:
        OlderError: it is one; the text says what to do.
    """
    if not migrations.missing(done):
        return
    older = f"The database {place} is of an older version of chamberwatch; nothing was changed."
    if not place.taken():
        raise OlderError(
            f"{older} Start chamberwatch once, which brings it up to date: sudo systemctl start "
            "chamberwatch, or chamberwatch run."
        )
    raise OlderError(
        f"{older} A chamberwatch is at work with it. If that was just upgraded it brings it up to "
        "date: wait for some minutes. If it is of the older version itself, upgrade it: sudo "
        "deploy/install.sh."
    )


def kept_text(url: str, name: str, *, wait_s: float = WAIT_S) -> str | None:
    """Return a kept text from the database as it is: nothing is made or brought up to date.

    Args:
        url: as in `open_books`.
        name: of the text.
        wait_s: how long to wait for a turn. [s]

    Raises:
        StorageError: it can't be read.
    """
    place = place_of(url)
    if not place.there(wait_s):
        return None
    reader = place.reader(wait_s)
    try:
        with place.explained(), reader.begin() as connection:
            if not inspect(connection).has_table(TEXTS.name):
                return None
            return SqlKept(connection).text(name)
    finally:
        reader.dispose()
