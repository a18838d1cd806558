"""The tent model: three balances (water, CO2, heat) of one well-mixed chamber.

What a grower can say of it is here; `balances` solves it: exact exponentials over each step, with
the rates of its middle. Source rates are published figures; expect a factor of two either way.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

from chamberwatch.core.air.balances import (
    EVAPORATION_K,
    EVAPORATION_POWER,
    Run,
    advance,
    breathing,
    excess_g_per_m3,
    gain,
    saturation,
)
from chamberwatch.core.air.vent import co2_g_per_m3_per_ppm

CO2_G_PER_M3_PPM: Final = co2_g_per_m3_per_ppm(20.0)
"""Grams of CO2 in a cubic metre for each ppm, at 20 °C and sea level: 1.8295e-3."""

LATENT_J_PER_G: Final = 2454.0
"""Heat that a gram of water takes up as it evaporates at 20 °C. [J/g].

2501 - 2.326 T less half a joule, near ASHRAE Fundamentals (2017) ch. 1 (from memory).
"""

AIR_J_PER_M3_K: Final = 1215.0
"""Heat capacity of moist air at 20 °C and sea level: 1.18 kg of dry air, 1.03 J/(g K)."""

RESPIRED_J_PER_G: Final = 10_600.0
"""Heat of respiration for each gram of CO2: glucose, 2.8 MJ for six CO2 (from memory). [J/g]."""

FRUIT_M2_PER_KG: Final = 0.05
"""Wet area of mushrooms. [m2/kg]. Common practice."""

FRUIT_MOST: Final = 0.25
"""A first flush weighs up to so much of its open blocks: 550 g from 2.27 kg of lion's mane.

