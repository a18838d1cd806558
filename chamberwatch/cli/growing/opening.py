"""The growing record of the settings, opened beside a daemon that may be running."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from chamberwatch.cli.beside import beside

if TYPE_CHECKING:
    from datetime import datetime

    from chamberwatch.core.growing.rotation.plan import Wanted
    from chamberwatch.core.watch.chamber import House
    from chamberwatch.service.growing.growing import Growing
    from chamberwatch.service.ports import Clock

VIA: Final = "command line"


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
def opened(config: Path, *, make: bool = False) -> Iterator[Bench]:
    """Open the record in the database that the settings name.

    Args:
        config: the settings file.
        make: make the database, if it isn't there yet: a first bag may be older than the daemon.

    Raises:
        SettingsError: the settings or the species can't be used.
        StorageError: there is no such database, or it can't be used.
    """
    from chamberwatch.settings import load_species
    from chamberwatch.wiring.growing import grow

    with beside(config, make=make) as on:
        settings = on.settings
        growing = grow(settings, load_species(config), on.books, on.clock, on.board)
        wanted = tuple(each.wanted() for each in settings.rotation)
        yield Bench(growing, on.clock, ZoneInfo(settings.site.timezone), wanted)
