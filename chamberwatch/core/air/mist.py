"""Water for the air: into it now, and out of it with every change of air.

Grams are reckoned on the dry air that is there at the start, ideal gases throughout. How much of a
spray ends up in the air rather than on the walls is another matter (common practice: 20 to 60 %).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import psychrolib

from chamberwatch.core.air.psychrometrics import (
    FREEZING_C,
    LEAST_HUMIDITY_PCT,
    AirState,
    saturation_pressure_pa,
    usable_humidity_pct,
)

HEAT_GIVEN_BACK: Final = 0.8
"""Share of the cooling by a mist that walls and blocks make good in minutes (common practice)."""

_HALVINGS: Final = 40  # of 100 % or of 60 K: far finer than any sensor


@dataclass(frozen=True, slots=True)
class AirDose:
    """Water that the air takes up on its way to a humidity.

    Attributes:
        isothermal_g: if walls and blocks hold the temperature; the most it can be. [g]
        adiabatic_g: if the air alone gives the heat, and cools; the least. [g]
        end_temperature_c: of the air in the second case. [°C]
    """

    isothermal_g: float
    adiabatic_g: float
    end_temperature_c: float


def air_dose(air: AirState, target_pct: float, volume_m3: float) -> AirDose:
    """Return the water from here to a humidity; none where the air is already there.

    Args:
        air: now.
        target_pct: relative humidity wanted; taken as 100 above. [%]
        volume_m3: free air. [m3]

    Raises:
        ValueError: there is no volume, or the target is not a number.

    Source: ASHRAE Fundamentals (2017) ch. 1 eqn. 20 and, for air that gives the heat itself and
    so keeps its wet bulb, eqn. 33 and 35.
    """
    _refuse_no_volume(volume_m3)
    target = usable_humidity_pct(target_pct)
    if air.humidity_pct >= target:
        return AirDose(0.0, 0.0, air.temperature_c)
    dry_air_g = 1000.0 * volume_m3 * _dry_air_kg_per_m3(air)
    held = _humidity_ratio(air.temperature_c, target, air.pressure_pa)
    end_c = _end_of_cooling_c(air, target)
    cooled = _humidity_ratio(end_c, target, air.pressure_pa)
    return AirDose(
        isothermal_g=dry_air_g * (held - air.humidity_ratio),
        adiabatic_g=dry_air_g * max(cooled - air.humidity_ratio, 0.0),
        end_temperature_c=end_c,
    )


def likely_dose_g(dose: AirDose) -> float:
    """Return what the air will really take up. [g].

    Evaporation cools the air at once, and walls, water and blocks, which hold many times the
    heat of the air, give most of it back within minutes. So the truth lies most of the way, 0.8,
    from the adiabatic to the isothermal amount (common practice).
    """
    return dose.adiabatic_g + HEAT_GIVEN_BACK * (dose.isothermal_g - dose.adiabatic_g)


def carried_off_g_per_h(
    inside: AirState, room: AirState, volume_m3: float, air_changes_per_h: float
) -> float:
    """Return the water that fresh air carries off; below 0 where the room is wetter. [g/h].

    Args:
        inside: air of the chamber.
        room: air that comes in.
        volume_m3: free air. [m3]
        air_changes_per_h: fresh air in volumes an hour. [1/h]

    Raises:
        ValueError: there is no volume, or air changes are below 0.

    Source: water balance, N V rho_da (W_inside - W_room), with the dry air of the room, as that
    is what comes in.
    """
    _refuse_no_volume(volume_m3)
    _refuse_below_zero(air_changes_per_h)
    dry_air_g_per_h = 1000.0 * air_changes_per_h * volume_m3 * _dry_air_kg_per_m3(room)
    return dry_air_g_per_h * (inside.humidity_ratio - room.humidity_ratio)


def humidity_held_pct(
    temperature_c: float,
    room: AirState,
    volume_m3: float,
    air_changes_per_h: float,
    give_g_per_h: Callable[[float], float],
) -> float:
    """Return the humidity at which a wet surface makes good what fresh air carries off. [%].

    Args:
        temperature_c: of the chamber, held. [°C]
        room: air that comes in.
        volume_m3: free air. [m3]
        air_changes_per_h: fresh air in volumes an hour. [1/h]
        give_g_per_h: water that the surface gives off at a humidity [%], less the wetter the air
            is. [g/h]

    Returns:
        0.1 to 100; 100 where the surface gives more than even saturated air carries off.

    Raises:
        ValueError: there is no volume, or air changes are below 0.
    """
    _refuse_no_volume(volume_m3)
    _refuse_below_zero(air_changes_per_h)
    dry_air_g_per_h = 1000.0 * air_changes_per_h * volume_m3 * _dry_air_kg_per_m3(room)

    def lacking_g_per_h(humidity_pct: float) -> float:
        ratio = _humidity_ratio(temperature_c, humidity_pct, room.pressure_pa)
        return dry_air_g_per_h * (ratio - room.humidity_ratio) - give_g_per_h(humidity_pct)

    if lacking_g_per_h(100.0) <= 0.0:
        return 100.0
    return _where_it_turns(lacking_g_per_h, LEAST_HUMIDITY_PCT, 100.0)


def minutes_to_fall(
    from_pct: float, to_pct: float, towards_pct: float, per_h: float
) -> float | None:
    """Return how long the humidity takes to fall, the faster the further it has to go. [min].

    Args:
        from_pct: now. [%]
        to_pct: asked about. [%]
        towards_pct: where it would end: what the room's air has at the chamber's temperature, or
            what wet surfaces hold. [%]
        per_h: rate of the approach; with dry surfaces the air changes per hour. [1/h]

    Returns:
        0 where it is already there, None where it never gets there.

    Source: exponential approach at constant temperature.
    """
    if from_pct <= to_pct:
        return 0.0
    if to_pct <= towards_pct or per_h <= 0.0:
        return None
    return 60.0 / per_h * math.log((from_pct - towards_pct) / (to_pct - towards_pct))


def _end_of_cooling_c(air: AirState, target_pct: float) -> float:
    """Return where air reaches a humidity when it gives all the heat itself. [°C].

    The water comes at the wet bulb, so the line is that of ASHRAE (2017) ch. 1 eqn. 33 and 35,
    written from the start so that water and energy are kept to the last digit.
    """
    wet_bulb_c = air.wet_bulb_c
    frozen = wet_bulb_c < FREEZING_C
    brought = -329_000.0 + 2100.0 * wet_bulb_c if frozen else 4186.0 * wet_bulb_c  # J/kg of water
    kept = air.enthalpy_j_per_kg - air.humidity_ratio * brought

    def drier_by(temperature_c: float) -> float:
        of_vapour = 2_501_000.0 + 1860.0 * temperature_c
        ratio = (kept - 1006.0 * temperature_c) / (of_vapour - brought)
        return _humidity_ratio(temperature_c, target_pct, air.pressure_pa) - ratio

    # The end is no colder than the wet bulb; that was itself solved, so look from the dew point.
    return _where_it_turns(drier_by, air.dew_point_c, air.temperature_c)


def _where_it_turns(rising: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising function passes 0, by halving; the nearer end where it doesn't."""
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if rising(middle) < 0.0 else (low, middle)
    return (low + high) / 2.0


def _humidity_ratio(temperature_c: float, humidity_pct: float, pressure_pa: float) -> float:
    """Return water per dry air. [kg/kg]. ASHRAE (2017) ch. 1 eqn. 20."""
    vapour_pa = saturation_pressure_pa(temperature_c) * (humidity_pct / 100.0)
    return float(psychrolib.GetHumRatioFromVapPres(vapour_pa, pressure_pa))


def _dry_air_kg_per_m3(air: AirState) -> float:
    return air.density_kg_per_m3 / (1.0 + air.humidity_ratio)


def _refuse_no_volume(volume_m3: float) -> None:
    if not volume_m3 > 0.0:
        raise ValueError(f"A volume of {volume_m3:g} m3 holds no air; state the chamber's.")


def _refuse_below_zero(air_changes_per_h: float) -> None:
    if not air_changes_per_h >= 0.0:
        raise ValueError(f"{air_changes_per_h:g} air changes per hour can't be; state 0 or more.")
