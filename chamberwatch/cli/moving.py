"""`move-database`: from the file to a PostgreSQL server, for whoever outgrows one machine."""

import os
from typing import TYPE_CHECKING, Annotated

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.terminal import going_through
from chamberwatch.core.errors import RefusedError

if TYPE_CHECKING:
    from chamberwatch.settings import DatabaseSettings
    from chamberwatch.storage.moving import Moved
    from chamberwatch.storage.place import File
    from chamberwatch.storage.server import Server


def move_database(
    to: Annotated[
        str,
        typer.Option(
            metavar="URL",
            help="Where to: postgresql+psycopg://ROLE@SERVER/NAME, an empty database. Its "
            "password comes from CHAMBERWATCH_DATABASE_PASSWORD, a systemd credential, or "
            "~/.pgpass.",
        ),
    ],
    config: ConfigOption = DEFAULT_CONFIG,
    start_over: Annotated[
        bool,
        typer.Option(
            "--start-over", help="Throw away what a move that did not end has left there."
        ),
    ] = False,
) -> None:
    """Copy everything into a PostgreSQL database and compare both; stop the daemon first."""
    from chamberwatch.settings import load, moved_to

    now = load(config, os.environ).database
    new = moved_to(now, to)
    source, target = _ends(now, new)
    moved = _move(source, target, start_over=start_over)
    print(
        f"Moved: {moved.rows} rows in {moved.tables} tables, and both sides hold the same. "
        f'Write into {config}, under [database]:\n\n    url = "{new.url}"'
    )
    if now.folder != config.resolve().parent:
        print(f'    files = "{now.folder}"')
    print(
        f"\nand start chamberwatch again. {source} is as it was: keep it until you have seen that "
        "all is well."
    )
    if new.password is not None:
        print("The daemon needs the password too, in the same way as this command was given it.")


def _ends(now: "DatabaseSettings", new: "DatabaseSettings") -> "tuple[File, Server]":
    """Return where everything is, and where it shall be.

    Raises:
        RefusedError: it is on a server already.
    """
    from chamberwatch.storage.place import File, place_of

    target = place_of(new.address)
    from chamberwatch.storage.server import Server

    source = place_of(now.address)
    if not isinstance(source, File) or not isinstance(target, Server):
        raise RefusedError(
            f"The settings name {source}, which lies on a server already. To move it from one "
            "server to another, use the servers' own tools: pg_dump and pg_restore."
        )
    return source, target


def _move(source: "File", target: "Server", *, start_over: bool) -> "Moved":
    from chamberwatch.storage.moving import move

    with going_through() as shown:

        def told(what: str, done: int, of: int) -> None:
            shown(f"rows {what}", done / max(of, 1))

        return move(source, target, told, start_over=start_over)
