"""Readings as summaries are reckoned from them, and what they are held against."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from sqlalchemy import Connection, Row, select, type_coerce

from chamberwatch.core.air.psychrometrics import STANDARD_PRESSURE_PA
from chamberwatch.core.review.reckoning import (
    PAIRED_WITHIN_US,
    Counted,
    Held,
    Line,
    Samples,
    counted,
    with_derived,
)
from chamberwatch.core.review.summary import Rules
from chamberwatch.core.watch.reading import API_NAMES, Quantity
from chamberwatch.storage.columns import Whole, from_micros, to_micros
from chamberwatch.storage.kept import SqlKept
from chamberwatch.storage.summed_tables import HELD, LATE
from chamberwatch.storage.tables import READINGS, SERIES

# As they lie in the database, so these numbers never change.
CODES: Final[Mapping[str, int]] = {
    "temperature_c": 1,
    "humidity_pct": 2,
    "co2_ppm": 3,
    "pressure_pa": 4,
    "dew_point_c": 5,
    "vpd_kpa": 6,
    "wet_bulb_c": 7,
    "humidity_ratio_g_per_kg": 8,
}
MEASURED: Final = {name: quantity for quantity, name in API_NAMES.items()}
_OF_QUANTITY: Final = {quantity.value: name for quantity, name in API_NAMES.items()}
_PAIR: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY)
PRESSURE: Final = "air pressure of the summaries"


class Sampled:
    """What readings say, in samples."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def counted(
        self,
        sensors: Sequence[str] | None,
        quantities: Sequence[str],
        rules: Rules,
        stretch_us: tuple[int, int],
        step_us: int,
    ) -> Iterator[Counted]:
        """Count the readings of a stretch, of all sensors for None."""
        start_us, end_us = stretch_us
        samples = self._samples(
            sensors, start_us - PAIRED_WITHIN_US, end_us + PAIRED_WITHIN_US, quantities
        )
        made = with_derived(samples, quantities, rules.pressure_pa)
        return counted(only(made, quantities), rules.held, start_us, end_us, step_us)

    def _samples(
        self,
        sensors: Sequence[str] | None,
        start_us: int,
        end_us: int,
        quantities: Sequence[str],
    ) -> dict[Line, Samples]:
        names = self._series(sensors, quantities)
        asked = select(
            READINGS.c.series, type_coerce(READINGS.c.time, Whole), READINGS.c.value
        ).where(
            READINGS.c.time >= from_micros(start_us),
            READINGS.c.time < from_micros(end_us),
            READINGS.c.series.in_(list(names)),
        )
        return _by_line(self._connection.execute(asked.order_by(READINGS.c.time)).all(), names)

    def _series(self, sensors: Sequence[str] | None, quantities: Sequence[str]) -> dict[int, Line]:
        """Return the series that these quantities are reckoned from, by number."""
        derived = any(name not in MEASURED for name in quantities)
        wanted = {
            quantity.value
            for name, quantity in MEASURED.items()
            if name in quantities or (derived and quantity in _PAIR)
        }
        asked = select(SERIES.c.id, SERIES.c.sensor, SERIES.c.quantity).where(
            SERIES.c.quantity.in_(wanted)
        )
        if sensors is not None:
            asked = asked.where(SERIES.c.sensor.in_(sensors))
        found = self._connection.execute(asked)
        return {row.id: (row.sensor, _OF_QUANTITY[row.quantity]) for row in found}

    def late(
        self, sensors: Sequence[str] | None, start_us: int, end_us: int
    ) -> dict[Line, Samples]:
        """Return what came for a time whose readings were dropped."""
        names = self._series(sensors, tuple(CODES))
        asked = (
            select(LATE.c.series, type_coerce(LATE.c.time, Whole), LATE.c.value)
            .where(
                LATE.c.time >= from_micros(start_us),
                LATE.c.time < from_micros(end_us),
                LATE.c.series.in_(list(names)),
            )
            .order_by(LATE.c.time)
        )
        return _by_line(self._connection.execute(asked), names)

    def rules(self, sensors: Sequence[str] | None) -> Rules:
        """Return what readings are held against, those of all sensors for None."""
        asked = select(HELD).order_by(HELD.c.sensor, HELD.c.quantity, HELD.c.since)
        if sensors is not None:
            asked = asked.where(HELD.c.sensor.in_(sensors))
        found: dict[Line, list[Held]] = {}
        for sensor, quantity, since, low, high in self._connection.execute(asked):
            found.setdefault((sensor, quantity), []).append(Held(to_micros(since), low, high))
        said = SqlKept(self._connection).text(PRESSURE)
        held = {line: tuple(history) for line, history in found.items()}
        return Rules(held, STANDARD_PRESSURE_PA if said is None else float(said))


def only(made: Mapping[Line, Samples], quantities: Sequence[str]) -> dict[Line, Samples]:
    """Return the samples of some quantities."""
    return {line: samples for line, samples in made.items() if line[1] in quantities}


def _by_line(
    rows: Iterable[Row[int, int, float]], names: Mapping[int, Line]
) -> dict[Line, Samples]:
    found: dict[int, tuple[list[int], list[float]]] = {n: ([], []) for n in names}
    for series, at_us, value in rows:
        times, values = found[series]
        times.append(at_us)
        values.append(value)
    return {names[n]: Samples(*lists) for n, lists in found.items() if lists[0]}
