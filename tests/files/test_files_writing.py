"""Files that are there whole or not at all."""

import csv
import errno
import io
import os
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.files.writing import folder_for, must_be_free, whole_file, write_table


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def _half(path: Path, trouble: BaseException) -> None:
    """Write half of a file, over one that may be there, and fail."""
    with whole_file(path, overwrite=True) as file:
        file.write("half")
        raise trouble


def test_a_file_gets_its_name_when_it_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    with whole_file(path, overwrite=False) as file:
        file.write("one\r\n")
        assert not path.exists()
    assert path.read_bytes() == b"one\r\n"
    assert names(tmp_path) == {"a.csv"}


def test_it_is_on_the_disk_before_it_has_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, synced = tmp_path / "a.csv", list[bool]()
    real = os.fsync

    def fsync(number: int) -> None:
        synced.append(path.exists())
        real(number)

    monkeypatch.setattr(os, "fsync", fsync)
    with whole_file(path, overwrite=False) as file:
        file.write("one")
    assert synced == [False, True]  # the file, then the folder that names it


def test_what_is_there_stays(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("old")
    with (
        pytest.raises(RefusedError, match=r"was left as it is\..*--overwrite"),
        whole_file(path, overwrite=False),
    ):
        pytest.fail("nothing may be written")
    assert path.read_text() == "old"


def test_it_is_written_over_where_that_was_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("old")
    with whole_file(path, overwrite=True) as file:
        file.write("new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"


def test_one_that_came_meanwhile_stays(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    with ExitStack() as stack:
        file = stack.enter_context(whole_file(path, overwrite=False))
        file.write("mine")
        path.write_text("another's")
        with pytest.raises(RefusedError, match="is there already"):
            stack.close()
    assert path.read_text() == "another's"
    assert names(tmp_path) == {"a.csv"}


@pytest.mark.parametrize("fails", [KeyboardInterrupt, RuntimeError])
def test_broken_off_nothing_is_left(tmp_path: Path, fails: type[BaseException]) -> None:
    path = tmp_path / "a.csv"
    path.write_text("old")
    with pytest.raises(fails):
        _half(path, fails())
    assert path.read_text() == "old"
    assert names(tmp_path) == {"a.csv"}


def test_a_full_disk_is_told(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    with pytest.raises(
        RefusedError, match=r"The disk is full\. Make room.*Nothing was left there"
    ):
        _half(path, OSError(errno.ENOSPC, "No space left on device"))
    with pytest.raises(RefusedError, match=r"\(Broken\)\. Look at the disk"):
        _half(path, OSError(errno.EIO, "Broken"))
    assert names(tmp_path) == set()


def test_what_a_power_cut_left_is_taken_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of this file alone, and not what another program is writing just now."""
    for number in (111, 222, 333):
        (tmp_path / f".a.csv.{number}.part").write_text("half")
    (tmp_path / ".a.csv.mine.part").write_text("kept")
    (tmp_path / ".b.csv.111.part").write_text("kept")

    def kill(process: int, signal: int) -> None:
        assert signal == 0
        if process == 111:
            raise ProcessLookupError
        if process == 222:
            raise PermissionError

    monkeypatch.setattr(os, "kill", kill)
    with whole_file(tmp_path / "a.csv", overwrite=False) as file:
        file.write("one")
    assert names(tmp_path) == {
        "a.csv",
        ".a.csv.222.part",
        ".a.csv.333.part",
        ".a.csv.mine.part",
        ".b.csv.111.part",
    }


def test_a_folder_that_is_missing_is_told(tmp_path: Path) -> None:
    with (
        pytest.raises(RefusedError, match=r"a\.csv can't be written \(No such file"),
        whole_file(tmp_path / "gone" / "a.csv", overwrite=False),
    ):
        pytest.fail("nothing may be written")


def test_a_disk_that_keeps_no_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.fsync

    def fsync(number: int) -> None:
        if os.fstat(number).st_mode & 0o040000:
            raise OSError(errno.EINVAL, "Invalid argument")
        real(number)

    monkeypatch.setattr(os, "fsync", fsync)
    with whole_file(tmp_path / "a.csv", overwrite=False) as file:
        file.write("one")
    assert names(tmp_path) == {"a.csv"}


def test_folders_are_made(tmp_path: Path) -> None:
    folder_for(tmp_path / "a" / "b")
    folder_for(tmp_path / "a" / "b")
    assert (tmp_path / "a" / "b").is_dir()


def test_what_is_no_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("")
    with pytest.raises(RefusedError, match=r"is a file\. Name a folder"):
        folder_for(tmp_path / "a")
    with pytest.raises(RefusedError, match="can't be written"):
        folder_for(tmp_path / "a" / "b")
    (tmp_path / "b.csv").mkdir()
    with pytest.raises(RefusedError, match="is a folder"):
        must_be_free(tmp_path / "b.csv", overwrite=True)


def test_cells_can_be_read_back() -> None:
    out = io.StringIO()
    at = datetime(2026, 1, 20, 12, 0, 0, 500, UTC)
    row = (at, 0.1 + 0.2, 7, True, False, None, 'two "bags",\nof straw', "=1+2", "Ä")

    def rows() -> Iterator[tuple[object, ...]]:
        yield row

    assert write_table(out, [f"c{n}" for n in range(len(row))], rows()) == 1  # type: ignore[arg-type]
    text = out.getvalue()
    assert text.startswith("c0,c1,")
    assert text.endswith("\r\n")
    (found,) = list(csv.reader(io.StringIO(text, newline="")))[1:]
    assert found[0] == "2026-01-20T12:00:00.000500Z"
    assert float(found[1]) == 0.1 + 0.2
    assert found[2:] == ["7", "yes", "no", "", 'two "bags",\nof straw', "'=1+2", "Ä"]
