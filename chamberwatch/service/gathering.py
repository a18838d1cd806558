"""The record of a chamber as the search for mistings and ventings needs it."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.reading import EPOCH, Quantity
from chamberwatch.core.watch.tracks import STEP_S, Points, Record
from chamberwatch.service.books import Book, Span
from chamberwatch.service.speaking import in_order

_AT_MOST: Final = 100_000


def seconds(time: datetime) -> float:
    """Return seconds since 1970. [s]."""
    return (time - EPOCH).total_seconds()


def moment(time_s: float) -> datetime:
    """Return the time so many seconds after 1970, to the full second."""
    return EPOCH + timedelta(seconds=round(time_s))


@dataclass(frozen=True, slots=True)
class Heard:
    """One sensor, and what it reported. Times in seconds since 1970."""

    sensor: Sensor
    points: Points


def thinned(book: Book, sensor: Sensor, quantity: Quantity, span: Span) -> Points:
    """Return the means of one sensor in steps of 30 s, each at the middle of its step."""
    buckets = book.readings.buckets([sensor.name], quantity, span, STEP_S, _AT_MOST)
    return [(seconds(bucket.start) + STEP_S / 2.0, bucket.mean) for bucket in buckets]


def busiest(
    book: Book,
    house: House,
    chamber: str,
    span: Span,
    needed: Sequence[Quantity],
    doubted: Collection[str],
) -> Heard | None:
    """Return the sensor that has most of the first quantity in a span; None where nobody has.

    One sensor alone: the mean of several jumps whenever one of them falls silent. Doubted ones
    are asked only where there is no other.
    """
    speaking = in_order(house, chamber, doubted, *needed)
    trusted = [s for s in speaking if s.name not in doubted] or speaking
    heard = [Heard(s, thinned(book, s, needed[0], span)) for s in trusted]
    best = max(heard, key=lambda h: len(h.points), default=None)
    return best if best is not None and best.points else None


PAIR: Final = (Quantity.HUMIDITY, Quantity.TEMPERATURE)
CO2: Final = (Quantity.CO2,)


def record_of(
    book: Book, house: House, chamber: str, span: Span, doubted: Collection[str]
) -> Record:
    """Return the record of a chamber and of the room around it."""
    room = house.chambers[chamber].surrounding
    temperature, humidity = _pair(book, house, chamber, span, doubted)
    co2 = busiest(book, house, chamber, span, CO2, doubted)
    around = ((), ()) if room is None else _pair(book, house, room, span, doubted)
    room_co2 = None if room is None else busiest(book, house, room, span, CO2, doubted)
    return Record(
        temperature,
        humidity,
        co2.points if co2 else (),
        *around,
        room_co2.points if room_co2 else (),
    )


def _pair(
    book: Book, house: House, chamber: str, span: Span, doubted: Collection[str]
) -> tuple[Points, Points]:
    """Return temperature and humidity of one sensor."""
    heard = busiest(book, house, chamber, span, PAIR, doubted)
    if heard is None:
        return (), ()
    return thinned(book, heard.sensor, Quantity.TEMPERATURE, span), heard.points
