"""The reckoning of stretches: from samples to what they came to.

Times are whole microseconds since 1970, as they lie in the database: a year of readings passes
through here, and making a `datetime` of each would take most of the time.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from chamberwatch.core.air.derived import DERIVED, derive

TEMPERATURE: Final = "temperature_c"
HUMIDITY: Final = "humidity_pct"

PAIRED_WITHIN_US: Final = 60_000_000
"""A temperature and a humidity further apart than this do not describe the same air. [us]"""


class Samples(NamedTuple):
    """What one sensor said of one quantity, in order of time.

    Attributes:
        at_us: when, since 1970. [us]
        values: in the unit of the quantity.
    """

    at_us: Sequence[int]
    values: Sequence[float]


class Held(NamedTuple):
    """What samples are held against from a time on.

    Attributes:
        since_us: from when on, since 1970. [us]
        low: below this lies below the band; None: there is no such limit.
        high: above this lies above the band. With neither of them nothing is judged.
    """

    since_us: int
    low: float | None
    high: float | None


class Tally(NamedTuple):
    """What some samples came to; see `Summary`, of which this is the part that adds up.

    A tuple has a `count` of its own, so the samples are a number here.
    """

    number: int
    least: float
    total: float
    most: float
    within: int
    below: int
    above: int


class Counted(NamedTuple):
    """The tally of one quantity of one sensor in one stretch, which begins at `start_us`."""

    start_us: int
    sensor: str
    quantity: str
    tally: Tally


Line = tuple[str, str]
"""A sensor and a quantity, by the name that the API has for it."""

_UNJUDGED: Final = (Held(-(2**63), None, None),)


def counted(
    samples: Mapping[Line, Samples],
    bands: Mapping[Line, Sequence[Held]],
    start_us: int,
    end_us: int,
    step_us: int,
) -> Iterator[Counted]:
    """Yield what the samples from one time to another came to, in whole steps since 1970.

    Empty stretches are left out.

    Args:
        samples: by sensor and quantity; what lies outside is of use for pairing only.
        bands: of each, oldest first; what is missing is not judged.
        start_us: from when on. [us]
        end_us: until before when. [us]
        step_us: length of the stretches. [us]
    """
    for (sensor, quantity), (at_us, values) in samples.items():
        held = bands.get((sensor, quantity), ())
        first, last = bisect_left(at_us, start_us), bisect_left(at_us, end_us)
        while first < last:
            begins = at_us[first] // step_us * step_us
            until = bisect_left(at_us, begins + step_us, first, last)
            tally = _judged(at_us, values, held, first, until)
            yield Counted(begins, sensor, quantity, tally)
            first = until


def _judged(
    at_us: Sequence[int],
    values: Sequence[float],
    held: Sequence[Held],
    first: int,
    until: int,
) -> Tally:
    """Count samples, each against the band that held when it was taken."""
    if not held:
        return tally(values[first:until], None, None)
    begins, ends = at_us[first], at_us[until - 1]
    since = [each.since_us for each in held]
    # The last that began at or before each end of the stretch.
    one, other = (bisect_left(since, time + 1) - 1 for time in (begins, ends))
    bands = [*(_UNJUDGED if one < 0 else ()), *held[max(one, 0) : other + 1]]
    if len(bands) == 1:
        return tally(values[first:until], bands[0].low, bands[0].high)
    cuts = [first, *(bisect_left(at_us, b.since_us, first, until) for b in bands[1:]), until]
    parts = (
        tally(values[a:b], band.low, band.high)
        for band, (a, b) in zip(bands, pairwise(cuts), strict=True)
        if a < b
    )
    return together(parts)


def tally(values: Sequence[float], low: float | None, high: float | None) -> Tally:
    """Count samples, at least one, against one band."""
    count, least, most = len(values), min(values), max(values)
    if low is None and high is None:
        return Tally(count, least, sum(values), most, 0, 0, 0)
    below = sum([value < low for value in values]) if low is not None and least < low else 0
    above = sum([value > high for value in values]) if high is not None and most > high else 0
    return Tally(count, least, sum(values), most, count - below - above, below, above)


def together(tallies: Iterable[Tally]) -> Tally:
    """Return what several stretches came to, at least one."""
    count, least, total, most, within, below, above = zip(*tallies, strict=True)
    return Tally(
        sum(count), min(least), sum(total), max(most), sum(within), sum(below), sum(above)
    )


# ---------------------------------------------------------------- what follows from two


def with_derived(
    samples: Mapping[Line, Samples], quantities: Iterable[str], pressure_pa: float
) -> dict[Line, Samples]:
    """Return samples, and beside them what is derived of each pair of one sensor.

    Args:
        samples: by sensor and quantity.
        quantities: which to derive; names that are not those of `DERIVED` are passed over.
        pressure_pa: of the air. [Pa]
    """
    made = dict(samples)
    wanted = [name for name in quantities if name in DERIVED]
    for sensor in {sensor for sensor, _ in samples} if wanted else ():
        warm, humid = samples.get((sensor, TEMPERATURE)), samples.get((sensor, HUMIDITY))
        if warm is None or humid is None:
            continue
        pairs = list(paired(warm, humid))
        for name in wanted:
            made[sensor, name] = _derived(name, pairs, pressure_pa)
    return made


def _derived(name: str, pairs: Sequence[tuple[int, float, float]], pressure_pa: float) -> Samples:
    found = [
        (time, value)
        for time, warm, humid in pairs
        if (value := derive(name, warm, humid, pressure_pa)) is not None
    ]
    return Samples([time for time, _ in found], [value for _, value in found])


def paired(warm: Samples, humid: Samples) -> Iterator[tuple[int, float, float]]:
    """Yield each temperature with the humidity nearest to it in time, and when it was taken.

    Of two equally near the later one counts; without one near enough it is passed over.
    """
    if warm.at_us == humid.at_us:
        # Both in one message, as most sensors send them.
        yield from zip(warm.at_us, warm.values, humid.values, strict=True)
        return
    times, place, last = humid.at_us, 0, len(humid.at_us) - 1
    for at_us, value in zip(warm.at_us, warm.values, strict=True):
        while place < last and abs(times[place + 1] - at_us) <= abs(times[place] - at_us):
            place += 1
        if last >= 0 and abs(times[place] - at_us) <= PAIRED_WITHIN_US:
            yield at_us, value, humid.values[place]
