"""The database over an upgrade: copied where it will change, and put back where that failed."""

import importlib.util
import shutil
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from types import ModuleType
from typing import Final, NamedTuple

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.storage.migrations import STEPS
from tests.deploy.shell import CHECKOUT

NAMES: Final = [name for name, _ in STEPS]


def _script() -> ModuleType:
    path = CHECKOUT / "deploy/install/keep_database.py"
    spec = importlib.util.spec_from_file_location("keep_database", path)
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


KEEP: Final = _script()


def _database(path: Path, steps: Sequence[str], kept: str = "years of it") -> Path:
    """Make one with steps behind it, and something in it that only its log holds."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE migrations (name TEXT)")
        connection.executemany("INSERT INTO migrations VALUES (?)", [(name,) for name in steps])
        connection.execute("CREATE TABLE kept (what TEXT)")
        connection.execute("INSERT INTO kept VALUES (?)", (kept,))
        connection.commit()
        # As it lies there when the service was killed.
        for end in ("", "-wal"):
            shutil.copy(f"{path}{end}", f"{path}.as{end}")
    for end in ("", "-wal"):
        Path(f"{path}.as{end}").replace(f"{path}{end}")
    return path


def _kept(path: Path) -> str:
    with closing(sqlite3.connect(path)) as connection:
        return str(connection.execute("SELECT what FROM kept").fetchone()[0])


def test_what_the_new_version_will_change_is_copied_whole(tmp_path: Path) -> None:
    path = _database(tmp_path / "a.db", NAMES[:-1])
    copy = KEEP.copy(path)
    assert copy == tmp_path / "a.db.before-upgrade"
    assert (_kept(copy), KEEP.steps_of(copy)) == ("years of it", set(NAMES[:-1]))
    assert copy.stat().st_mode & 0o777 == 0o600
    assert _kept(path) == "years of it"
    assert sorted(p.name for p in tmp_path.iterdir() if "upgrade" in p.name) == [copy.name]


def test_former_copy_gives_way(tmp_path: Path) -> None:
    path = _database(tmp_path / "a.db", NAMES[:-1])
    path.with_name("a.db.before-upgrade").write_text("older")
    path.with_name("a.db.before-upgrade.part").write_text("broken off")
    assert _kept(KEEP.copy(path)) == "years of it"


def test_what_stays_as_it_is_needs_no_copy(tmp_path: Path) -> None:
    path = _database(tmp_path / "a.db", NAMES)
    assert KEEP.copy(path) is None
    assert KEEP.copy(tmp_path / "none.db") is None
    empty = tmp_path / "empty.db"
    empty.touch()
    assert KEEP.copy(empty) is None
    assert not list(tmp_path.glob("*upgrade*"))


def test_full_disk_says_how_much_is_needed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Usage(NamedTuple):
        free: int

    path = _database(tmp_path / "a.db", NAMES[:-1])
    monkeypatch.setattr(KEEP.shutil, "disk_usage", lambda _: Usage(3_000_000))
    with pytest.raises(StorageError, match=r"needs 50 MB; 3 MB are free\. Free some"):
        KEEP.copy(path)
    assert not list(tmp_path.glob("*upgrade*"))


def test_damaged_one_is_not_upgraded(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE migrations (name TEXT)")
        connection.execute("INSERT INTO migrations VALUES ('first tables')")
        connection.execute("CREATE TABLE kept (what TEXT UNIQUE)")
        many = [(f"{number:04} {'x' * 100}",) for number in range(500)]
        connection.executemany("INSERT INTO kept VALUES (?)", many)
        connection.commit()
    raw = bytearray(path.read_bytes())
    half = len(raw) // 2 // 4096 * 4096
    raw[half : half + 4096] = bytes(4096)
    path.write_bytes(raw)
    with pytest.raises((StorageError, sqlite3.DatabaseError)):
        KEEP.copy(path)
    assert not path.with_name("a.db.before-upgrade").exists()


def test_changed_one_is_put_back_and_what_it_became_set_aside(tmp_path: Path) -> None:
    path = _database(tmp_path / "a.db", NAMES[:-1])
    copy = KEEP.copy(path)
    for end in ("", "-wal", "-shm"):
        Path(f"{path}{end}").unlink(missing_ok=True)
    _database(path, NAMES, "what the new version made of it")
    assert KEEP.put_back(path, copy)
    assert _kept(path) == "years of it"
    aside = tmp_path / "a.db.of-failed-upgrade"
    assert _kept(aside) == "what the new version made of it"
    assert not copy.exists()


def test_half_changed_one_is_put_back_too_over_what_was_set_aside_before(tmp_path: Path) -> None:
    path = _database(tmp_path / "a.db", NAMES[:2])
    tmp_path.joinpath("a.db.of-failed-upgrade").write_text("of long ago")
    tmp_path.joinpath("a.db.of-failed-upgrade-wal").write_text("of long ago")
    copy = KEEP.copy(path)
    for end in ("", "-wal", "-shm"):
        Path(f"{path}{end}").unlink(missing_ok=True)
    _database(path, NAMES[:3], "half of it")
    assert KEEP.put_back(path, copy)
    assert (_kept(path), _kept(tmp_path / "a.db.of-failed-upgrade")) == (
        "years of it",
        "half of it",
    )


def test_unchanged_one_stays_with_what_came_since(tmp_path: Path) -> None:
    path = _database(tmp_path / "a.db", NAMES[:-1])
    copy = KEEP.copy(path)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE kept SET what = 'and a reading'")
        connection.commit()
    assert not KEEP.put_back(path, copy)
    assert _kept(path) == "and a reading"


def test_broken_off_while_it_was_put_back(tmp_path: Path) -> None:
    """Whatever lies there, or nothing: the copy takes its place."""
    path = _database(tmp_path / "a.db", NAMES[:-1])
    copy = KEEP.copy(path)
    path.unlink()
    assert KEEP.put_back(path, copy)
    assert _kept(path) == "years of it"


def test_missing_copy_changes_nothing(tmp_path: Path) -> None:
    path = _database(tmp_path / "a.db", NAMES)
    with pytest.raises(StorageError, match="Put the last backup"):
        KEEP.put_back(path, tmp_path / "a.db.before-upgrade")
    assert _kept(path) == "years of it"
    assert not list(tmp_path.glob("*upgrade*"))


@pytest.mark.parametrize(
    ("url", "said"),
    [
        pytest.param("sqlite:///a.db", "a.db.before-upgrade", id="a file"),
        pytest.param("sqlite:///b.db", "", id="not there yet"),
    ],
)
def test_said_is_where_the_copy_lies(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    url: str,
    said: str,
) -> None:
    _database(tmp_path / "a.db", NAMES[:-1])
    settings = tmp_path / "chamberwatch.toml"
    settings.write_text(f'[database]\nurl = "{url}"\n')
    monkeypatch.setattr("sys.argv", ["keep_database.py", "copy", str(settings)])
    KEEP.main()
    assert capsys.readouterr().out == (f"{tmp_path / said}\n" if said else "")


def test_file_that_is_no_database_ends_with_the_cure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tmp_path.joinpath("a.db").write_text("no database at all" * 100)
    settings = tmp_path / "chamberwatch.toml"
    settings.write_text('[database]\nurl = "sqlite:///a.db"\n')
    monkeypatch.setattr("sys.argv", ["keep_database.py", "copy", str(settings)])
    with pytest.raises(SystemExit, match="Look at the disk"):
        KEEP.main()
