"""The end of the write-ahead log is damaged; what is left opens, and it is said how much went."""

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.storage.cut_off import CutOff, commits_cut_off

COMMITS: Final = 6
PAGE: Final = 4096 + 24
"""A page with the head of its frame."""


@pytest.fixture
def left(tmp_path: Path) -> Path:
    """Return a database as a power cut leaves it: with a log of one frame for each commit."""
    live, copy = tmp_path / "live.db", tmp_path / "left.db"
    with closing(sqlite3.connect(live, isolation_level=None)) as connection:
        connection.execute("pragma journal_mode = wal")
        connection.execute("create table kept (number integer primary key)")
        connection.execute("pragma wal_checkpoint(truncate)")
        for number in range(COMMITS):
            connection.execute("insert into kept values (?)", (number,))
        for suffix in ("", "-wal"):
            shutil.copy(f"{live}{suffix}", f"{copy}{suffix}")
    return copy


def flip(log: bytearray, at: int) -> None:
    log[at] ^= 0xFF


def nothing(log: bytearray) -> None:
    """Leave it whole."""


def last_page(log: bytearray) -> None:
    flip(log, -100)


def middle_page(log: bytearray) -> None:
    flip(log, 32 + 2 * PAGE + 1000)


def torn(log: bytearray) -> None:
    """Cut the last page in two: its head is there, its end is not."""
    del log[-1000:]


def whole_page_away(log: bytearray) -> None:
    """Take a page off: nothing of that commit reached the disk."""
    del log[-PAGE:]


def head(log: bytearray) -> None:
    flip(log, 0)


@pytest.mark.parametrize(
    ("damage", "cut_off", "kept"),
    [
        (nothing, 0, COMMITS),
        (last_page, 1, COMMITS - 1),
        (torn, 1, COMMITS - 1),
        (middle_page, 4, 2),
        (whole_page_away, 0, COMMITS - 1),
        (head, 0, 0),
    ],
)
def test_what_went_is_counted(
    left: Path, damage: Callable[[bytearray], None], cut_off: int, kept: int
) -> None:
    file = Path(f"{left}-wal")
    log = bytearray(file.read_bytes())
    assert len(log) == 32 + COMMITS * PAGE
    damage(log)
    file.write_bytes(log)
    assert commits_cut_off(left) == cut_off
    with closing(sqlite3.connect(left)) as connection:
        assert connection.execute("select count(*) from kept").fetchone() == (kept,)
        assert connection.execute("pragma integrity_check").fetchone() == ("ok",)
    # The second start finds nothing amiss.
    assert commits_cut_off(left) == 0


def test_what_is_left_of_an_earlier_round_is_no_loss(tmp_path: Path) -> None:
    live, copy = tmp_path / "live.db", tmp_path / "left.db"
    with closing(sqlite3.connect(live, isolation_level=None)) as connection:
        connection.execute("pragma journal_mode = wal")
        connection.execute("create table kept (number integer primary key)")
        for number in range(COMMITS):
            connection.execute("insert into kept values (?)", (number,))
        connection.execute("pragma wal_checkpoint(restart)")
        connection.execute("insert into kept values (99)")
        for suffix in ("", "-wal"):
            shutil.copy(f"{live}{suffix}", f"{copy}{suffix}")
    assert Path(f"{copy}-wal").stat().st_size > 32 + 2 * PAGE
    assert commits_cut_off(copy) == 0


def test_without_a_log_there_is_nothing_to_look_at(tmp_path: Path) -> None:
    assert commits_cut_off(tmp_path / "none.db") == 0
    Path(tmp_path / "none.db-wal").write_bytes(b"short")
    assert commits_cut_off(tmp_path / "none.db") == 0


def test_a_file_that_is_no_database_is_said_to_be_none(left: Path) -> None:
    left.write_bytes(b"no database at all, but long enough to be looked at" * 100)
    with pytest.raises(StorageError, match="is not a database"):
        commits_cut_off(left)


def test_it_is_kept_as_a_text() -> None:
    told = CutOff(datetime(2026, 1, 10, 3, 4, tzinfo=UTC), 2)
    assert CutOff.read(told.kept()) == told
