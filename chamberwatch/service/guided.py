"""A check of a sensor that takes hours: remembered from its beginning until it is recorded."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from chamberwatch.core.air.calibration import Salt, SaltReading
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.settled import LOOK_BACK, MOVES, Settled, settled
from chamberwatch.service.books import Books, Span
from chamberwatch.service.ports import Clock

READINGS_AT_MOST: Final = 5000


@dataclass(frozen=True, slots=True)
class Begun:
    """A check under way.

    Attributes:
        kind: what a page calls it.
        at: when it was begun, or gone on with above another salt.
        first: what was read above the first of two salts; None: not yet.
    """

    kind: str
    at: datetime
    first: SaltReading | None = None


@dataclass(frozen=True, slots=True)
class Guided:
    """Remembers checks under way, and tells whether a sensor has come to rest.

    Attributes:
        books: where they are kept.
        clock: the time.
        house: knows the sensors.
    """

    books: Books
    clock: Clock
    house: House

    def rest(self, sensor: str) -> Mapping[Quantity, Settled]:
        """Return how a sensor stands in each quantity that can be checked, from what it sent.

        Raises:
            UnknownNameError: no such sensor.
        """
        self.house.sensor(sensor)
        now = self.clock.now()
        span = Span(now - LOOK_BACK, now + timedelta(seconds=1))
        found: dict[Quantity, Settled] = {}
        with self.books.read() as book:
            for quantity in MOVES:
                readings = book.readings.within([sensor], quantity, span, READINGS_AT_MOST)
                points = [(r.time, r.value if r.raw is None else r.raw) for r in readings]
                found[quantity] = settled(quantity, points, now)
        return found

    def begin(self, sensor: str, kind: str, first: SaltReading | None = None) -> Begun:
        """Remember that a check begins now, in place of one before.

        Raises:
            UnknownNameError: no such sensor.
        """
        self.house.sensor(sensor)
        begun = Begun(kind, self.clock.now(), first)
        told = {
            "kind": kind,
            "at": begun.at.isoformat(),
            "first": asdict(first) if first else None,
        }
        with self.books.write() as book:
            book.kept.keep_text(_key(sensor), json.dumps(told))
        return begun

    def begun(self, sensor: str) -> Begun | None:
        """Return the check under way; None: there is none.

        Raises:
            UnknownNameError: no such sensor.
        """
        self.house.sensor(sensor)
        with self.books.read() as book:
            text = book.kept.text(_key(sensor))
        return _read(text) if text else None

    def end(self, sensor: str) -> None:
        """Forget the check under way.

        Raises:
            UnknownNameError: no such sensor.
        """
        self.house.sensor(sensor)
        with self.books.write() as book:
            book.kept.keep_text(_key(sensor), "")


def _key(sensor: str) -> str:
    return f"check of a sensor: {sensor}"


def _read(text: str) -> Begun | None:
    """Read what was kept; None where an older version wrote it in another shape."""
    try:
        told: dict[str, Any] = json.loads(text)
        first = told["first"]
        reading = SaltReading(**{**first, "salt": Salt(first["salt"])}) if first else None
        return Begun(str(told["kind"]), datetime.fromisoformat(told["at"]), reading)
    except (KeyError, TypeError, ValueError):
        return None
