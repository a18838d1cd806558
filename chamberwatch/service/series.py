"""Readings over time, measured and derived, raw or in steps."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

from chamberwatch.core.air.psychrometrics import air_state, dew_point_c, vpd_pa
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import UNITS, Place, Quantity, Reading
from chamberwatch.service.books import Book, Bucket, Span
from chamberwatch.service.views import SeriesPage, SeriesPoint

PAIRED_WITHIN: Final = timedelta(seconds=60)
"""A temperature and a humidity further apart than this do not describe the same air."""

PAGE: Final = 5000
DERIVED_AT_MOST: Final = 200_000

MEASURED: Final[dict[str, Quantity]] = {
    "temperature_c": Quantity.TEMPERATURE,
    "humidity_pct": Quantity.HUMIDITY,
    "co2_ppm": Quantity.CO2,
    "pressure_pa": Quantity.PRESSURE,
    **{quantity.value: quantity for quantity in Quantity},
}


@dataclass(frozen=True, slots=True)
class Derived:
    """A quantity computed from temperature [°C], humidity [%] and pressure [Pa]."""

    unit: str
    of: Callable[[float, float, float], float]


DERIVED: Final[dict[str, Derived]] = {
    "dew_point_c": Derived("°C", lambda t, rh, _p: dew_point_c(t, rh)),
    "vpd_kpa": Derived("kPa", lambda t, rh, _p: vpd_pa(t, rh) / 1000),
    "wet_bulb_c": Derived("°C", lambda t, rh, p: air_state(t, rh, p).wet_bulb_c),
    "humidity_ratio_g_per_kg": Derived(
        "g/kg", lambda t, rh, p: air_state(t, rh, p).humidity_ratio * 1000
    ),
}


@dataclass(frozen=True, slots=True)
class Query:
    """What is asked.

    Attributes:
        chamber: its name.
        quantity: a key of `MEASURED` or `DERIVED`.
        span: from when to when.
        step: bucket width, None for raw rows.
        limit: rows at most.
    """

    chamber: str
    quantity: str
    span: Span
    step: timedelta | None
    limit: int


def answer(book: Book, house: House, query: Query) -> SeriesPage:
    """Answer a query about readings of a chamber's air.

    Raises:
        UnknownNameError: no such chamber.
        RefusedError: no such quantity, or more than can be derived at once.
    """
    house.chamber(query.chamber)
    sensors = [s.name for s in house.sensors_in(query.chamber) if s.place is Place.AIR]
    if query.quantity in MEASURED:
        quantity = MEASURED[query.quantity]
        points = _measured(book, sensors, quantity, query)
        unit = UNITS[quantity]
    elif query.quantity in DERIVED:
        points = _derived(book, house, sensors, query)
        unit = DERIVED[query.quantity].unit
    else:
        known = ", ".join([*MEASURED, *DERIVED])
        raise RefusedError(f"There is no quantity “{query.quantity}”. Known: {known}.")
    return _page(query, unit, points)


def _page(query: Query, unit: str, points: Sequence[SeriesPoint]) -> SeriesPage:
    """Cut at the limit, never between rows of one time: the next page starts at a time."""
    shown, next_from = tuple(points), None
    if len(points) > query.limit:
        next_from = points[query.limit].time
        shown = tuple(p for p in points[: query.limit] if p.time < next_from)
        if not shown:
            raise RefusedError("More rows share one time than the limit; ask for a higher limit.")
    return SeriesPage(query.chamber, query.quantity, unit, shown, next_from)


def _measured(
    book: Book, sensors: Sequence[str], quantity: Quantity, query: Query
) -> list[SeriesPoint]:
    if query.step is not None:
        buckets = book.readings.buckets(
            sensors, quantity, query.span, query.step.total_seconds(), query.limit + 1
        )
        return [_of_bucket(bucket) for bucket in buckets]
    rows = book.readings.within(sensors, quantity, query.span, query.limit + 1)
    return [SeriesPoint(r.time, r.sensor, 1, r.value, r.value, r.value) for r in rows]


def _of_bucket(bucket: Bucket) -> SeriesPoint:
    return SeriesPoint(bucket.start, None, bucket.count, bucket.least, bucket.mean, bucket.most)


def _derived(book: Book, house: House, sensors: Sequence[str], query: Query) -> list[SeriesPoint]:
    derive = DERIVED[query.quantity].of
    found: list[SeriesPoint] = []
    at_most = query.limit + 1 if query.step is None else DERIVED_AT_MOST
    for time, sensor, temperature, humidity in _pairs(book, sensors, query.span):
        if len(found) >= at_most:
            if query.step is not None:
                raise RefusedError("That is too long a stretch to derive at once; halve it.")
            break
        try:
            value = derive(temperature, humidity, house.pressure_pa)
        except ValueError:
            # Plausible each alone, but no such air exists.
            continue
        found.append(SeriesPoint(time, sensor, 1, value, value, value))
    return found if query.step is None else list(_bucketed(found, query.step))[: query.limit + 1]


def _pairs(
    book: Book, sensors: Sequence[str], span: Span
) -> Iterator[tuple[datetime, str, float, float]]:
    """Yield each temperature with the humidity of the same sensor nearest to it in time."""
    start = span.start
    while True:
        warm = book.readings.within(sensors, Quantity.TEMPERATURE, Span(start, span.end), PAGE)
        if not warm:
            return
        around = Span(start - PAIRED_WITHIN, warm[-1].time + PAIRED_WITHIN * 2)
        humid = _all(book, sensors, Quantity.HUMIDITY, around)
        yield from _match(warm, humid)
        if len(warm) < PAGE:
            return
        start = warm[-1].time + timedelta(microseconds=1)


def _all(book: Book, sensors: Sequence[str], quantity: Quantity, span: Span) -> list[Reading]:
    found: list[Reading] = []
    start = span.start
    while True:
        page = book.readings.within(sensors, quantity, Span(start, span.end), PAGE)
        found.extend(page)
        if len(page) < PAGE:
            return found
        start = page[-1].time + timedelta(microseconds=1)


def _match(
    warm: Iterable[Reading], humid: Iterable[Reading]
) -> Iterator[tuple[datetime, str, float, float]]:
    by_sensor: dict[str, list[Reading]] = {}
    for reading in humid:
        by_sensor.setdefault(reading.sensor, []).append(reading)
    places = dict.fromkeys(by_sensor, 0)
    for reading in warm:
        partners = by_sensor.get(reading.sensor)
        if not partners:
            continue
        i = places[reading.sensor]
        while i + 1 < len(partners) and abs(partners[i + 1].time - reading.time) <= abs(
            partners[i].time - reading.time
        ):
            i += 1
        places[reading.sensor] = i
        if abs(partners[i].time - reading.time) <= PAIRED_WITHIN:
            yield reading.time, reading.sensor, reading.value, partners[i].value


def _bucketed(points: Iterable[SeriesPoint], step: timedelta) -> Iterator[SeriesPoint]:
    """Average per sample in whole steps since 1970."""
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    groups: dict[int, list[float]] = {}
    for point in points:
        groups.setdefault((point.time - epoch) // step, []).append(point.mean)
    for index in sorted(groups):
        values = groups[index]
        yield SeriesPoint(
            epoch + index * step,
            None,
            len(values),
            min(values),
            sum(values) / len(values),
            max(values),
        )
