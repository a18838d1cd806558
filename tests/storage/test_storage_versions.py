"""Every version so far, with rows in every table: nothing is changed on the way to the newest.

`tests/reference/schema/N.sql` is the dump of a version, `data/N.sql` more rows of it: tables that
are empty there, and values at their ends. A step that is broken off leaves the file as it was.
"""

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from chamberwatch.storage.book import open_books
from chamberwatch.storage.engine import make_writer
from chamberwatch.storage.migrations import STEPS, applied, migrate
from tests.faults.processes import ROOT, environment
from tests.versions import Rows, made, rows

NOW = datetime(2026, 1, 20, 12, 0, tzinfo=UTC)
VERSIONS = range(1, len(STEPS) + 1)
OLD = VERSIONS[:-1]


def defaults(path: Path, name: str) -> dict[str, Any]:
    """Return what each column holds where nothing is told."""
    with closing(sqlite3.connect(path)) as file:
        told = file.execute(f'PRAGMA table_info("{name}")').fetchall()
        return {
            column: None if text is None else file.execute(f"SELECT {text}").fetchone()[0]
            for _, column, _, _, text, _ in told
        }


def dumped(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as file:
        return list(file.iterdump())


def newest(path: Path) -> None:
    open_books(f"sqlite:///{path}", NOW).close()


@pytest.mark.parametrize("version", VERSIONS)
def test_every_table_has_rows_to_lose(tmp_path: Path, version: int) -> None:
    found = rows(made(tmp_path / "cw.db", version))
    assert [name for name, (_, lines) in found.items() if not lines] == []
    assert len(found["migrations"][1]) == version


@pytest.mark.parametrize("version", VERSIONS)
def test_every_row_is_as_it_was_and_what_is_new_is_as_usual(tmp_path: Path, version: int) -> None:
    path = made(tmp_path / "cw.db", version)
    before = rows(path)
    newest(path)
    after = rows(path)
    for name, (columns, lines) in before.items():
        now, lines_now = after[name]
        assert now[: len(columns)] == columns, name
        usual = defaults(path, name)
        expected = [(*line, *(usual[new] for new in now[len(columns) :])) for line in lines]
        if name == "migrations":
            assert set(expected) <= set(lines_now)
        else:
            assert lines_now == sorted(expected, key=repr), name
    assert len(after["migrations"][1]) == len(STEPS)
    with closing(sqlite3.connect(path)) as file:
        assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert file.execute("PRAGMA foreign_key_check").fetchall() == []


@pytest.mark.parametrize("version", VERSIONS)
def test_each_version_is_what_its_steps_make(tmp_path: Path, version: int) -> None:
    """A version reached step by step is the one that was released."""
    path = made(tmp_path / "cw.db", 1)
    writer = make_writer(path, 1.0)
    migrate(writer, NOW, STEPS[:version])
    with writer.begin() as connection:
        assert applied(connection) == {name for name, _ in STEPS[:version]}
    writer.dispose()
    released = rows(made(tmp_path / "released.db", version))
    assert {name: columns for name, (columns, _) in rows(path).items()} == {
        name: columns for name, (columns, _) in released.items()
    }


def test_each_step_is_told_before_it_is_taken(tmp_path: Path) -> None:
    path, told, taken = made(tmp_path / "cw.db", 4), list[str](), list[int]()

    def look(name: str) -> None:
        told.append(name)
        with closing(sqlite3.connect(path)) as file:
            taken.append(file.execute("SELECT count(*) FROM migrations").fetchone()[0])

    open_books(f"sqlite:///{path}", NOW, before_step=look).close()
    assert told == [name for name, _ in STEPS[4:]]
    assert taken == list(range(4, len(STEPS)))


def test_a_new_one_has_nothing_that_could_take_long(tmp_path: Path) -> None:
    told = list[str]()
    open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOW, before_step=told.append).close()
    assert told == []


# ---------------------------------------------------------------- broken off


class PowerCutError(Exception):
    """The power was cut."""


def break_off(path: Path, steps: int, at: int) -> bool:
    """Migrate up to a step, cut off at a statement; tell whether it came so far."""
    writer = make_writer(path, 1.0)
    seen = 0

    @event.listens_for(writer, "connect")
    def quick(connection: sqlite3.Connection, _: object) -> None:
        # What is asked here is what was committed; waiting for the disk adds nothing to that.
        connection.execute("PRAGMA synchronous = OFF")

    @event.listens_for(writer, "before_cursor_execute")
    def count(*_: object) -> None:
        nonlocal seen
        seen += 1
        if seen > at:
            raise PowerCutError

    try:
        migrate(writer, NOW, STEPS[:steps])
    except PowerCutError:
        return True
    finally:
        writer.dispose()
    return False


@pytest.mark.parametrize("version", OLD)
def test_broken_off_at_any_statement_it_is_the_old_version(tmp_path: Path, version: int) -> None:
    old = made(tmp_path / "old.db", version)
    before, path = dumped(old), tmp_path / "cw.db"
    at = 0
    while True:
        shutil.copy(old, path)
        if not break_off(path, version + 1, at):
            break
        assert dumped(path) == before, at
        at += 1
    # One for each step that is there already, and those of the new one.
    assert at > version + 2
    shutil.copy(old, path)
    assert break_off(path, version + 1, at - 1)
    newest(path)
    other = made(tmp_path / "other.db", version)
    newest(other)
    assert rows(path) == rows(other)


KILLED = """
import os, signal, sys
from datetime import UTC, datetime
from sqlalchemy import Engine, event
from chamberwatch.storage.book import open_books
left = int(sys.argv[2])
@event.listens_for(Engine, "before_cursor_execute")
def count(connection, cursor, statement, *more):
    global left
    left -= statement.startswith(("CREATE", "ALTER", "INSERT"))
    if left <= 0:
        os.kill(os.getpid(), signal.SIGKILL)
open_books(sys.argv[1], datetime.now(UTC))
"""


@pytest.mark.parametrize(
    ("version", "statements", "steps"),
    [
        pytest.param(1, 4, 1, id="in the second step"),
        pytest.param(3, 19, 3, id="at the record of the fourth"),
        pytest.param(5, 7, 6, id="in the seventh, after the sixth"),
    ],
)
def test_killed_in_the_middle_the_next_start_goes_on(
    tmp_path: Path, version: int, statements: int, steps: int
) -> None:
    path = made(tmp_path / "cw.db", version)
    whole = made(tmp_path / "whole.db", version)
    killed = subprocess.run(
        [sys.executable, "-c", KILLED, f"sqlite:///{path}", str(statements)],
        cwd=ROOT,
        env=environment(),
        capture_output=True,
        check=False,
    )
    assert killed.returncode == -9, killed.stderr
    # Whole steps, and no half of another.
    reached = made(tmp_path / "reached.db", version)
    writer = make_writer(reached, 1.0)
    migrate(writer, NOW, STEPS[:steps])
    writer.dispose()
    assert without_times(rows(path)) == without_times(rows(reached))
    newest(path)
    newest(whole)
    assert without_times(rows(path)) == without_times(rows(whole))


def without_times(found: Rows) -> Rows:
    """Leave out when steps were taken."""
    columns, lines = found["migrations"]
    return {**found, "migrations": (columns, sorted((name, 0) for name, _ in lines))}
