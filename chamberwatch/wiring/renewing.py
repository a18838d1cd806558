"""The settings taken over by a daemon that goes on: read again, and everything made from them."""

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, Final

from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.service.ports import Clock
from chamberwatch.settings import Edit, Settings, SettingsFile, shipped_species
from chamberwatch.web.tells import SettingsStand
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.machine import Machine, build

FIXED: Final[Mapping[str, tuple[str, ...]]] = {
    "web": ("host", "port"),
    "database": ("url",),
    "mqtt": ("client_id",),
}
"""What a running process can't change: its port, its database, its name at the broker."""


@dataclass(frozen=True, slots=True)
class Read:
    """What was read: the settings, and the species they may speak of."""

    settings: Settings
    table: SpeciesTable = field(default_factory=shipped_species)


@dataclass(frozen=True, slots=True)
class Step:
    """What makes the parts anew: for new settings, and for the former where that can't be."""

    new: Callable[[], Machine]
    former: Callable[[], Machine]


class Renewing:
    """Makes the machine from the settings, again and again; and what the pages see of that."""

    def __init__(
        self,
        file: SettingsFile,
        read: Callable[[], Read],
        clock: Clock,
        occasion: Occasion,
        renew: Callable[[], None],
    ) -> None:
        """Take what it stands on.

        Args:
            file: is changed by the pages.
            read: reads the settings as they stand now.
            clock: the time.
            occasion: of this run.
            renew: makes the daemon ask for the next step, soon.
        """
        self._file = file
        self._read = read
        self._clock = clock
        self._occasion = replace(occasion, editing=self, started=occasion.started or clock.now())
        self._renew = renew
        self._lock = threading.Lock()
        self._now: Read | None = None
        self._next: Read | None = None
        self._stand = SettingsStand()

    # ------------------------------------------------------------ for the daemon

    def first(self, read: Read) -> Machine:
        """Make the parts for the first time."""
        self._now = read
        return self._made(read)

    def next(self) -> Step | None:
        """Return what makes the parts of the newest settings; None: they are as they were.

        Raises:
            ChamberwatchError: the settings can't be taken; the text says why.
        """
        self._next = None
        read, now = self._read(), self._now
        if now is None:
            return None
        settings, waits = _fitted(read.settings, now.settings)
        self._waits(waits)
        fitted = replace(read, settings=settings)
        if fitted == now:
            return None
        self._next = fitted
        return Step(partial(self._made, fitted), partial(self._made, now))

    def took(self, why_not: str) -> None:
        """Hear how it went; not empty: why the former settings go on."""
        if not why_not and self._next is not None:
            self._now = self._next
        with self._lock:
            self._stand = replace(self._stand, trouble=why_not)

    def _made(self, read: Read) -> Machine:
        return build(read.settings, self._clock, self._occasion, read.table)

    def _waits(self, keys: tuple[str, ...]) -> None:
        with self._lock:
            self._stand = replace(self._stand, waits=keys)

    # ------------------------------------------------------------ for the pages

    def content(self) -> dict[str, Any]:
        """Return what stands in the file now, every address with a name."""
        return self._file.content()

    def change(self, edits: Sequence[Edit]) -> None:
        """Change the file, and take it over."""
        self._file.change(edits)
        self._renew()

    def read_again(self) -> None:
        """Take over what was changed by hand."""
        self._renew()

    def stand(self) -> SettingsStand:
        """Return how the settings at work stand to the file."""
        with self._lock:
            return self._stand


def _fitted(new: Settings, now: Settings) -> tuple[Settings, tuple[str, ...]]:
    """Return new settings with what can't change as it is, and the keys that wait for a start."""
    waits = []
    for section, keys in FIXED.items():
        before, after = getattr(now, section), getattr(new, section)
        kept = {key: getattr(before, key) for key in keys}
        waits += [f"{section}.{key}" for key in keys if getattr(after, key) != kept[key]]
        new = new.model_copy(update={section: after.model_copy(update=kept)})
    return new, tuple(waits)
