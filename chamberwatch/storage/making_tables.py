"""What every table is made with: the one catalogue of them, kinds of tables, short columns."""

from typing import Any, Final

from sqlalchemy import Column, MetaData

from chamberwatch.storage.columns import Whole

METADATA: Final = MetaData()

STRICT: Final[dict[str, Any]] = {"sqlite_strict": True}
# Where the key is the natural one, the rows lie in its order and need no second tree.
BY_KEY: Final[dict[str, Any]] = {"sqlite_strict": True, "sqlite_with_rowid": False}


def must(name: str, kind: Any) -> Column[Any]:  # noqa: ANN401 - any column type
    """Return a column that always holds something."""
    return Column(name, kind, nullable=False)


def may(name: str, kind: Any) -> Column[Any]:  # noqa: ANN401 - any column type
    """Return a column that may hold nothing."""
    return Column(name, kind, nullable=True)


# In a file ids are handed out by counting up, and the newest rows are never removed; a server has
# a sequence, which may leave gaps.
def number() -> Column[int]:
    """Return the number of a row."""
    return Column("id", Whole, primary_key=True, nullable=True)
