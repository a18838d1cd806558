"""How much is written to the card, and how large the file becomes: as it was, and as reckoned."""

from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, Protocol

from chamberwatch.core.air.derived import DERIVED
from chamberwatch.core.watch.reading import API_NAMES, Quantity
from chamberwatch.core.wear import DAY, YEAR, Card, Load, file_bytes, written_per_day_bytes
from chamberwatch.service.ports import Clock

YEARS: Final = (1, 2, 5, 10)
SHORTEST: Final = timedelta(minutes=1)
"""From less nothing is reckoned."""
LONG_ENOUGH_S: Final = 3600.0
"""What was written in less says little of a day. [s]"""

Name = tuple[str, Quantity]


class SpokenReadings(Protocol):
    """Readings, as far as they are counted here."""

    def spoken(self, since: datetime) -> Mapping[Name, int]:
        """Return how many readings each series has since a time; without those that have none."""
        ...

    def first_since(self, since: datetime) -> datetime | None:
        """Return the time of the first reading since a time; None: there is none."""
        ...


class SpokenBook(Protocol):
    """A transaction on them."""

    @property
    def readings(self) -> SpokenReadings: ...  # noqa: D102 - named for what it holds


class SpokenBooks(Protocol):
    """Opens such books."""

    def read(self) -> AbstractContextManager[SpokenBook]:
        """Open for reading."""
        ...


@dataclass(frozen=True, slots=True)
class WearNow:
    """How it stands.

    Attributes:
        card: what the database takes now.
        load: what the house sent in the last day.
        written_per_day_bytes: as it was since the start, whatever it was for, backups among it;
            None: it is not known, or not for long enough. [B]
        expected_per_day_bytes: as it is reckoned, without backups. [B]
        file_after_bytes: how large the file is that many years after its beginning. [B]
    """

    card: Card
    load: Load
    written_per_day_bytes: float | None
    expected_per_day_bytes: float
    file_after_bytes: Mapping[int, float]


class Wear:
    """Tells how a card wears. Safe from any thread."""

    def __init__(
        self,
        books: SpokenBooks,
        clock: Clock,
        look: Callable[[], Card],
        commit_every: timedelta,
        keep: timedelta,
    ) -> None:
        """Begin to count what this process writes.

        Args:
            books: hold what the house sends.
            clock: the time.
            look: at the files and at what was written.
            commit_every: how long readings wait to be written together.
            keep: how long single readings stay.
        """
        self._books = books
        self._clock = clock
        self._look = look
        self._commit_every = commit_every
        self._keep = keep
        self._began_s = clock.monotonic()
        self._began_bytes = look().written_bytes

    def now(self) -> WearNow:
        """Return how it stands; it takes a look through the readings of a day.

        Raises:
            StorageError: the database can't be read.
        """
        card = self._look()
        now = self._clock.now()
        with self._books.read() as book:
            spoken = book.readings.spoken(now - DAY)
            first = book.readings.first_since(now - DAY)
        # A house that began an hour ago has sent an hour's readings in the last day.
        heard = DAY if first is None else max(now - first, SHORTEST)
        load = load_of(spoken, self._commit_every, self._keep, heard)
        return WearNow(
            card,
            load,
            self._per_day(card.written_bytes),
            written_per_day_bytes(load),
            {years: file_bytes(load, years * YEAR) for years in YEARS},
        )

    def _per_day(self, written: int | None) -> float | None:
        began, lasted_s = self._began_bytes, self._clock.monotonic() - self._began_s
        if written is None or began is None or lasted_s < LONG_ENOUGH_S:
            return None
        return (written - began) * DAY.total_seconds() / lasted_s


def load_of(
    spoken: Mapping[Name, int], commit_every: timedelta, keep: timedelta, heard: timedelta = DAY
) -> Load:
    """Return what a house sends, from the readings of a day or of the time it was heard for."""
    per_day = sum(spoken.values()) * (DAY / heard)
    return Load(len(spoken), _lines(spoken), per_day, commit_every, keep)


def _lines(names: Iterable[Name]) -> int:
    """Return how many lines are summed up."""
    by_sensor: dict[str, set[Quantity]] = {}
    for sensor, quantity in names:
        by_sensor.setdefault(sensor, set()).add(quantity)
    both = {Quantity.TEMPERATURE, Quantity.HUMIDITY}
    return sum(
        len(quantities & API_NAMES.keys()) + (len(DERIVED) if both <= quantities else 0)
        for quantities in by_sensor.values()
    )
