"""A reading: one quantity of one sensor at one time."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum
from typing import Final


class Quantity(StrEnum):
    """What a sensor can report. Kept in the unit of `UNITS`."""

    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    CO2 = "co2"
    PRESSURE = "pressure"
    BATTERY = "battery"


UNITS: Final[dict[Quantity, str]] = {
    Quantity.TEMPERATURE: "°C",
    Quantity.HUMIDITY: "%",
    Quantity.CO2: "ppm",
    Quantity.PRESSURE: "Pa",
    Quantity.BATTERY: "V",
}

API_NAMES: Final[Mapping[Quantity, str]] = {
    Quantity.TEMPERATURE: "temperature_c",
    Quantity.HUMIDITY: "humidity_pct",
    Quantity.CO2: "co2_ppm",
    Quantity.PRESSURE: "pressure_pa",
}
"""The names that the API and the summaries have for what is measured; they say the unit."""

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
"""Times of messages, and those in the book, are counted from it."""


def in_words(quantity: Quantity) -> str:
    """Return a quantity within a sentence."""
    return "CO2" if quantity is Quantity.CO2 else quantity.value


# What a sensor beside a growing chamber can honestly say; anything else is a fault of the sensor
# or of its unit, and is refused at the door. Common practice: humidity sensors run a little past
# 100 % when wet, so up to 105 % is kept as sent.
PLAUSIBLE: Final[dict[Quantity, tuple[float, float]]] = {
    Quantity.TEMPERATURE: (-40.0, 85.0),
    Quantity.HUMIDITY: (0.0, 105.0),
    Quantity.CO2: (0.0, 100_000.0),
    Quantity.PRESSURE: (30_000.0, 120_000.0),
    Quantity.BATTERY: (0.0, 60.0),
}


EARLIEST: Final = datetime(1980, 1, 1, tzinfo=UTC)
"""A device whose clock was never set counts from 1970."""
MILLISECONDS_FROM: Final = 1e11
"""Seconds since 1970 reach this in the year 5138, milliseconds did in 1973."""


class Place(StrEnum):
    """Where a sensor hangs, as far as judging is concerned."""

    AIR = "air"
    CORE = "core"
    SURFACE = "surface"


@dataclass(frozen=True, slots=True, order=True)
class Reading:
    """One value, in the unit of `UNITS`.

    Attributes:
        time: aware UTC; the message's own time, or when it arrived.
        sensor: name of the sensor.
        quantity: what was measured.
        value: in the unit of `UNITS[quantity]`.
        timed: whether the message carried its own time.
        raw: what the sensor said, where a correction changed it; None where `value` is that.
    """

    time: datetime
    sensor: str
    quantity: Quantity
    value: float
    timed: bool = True
    raw: float | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Undated:
    """A value whose time is not known, or not known yet.

    Attributes:
        sensor: name of the sensor.
        quantity: what was measured.
        value: in the unit of `UNITS[quantity]`.
        boot: identity of the boot in which it arrived, None when its time can never be known.
        arrived_s: monotonic clock of that boot at arrival. [s]
    """

    sensor: str
    quantity: Quantity
    value: float
    boot: str | None
    arrived_s: float


@dataclass(frozen=True, slots=True)
class Reject:
    """A message that could not be taken in, kept so that a person can see why."""

    topic: str
    time: datetime
    reason: str
    excerpt: str
