"""The record of a chamber on even steps of time, ready to be searched for mistings and ventings.

The water in the air is followed as vapour density, not as relative humidity: a radiator that
warms the air by 1 K lowers the humidity by 5 to 6 % and leaves the vapour density as it was.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Final

from chamberwatch.core.air.psychrometrics import saturation_pressure_pa, usable_humidity_pct

Points = Sequence[tuple[float, float]]
"""(seconds, value) in order of time."""

STEP_S: Final = 30.0
"""Twice as fine as the slowest sensor that can show a squeeze (one report a minute). [s]"""

GAP_S: Final = 300.0
"""Across a longer gap nobody can say whether a change was fast. [s]"""

SPIKE_SHARE: Final = 0.25
"""A value is a lone spike where its neighbours differ by less than this share of its height."""

SURE: Final = 5.0
"""Standard deviations of the noise that a step must stand out by. A day has 2880 steps of 30 s,
so less than five would let pure noise through now and then."""

_MAD_TO_SIGMA: Final = 1.4826  # of a normal distribution
_WATER_GAS: Final = 461.5  # J/(kg K)
_KELVIN: Final = 273.15


@dataclass(frozen=True, slots=True)
class Record:
    """What was read in a chamber and in the room around it, each in order of time.

    Attributes:
        temperature: of the chamber. [s], [°C]
        humidity: of the chamber. [s], [%]
        co2: of the chamber; empty without such a sensor. [s], [ppm]
        room_temperature: of the surrounding. [s], [°C]
        room_humidity: of the surrounding. [s], [%]
        room_co2: of the surrounding. [s], [ppm]
    """

    temperature: Points
    humidity: Points
    co2: Points = ()
    room_temperature: Points = ()
    room_humidity: Points = ()
    room_co2: Points = ()


@dataclass(frozen=True, slots=True)
class Run:
    """An unbroken stretch of a record on even steps.

    Attributes:
        start_s: time of the first step. [s]
        vapour: water in the air. [g/m3]
        humidity: relative humidity. [%]
        co2: None where it was not read. [ppm]
        room_vapour: water in the air of the room, None where not known. [g/m3]
        room_co2: of the room, None where not known. [ppm]
    """

    start_s: float
    vapour: tuple[float, ...]
    humidity: tuple[float, ...]
    co2: tuple[float | None, ...]
    room_vapour: tuple[float | None, ...]
    room_co2: tuple[float | None, ...]

    def time_s(self, index: float) -> float:
        """Return the time of a step, or between two. [s]."""
        return self.start_s + index * STEP_S


def vapour_g_per_m3(temperature_c: float, humidity_pct: float) -> float:
    """Return the water in the air as an ideal gas. [g/m3].

    Args:
        temperature_c: -90 to 150. [°C]
        humidity_pct: taken as 0.1 below and 100 above. [%]

    Source: ASHRAE Fundamentals (2017) ch. 1 eqn. 5 and 6 for the saturation pressure.
    """
    pressure = saturation_pressure_pa(temperature_c) * usable_humidity_pct(humidity_pct) / 100.0
    return 1000.0 * pressure / (_WATER_GAS * (temperature_c + _KELVIN))


def without_spikes(points: Points) -> list[tuple[float, float]]:
    """Flatten values that stand out alone while their neighbours agree with each other."""
    flat = list(points)
    for i in range(1, len(points) - 1):
        before, value, after = points[i - 1][1], points[i][1], points[i + 1][1]
        middle = (before + after) / 2.0
        if abs(before - after) < SPIKE_SHARE * abs(value - middle):
            flat[i] = (points[i][0], middle)
    return flat


def on_steps(points: Points, start_s: float, count: int) -> list[float | None]:
    """Read points off at even steps, None where they leave a gap.

    Args:
        points: in order of time.
        start_s: time of the first step. [s]
        count: how many steps.
    """
    even: list[float | None] = [None] * count
    for (t0, v0), (t1, v1) in pairwise(points):
        if not 0.0 < t1 - t0 <= GAP_S:
            continue
        first = max(math.ceil((t0 - start_s) / STEP_S), 0)
        last = min(math.floor((t1 - start_s) / STEP_S), count - 1)
        for step in range(first, last + 1):
            even[step] = v0 + (v1 - v0) * (start_s + step * STEP_S - t0) / (t1 - t0)
    return even


def runs(record: Record) -> list[Run]:
    """Cut a record into unbroken stretches on even steps."""
    if not record.humidity:
        return []
    # Steps begin at a reading: between readings a sudden change is smeared.
    start_s = record.humidity[0][0]
    count = int((record.humidity[-1][0] - start_s) // STEP_S) + 1

    def even(points: Points) -> list[float | None]:
        return on_steps(points, start_s, count)

    humidity = even(without_spikes(record.humidity))
    vapour = _vapour(even(without_spikes(record.temperature)), humidity)
    co2 = even(without_spikes(record.co2))
    room = _vapour(even(record.room_temperature), even(record.room_humidity))
    room_co2 = even(record.room_co2)
    return [
        Run(
            start_s + start * STEP_S,
            tuple(v for v in vapour[start:stop] if v is not None),
            tuple(h for h in humidity[start:stop] if h is not None),
            tuple(co2[start:stop]),
            tuple(room[start:stop]),
            tuple(room_co2[start:stop]),
        )
        for start, stop in _stretches(vapour)
    ]


def _vapour(
    temperature: Sequence[float | None], humidity: Sequence[float | None]
) -> list[float | None]:
    return [
        None if t is None or h is None else vapour_g_per_m3(t, h)
        for t, h in zip(temperature, humidity, strict=True)
    ]


def _stretches(values: Sequence[float | None]) -> list[tuple[int, int]]:
    """Return the half-open index ranges in which no value is missing."""
    found: list[tuple[int, int]] = []
    start: int | None = None
    for i, value in enumerate([*values, None]):
        if value is not None:
            start = i if start is None else start
        elif start is not None:
            found.append((start, i))
            start = None
    return found


def least_sure(statistic: Sequence[float], floor: float) -> float:
    """Return what a statistic must exceed to be more than its own noise.

    The noise of a humidity sensor wanders (it is autoregressive) and is rounded; taking the
    spread of the very statistic that is tested covers both. The median absolute deviation is
    not moved by the few steps at which something really happened.

    Args:
        statistic: at each step of a run.
        floor: never less than this.
    """
    if not statistic:
        return floor
    usual = median(statistic)
    spread = _MAD_TO_SIGMA * median(abs(value - usual) for value in statistic)
    return max(floor, usual + SURE * spread)
