"""`backup` as a person types it."""

import io
import re
import sys
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.cli import main
from chamberwatch.clock import WallClock
from chamberwatch.core.backups import time_of
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.backing_up import last_backup
from chamberwatch.storage.alone import alone_with
from chamberwatch.storage.book import open_books
from chamberwatch.storage.migrations import STEPS
from tests.versions import made, rows

Run = Callable[..., int]
NAME = re.compile(r"chamberwatch-\d{8}-\d{6}\.db")


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "home" / "cw.toml"
    path.parent.mkdir()
    path.write_text(f'[backup]\nfolder = "{tmp_path}/stick"\ndays = 1\nweeks = 0\nmonths = 0\n')
    books = open_books(f"sqlite:///{path.parent / 'chamberwatch.db'}", WallClock().now())
    with books.write() as book:
        now = WallClock().now()
        book.readings.add(
            Reading(now - n * timedelta(minutes=1), "top", Quantity.HUMIDITY, 80.0)
            for n in range(100)
        )
    books.close()
    return path


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, config: Path) -> Run:
    def typed(*words: str) -> int:
        monkeypatch.setattr(sys, "argv", ["chamberwatch", *words, "--config", str(config)])
        with pytest.raises(SystemExit) as left:
            main()
        assert left.value.code is None or isinstance(left.value.code, int)
        return left.value.code or 0

    return typed


def test_a_new_place_and_a_backup_in_it(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("backup") == 1
    assert "chamberwatch backup --new-place" in capsys.readouterr().err
    assert run("backup", "--new-place") == 0
    told = capsys.readouterr().out
    assert "It lies on the same disk as the database: when that dies, both are gone." in told
    assert "100 readings, looked through." in told
    (copy,) = (config.parents[1] / "stick").glob("*.db")
    assert NAME.fullmatch(copy.name)
    assert (copy.with_suffix(".toml")).exists()
    books = open_books(f"sqlite:///{config.parent / 'chamberwatch.db'}", WallClock().now())
    with books.read() as book:
        known = last_backup(book)
    books.close()
    assert known.file == str(copy)
    assert known.at == time_of(copy.name)
    assert known.trouble == ""
    # The next in the same place stands in for it.
    assert run("backup") == 0
    assert f"Gone, since newer ones stand in for them: {copy.name}." in capsys.readouterr().out
    assert not copy.exists()


def test_elsewhere_every_one_stays(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    other = config.parents[1] / "other"
    assert run("backup", "--to", str(other)) == 1
    assert "begin it once" in capsys.readouterr().err
    assert run("backup", "--to", str(other), "--new-place") == 0
    assert run("backup", "--to", str(other)) == 0
    assert len(list(other.glob("*.db"))) == 2
    assert not (config.parents[1] / "stick").exists()


def test_nowhere_to_put_it(config: Path, run: Run, capsys: pytest.CaptureFixture[str]) -> None:
    config.write_text("")
    for words in (("backup",), ("backup", "--new-place")):
        assert run(*words) == 1
        assert "There is nowhere to put a backup. Name a folder" in capsys.readouterr().err


def test_there_is_nothing_to_copy(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    (config.parent / "chamberwatch.db").unlink()
    assert run("backup", "--new-place") == 1
    assert "is not there yet" in capsys.readouterr().err


def test_an_older_one_is_copied_as_it_is(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    """A daemon of an older version may be at work with it, and the copy is the way back to it."""
    database = config.parent / "chamberwatch.db"
    database.unlink()
    made(database, len(STEPS) - 1)
    before = database.read_bytes()
    for words in (("export", str(config.parent / "out")), ("recalibrate",), ("batch", "list")):
        assert run(*words) == 1
        told = capsys.readouterr().err
        assert "is of an older version of chamberwatch; nothing was changed. Start" in told
    assert run("backup", "--new-place") == 0
    told = capsys.readouterr().out
    assert "It was copied as it is; older backups stay." in told
    assert "readings, looked through." in told
    assert database.read_bytes() == before
    (copy,) = (config.parents[1] / "stick").glob("*.db")
    assert rows(copy) == rows(database)
    # What is older stays, though the settings let one stay.
    assert run("backup") == 0
    assert len(list((config.parents[1] / "stick").glob("*.db"))) == 2
    assert run("restore", str(copy), "--replace") == 0
    assert f"It was brought up to date: {STEPS[-1][0]}." in capsys.readouterr().out


def test_a_passcode_can_be_set_before_a_start_that_needs_it(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    database = config.parent / "chamberwatch.db"
    database.unlink()
    made(database, len(STEPS) - 1)
    with alone_with(database):
        assert run("passcode") == 1
        assert "A chamberwatch is at work with it." in capsys.readouterr().err
    monkeypatch.setattr(sys, "stdin", io.StringIO("a passcode to try\n"))
    assert run("passcode") == 0
    assert run("batch", "list") == 0


def test_check_says_whether_backups_are_made(
    config: Path, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("check") == 0
    assert "/stick for backups is not there. Plug the stick in" in capsys.readouterr().out
    assert run("backup", "--new-place") == 0
    capsys.readouterr()
    assert run("check") == 0
    told = capsys.readouterr().out
    assert "Plug the stick in" not in told
    assert "No nightly backup" not in told
    assert f"A backup is to go to {config.parents[1] / 'stick'} each night at 03:10" in told
    config.write_text("")
    assert run("check") == 0
    assert (
        "No nightly backup is set: what is not copied dies with the disk."
        in capsys.readouterr().out
    )
