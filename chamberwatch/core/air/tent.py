"""The tent model: three balances (water, CO2, heat) of one well-mixed chamber.

Each balance is linear over a short step and is solved exactly there (an exponential), so the
result hardly depends on the step: C(t) = C_end + (C_0 - C_end) e^(-k t). Source rates are those
of published figures, expect a factor of two either way.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

from chamberwatch.core.air.psychrometrics import saturation_pressure_pa

_WATER_GAS: Final = 461.5  # J/(kg K)
_KELVIN: Final = 273.15
_CO2_G_PER_M3_PPM: Final = 44.0095 * 101_325.0 / (8.314462618 * 293.15) * 1e-6
"""Grams of CO2 in a cubic metre for each ppm, at 20 °C: 1.8295e-3."""

# Evaporation of a wet surface in still air: about 8.7 g/(m2 h) into 90 % air and 74 into 50 % at
# 20 °C (natural convection form of Shah 2002, HVAC&R Res. 8(1):125, coefficients from memory).
# Between those it is close to a power of the vapour density deficit [g/m3]: 8.7 = k 1.73^n,
# 74 = k 8.64^n.
_EVAPORATION_POWER: Final = 1.333
_EVAPORATION_K: Final = 4.19

Q10: Final = 2.5
"""Respiration grows so much in 10 K (synthesis of published figures)."""


@dataclass(frozen=True, slots=True)
class TentSpec:
    """What does not change.

    Attributes:
        volume_m3: free air. [m3]
        wet_area_m2: surface that can hold water. [m2]
        film_most_g: more water than this runs off. [g]
        fruit_kg: mushrooms. [kg]
        block_kg: colonised substrate of open blocks. [kg]
        spray_to_air: share of a misting that evaporates on its way, 0.2 to 0.6.
        heat_per_h: how fast the air takes on the temperature of the room. [1/h]
    """

    volume_m3: float = 0.5
    wet_area_m2: float = 0.5
    film_most_g: float = 60.0
    fruit_kg: float = 0.4
    block_kg: float = 4.0
    spray_to_air: float = 0.3
    heat_per_h: float = 2.0


@dataclass(frozen=True, slots=True)
class TentState:
    """The air of the chamber and the water on its walls.

    Attributes:
        temperature_c: of the air. [°C]
        vapour_g_per_m3: water in the air. [g/m3]
        co2_ppm: of the air. [ppm]
        film_g: water that stands on walls and floor. [g]
    """

    temperature_c: float
    vapour_g_per_m3: float
    co2_ppm: float
    film_g: float

    @property
    def humidity_pct(self) -> float:
        """Relative humidity. [%]."""
        return 100.0 * self.vapour_g_per_m3 / saturated_g_per_m3(self.temperature_c)


@dataclass(frozen=True, slots=True)
class RoomAir:
    """The air around the chamber. [°C], [%], [ppm]."""

    temperature_c: float
    humidity_pct: float
    co2_ppm: float


def saturated_g_per_m3(temperature_c: float) -> float:
    """Return how much water air can hold. [g/m3]."""
    return (
        1000.0 * saturation_pressure_pa(temperature_c) / (_WATER_GAS * (temperature_c + _KELVIN))
    )


def vapour_g_per_m3(temperature_c: float, humidity_pct: float) -> float:
    """Return how much water air holds. [g/m3]."""
    return saturated_g_per_m3(temperature_c) * humidity_pct / 100.0


def state_of(
    temperature_c: float, humidity_pct: float, co2_ppm: float, film_g: float
) -> TentState:
    """Return a state given as a person would. [°C], [%], [ppm], [g]."""
    return TentState(temperature_c, vapour_g_per_m3(temperature_c, humidity_pct), co2_ppm, film_g)


def respiration_g_per_h(spec: TentSpec, temperature_c: float) -> float:
    """Return the CO2 that blocks and fruit give off. [g/h].

    0.29 g/(kg h) for fruit and 0.05 for a colonised block at 20 °C (synthesis of Suslow &
    Cantwell, UC Davis Produce Facts: Mushroom, and others; common practice, a factor of two).
    """
    at_20 = 0.29 * spec.fruit_kg + 0.05 * spec.block_kg
    return float(at_20 * Q10 ** ((temperature_c - 20.0) / 10.0))


def evaporation_g_per_h(spec: TentSpec, state: TentState) -> float:
    """Return what the wet surface and the fruit give to the air. [g/h].

    A mushroom evaporates about as much as free water of the same area (San Antonio & Flegg 1964,
    Am. J. Bot.); 0.05 m2 a kilogram is common practice.
    """
    deficit = saturated_g_per_m3(state.temperature_c) - state.vapour_g_per_m3
    if deficit <= 0.0:
        return 0.0
    wetted = spec.wet_area_m2 * min(1.0, state.film_g / (0.2 * spec.film_most_g))
    return float((wetted + 0.05 * spec.fruit_kg) * _EVAPORATION_K * deficit**_EVAPORATION_POWER)


def step(
    state: TentState, spec: TentSpec, room: RoomAir, air_changes_per_h: float, dt_s: float
) -> TentState:
    """Let time pass.

    Args:
        state: at the start.
        spec: of the chamber.
        room: the air that comes in.
        air_changes_per_h: leakage and fan together. [1/h]
        dt_s: how long, up to a minute or two for a fine result. [s]
    """
    hours = dt_s / 3600.0
    # Rates as they are halfway: at the start alone a minute would be a few per cent off.
    halfway = _moved(state, state, spec, room, air_changes_per_h, hours / 2)
    # What dries off early in a long step was wet for a part of it.
    halfway = replace(halfway, film_g=max(halfway.film_g, state.film_g / 2))
    return _condensed(_moved(state, halfway, spec, room, air_changes_per_h, hours), spec)


def _moved(
    state: TentState, at: TentState, spec: TentSpec, room: RoomAir, n: float, hours: float
) -> TentState:
    """Return the state after some hours with the rates that hold at the state `at`."""
    co2_source = respiration_g_per_h(spec, at.temperature_c) / (_CO2_G_PER_M3_PPM * spec.volume_m3)
    incoming = vapour_g_per_m3(room.temperature_c, room.humidity_pct)
    vapour, evaporated = _vapour(state, at, spec, incoming, n, hours)
    return TentState(
        temperature_c=_approach(
            state.temperature_c, room.temperature_c, n + spec.heat_per_h, 0.0, hours
        ),
        vapour_g_per_m3=vapour,
        co2_ppm=_approach(state.co2_ppm, room.co2_ppm, n, co2_source, hours),
        film_g=max(state.film_g - evaporated, 0.0),
    )


def _approach(
    start: float, inlet: float, per_h: float, source_per_h: float, hours: float
) -> float:
    """Solve dx/dt = per_h (inlet - x) + source exactly."""
    if per_h <= 0.0:
        return start + source_per_h * hours
    end = inlet + source_per_h / per_h
    return end + (start - end) * math.exp(-per_h * hours)


def _vapour(
    state: TentState, at: TentState, spec: TentSpec, incoming: float, n: float, hours: float
) -> tuple[float, float]:
    """Return the vapour after the step and the water that left the wet surface. [g/m3], [g].

    Evaporation is taken as proportional to the deficit over the step (with its slope at the state
    `at`), which makes the balance linear: air changes pull towards the room, the surface towards
    saturation.
    """
    saturated = saturated_g_per_m3(at.temperature_c)
    deficit = saturated - at.vapour_g_per_m3
    rate = evaporation_g_per_h(spec, at)
    pull = rate / deficit / spec.volume_m3 if deficit > 0.0 else 0.0
    total = n + pull
    if total <= 0.0:
        return state.vapour_g_per_m3, 0.0
    end = (n * incoming + pull * saturated) / total
    share = -math.expm1(-total * hours)
    after = state.vapour_g_per_m3 + (end - state.vapour_g_per_m3) * share
    # What the surface gave follows from the mean over the step.
    mean_share = share / (total * hours) if total * hours > 0.0 else 1.0
    mean = end + (state.vapour_g_per_m3 - end) * mean_share
    evaporated = pull * (saturated - mean) * hours * spec.volume_m3
    from_film = evaporated if state.film_g > 0.0 else 0.0
    if from_film > state.film_g:
        after -= (from_film - state.film_g) / spec.volume_m3
        from_film = state.film_g
    return after, from_film


def _condensed(state: TentState, spec: TentSpec) -> TentState:
    """Let what the air can't hold settle on the walls."""
    excess = state.vapour_g_per_m3 - saturated_g_per_m3(state.temperature_c)
    if excess <= 0.0:
        return state
    film = min(state.film_g + excess * spec.volume_m3, spec.film_most_g)
    return replace(state, vapour_g_per_m3=state.vapour_g_per_m3 - excess, film_g=film)


def mist(state: TentState, spec: TentSpec, grams: float) -> TentState:
    """Spray water: part of it into the air, the rest onto walls and floor. [g]."""
    to_air = grams * spec.spray_to_air
    wetter = replace(
        state,
        vapour_g_per_m3=state.vapour_g_per_m3 + to_air / spec.volume_m3,
        film_g=min(state.film_g + grams - to_air, spec.film_most_g),
    )
    return _condensed(wetter, spec)
