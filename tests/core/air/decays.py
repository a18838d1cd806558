"""Records of CO2 after a step, from the tent model, as an imperfect sensor shows them."""

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final

from chamberwatch.core.air.accuracy import DIGITAL
from chamberwatch.core.air.exchange import Curve, Inlet, Refused, fit
from chamberwatch.core.air.tent import RoomAir, TentSpec, TentState, state_of, step

TICK_S: Final = 5.0
LAG_S: Final = 90.0
"""What the fit is told; the true lag is 60 to 120 s."""
INLET_SPREAD_PPM: Final = 30.0
FRUIT_G_PER_KG_H: Final = 0.29


@dataclass(frozen=True, slots=True)
class Sensor:
    """How a sensor is wrong: ppm, share, ppm, seconds, seconds, seconds."""

    offset_ppm: float
    gain: float
    noise_ppm: float
    memory_s: float
    lag_s: float
    interval_s: float


@dataclass(frozen=True, slots=True)
class Run:
    """One chamber and one sensor, the truth of it, and what the fit is told."""

    per_h: float
    source_g_per_h: float
    volume_m3: float
    start_ppm: float
    room_ppm: float
    inlet: Inlet
    sensor: Sensor
    minutes: float

    @property
    def end_ppm(self) -> float:
        return self.room_ppm + self.source_g_per_h / (self.per_h * self.volume_m3 * 1.8295e-3)


Points = list[tuple[float, float]]
Around = Callable[[float], tuple[float, float]]
"""CO2 of the room [ppm] and air changes [1/h] at a time [s]."""


def log_uniform(rng: random.Random, low: float, high: float) -> float:
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def drawn(seed: int, per_h: tuple[float, float] = (0.3, 9.0)) -> Run:
    """Three in five are vented down, the others rise again after a vent."""
    rng = random.Random(seed)  # noqa: S311 - noise, no secret
    room_ppm = rng.uniform(420.0, 700.0)
    run = Run(
        per_h=log_uniform(rng, *per_h),
        source_g_per_h=log_uniform(rng, 0.02, 1.0),
        volume_m3=log_uniform(rng, 0.05, 1.0),
        start_ppm=0.0,
        room_ppm=room_ppm,
        inlet=Inlet(room_ppm + rng.uniform(-30.0, 30.0), INLET_SPREAD_PPM),
        sensor=Sensor(
            offset_ppm=rng.uniform(-50.0, 50.0),
            gain=rng.uniform(0.95, 1.05),
            noise_ppm=rng.uniform(3.0, 10.0),
            memory_s=rng.uniform(30.0, 120.0),
            lag_s=rng.uniform(60.0, 120.0),
            interval_s=rng.choice([5.0, 30.0]),
        ),
        minutes=rng.uniform(20.0, 90.0),
    )
    if rng.random() < 0.6:
        return replace(run, start_ppm=max(rng.uniform(1000.0, 4000.0), run.end_ppm + 200.0))
    return replace(run, start_ppm=room_ppm + rng.uniform(0.0, 100.0))


def chamber_ppm(run: Run, around: Around, puff: tuple[float, float]) -> Iterator[float]:
    """What the air of the tent holds, tick by tick; a puff is a time [s] and a jump [ppm]."""
    spec = TentSpec(
        volume_m3=run.volume_m3,
        wet_area_m2=0.0,
        fruit_kg=run.source_g_per_h / FRUIT_G_PER_KG_H,
        block_kg=0.0,
        heat_j_per_k=1e12,  # so that the source stays as it is
    )
    state: TentState = state_of(20.0, 90.0, run.start_ppm, 0.0)
    for tick in range(int(run.minutes * 60.0 / TICK_S) + 1):
        yield state.co2_ppm
        at_s = tick * TICK_S
        room_ppm, per_h = around(at_s)
        state = step(state, spec, RoomAir(20.0, 60.0, room_ppm), per_h, TICK_S)
        if at_s <= puff[0] < at_s + TICK_S:
            state = replace(state, co2_ppm=state.co2_ppm + puff[1])


def shown(
    run: Run, seed: int, around: Around | None = None, puff: tuple[float, float] = (-1.0, 0.0)
) -> Points:
    """What the sensor shows: lagged, stretched, shifted, with noise that wanders, whole ppm."""
    rng, sensor = random.Random(-seed - 1), run.sensor  # noqa: S311 - noise, no secret
    lagged, before = run.start_ppm + rng.choice([0.0, rng.uniform(0.0, 500.0)]), run.start_ppm
    towards = math.exp(-TICK_S / sensor.lag_s)
    kept = math.exp(-sensor.interval_s / sensor.memory_s)
    noise, every, points = rng.gauss(0.0, sensor.noise_ppm), int(sensor.interval_s / TICK_S), []
    steady: Around = lambda _: (run.room_ppm, run.per_h)  # noqa: E731
    for tick, ppm in enumerate(chamber_ppm(run, around or steady, puff)):
        middle = (ppm + before) / 2.0
        lagged, before = middle + (lagged - middle) * towards, ppm
        if tick % every == 0:
            value = sensor.gain * lagged + sensor.offset_ppm + noise
            points.append((tick * TICK_S, float(round(value))))
            fresh = math.sqrt(1.0 - kept * kept) * sensor.noise_ppm
            noise = kept * noise + rng.gauss(0.0, fresh)
    return points


def fitted(run: Run, points: Points) -> Curve | Refused:
    return fit(points, lag_s=LAG_S, accuracy=DIGITAL, inlet=run.inlet)
