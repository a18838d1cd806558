"""The growing record of the settings, opened beside a daemon that may be running."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final
from zoneinfo import ZoneInfo

import typer

from chamberwatch.core.errors import StorageError

if TYPE_CHECKING:
    from datetime import datetime

    from chamberwatch.core.growing.rotation import Wanted
    from chamberwatch.core.watch.chamber import House
    from chamberwatch.service.growing.growing import Growing
    from chamberwatch.service.ports import Clock

DEFAULT_CONFIG: Final = Path("config/chamberwatch.toml")
CONFIG_VARIABLE: Final = "CHAMBERWATCH_CONFIG"
VIA: Final = "command line"

ConfigOption = Annotated[
    Path,
    typer.Option("--config", "-c", envvar=CONFIG_VARIABLE, help="The settings file."),
]


@dataclass(frozen=True, slots=True)
class Bench:
    """Where a grower stands while typing.

    Attributes:
        growing: the record, and what follows from it.
        clock: the time.
        zone: for dates.
        wanted: of the rotation, as the settings have it.
    """

    growing: "Growing"
    clock: "Clock"
    zone: ZoneInfo
    wanted: "tuple[Wanted, ...]"

    @property
    def house(self) -> "House":
        """Return the house, its bands as they are now."""
        return self.growing.standing.house

    @property
    def now(self) -> "datetime":
        """Return the time."""
        return self.clock.now()


@contextmanager
def opened(config: Path) -> Iterator[Bench]:
    """Open the record in the database that the settings name.

    Raises:
        SettingsError: the settings or the species can't be used.
        StorageError: there is no such database, or it can't be used.
    """
    from chamberwatch.clock import WallClock
    from chamberwatch.service.board import Board
    from chamberwatch.settings import load, load_species
    from chamberwatch.storage.book import open_books
    from chamberwatch.storage.engine import path_of
    from chamberwatch.wiring.growing import grow

    settings, table, clock = load(config, os.environ), load_species(config), WallClock()
    path = path_of(settings.database.url)
    if not path.exists():
        raise StorageError(
            f"The database {path} is not there yet. Run chamberwatch first, or go to the folder "
            "it runs in."
        )
    books = open_books(settings.database.url, clock.now())
    try:
        growing = grow(settings, table, books, clock, Board(clock.monotonic()))
        wanted = tuple(each.wanted() for each in settings.rotation)
        yield Bench(growing, clock, ZoneInfo(settings.site.timezone), wanted)
    finally:
        books.close()
