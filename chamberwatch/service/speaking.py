"""Which sensor speaks for the air of a chamber when one number is needed."""

from collections.abc import Iterable

from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.reading import Place, Quantity

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


def speaker(
    house: House, chamber: str, doubted: Iterable[str], *needed: Quantity
) -> Sensor | None:
    """Return the sensor that speaks, one that is not doubted where there is one."""
    candidates = air_sensors(house, chamber, *needed)
    out = frozenset(doubted)
    return next(
        (s for s in candidates if s.name not in out), candidates[0] if candidates else None
    )
