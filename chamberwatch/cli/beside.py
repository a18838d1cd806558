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
    # Whether it can be read is told in words of our own.
    typer.Option(
        "--config", "-c", envvar=CONFIG_VARIABLE, readable=False, help="The settings file."
    ),
]


class NotThereYetError(StorageError):
    """The settings name a database that nobody has made yet."""


@dataclass(frozen=True, slots=True)
class Beside:
    """What such a command stands on."""

    settings: "Settings"
    books: "SqlBooks"
    clock: "WallClock"
    board: "Board"


@contextmanager
def beside(config: Path, *, make: bool = False, renew: bool = False) -> Iterator[Beside]:
    """Open the database that the settings name, as the daemon's neighbour.

    An older one is left to the daemon to bring up to date: one of an older version may be at work.

    Args:
        config: the settings file.
        make: make it, if it isn't there yet.
        renew: bring an older one up to date where no daemon is at work with it.

    Raises:
        SettingsError: the settings can't be used.
        NotThereYetError: there is no such database.
        OlderError: it is of an older version.
        StorageError: it can't be used.
    """
    from chamberwatch.clock import WallClock
    from chamberwatch.service.board import Board
    from chamberwatch.settings import load
    from chamberwatch.storage.book import WAIT_S, open_books
    from chamberwatch.storage.place import place_of

    settings, clock = load(config, os.environ), WallClock()
    place = place_of(settings.database.address)
    if make:
        place.prepare()
    elif not place.there(WAIT_S):
        raise NotThereYetError(
            f"The database {place} is not there yet. Start it with chamberwatch run --config "
            f"{config}, or name the settings of the one that runs."
        )
    leave_older = not renew or place.taken()
    books = open_books(settings.database.address, clock.now(), leave_older=leave_older)
    try:
        yield Beside(settings, books, clock, Board(clock.monotonic()))
    finally:
        books.close()