Stamets, Growing Gourmet and Medicinal Mushrooms (2000).
"""

# Below this share of the most it can hold, only part of the surface is wet (common practice).
_THIN: Final = 0.2


@dataclass(frozen=True, slots=True)
class TentSpec:
    """What does not change.

    Attributes:
        volume_m3: free air. [m3]
        wet_area_m2: surface that can hold water. [m2]
        film_most_g: more water than this runs off. [g]
        fruit_kg: mushrooms. [kg]
        block_kg: colonised substrate of open blocks. [kg]
        sealed_kg: colonised substrate of sealed blocks; they breathe through their filters and
            keep their water. [kg]
        spray_to_air: share of a misting that evaporates on its way, 0.2 to 0.6.
        cover_w_per_k: heat that passes the cover; about 4 m2 of thin film. [W/K]
        heat_j_per_k: heat capacity of what changes temperature with the air, beside the air
            itself: cover, wet floor, outside of blocks (common practice). [J/K]
    """

    volume_m3: float = 0.5
    wet_area_m2: float = 0.5
    film_most_g: float = 60.0
    fruit_kg: float = 0.4
    block_kg: float = 4.0
    sealed_kg: float = 0.0
    spray_to_air: float = 0.3
    cover_w_per_k: float = 20.0
    heat_j_per_k: float = 15_000.0


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


@dataclass(frozen=True, slots=True)
class Supply:
    """What devices give to the air of the chamber.

    Attributes:
        water_g_per_h: mist of a humidifier; it evaporates in the air and cools it. [g/h]
        heat_w: of a heater, a lamp, a pot of warm water. [W]
    """

    water_g_per_h: float = 0.0
    heat_w: float = 0.0


NOTHING: Final = Supply()


def saturated_g_per_m3(temperature_c: float) -> float:
    """Return how much water air can hold, over water, 0 to 45 °C. [g/m3]."""
    return saturation(temperature_c)[0]


def vapour_g_per_m3(temperature_c: float, humidity_pct: float) -> float:
    """Return how much water air holds. [g/m3]."""
    return saturated_g_per_m3(temperature_c) * humidity_pct / 100.0


def state_of(
    temperature_c: float, humidity_pct: float, co2_ppm: float, film_g: float
) -> TentState:
    """Return a state given as a person would. [°C], [%], [ppm], [g]."""
    return TentState(temperature_c, vapour_g_per_m3(temperature_c, humidity_pct), co2_ppm, film_g)


def respiration_g_per_h(spec: TentSpec, temperature_c: float) -> float:
    """Return the CO2 that blocks, open and sealed, and fruit give off. [g/h].

    0.29 g/(kg h) for fruit and 0.05 for a colonised block at 20 °C (synthesis of Suslow &
    Cantwell, UC Davis Produce Facts: Mushroom, and others; common practice, a factor of two).
    """
    at_20 = 0.29 * spec.fruit_kg + 0.05 * (spec.block_kg + spec.sealed_kg)
    return at_20 * breathing(temperature_c)


def grown(spec: TentSpec, days: float) -> TentSpec:
    """Return the chamber some days later in its flush, with more fruit. [days].

    Mushrooms double about daily from pin to harvest (common practice), up to `FRUIT_MOST` of the
    open blocks; fruit that already weighs more stays as it is.
    """
    most_kg = max(spec.fruit_kg, FRUIT_MOST * spec.block_kg)
    # 2^60 is more than any crop: the clamp keeps the power from overflowing.
    return replace(spec, fruit_kg=min(spec.fruit_kg * math.pow(2.0, min(days, 60.0)), most_kg))


def evaporation_g_per_m2_h(deficit_g_per_m3: float) -> float:
    """Return what a square metre of wet surface gives to still air. [g/(m2 h)].

    Args:
        deficit_g_per_m3: what the air still lacks to saturation. [g/m3]
    """
    if deficit_g_per_m3 <= 0.0:
        return 0.0
    return EVAPORATION_K * math.pow(deficit_g_per_m3, EVAPORATION_POWER)


def evaporation_g_per_h(spec: TentSpec, state: TentState) -> float:
    """Return what the wet surface and the fruit give to the air. [g/h].

    A mushroom evaporates about as much as free water of the same area (San Antonio & Flegg 1964,
    Am. J. Bot.).
    """
    deficit = saturated_g_per_m3(state.temperature_c) - state.vapour_g_per_m3
    wet_m2 = spec.wet_area_m2 * min(1.0, state.film_g / (_THIN * spec.film_most_g))
    return (wet_m2 + FRUIT_M2_PER_KG * spec.fruit_kg) * evaporation_g_per_m2_h(deficit)


def mist(state: TentState, spec: TentSpec, grams: float) -> TentState:
    """Spray water: part of it into the air, the rest onto walls and floor. [g].

    The air takes no more than it can hold, which is less than it seems as it cools on the way.
    """
    cooling = _cooling_k_m3_per_g(spec)
    lack = -excess_g_per_m3(state.temperature_c, state.vapour_g_per_m3, cooling)
    taken = min(grams * spec.spray_to_air / spec.volume_m3, max(lack, 0.0))
    sprayed = replace(
        state,
        temperature_c=state.temperature_c - taken * cooling,
        vapour_g_per_m3=state.vapour_g_per_m3 + taken,
    )
    return wet(sprayed, spec, grams - taken * spec.volume_m3)


def wet(state: TentState, spec: TentSpec, grams: float) -> TentState:
    """Pour or wipe water onto walls, floor and tray; what is too much runs off. [g]."""
    return replace(state, film_g=min(state.film_g + grams, spec.film_most_g))


def step(
    state: TentState,
    spec: TentSpec,
    room: RoomAir,
    air_changes_per_h: float,
    dt_s: float,
    supply: Supply = NOTHING,
) -> TentState:
    """Let time pass.

    Args:
        state: at the start.
        spec: of the chamber.
        room: the air that comes in.
        air_changes_per_h: leakage and fan together. [1/h]
        dt_s: how long; up to a minute or two for a fine result. [s]
        supply: what devices give meanwhile.
    """
    run = _run_of(spec, room, air_changes_per_h, dt_s, supply)
    return TentState(
        *advance(run, state.temperature_c, state.vapour_g_per_m3, state.co2_ppm, state.film_g)
    )


def live(  # noqa: PLR0913, PLR0917 - what `step` takes, and how many of them
    state: TentState,
    spec: TentSpec,
    room: RoomAir,
    air_changes_per_h: float,
    dt_s: float,
    steps: int,
    supply: Supply = NOTHING,
) -> TentState:
    """Let so many steps pass in the same surroundings: `step` repeated, without its ado."""
    run = _run_of(spec, room, air_changes_per_h, dt_s, supply)
    at = (state.temperature_c, state.vapour_g_per_m3, state.co2_ppm, state.film_g)
    for _ in range(steps):
        at = advance(run, *at)
    return TentState(*at)


def _run_of(spec: TentSpec, room: RoomAir, n: float, dt_s: float, supply: Supply) -> Run:
    hours, volume = dt_s / 3600.0, spec.volume_m3
    capacity = _heat_capacity_j_per_k(spec)
    losses = n * AIR_J_PER_M3_K * volume / capacity + spec.cover_w_per_k * 3600.0 / capacity
    cooling = _cooling_k_m3_per_g(spec)
    mist_in = supply.water_g_per_h / volume
    warm_in = losses * room.temperature_c + supply.heat_w * 3600.0 / capacity
    return Run(
        hours=hours,
        changes_per_h=n,
        losses_per_h=losses,
        cooling=cooling,
        warming=RESPIRED_J_PER_G / capacity,
        vapour_in=n * vapour_g_per_m3(room.temperature_c, room.humidity_pct) + mist_in,
        half_air_kept=math.exp(-n * hours / 2),
        half_air_gain=gain(-n, hours / 2),
        half_warm_kept=math.exp(-losses * hours / 2),
        half_warm_gain=gain(-losses, hours / 2),
        kelvin_in=warm_in - cooling * mist_in,
        co2_room=room.co2_ppm,
        co2_kept=math.exp(-n * hours),
        co2_gained=gain(-n, hours) / (CO2_G_PER_M3_PPM * volume),
        breath=respiration_g_per_h(spec, 20.0),
        volume=volume,
        film_pull=EVAPORATION_K * spec.wet_area_m2 / volume,
        fruit_pull=EVAPORATION_K * FRUIT_M2_PER_KG * spec.fruit_kg / volume,
        thin=_THIN * spec.film_most_g,
        film_most=spec.film_most_g,
    )


def _heat_capacity_j_per_k(spec: TentSpec) -> float:
    return AIR_J_PER_M3_K * spec.volume_m3 + spec.heat_j_per_k


def _cooling_k_m3_per_g(spec: TentSpec) -> float:
    """Return by how much a gram that evaporates into each m3 cools. [K m3/g]."""
    return LATENT_J_PER_G * spec.volume_m3 / _heat_capacity_j_per_k(spec)
