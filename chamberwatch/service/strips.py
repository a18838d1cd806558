"""The last hours of each sensor, as a recorder's pen would have drawn them."""

import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final

from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.course import Points
from chamberwatch.core.watch.reading import API_NAMES, Quantity
from chamberwatch.service.board import Series
from chamberwatch.service.books import Book, Books, Span
from chamberwatch.service.ports import Clock

LONG: Final = timedelta(hours=6)
STEP: Final = timedelta(minutes=5)
"""Of one point; a misting that holds for a quarter of an hour still shows as a peak."""

KEPT_FOR: Final = timedelta(minutes=1)
"""So long is what was read from the book good enough; the newest value comes from the board."""

DRAWN: Final[Mapping[Quantity, str]] = {
    quantity: API_NAMES[quantity]
    for quantity in (Quantity.HUMIDITY, Quantity.TEMPERATURE, Quantity.CO2)
}

Lines = Mapping[Series, Points]


@dataclass(slots=True)
class Strips:
    """Reads the last hours from the book, at most once in `KEPT_FOR` for each chamber.

    Safe to use from any thread.
    """

    books: Books
    clock: Clock
    house: House
    _kept: dict[str, tuple[datetime, Lines]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def of(self, chamber: str) -> Lines:
        """Return a mean for each `STEP` of the last hours, of each sensor in a chamber.

        A series without a reading in that time is missing.

        Raises:
            UnknownNameError: no such chamber.
        """
        self.house.chamber(chamber)
        now = self.clock.now()
        with self._lock:
            made, lines = self._kept.get(chamber, (None, {}))
        if made is not None and timedelta(0) <= now - made < KEPT_FOR:
            return lines
        with self.books.read() as book:
            lines = dict(self._read(book, chamber, now))
        with self._lock:
            self._kept[chamber] = (now, lines)
        return lines

    def _read(self, book: Book, chamber: str, now: datetime) -> Iterator[tuple[Series, Points]]:
        span, half_s = Span(now - LONG, now), STEP.total_seconds() / 2
        for sensor in self.house.sensors_in(chamber):
            found = book.summaries.columns(
                [sensor.name], [*DRAWN.values()], round(STEP.total_seconds()), span, judged=False
            )
            for quantity, name in DRAWN.items():
                columns = found[name]
                points = tuple(
                    (datetime.fromtimestamp(start + half_s, UTC), mean)
                    for start, mean in zip(columns.start_s, columns.mean, strict=True)
                )
                if points:
                    yield (sensor.name, quantity), points
