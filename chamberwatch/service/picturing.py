"""Which picture goes with a message, and what is in it: the book's readings of this moment."""

import logging
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.errors import StorageError
from chamberwatch.core.shown_in import ShownIn
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.advice import CALLS
from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.core.watch.reminder import Reminder
from chamberwatch.service.board import Series
from chamberwatch.service.books import Book, Books, OutKind, OutRow, Span
from chamberwatch.service.drawing import LENGTH, Panel, Sheet, drawn
from chamberwatch.service.ports import Clock

log = logging.getLogger(__name__)

_ASKED_OF_AIR: Final = frozenset(CALLS.values())
STEP: Final = timedelta(minutes=2)
JOINED: Final = timedelta(minutes=6)
"""Readings no further apart than this are one line, also where a sensor is slow to report."""

_DRAWN: Final = (Quantity.HUMIDITY, Quantity.CO2, Quantity.TEMPERATURE)
_MOVES_AIR: Final = frozenset({Deed.MISTED, Deed.VENTED})
_OF_AIR: Final = frozenset({OutKind.FORECAST, OutKind.EARLY, OutKind.RETURNED})


@dataclass(frozen=True, slots=True)
class Subject:
    """What a picture shows: a quantity of a chamber, as one sensor said it where that is known."""

    chamber: str
    quantity: Quantity = Quantity.HUMIDITY
    sensor: str = ""


@dataclass(frozen=True, slots=True)
class Picturing:
    """Makes the pictures of messages.

    Attributes:
        books: where the readings are.
        clock: the time.
        house: the chambers and their bands.
        zone: of the times in the picture.
        paint: makes PNG of SVG; None where it can't.
        shown_in: the units that the grower likes.
    """

    books: Books
    clock: Clock
    house: House
    zone: tzinfo
    paint: Callable[[str], bytes | None]
    shown_in: ShownIn

    def of(self, row: OutRow, reminder: Reminder | None) -> bytes | None:
        """Return the picture of a message as PNG; None where it needs none, or none can be had.

        Whatever goes wrong with it is no reason not to send the message.
        """
        subject = self._subject(row, reminder)
        try:
            return None if subject is None else self.paint_of(subject)
        except StorageError as error:
            log.warning("No picture goes with “%s”: %s", row.title, error)
        except Exception:
            log.exception("No picture could be drawn of “%s”; it goes without.", row.title)
        return None

    def paint_of(self, subject: Subject) -> bytes | None:
        """Return a picture; None where nothing was heard in its time, or it can't be painted."""
        drawing = self.draw(subject)
        return None if drawing is None else self.paint(drawing)

    def draw(self, subject: Subject) -> str | None:
        """Return a drawing; None where nothing was heard in its time."""
        chamber = self.house.chambers.get(subject.chamber)
        if chamber is None:
            return None
        quantities = dict.fromkeys([subject.quantity, Quantity.HUMIDITY])
        with self.books.read() as book:
            newest = book.readings.newest()
            deeds = self._deeds(book, chamber.name)
            panels = [
                replace(panel, deeds=deeds)
                for quantity in quantities
                for panel in self._panel(book, chamber, quantity, subject.sensor, newest)
            ]
        if not panels:
            return None
        now = self.clock.now()
        return drawn(Sheet(chamber.title, tuple(panels), now, self.zone, self.shown_in))

    def _deeds(self, book: Book, chamber: str) -> tuple[tuple[datetime, str], ...]:
        """Return what was done that moves the air, oldest first."""
        now = self.clock.now()
        done = book.actions.recent(chamber)
        moved = [a for a in done if a.deed in _MOVES_AIR and now - LENGTH < a.at <= now]
        return tuple((action.at, action.deed.value) for action in reversed(moved))

    def anywhere(self) -> Subject | None:
        """Return what a test message may show: the first chamber that something grows in."""
        names = (c.name for c in self.house.chambers.values() if c.stage is not None)
        name = next(names, None)
        return None if name is None else Subject(name)

    def _subject(self, row: OutRow, reminder: Reminder | None) -> Subject | None:
        if row.kind is OutKind.TRIAL:
            return self.anywhere()
        if reminder is None:
            return Subject(row.chamber) if row.kind in _OF_AIR and row.chamber else None
        evidence = reminder.evidence
        quantity = evidence.quantity if evidence is not None else None
        if quantity in _DRAWN and evidence is not None:
            return Subject(reminder.chamber, quantity, evidence.sensor)
        return Subject(reminder.chamber) if reminder.call in _ASKED_OF_AIR else None

    def _panel(
        self,
        book: Book,
        chamber: Chamber,
        quantity: Quantity,
        spoke: str,
        newest: Mapping[Series, Reading],
    ) -> Iterator[Panel]:
        now = self.clock.now()
        for sensor in self._speaking(chamber, quantity, spoke):
            last = newest.get((sensor.name, quantity))
            if last is None or not now - LENGTH <= last.time <= now:
                continue
            buckets = book.readings.buckets(
                [sensor.name],
                quantity,
                Span(now - LENGTH, last.time),
                STEP.total_seconds(),
                LENGTH // STEP + 2,
            )
            # A mean stands for the middle of its step, and never after what came last.
            middles = ((min(b.start + STEP / 2, last.time), b.mean) for b in buckets)
            points = [Reading(time, sensor.name, quantity, value) for time, value in middles]
            yield Panel(
                (*(p for p in points if now - LENGTH <= p.time < last.time), last),
                chamber.band(quantity, sensor.place),
                max(JOINED, sensor.unheard_after),
            )
            return

    def _speaking(self, chamber: Chamber, quantity: Quantity, spoke: str) -> Iterator[Sensor]:
        """Yield the sensor that spoke, then those that measure the same air, mid-air first."""
        here = [s for s in self.house.sensors_in(chamber.name) if quantity in s.quantities]
        yield from (s for s in here if s.name == spoke)
        air = (s for s in here if s.place is Place.AIR and s.name != spoke)
        yield from sorted(air, key=lambda s: s.shelf is not None)
