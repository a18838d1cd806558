"""Days of an invented tent whose mistings and ventings are known, as its sensors report them."""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, field

from chamberwatch.core.air.tent import RoomAir, TentSpec, mist, state_of, step
from chamberwatch.core.watch.tracks import Record

HOUR_S = 3600.0
LEAK_PER_H = 0.8
VENT_PER_H = 30.0
SPEC = TentSpec(wet_area_m2=0.3, fruit_kg=0.3, block_kg=2.0, spray_to_air=0.3)


@dataclass(frozen=True)
class Done:
    """What the grower did: `vent_min` minutes from `at_s` on, then `mist_g` grams."""

    at_s: float
    vent_min: float = 0.0
    mist_g: float = 0.0

    @property
    def mist_s(self) -> float:
        return self.at_s + 60.0 * self.vent_min


@dataclass
class Day:
    """Readings of a day, and what is true of it."""

    every_s: float
    temperature: list[tuple[float, float]] = field(default_factory=list)
    humidity: list[tuple[float, float]] = field(default_factory=list)
    co2: list[tuple[float, float]] = field(default_factory=list)
    room_temperature: list[tuple[float, float]] = field(default_factory=list)
    room_humidity: list[tuple[float, float]] = field(default_factory=list)
    room_co2: list[tuple[float, float]] = field(default_factory=list)
    true_humidity: list[tuple[float, float]] = field(default_factory=list)

    def thinned(self, step_s: float = 30.0) -> Record:
        """Average in whole steps, as the database does, at the middle of each."""
        return Record(
            *(
                _thinned(points, step_s)
                for points in (
                    self.temperature,
                    self.humidity,
                    self.co2,
                    self.room_temperature,
                    self.room_humidity,
                    self.room_co2,
                )
            )
        )


def _thinned(points: Sequence[tuple[float, float]], step_s: float) -> list[tuple[float, float]]:
    groups: dict[int, list[float]] = {}
    for time_s, value in points:
        groups.setdefault(int(time_s // step_s), []).append(value)
    return [(k * step_s + step_s / 2, sum(v) / len(v)) for k, v in sorted(groups.items())]


def chance_of(seed: int) -> random.Random:
    """Return chance that is the same each time."""
    return random.Random(seed)  # noqa: S311 - an invented day, no secret


def plan(chance: random.Random, hours: float = 24.0) -> list[Done]:
    """Return a grower's day: ventings of 2 to 5 min, most of them followed by a misting."""
    deeds: list[Done] = []
    at = 1.0
    while at < hours - 1.0:
        kind = chance.random()
        vents = 0.0 if kind < 0.3 else chance.uniform(2.0, 5.0)
        grams = 0.0 if kind > 0.8 else chance.uniform(5.0, 20.0)
        deeds.append(Done(at * HOUR_S, vents, grams))
        at += chance.uniform(1.2, 4.0)
    return deeds


def room_at(time_s: float) -> RoomAir:
    """A winter's room: a radiator that clicks on every 50 min, people in the evening."""
    hours = time_s / HOUR_S
    radiator = 0.5 * math.sin(2 * math.pi * hours / 0.85)
    people = max(0.0, math.cos(2 * math.pi * (hours - 21.0) / 24))
    return RoomAir(
        20.0 + radiator + 0.7 * math.cos(2 * math.pi * (hours - 15.0) / 24),
        43.0 + 4.0 * math.sin(2 * math.pi * hours / 61.0) - 2.0 * radiator,
        520.0 + 330.0 * people,
    )


def live(
    deeds: Sequence[Done],
    chance: random.Random,
    *,
    hours: float = 24.0,
    every_s: float = 10.0,
    lag_s: float = 90.0,
    spec: TentSpec = SPEC,
    noisy: bool = True,
) -> Day:
    """Let the tent live and its sensors report, with noise that wanders, rounding and CO2 lag."""
    day = Day(every_s)
    state, inner = state_of(19.0, 90.0, 650.0, 15.0), min(every_s, 10.0)
    wander, seen_co2 = 0.0, 650.0
    keep = math.exp(-every_s / 300.0)
    misted: set[float] = set()
    share = 1.0 if noisy else 0.0
    for n in range(int(hours * HOUR_S / inner)):
        now = n * inner
        open_now = any(d.at_s <= now < d.mist_s for d in deeds)
        state = step(state, spec, room_at(now), VENT_PER_H if open_now else LEAK_PER_H, inner)
        for deed in deeds:
            if deed.mist_g and deed.mist_s <= now and deed.at_s not in misted:
                misted.add(deed.at_s)
                state = mist(state, spec, deed.mist_g)
        seen_co2 += (state.co2_ppm - seen_co2) * -math.expm1(-inner / lag_s)
        if n % int(every_s / inner):
            continue
        time_s, room = now + inner, room_at(now)
        # ±0.3 %RH that wanders over 5 min, and a little white noise.
        wander = keep * wander + 0.3 * math.sqrt(1 - keep**2) * chance.gauss(0.0, share)
        humidity = state.humidity_pct + wander + chance.gauss(0.0, 0.1 * share)
        day.true_humidity.append((time_s, state.humidity_pct))
        day.humidity.append((time_s, round(min(humidity, 100.0), 1)))
        day.temperature.append(
            (time_s, round(state.temperature_c + chance.gauss(0, 0.04 * share), 1))
        )
        day.co2.append((time_s, round(seen_co2 + chance.gauss(0.0, 6.0 * share))))
        day.room_temperature.append((time_s, round(room.temperature_c, 1)))
        day.room_humidity.append(
            (time_s, round(room.humidity_pct + chance.gauss(0.0, 0.3 * share), 1))
        )
        day.room_co2.append((time_s, round(room.co2_ppm + chance.gauss(0.0, 8.0 * share))))
    return day
