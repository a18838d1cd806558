"""`restore` as a person types it."""

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from chamberwatch.service.backing_up import LAST, TROUBLE
from chamberwatch.service.whose import HOUSE
from chamberwatch.storage.alone import alone_with
from chamberwatch.storage.backup_folder import house_in
from tests.cli.test_backup_command import Run, config, run

__all__ = ["config", "run"]


@pytest.fixture
def made(config: Path, run: Run, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return a backup of the home's database."""
    assert run("backup", "--new-place") == 0
    capsys.readouterr()
    (file,) = (config.parents[1] / "stick").glob("*.db")
    return file


def test_what_is_there_is_not_replaced_unasked(
    config: Path, run: Run, made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    database = config.parent / "chamberwatch.db"
    before = database.read_bytes()
    assert run("restore", str(made)) == 1
    told = capsys.readouterr().err
    assert f"There is a database already: {database}" in told
    assert "is sound: 100 readings, the newest of" in told
    assert "add --replace" in told
    assert database.read_bytes() == before
    assert run("restore", str(made), "--replace") == 0
    told = capsys.readouterr().out
    assert f"{database} is {made.name} now: 100 readings, the newest of" in told
    assert f"What was there is {database}.before-" in told
    assert f"The settings of that time lie in {made.with_suffix('.toml')}" in told
    assert told.endswith("Start chamberwatch again: sudo systemctl start chamberwatch\n")
    assert len(list(config.parent.glob("*.before-*"))) == 1


def test_on_a_new_card(
    config: Path, run: Run, made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    database = config.parent / "chamberwatch.db"
    database.unlink()
    assert run("restore", str(made)) == 0
    assert "What was there" not in capsys.readouterr().out
    # And it goes on as ever.
    assert run("backup") == 0
    assert "100 readings, looked through." in capsys.readouterr().out


def test_not_while_chamberwatch_runs(
    config: Path, run: Run, made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with alone_with(config.parent / "chamberwatch.db"):
        assert run("restore", str(made), "--replace") == 1
    assert "Another chamberwatch runs with this database" in capsys.readouterr().err


def test_a_folder_names_its_backups(
    config: Path, run: Run, made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(made, made.with_name("chamberwatch-20200101-000000.db"))
    made.with_name("chamberwatch-20190101-000000.db").write_bytes(b"torn")
    assert run("restore", str(made.parent)) == 0
    newest, old, torn, last = capsys.readouterr().out.splitlines()
    assert newest.startswith(f"{made}  of 20")
    assert newest.endswith(" kB")
    assert "chamberwatch-20200101-000000.db  of 2020-01-01 00:00, " in old
    assert torn.endswith("0 kB, does not say of which house")
    assert last == "Name one of them: chamberwatch restore FILE"
    assert run("restore", str(config.parent)) == 1
    assert "there is no backup in it" in capsys.readouterr().err


def test_where_the_database_cannot_be(
    config: Path, run: Run, made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config.write_text('[database]\nurl = "sqlite:///gone/cw.db"\n')
    assert run("restore", str(made)) == 1
    assert "is not there. Make it." in capsys.readouterr().err


def another_house(made: Path) -> Path:
    other = made.with_name("chamberwatch-20200101-000000.db")
    shutil.copy(made, other)
    with closing(sqlite3.connect(other)) as file, file:
        file.execute("UPDATE texts SET value = 'cabin' WHERE name = ?", (HOUSE,))
    return other


def test_one_of_another_house_is_not_taken_by_mistake(
    config: Path, run: Run, made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    database, other = config.parent / "chamberwatch.db", another_house(made)
    ours = house_in(database)
    before = database.read_bytes()
    assert run("restore", str(other), "--replace") == 1
    assert "is a backup of another house than the database" in capsys.readouterr().err
    assert database.read_bytes() == before
    assert run("restore", str(made.parent)) == 0
    assert capsys.readouterr().out.splitlines()[1].endswith(", of another house")
    assert run("restore", str(other), "--replace", "--another-house") == 0
    # It goes on as this house, so that it never takes the backups of the other for its own.
    assert house_in(database) == ours


def test_the_database_itself_is_no_backup(
    config: Path, run: Run, made: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("restore", str(config.parent / "chamberwatch.db"), "--replace") == 1
    assert "is the database itself" in capsys.readouterr().err


def test_it_knows_of_the_backup_that_it_was_made_of(config: Path, run: Run, made: Path) -> None:
    database = config.parent / "chamberwatch.db"
    with closing(sqlite3.connect(database)) as file, file:
        file.execute("DELETE FROM texts WHERE name = ?", (LAST,))
    assert run("restore", str(made), "--replace") == 0
    with closing(sqlite3.connect(database)) as file:
        kept = dict(file.execute("SELECT name, value FROM texts"))
    assert json.loads(kept[LAST])["file"] == str(made)
    assert json.loads(kept[TROUBLE]) == {}
