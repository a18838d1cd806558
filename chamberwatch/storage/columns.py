"""How values lie in columns: times, numbers, flags and words, alike on every kind of database."""

import math
from datetime import datetime, timedelta
from typing import Any, Final

import sqlalchemy
from sqlalchemy import BigInteger, Boolean, Integer
from sqlalchemy.engine import Dialect
from sqlalchemy.exc import DontWrapMixin
from sqlalchemy.types import DOUBLE_PRECISION, REAL, TypeDecorator, TypeEngine

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reading import EPOCH

MICROSECOND: Final = timedelta(microseconds=1)

POSTGRESQL: Final = "postgresql"


class _Double(TypeDecorator[float]):
    """A double that, as with SQLite, holds no “not a number”: such a one is nothing."""

    impl = DOUBLE_PRECISION
    cache_ok = True

    def process_bind_param(self, value: float | None, dialect: Dialect) -> float | None:
        """On the way in."""
        return None if value is None or math.isnan(value) else value


class _Words(TypeDecorator[str]):
    """Words on a server, sorted by their bytes as SQLite does, and not as in a language.

    No text of a server's holds a null character; here one becomes a “?”, also in what is asked
    for.
    """

    impl = sqlalchemy.Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        """On the way in."""
        return value if value is None or "\0" not in value else value.replace("\0", "?")


_OF_SERVERS: Final = _Words(collation="C")

# A STRICT table of SQLite takes the words INTEGER, REAL and TEXT only; elsewhere the first two
# would be too narrow: for microseconds, for whatever number somebody asks for, and for a double.
Whole: Final = Integer().with_variant(BigInteger(), POSTGRESQL)
Real: Final[TypeEngine[float]] = REAL().with_variant(_Double(), POSTGRESQL)
Text: Final = sqlalchemy.Text().with_variant(_OF_SERVERS, POSTGRESQL)


class NaiveTimeError(StorageError, DontWrapMixin):
    """A time without a zone was to be kept; nothing was kept."""


def to_micros(time: datetime) -> int:
    """Return whole microseconds since 1970.

    Raises:
        NaiveTimeError: the time has no zone.
    """
    if time.tzinfo is None:
        raise NaiveTimeError(f"The time {time.isoformat()} has no zone. Give it in UTC.")
    return (time - EPOCH) // MICROSECOND


def from_micros(micros: int) -> datetime:
    """Return the time that lies that many microseconds after 1970, aware UTC."""
    return EPOCH + timedelta(microseconds=micros)


class UtcTime(TypeDecorator[datetime]):
    """An aware time, kept as whole microseconds since 1970 and given back in UTC."""

    impl = Integer
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Take the width that holds microseconds."""
        wide = dialect.name == POSTGRESQL
        return dialect.type_descriptor(BigInteger() if wide else Integer())

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> int | None:
        """On the way in."""
        return None if value is None else to_micros(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> datetime | None:
        """On the way out."""
        return None if value is None else from_micros(value)


class Flag(TypeDecorator[bool]):
    """Yes or no, kept as 1 or 0 where a database has no type for it."""

    impl = Integer
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Take the type that conditions are made of."""
        native = dialect.name == POSTGRESQL
        return dialect.type_descriptor(Boolean() if native else Integer())

    def process_bind_param(self, value: bool | None, dialect: Dialect) -> int | None:
        """On the way in."""
        if value is None or dialect.name == POSTGRESQL:
            return value
        return int(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> bool | None:
        """On the way out."""
        return None if value is None else bool(value)


class FreeText(TypeDecorator[str]):
    """Words that people or machines sent. What can't be kept of them becomes a “?”."""

    impl = sqlalchemy.Text
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Take the same as other words do."""
        if dialect.name == POSTGRESQL:
            return _OF_SERVERS
        return dialect.type_descriptor(sqlalchemy.Text())

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        """On the way in."""
        if value is None:
            return None
        written = value.encode("utf-8", "replace").decode("utf-8")
        return written.replace("\0", "?") if dialect.name == POSTGRESQL else written
