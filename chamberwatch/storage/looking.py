"""A look at a database that another process may be working with; nothing of it is changed."""

from collections.abc import Iterator
from contextlib import contextmanager

from chamberwatch.core.errors import StorageError
from chamberwatch.storage import migrations
from chamberwatch.storage.book import WAIT_S, SqlBooks, must_be_newest
from chamberwatch.storage.place import place_of


@contextmanager
def look_at(url: str) -> Iterator[SqlBooks]:
    """Open a database for reading alone: it is neither made nor brought to the newest schema.

    Raises:
        StorageError: there is none, or it is not of this version.
    """
    place = place_of(url)
    if not place.there(WAIT_S):
        raise StorageError(f"The database {place} is not there yet. Start chamberwatch run first.")
    reader = place.reader(WAIT_S)
    books = SqlBooks(place, reader, reader)
    try:
        with place.explained(), reader.begin() as connection:
            done = migrations.applied(connection)
        migrations.check(done)
        must_be_newest(place, done)
        yield books
    finally:
        books.close()
