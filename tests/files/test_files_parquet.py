"""Tables as Parquet."""

import io
import sys
from datetime import UTC, datetime

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.files import parquet as module
from chamberwatch.files.parquet import must_be_able, write_parquet

AT = datetime(2026, 1, 20, 12, 0, 0, 500, UTC)
COLUMNS = {"at_utc": datetime, "value_c": float, "count": int, "holds": bool, "note": str}


def test_without_it_the_cure_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    with pytest.raises(RefusedError, match=r"pip install 'chamberwatch\[parquet\]'"):
        must_be_able()


@pytest.mark.parametrize("rows", [0, 1, 5])
def test_it_can_be_read_back(monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    pq = pytest.importorskip("pyarrow.parquet", reason="the extra “parquet” is not installed")
    must_be_able()
    monkeypatch.setattr(module, "AT_ONCE", 2)
    told = [(AT, 0.1 + n, n, n % 2 == 0, "=so") for n in range(rows)]
    out = io.BytesIO()
    assert write_parquet(out, COLUMNS, [*told, (None,) * 5]) == rows + 1
    found = pq.read_table(io.BytesIO(out.getvalue()))
    assert found.column_names == list(COLUMNS)
    assert [tuple(row.values()) for row in found.to_pylist()] == [*told, (None,) * 5]
