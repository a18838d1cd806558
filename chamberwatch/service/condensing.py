"""How close the coldest surface of a chamber is to being wet, and since when it has been."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta

from chamberwatch.core.air.condensation import Margin, inner_surface_c, margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.psychrometrics import AirState
from chamberwatch.core.air.uncertainty import margin_spread_k
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.service.board import Board, Series
from chamberwatch.service.speaking import PAIR, air_of, air_sensors, in_doubt


def coldest(
    house: House, board: Board, chamber: str, now: datetime, old_after: timedelta
) -> Margin | None:
    """Return the margin of the coldest surface, None where it can't be told.

    A surface with a sensor of its own comes first; else the cover is reckoned from the
    temperature of the room.

    Args:
        house: what the grower declared.
        board: the newest readings.
        chamber: its name.
        now: the time.
        old_after: readings older than this are about other air.
    """
    around = board.newest_among(house.around(chamber))
    newest = {k: r for k, r in around.items() if now - r.time <= old_after}
    doubts = board.doubts()
    sure = {key: r for key, r in newest.items() if not in_doubt(doubts.get(key[0]), key[1])}
    for sensor in air_sensors(house, chamber, *PAIR):
        air = air_of(sure, sensor, house.pressure_pa)
        if air is None:
            continue
        margins = list(_margins(house, sure, sensor, air))
        return min(margins, key=lambda m: m.margin_k) if margins else None
    return None


def _margins(
    house: House, newest: Mapping[Series, Reading], sensor: Sensor, air: AirState
) -> Iterator[Margin]:
    measured = False
    for surface in house.sensors_in(sensor.chamber):
        reading = newest.get((surface.name, Quantity.TEMPERATURE))
        if surface.place is not Place.SURFACE or reading is None:
            continue
        measured = True
        off = margin_spread_k(air, sensor.accuracy, surface.accuracy.surface_k)
        yield margin(air, reading.value, off, Origin.MEASURED)
    chamber = house.chambers[sensor.chamber]
    room = _room_c(house, newest, chamber.surrounding)
    if not measured and room is not None:
        cover_c = inner_surface_c(air.temperature_c, room, chamber.cover_u_w_per_m2k)
        off = margin_spread_k(air, sensor.accuracy, None)
        yield margin(air, cover_c, off, Origin.ASSUMED)


def _room_c(
    house: House, newest: Mapping[Series, Reading], surrounding: str | None
) -> float | None:
    if surrounding is None:
        return None
    for sensor in air_sensors(house, surrounding, Quantity.TEMPERATURE):
        reading = newest.get((sensor.name, Quantity.TEMPERATURE))
        if reading is not None:
            return reading.value
    return None
