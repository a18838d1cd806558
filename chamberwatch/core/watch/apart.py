"""Two sensors in the same air that do not agree.

Compared is the water in the air, as vapour pressure: a sensor that is 1 K warmer than another
reads 5.6 % less humidity in the same air of 90 %, and both are right.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.air.accuracy import Accuracy
from chamberwatch.core.air.psychrometrics import saturation_pressure_pa
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.doubt import Doubted, Finding, Key
from chamberwatch.core.watch.lately import Seen, Track
from chamberwatch.core.watch.reading import Place, Quantity

CALM_FOR: Final = timedelta(minutes=20)
"""After a deed or a fast change the air of a chamber is not yet one air."""

# Common practice: more than this within `CALM_FOR` is a change that sensors follow unequally.
CALM_K: Final = 1.0
CALM_PCT: Final = 4.0

PAIRED_WITHIN: Final = timedelta(seconds=60)
COMPARED_WITHIN: Final = timedelta(minutes=10)

_STEP_K: Final = 0.05

AIR: Final = frozenset({Quantity.TEMPERATURE, Quantity.HUMIDITY})


@dataclass(frozen=True, slots=True)
class Pair:
    """The water in the air as one sensor has it.

    Attributes:
        sensor: its name.
        at: time of the newer of its two readings.
        vapour_pa: vapour pressure. [Pa]
        spread_pa: how far that may be off by the sensor's own claim, as ±. [Pa]
        calm: its values have not changed fast for `CALM_FOR`.
    """

    sensor: str
    at: datetime
    vapour_pa: float
    spread_pa: float
    calm: bool


def vapour_pa(
    temperature_c: float, humidity_pct: float, accuracy: Accuracy
) -> tuple[float, float]:
    """Return the vapour pressure and its ±. [Pa].

    Args:
        temperature_c: dry bulb. [°C]
        humidity_pct: relative humidity. [%]
        accuracy: what the sensor claims.

    Source: e = RH es(T); first-order propagation, errors of temperature and humidity independent.
    """
    saturation = saturation_pressure_pa(temperature_c)
    per_k = (saturation_pressure_pa(temperature_c + _STEP_K) - saturation) / _STEP_K
    by_humidity = saturation / 100.0 * accuracy.humidity_at_pct(humidity_pct)
    by_temperature = humidity_pct / 100.0 * per_k * accuracy.temperature_k
    spread = float((by_humidity**2 + by_temperature**2) ** 0.5)
    return saturation * humidity_pct / 100.0, spread


def apart(one: Pair, other: Pair) -> bool:
    """Tell whether two differ by more than both may be off at once."""
    return abs(one.vapour_pa - other.vapour_pa) > one.spread_pa + other.spread_pa


def disagreeing(
    sensors: Sequence[Sensor], seen: Seen, faulty: frozenset[str]
) -> Iterator[tuple[Key, Finding]]:
    """Compare the sensors that hang in the air of one chamber.

    Args:
        sensors: those of the chamber.
        seen: what is known of them.
        faulty: names of those in doubt for another reason: they are the ones to blame.
    """
    if sum(sensor.place is Place.AIR for sensor in sensors) < 2:
        return
    pairs = [pair for sensor in sensors if (pair := _pair(sensor, seen)) is not None]
    blamed = faulty | {pair.sensor for pair in pairs if _odd_one_out(pair, pairs)}
    for pair in pairs:
        key = (pair.sensor, Doubted.DISAGREEING, Quantity.HUMIDITY)
        yield key, _of(pair, _beside(pair, pairs), blamed)


def _pair(sensor: Sensor, seen: Seen) -> Pair | None:
    warmth = seen.tracks.get((sensor.name, Quantity.TEMPERATURE))
    damp = seen.tracks.get((sensor.name, Quantity.HUMIDITY))
    if sensor.place is not Place.AIR or warmth is None or damp is None:
        return None
    if sensor.name in seen.silent or abs(warmth.time - damp.time) > PAIRED_WITHIN:
        return None
    at = max(warmth.time, damp.time)
    touched = seen.touched.get(sensor.chamber)
    undisturbed = touched is None or at - touched >= CALM_FOR
    calm = undisturbed and _calm(warmth, CALM_K) and _calm(damp, CALM_PCT)
    vapour, spread = vapour_pa(warmth.value, damp.value, sensor.accuracy)
    return Pair(sensor.name, at, vapour, spread, calm)


def _calm(track: Track, most: float) -> bool:
    since = track.time - CALM_FOR
    return track.cells[0].start <= since and track.moved(since) <= most


def _beside(pair: Pair, pairs: Sequence[Pair]) -> list[Pair]:
    return [p for p in pairs if p is not pair and abs(p.at - pair.at) <= COMPARED_WITHIN]


def _odd_one_out(pair: Pair, pairs: Sequence[Pair]) -> bool:
    """Tell whether one is apart from all others while those agree among themselves."""
    others = _beside(pair, pairs)
    if len(others) < 2 or not all(apart(pair, other) for other in others):
        return False
    return not any(apart(a, b) for i, a in enumerate(others) for b in others[i + 1 :])


def _of(pair: Pair, others: Sequence[Pair], blamed: frozenset[str]) -> Finding:
    if not others or not all(each.calm for each in (pair, *others)):
        return Finding(pair.at, bad=None)
    against = [other.sensor for other in others if apart(pair, other)]
    if not against:
        return Finding(pair.at, bad=False)
    if pair.sensor in blamed:
        words = (
            f"{pair.sensor} disagrees with {' and '.join(against)} in calm air by more than both "
            f"may be off. Dry it, hang it beside the other, and check it over salt."
        )
        return Finding(pair.at, True, words, AIR)
    rest = [name for name in against if name not in blamed]
    if not rest:
        return Finding(pair.at, bad=False)
    words = (
        f"One of the two is wrong: {pair.sensor} and {rest[0]} disagree in calm air by more than "
        f"both may be off. Hang them side by side for half an hour; if they still differ, check "
        f"both over salt."
    )
    return Finding(pair.at, True, words)
