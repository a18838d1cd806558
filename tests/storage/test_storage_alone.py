"""One daemon for one database."""

import fcntl
from pathlib import Path

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.storage.alone import alone_with, is_taken


def test_a_second_one_is_kept_off_until_the_first_has_left(tmp_path: Path) -> None:
    path = tmp_path / "cw.db"
    with alone_with(path):
        with pytest.raises(StorageError) as kept_off, alone_with(path):
            pass
        with alone_with(tmp_path / "another.db"):
            pass
    assert str(kept_off.value) == (
        f"Another chamberwatch runs with this database ({path}). Stop it first."
    )
    with alone_with(path):
        pass


def test_another_name_of_the_same_file_is_the_same_database(tmp_path: Path) -> None:
    path, name = tmp_path / "cw.db", tmp_path / "name.db"
    path.touch()
    name.symlink_to(path)
    with alone_with(path), pytest.raises(StorageError, match="Stop it first"), alone_with(name):
        pass


def test_a_lock_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "cw.db.lock").mkdir()
    with pytest.raises(StorageError, match="right to write"), alone_with(tmp_path / "cw.db"):
        pass


def test_a_disk_that_knows_no_locks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(file: object, how: int) -> None:
        raise OSError(38, "Function not implemented")

    monkeypatch.setattr(fcntl, "flock", none)
    with pytest.raises(StorageError, match="network drive"), alone_with(tmp_path / "cw.db"):
        pass


def test_who_looks_sees_whether_one_runs_and_keeps_none_off(tmp_path: Path) -> None:
    path = tmp_path / "cw.db"
    assert not is_taken(path)
    assert not is_taken(tmp_path / "no folder" / "cw.db")
    assert list(tmp_path.iterdir()) == []
    with alone_with(path):
        assert is_taken(path)
    assert not is_taken(path)
    with alone_with(path):
        pass


def test_a_lock_that_cannot_be_looked_at(tmp_path: Path) -> None:
    (tmp_path / "cw.db.lock").mkdir()
    with pytest.raises(StorageError, match="Ask with the right to read"):
        is_taken(tmp_path / "cw.db")
