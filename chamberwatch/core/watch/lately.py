"""What is remembered of one series of readings, so that its sensor can be believed or doubted."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.watch.reading import Quantity

Series = tuple[str, Quantity]

CELL: Final = timedelta(minutes=5)
"""Readings this close together share a cell."""

KEPT: Final = timedelta(hours=4)
"""How far back cells go: longer than a value may stay the same unnoticed."""

PINNED_PCT: Final = 99.0
"""A wetted humidity sensor sticks near 100 %; so does the air of a pinning chamber, rightly."""

# Common practice: more than air does from one reading to the next. The readings of a sensor that
# reports less often than `JUMP_GAP` may honestly lie this far apart.
JUMP_GAP: Final = timedelta(minutes=2)
JUMP: Final[Mapping[Quantity, float]] = {
    Quantity.HUMIDITY: 8.0,
    Quantity.TEMPERATURE: 2.0,
    Quantity.CO2: 400.0,
}
JUMP_SHARE: Final = 0.1
"""The noise of a CO2 sensor grows with its reading; a jump must be more than this share of it."""


def jumps(quantity: Quantity, before: float, after: float, gap: timedelta) -> bool:
    """Tell whether the step from one reading to the next is one that air hardly makes."""
    least = JUMP.get(quantity)
    if least is None or gap > JUMP_GAP:
        return False
    if quantity is Quantity.CO2:
        least = max(least, JUMP_SHARE * max(before, after))
    return abs(after - before) > least


@dataclass(frozen=True, slots=True)
class Cell:
    """Least and most of the readings from `start` on, for at most `CELL`."""

    start: datetime
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Track:
    """One series as it has been since the memory began; values in the unit of the quantity.

    Attributes:
        time: of the newest reading.
        value: of the newest reading.
        same_since: first reading of those that have said exactly this value without a break.
        same_count: how many these are.
        changed: a value other than this one has been heard.
        finest: smallest change between two readings, None before the first change.
        pinned_since: since when every humidity has been at saturation; None if it isn't.
        jumps: when it leapt up and down in turn, faster than air can.
        cells: oldest first.
    """

    time: datetime
    value: float
    same_since: datetime
    same_count: int = 1
    changed: bool = False
    finest: float | None = None
    pinned_since: datetime | None = None
    jumps: tuple[datetime, ...] = ()
    cells: tuple[Cell, ...] = ()

    def moved(self, since: datetime) -> float:
        """Return how far apart the least and the most since a time are."""
        cells = [cell for cell in self.cells if cell.start >= since]
        if not cells:
            return 0.0
        return max(cell.most for cell in cells) - min(cell.least for cell in cells)

    def rise(self, since: datetime, until: datetime, within: timedelta) -> float:
        """Return the greatest rise that took no longer than `within`, between two times.

        From the most of a cell to the least of a later one: noise makes no rise.
        """
        cells = [cell for cell in self.cells if since <= cell.start <= until]
        rises = (
            later.least - cell.most
            for index, cell in enumerate(cells)
            for later in cells[index + 1 :]
            if later.start - cell.start <= within
        )
        return max([0.0, *rises])

    def fall_share(self, since: datetime, until: datetime, within: timedelta) -> float:
        """Return the greatest fall that took no longer, as a share of where it began.

        From the least of a cell to the most of a later one: noise makes no fall.
        """
        cells = [cell for cell in self.cells if since <= cell.start <= until]
        falls = (
            1.0 - later.most / cell.least
            for index, cell in enumerate(cells)
            for later in cells[index + 1 :]
            if later.start - cell.start <= within and cell.least > 0.0
        )
        return max([0.0, *falls])


@dataclass(frozen=True, slots=True)
class Seen:
    """What a look at the sensors goes by.

    Attributes:
        now: by the clock; only refused values need it, of them there is no reading.
        tracks: what is remembered of each series.
        silent: sensors that have not been heard for longer than they may be.
        doubted: sensors in doubt for another reason than that two disagree.
        vented: when each chamber was last vented by a person.
        touched: when anything was last done to each chamber.
        refused: how many values of a series were lately refused as impossible.
    """

    now: datetime
    tracks: Mapping[Series, Track]
    silent: frozenset[str] = frozenset()
    doubted: frozenset[str] = frozenset()
    vented: Mapping[str, datetime] = field(default_factory=dict)
    touched: Mapping[str, datetime] = field(default_factory=dict)
    refused: Mapping[Series, int] = field(default_factory=dict)
