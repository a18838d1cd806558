"""Commands that work on the database of the settings, beside a daemon that may be running."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.core.errors import StorageError

if TYPE_CHECKING:
    from chamberwatch.clock import WallClock
    from chamberwatch.service.board import Board
    from chamberwatch.settings import Settings
    from chamberwatch.storage.book import SqlBooks

DEFAULT_CONFIG: Final = Path("config/chamberwatch.toml")
CONFIG_VARIABLE: Final = "CHAMBERWATCH_CONFIG"

ConfigOption = Annotated[
    Path,
    typer.Option("--config", "-c", envvar=CONFIG_VARIABLE, help="The settings file."),
]


@dataclass(frozen=True, slots=True)
class Beside:
    """What such a command stands on."""

    settings: "Settings"
    books: "SqlBooks"
    clock: "WallClock"
    board: "Board"


@contextmanager
def beside(config: Path, *, make: bool = False) -> Iterator[Beside]:
    """Open the database that the settings name, as the daemon's neighbour.

    Args:
        config: the settings file.
        make: make it, if it isn't there yet.

    Raises:
        SettingsError: the settings can't be used.
        StorageError: there is no such database, or it can't be used.
    """
    from chamberwatch.clock import WallClock
    from chamberwatch.service.board import Board
    from chamberwatch.settings import load
    from chamberwatch.storage.book import open_books
    from chamberwatch.storage.engine import path_of, prepare

    settings, clock = load(config, os.environ), WallClock()
    path = path_of(settings.database.url)
    if make:
        prepare(path)
    elif not path.exists():
        raise StorageError(
            f"The database {path} is not there yet. Start it with chamberwatch run --config "
            f"{config}, or name the settings of the one that runs."
        )
    books = open_books(settings.database.url, clock.now())
    try:
        yield Beside(settings, books, clock, Board(clock.monotonic()))
    finally:
        books.close()
