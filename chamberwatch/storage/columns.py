"""How values lie in columns: times, numbers and flags, in types that a STRICT table takes."""

from datetime import UTC, datetime, timedelta
from typing import Any, Final

from sqlalchemy import BigInteger, Integer, Text
from sqlalchemy.dialects.postgresql import DOUBLE_PRECISION
from sqlalchemy.engine import Dialect
from sqlalchemy.exc import DontWrapMixin
from sqlalchemy.types import REAL, TypeDecorator, TypeEngine

from chamberwatch.core.errors import StorageError

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND: Final = timedelta(microseconds=1)

# A STRICT table of SQLite takes the words INTEGER, REAL and TEXT only; elsewhere these two would
# be too narrow for microseconds and for a double.
Whole: Final = Integer().with_variant(BigInteger(), "postgresql")
Real: Final[TypeEngine[float]] = REAL().with_variant(DOUBLE_PRECISION(), "postgresql")


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
        wide = dialect.name == "postgresql"
        return dialect.type_descriptor(BigInteger() if wide else Integer())

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> int | None:
        """On the way in."""
        return None if value is None else to_micros(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> datetime | None:
        """On the way out."""
        return None if value is None else from_micros(value)


class Flag(TypeDecorator[bool]):
    """Yes or no, kept as 1 or 0."""

    impl = Integer
    cache_ok = True

    def process_bind_param(self, value: bool | None, dialect: Dialect) -> int | None:
        """On the way in."""
        return None if value is None else int(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> bool | None:
        """On the way out."""
        return None if value is None else bool(value)


class FreeText(TypeDecorator[str]):
    """Words that people or machines sent. What can't be written in UTF-8 becomes a “?”."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        """On the way in."""
        return None if value is None else value.encode("utf-8", "replace").decode("utf-8")
