"""Readings over time, measured and derived, raw or in steps."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.air.derived import DERIVED
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import API_NAMES, EPOCH, UNITS, Quantity, Reading
from chamberwatch.service.books import Book, Bucket, Span
from chamberwatch.service.views import SeriesPage, SeriesPoint

PAIRED_WITHIN: Final = timedelta(seconds=60)
"""A temperature and a humidity further apart than this do not describe the same air."""

PAGE: Final = 5000
DERIVED_AT_MOST: Final = 200_000

MEASURED: Final[dict[str, Quantity]] = {
    **{name: quantity for quantity, name in API_NAMES.items()},
    **{quantity.value: quantity for quantity in Quantity},
}


MINUTE: Final = timedelta(minutes=1)

SUMMED: Final[dict[str, str]] = {
    **{name: name for name in DERIVED},
    **{
        asked: API_NAMES[quantity] for asked, quantity in MEASURED.items() if quantity in API_NAMES
    },
}
"""The name by which summaries of a quantity are kept, by every name it may be asked for."""


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
    sensors = house.air_sensors(query.chamber)
    summed = SUMMED.get(query.quantity)
    if summed is not None and query.step is not None and not query.step % MINUTE:
        points = _summed_up(book, sensors, summed, query, query.step)
        unit = UNITS[MEASURED[summed]] if summed in MEASURED else DERIVED[summed].unit
    elif query.quantity in MEASURED:
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


def _summed_up(
    book: Book, sensors: Sequence[str], name: str, query: Query, step: timedelta
) -> list[SeriesPoint]:
    """Return steps of whole minutes from what is summed up, a few more than the limit."""
    step_s = step // timedelta(seconds=1)
    found: list[SeriesPoint] = []
    start, end_at = query.span.start, query.span.end
    length = step * min(query.limit + 1, (end_at - start) // step + 1)
    while start < end_at and len(found) <= query.limit:
        # Cut where a step begins, so that none is answered in two parts.
        begun = _begun(start, step)
        end = end_at if end_at - begun <= length else begun + length
        said = book.summaries.columns(sensors, (name,), step_s, Span(start, end), judged=False)[
            name
        ]
        columns = (said.start_s, said.number, said.least, said.mean, said.most)
        found += [
            SeriesPoint(EPOCH + timedelta(seconds=at), None, number, least, mean, most)
            for at, number, least, mean, most in zip(*columns, strict=True)
        ]
        # In a stretch where nothing was heard for long, ever longer strides.
        start, length = end, length if said.start_s else length * 2
    return found


def _begun(time: datetime, step: timedelta) -> datetime:
    return EPOCH + (time - EPOCH) // step * step


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
    groups: dict[int, list[float]] = {}
    for point in points:
        groups.setdefault((point.time - EPOCH) // step, []).append(point.mean)
    for index in sorted(groups):
        values = groups[index]
        yield SeriesPoint(
            EPOCH + index * step,
            None,
            len(values),
            min(values),
            sum(values) / len(values),
            max(values),
        )
