"""Minutes and weeks of air, made up."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta

from chamberwatch.core.growing.band import Band
from chamberwatch.core.review.climate import Climate, Freshness, Holding, HourOfDay, Share
from chamberwatch.core.review.summary import Summary
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Quantity

MONDAY = datetime(2026, 11, 16, tzinfo=UTC)
HUMID = Band(80.0, 95.0, 70.0)
MINUTE = timedelta(minutes=1)


def minutes(
    values: Sequence[float | None], band: Band | None = HUMID, start: datetime = MONDAY
) -> Iterator[Summary]:
    """Yield a minute of two equal samples for each value; none for None."""
    for number, value in enumerate(values):
        if value is None:
            continue
        below = band is not None and band.low is not None and value < band.low
        above = band is not None and band.high is not None and value > band.high
        within = band is not None and not below and not above
        yield Summary(
            start + number * MINUTE, 2, value, value, value, 2 * within, 2 * below, 2 * above
        )


def share(
    quantity: Quantity = Quantity.HUMIDITY,
    *,
    within: int = 900,
    below: int = 0,
    above: int = 0,
    heard: timedelta = timedelta(days=7),
) -> Share:
    """Return a share of so many samples."""
    return Share(quantity, heard, within + below + above, within, below, above, 61.0, 84.5, 97.2)


def hours(outside: Mapping[int, int], *, above: bool = False) -> tuple[HourOfDay, ...]:
    """Return a day with so many samples outside in some of its hours."""
    return tuple(
        HourOfDay(
            hour,
            85.0,
            60,
            60 - outside.get(hour, 0),
            0 if above else outside.get(hour, 0),
            outside.get(hour, 0) if above else 0,
        )
        for hour in range(24)
    )


def misting(
    held_min: float | None = None, *, action: int | None = 1, confirmed: bool | None = None
) -> Found:
    """Return a misting that held so long."""
    held = None if held_min is None else timedelta(minutes=held_min)
    return Found(
        0,
        "tent",
        Kind.MISTING,
        MONDAY,
        MONDAY + MINUTE,
        action=action,
        confirmed=confirmed,
        held=held,
    )


def climate(
    shares: Sequence[Share],
    day: Mapping[Quantity, tuple[HourOfDay, ...]] | None = None,
    held: Sequence[timedelta] = (),
) -> Climate:
    """Return a week with these shares."""
    return Climate(
        "tent",
        MONDAY,
        MONDAY + timedelta(days=7),
        tuple(shares),
        (),
        day or {},
        Holding(len(held), 0, tuple(held)),
        Freshness(0, None, None, None, 0),
    )
