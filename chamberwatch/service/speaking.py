"""Which sensor speaks for the air of a chamber when one number is needed, and what it says."""

from collections.abc import Collection, Mapping

from chamberwatch.core.air.psychrometrics import AirState, air_state
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.doubt import Doubt
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.service.board import Series
from chamberwatch.service.series import PAIRED_WITHIN

PAIR = frozenset({Quantity.TEMPERATURE, Quantity.HUMIDITY})


def air_sensors(house: House, chamber: str, *needed: Quantity) -> tuple[Sensor, ...]:
    """Return sensors of the chamber's air that report all of these, mid-air before shelves."""
    wanted = frozenset(needed)
    found = [
        s
        for s in house.sensors_in(chamber)
        if s.place is Place.AIR and wanted <= frozenset(s.quantities)
    ]
    return tuple(sorted(found, key=lambda s: s.shelf is not None))


def in_doubt(doubt: Doubt | None, *quantities: Quantity) -> bool:
    """Tell whether a doubt about a sensor touches one of these quantities."""
    return doubt is not None and not doubt.quantities.isdisjoint(quantities)


def doubted_in(doubts: Mapping[str, Doubt], *quantities: Quantity) -> frozenset[str]:
    """Return the names of the sensors that are in doubt in one of these quantities."""
    return frozenset(name for name, doubt in doubts.items() if in_doubt(doubt, *quantities))


def in_order(
    house: House, chamber: str, doubted: Collection[str], *needed: Quantity
) -> tuple[Sensor, ...]:
    """Return who may speak for these quantities of a chamber's air, the best first.

    Believed before doubted, mid-air before shelves, then as they were declared.
    """
    found = air_sensors(house, chamber, *needed)
    return tuple(sorted(found, key=lambda s: s.name in doubted))


def speaker(
    house: House, chamber: str, doubted: Collection[str], *needed: Quantity
) -> Sensor | None:
    """Return the sensor that speaks, one that is not doubted where there is one."""
    return next(iter(in_order(house, chamber, doubted, *needed)), None)


def air_of(
    newest: Mapping[Series, Reading], sensor: Sensor, pressure_pa: float
) -> AirState | None:
    """Return the air that one sensor speaks of, None where it doesn't say both or they don't fit.

    Args:
        newest: newest reading of each series.
        sensor: which.
        pressure_pa: of the air. [Pa]
    """
    warm = newest.get((sensor.name, Quantity.TEMPERATURE))
    humid = newest.get((sensor.name, Quantity.HUMIDITY))
    return paired(warm, humid, pressure_pa)


def paired(warm: Reading | None, humid: Reading | None, pressure_pa: float) -> AirState | None:
    """Return the air of two readings, None where they don't belong together. [Pa]."""
    if warm is None or humid is None or warm.sensor != humid.sensor:
        return None
    if abs(warm.time - humid.time) > PAIRED_WITHIN:
        return None
    try:
        return air_state(warm.value, humid.value, pressure_pa)
    except ValueError:
        # Each value is plausible alone, together they are boiling water: there is no such air.
        return None
