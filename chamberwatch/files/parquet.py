"""Tables as Parquet, for who reckons with them; the only module that knows pyarrow."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import islice
from typing import TYPE_CHECKING, BinaryIO, Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.files.writing import Cell

if TYPE_CHECKING:
    import pyarrow as pa

AT_ONCE: Final = 50_000
"""Rows in one group; so many are held in memory."""


def must_be_able() -> None:
    """Refuse where what writes Parquet is not installed.

    Raises:
        RefusedError: it isn't.
    """
    try:
        import pyarrow.parquet  # noqa: F401 - only whether it is there
    except ImportError:
        raise RefusedError(
            "Parquet needs an extra that is not installed: pip install 'chamberwatch[parquet]'. "
            "Without --parquet it is CSV, which anything reads."
        ) from None


def write_parquet(
    out: BinaryIO, columns: Mapping[str, type], rows: Iterable[Sequence[Cell]]
) -> int:
    """Write a table as Parquet; return how many rows there were.

    Args:
        out: an empty file.
        columns: their names, and what stands in them: datetime, float, int, bool or str.
        rows: cells in the order of the columns; None where nothing stands.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    types = {
        datetime: pa.timestamp("us", tz="UTC"),
        float: pa.float64(),
        int: pa.int64(),
        bool: pa.bool_(),
        str: pa.string(),
    }
    schema = pa.schema([(name, types[kind]) for name, kind in columns.items()])
    count = 0
    with pq.ParquetWriter(out, schema) as writer:
        for some in _groups(rows):
            writer.write_batch(_batch(some, schema))
            count += len(some)
    return count


def _batch(rows: Sequence[Sequence[Cell]], schema: "pa.Schema") -> "pa.RecordBatch":
    import pyarrow as pa

    cells = zip(*rows, strict=True)
    arrays = [pa.array(column, field.type) for column, field in zip(cells, schema, strict=True)]
    return pa.record_batch(arrays, schema=schema)


def _groups(rows: Iterable[Sequence[Cell]]) -> Iterator[list[Sequence[Cell]]]:
    rest = iter(rows)
    while some := list(islice(rest, AT_ONCE)):
        yield some
