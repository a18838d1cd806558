"""Short ways to make what tests need."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.core.watch.reminder import Evidence

NOON = datetime(2026, 1, 20, 12, 0, tzinfo=UTC)

TENT = Chamber("tent", "Tent", Stage.FRUITING, 500.0, ("top", "bottom"), "room")
ROOM = Chamber("room", "Living room")
SHELF = Chamber("shelf", "Dark shelf", Stage.COLONISATION, 300.0)

ALL_AIR = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2)


def at(minutes: float) -> datetime:
    """Return a time so many minutes after noon."""
    return NOON + timedelta(minutes=minutes)


def house(*more: Sensor) -> House:
    """Return the invented grower's house."""
    sensors: Mapping[str, Sensor] = {
        s.name: s
        for s in (
            Sensor("middle", "tent", quantities=ALL_AIR),
            Sensor("top", "tent", shelf="top", quantities=ALL_AIR),
            Sensor("block", "tent", Place.CORE, quantities=(Quantity.TEMPERATURE,)),
            Sensor("wall", "tent", Place.SURFACE, quantities=(Quantity.TEMPERATURE,)),
            Sensor("room", "room", quantities=ALL_AIR),
            *more,
        )
    }
    return House({c.name: c for c in (TENT, ROOM, SHELF)}, sensors)


def humidity(value: float, minutes: float = 0.0, sensor: str = "middle") -> Reading:
    """Return a humidity reading. [%]."""
    return Reading(at(minutes), sensor, Quantity.HUMIDITY, value)


def evidence(
    value: float = 76.0,
    quantity: Quantity = Quantity.HUMIDITY,
    trend_per_h: float | None = -12.0,
    low: float | None = 80.0,
    high: float | None = 95.0,
    sensor: str = "middle",
) -> Evidence:
    """Return what speaks for a reminder."""
    return Evidence(sensor, quantity, value, low, high, trend_per_h, NOON)
