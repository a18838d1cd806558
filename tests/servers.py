"""A real PostgreSQL server for the tests, in a folder of its own, heard on a socket there only."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import psycopg
import pytest

SQLITE: Final = "sqlite"
POSTGRESQL: Final = "postgresql"
DEADLINE_S: Final = 60.0
DATABASE: Final = "house"
GUARDED: Final = "guarded"
"""A role that is let in with its password alone."""
PASSWORD: Final = "pass/word@of:guarded%"  # noqa: S105 - of a server that lives for a test
ACCOUNT: Final = "nobody"
"""Root is refused by the server, so it runs as this user then."""

# A test's server may forget all in a power cut, and is quicker for it.
CONF: Final = """
listen_addresses = ''
unix_socket_directories = '{folder}'
fsync = off
full_page_writes = off
max_connections = 60
shared_buffers = 32MB
autovacuum = off
lc_messages = 'C'
"""
DOORS: Final = """
local all guarded scram-sha-256
local all shut-out reject
local all all trust
"""

# Only what holds something is emptied: that takes milliseconds, making tables anew much longer.
CLEAR: Final = """
DO $$
DECLARE
    name text;
    held boolean;
    filled text[] := '{}';
BEGIN
    FOR name IN SELECT tablename FROM pg_tables
        WHERE schemaname = 'public' AND tablename <> 'migrations' LOOP
        EXECUTE format('SELECT EXISTS (SELECT FROM %I)', name) INTO held;
        IF held THEN
            filled := filled || quote_ident(name);
        END IF;
    END LOOP;
    IF filled <> '{}' THEN
        EXECUTE 'TRUNCATE ' || array_to_string(filled, ', ') || ' CASCADE';
    END IF;
    FOR name IN SELECT sequencename FROM pg_sequences WHERE schemaname = 'public' LOOP
        PERFORM setval(quote_ident(name), 1, false);
    END LOOP;
END $$
"""


def _programs() -> Path | None:
    """Return the folder of the server's programs; Debian keeps them off the path."""
    found = shutil.which("initdb")
    if found is not None:
        return Path(found).resolve().parent
    newest_last = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return newest_last[-1].parent if newest_last else None


PROGRAMS: Final = _programs()
needs_server = pytest.mark.skipif(
    PROGRAMS is None, reason="PostgreSQL is not installed: sudo apt install postgresql"
)


def only_files(why: str) -> pytest.MarkDecorator:
    """Have a test run on files alone; its name then says why."""
    return pytest.mark.parametrize("kind", [pytest.param(SQLITE, id=why)], indirect=True)


def only_servers(why: str) -> pytest.MarkDecorator:
    """Have a test run on a server alone; its name then says why."""
    on = pytest.param(POSTGRESQL, id=why, marks=needs_server)
    return pytest.mark.parametrize("kind", [on], indirect=True)


@dataclass(frozen=True, slots=True)
class TestServer:
    """A server that can be stopped and started.

    Attributes:
        folder: holds its socket, its data and its log.
    """

    __test__ = False

    folder: Path

    def url(self, role: str = "keeper", database: str = DATABASE) -> str:
        """Return the address of a database."""
        return f"postgresql+psycopg://{role}@/{database}?host={self.folder}"

    def run(
        self, statement: str, *values: object, database: str = DATABASE
    ) -> list[tuple[Any, ...]]:
        """Run a statement as the one who may do everything; return what it answers."""
        with psycopg.connect(
            host=str(self.folder), user="keeper", dbname=database, autocommit=True
        ) as connection:
            answer = connection.execute(statement.encode(), values or None)
            return answer.fetchall() if answer.description else []

    def cleared(self) -> str:
        """Return the address of the database once nothing is kept in its tables."""
        self.run(CLEAR)
        return self.url()

    def emptied(self) -> str:
        """Return the address of the database once nothing at all is in it."""
        self.run("DROP SCHEMA IF EXISTS public CASCADE; CREATE SCHEMA public")
        return self.url()

    def shape(self) -> dict[str, list[tuple[Any, ...]]]:
        """Return all that matters of a schema."""
        return {
            "columns": self.run(
                "SELECT table_name, column_name, data_type, is_nullable, column_default, "
                "collation_name FROM information_schema.columns WHERE table_schema = 'public' "
                "ORDER BY 1, 2"
            ),
            "indexes": self.run(
                "SELECT indexdef FROM pg_indexes WHERE schemaname = 'public' ORDER BY 1"
            ),
            "constraints": self.run(
                "SELECT conrelid::regclass::text, pg_get_constraintdef(oid) FROM pg_constraint "
                "WHERE connamespace = 'public'::regnamespace ORDER BY 1, 2"
            ),
        }

    def dump(self) -> str:
        """Return all that is in the database as SQL."""
        return _run(
            "pg_dump", "-h", str(self.folder), "-U", "keeper", "--inserts", "--no-owner",
            "--no-privileges", "--no-comments", DATABASE,
        )  # fmt: skip

    def start(self) -> None:
        """Start it, and wait until it answers."""
        self._control("start", "-o", f"-c config_file={self.folder}/own.conf")

    def stop(self, how: str = "fast") -> None:
        """Stop it: fast, or immediate, as by a crash."""
        self._control("stop", "-m", how)

    def _control(self, *what: str) -> None:
        log = ["-l", f"{self.folder}/log"]
        _run("pg_ctl", "-D", f"{self.folder}/data", "-w", "-t", str(DEADLINE_S), *log, *what)


def _run(program: str, *arguments: str) -> str:
    assert PROGRAMS is not None
    as_other: dict[str, Any] = (
        {"user": ACCOUNT, "group": "nogroup", "extra_groups": ()} if os.geteuid() == 0 else {}
    )
    done = subprocess.run(
        [PROGRAMS / program, *arguments], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, text=True, timeout=DEADLINE_S, cwd="/",
        env={"PATH": "/usr/bin:/bin", "LC_ALL": "C"}, **as_other,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    said: str = done.stdout
    return said


@contextmanager
def database_server() -> Iterator[TestServer]:
    """Run a server until the block is left."""
    # Not below a folder of pytest's: that account may not enter there.
    folder = Path(tempfile.mkdtemp(prefix="cw-pg-"))
    server = TestServer(folder)
    try:
        if os.geteuid() == 0:
            shutil.chown(folder, ACCOUNT, "nogroup")
        _run("initdb", "-D", f"{folder}/data", "-U", "keeper", "-A", "trust", "-E", "UTF8",
             "--no-sync", "--no-instructions")  # fmt: skip
        (folder / "own.conf").write_text(
            CONF.format(folder=folder) + f"hba_file = '{folder}/doors'\n"
            f"data_directory = '{folder}/data'\nident_file = '{folder}/data/pg_ident.conf'\n"
        )
        (folder / "doors").write_text(DOORS)
        for file in ("own.conf", "doors"):
            (folder / file).chmod(0o644)
        server.start()
        try:
            # Where words are sorted as in a language, as most servers do.
            server.run(
                f"CREATE DATABASE {DATABASE} TEMPLATE template0 LOCALE 'C' "
                "LOCALE_PROVIDER icu ICU_LOCALE 'en'",
                database="postgres",
            )
            server.run(f"CREATE ROLE {GUARDED} LOGIN PASSWORD '{PASSWORD}'")
            yield server
        finally:
            server.stop("immediate")
    finally:
        shutil.rmtree(folder)
