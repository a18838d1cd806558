"""Files of others: letters, lines, rows."""

import hashlib
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.errors import RefusedError
from chamberwatch.files import reading as module
from chamberwatch.files.reading import LogFile

TEXT = "time;T (°C)\r\n2026-01-20;20\r\n\r\n;;\r\n2026-01-21;21\r\n"


def written(folder: Path, data: bytes) -> LogFile:
    path = folder / "log.csv"
    path.write_bytes(data)
    return LogFile.found(path)


@pytest.mark.parametrize(
    ("written_in", "letters"),
    [("utf-8", "UTF-8"), ("utf-8-sig", "UTF-8"), ("utf-16", "utf-16"), ("cp1252", "cp1252")],
)
def test_letters_are_made_out(tmp_path: Path, written_in: str, letters: str) -> None:
    file = written(tmp_path, TEXT.encode(written_in))
    assert file.letters == letters
    assert file.top(2) == ["time;T (°C)", "2026-01-20;20"]


def test_a_letter_that_is_cut_through_is_none_of_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = TEXT.encode()
    cut = data.index("°".encode()) + 1
    monkeypatch.setattr(module, "LOOKED_AT_BYTES", cut)
    assert written(tmp_path, data).letters == "UTF-8"
    monkeypatch.setattr(module, "LOOKED_AT_BYTES", cut + 4)
    assert written(tmp_path, TEXT.encode("cp1252")).letters == "cp1252"


def test_rows_know_their_lines(tmp_path: Path) -> None:
    file = written(tmp_path, TEXT.encode())
    rows = list(file.rows(";", 1))
    assert [(line, cells) for line, cells, _ in rows] == [
        (2, ["2026-01-20", "20"]),
        (5, ["2026-01-21", "21"]),
    ]
    assert rows[-1][2] == 1.0
    assert list(file.rows(";", 10)) == []


def test_a_quote_that_is_never_closed(tmp_path: Path) -> None:
    file = written(tmp_path, b'1;2\n3;"4\n' + b"5;6\n" * 50_000)
    rows = [cells for _, cells, _ in file.rows(";", 0)]
    assert rows[0] == ["1", "2"]
    assert () in rows
    assert ["5", "6"] in rows  # what comes behind it is read all the same


def test_files_are_told_apart(tmp_path: Path) -> None:
    file = written(tmp_path, TEXT.encode())
    assert file.digest() == hashlib.sha256(TEXT.encode()).hexdigest()


def test_what_is_no_text(tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match=r"is no text\. Save it as CSV"):
        written(tmp_path, b"PK\x03\x04\x00\x00\x00")


def test_what_is_empty(tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match=r"is empty\. Look whether the logger was read"):
        written(tmp_path, b"\r\n")


def test_what_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match=r"can't be read.*Look at its name"):
        LogFile.found(tmp_path / "gone.csv")
    file = written(tmp_path, TEXT.encode())
    file.path.unlink()
    with pytest.raises(RefusedError, match="can't be read"):
        file.top(1)


@given(st.binary(max_size=300), st.sampled_from([",", ";", "\t"]))
def test_any_bytes_are_rows_or_no_text(data: bytes, delimiter: str) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_bytes(data)
        try:
            file = LogFile.found(path)
        except RefusedError:
            return
        rows = list(file.rows(delimiter, 0))
        assert len(rows) <= len(file.top(1000)) + 1
        assert all(0.0 <= share <= 1.0 for _, _, share in rows)
