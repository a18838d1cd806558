"""Databases of every version that there has been, made anew, and looked at as plain rows."""

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from tests.storage.test_storage_dumps import DUMPS

Rows = Mapping[str, tuple[list[str], list[tuple[Any, ...]]]]


def made(path: Path, version: int) -> Path:
    """Make a database of a version, as it would lie there."""
    with closing(sqlite3.connect(path)) as file:
        for source in (DUMPS / f"{version}.sql", DUMPS / "data" / f"{version}.sql"):
            file.executescript(source.read_text(encoding="utf-8"))
        assert file.execute("PRAGMA foreign_key_check").fetchall() == []
    return path


def rows(path: Path) -> Rows:
    """Return the columns and the rows of every table."""
    with closing(sqlite3.connect(path)) as file:
        names = [n for (n,) in file.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        found = {}
        for name in names:
            columns = [row[1] for row in file.execute(f'PRAGMA table_info("{name}")')]
            lines = file.execute(f'SELECT * FROM "{name}"').fetchall()  # noqa: S608 - of ours
            found[name] = (columns, sorted(lines, key=repr))
    return found
