"""The memory of one series: fed with every reading, so it must be quick."""

from collections import deque
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.watch.lately import CELL, JUMP, KEPT, PINNED_PCT, Cell, Track, jumps
from chamberwatch.core.watch.reading import Quantity, Reading

CELLS: Final = KEPT // CELL
JUMPS_KEPT: Final = 8
JUMPS_APART: Final = timedelta(minutes=10)
"""Leaps further apart than this do not belong together."""


class Trace:
    """What has been heard of one series. Not safe from several threads; `track` copies it."""

    __slots__ = (
        "_cells",
        "_changed",
        "_finest",
        "_jumps",
        "_least",
        "_most",
        "_pinned_since",
        "_rose",
        "_said",
        "_same_count",
        "_same_since",
        "_start",
        "_time",
        "_value",
    )

    def __init__(self, first: Reading) -> None:
        """Begin with a first reading."""
        self._cells: deque[Cell] = deque(maxlen=CELLS)
        self._jumps: deque[datetime] = deque(maxlen=JUMPS_KEPT)
        self._rose: bool | None = None
        self._changed = False
        self._finest: float | None = None
        self._pinned_since: datetime | None = None
        self._time = self._start = self._same_since = first.time
        self._value = self._least = self._most = first.value
        self._said = first.value if first.raw is None else first.raw
        self._same_count = 1
        self._pin(first)

    def take(self, reading: Reading) -> None:
        """Take one more reading; it is newer than all before."""
        time, value = reading.time, reading.value
        # A correction may move a value though its sensor has said the same.
        said = value if reading.raw is None else reading.raw
        if said == self._said:
            self._same_count += 1
        else:
            self._change(reading)
        if time - self._start >= CELL:
            self._cells.append(Cell(self._start, self._least, self._most))
            self._start, self._least, self._most = time, value, value
        elif value < self._least:
            self._least = value
        elif value > self._most:
            self._most = value
        self._time, self._value, self._said = time, value, said

    def _change(self, reading: Reading) -> None:
        by = reading.value - self._value
        size = abs(by)
        if self._finest is None or size < self._finest:
            self._finest = size
        if reading.quantity in JUMP:
            gap = reading.time - self._time
            if jumps(reading.quantity, self._value, reading.value, gap):
                self._jump(reading.time, rose=by > 0.0)
            self._pin(reading)
        self._changed = True
        self._same_since, self._same_count = reading.time, 1

    def _jump(self, time: datetime, *, rose: bool) -> None:
        """Note a leap; two in the same direction are one in two steps."""
        if self._jumps and time - self._jumps[-1] > JUMPS_APART:
            self._jumps.clear()
        elif rose is self._rose:
            return
        self._rose = rose
        self._jumps.append(time)

    def _pin(self, reading: Reading) -> None:
        if reading.quantity is not Quantity.HUMIDITY or reading.value < PINNED_PCT:
            self._pinned_since = None
        elif self._pinned_since is None:
            self._pinned_since = reading.time

    def track(self) -> Track:
        """Return it as it stands."""
        return Track(
            time=self._time,
            value=self._value,
            same_since=self._same_since,
            same_count=self._same_count,
            changed=self._changed,
            finest=self._finest,
            pinned_since=self._pinned_since,
            jumps=tuple(self._jumps),
            cells=(*self._cells, Cell(self._start, self._least, self._most)),
        )
