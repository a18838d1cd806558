"""Water for the air: how much it takes up on its way to a humidity.

Grams are reckoned on the dry air that is there at the start, ideal gases throughout. How much of a
spray ends up in the air rather than on the walls is another matter (common practice: 20 to 60 %).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.psychrometrics import (
    FREEZING_C,
    AirState,
    ratio_of_vapour,
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
    """Return water per dry air. [kg/kg]."""
    vapour_pa = saturation_pressure_pa(temperature_c) * (humidity_pct / 100.0)
    return ratio_of_vapour(vapour_pa, pressure_pa)


def _dry_air_kg_per_m3(air: AirState) -> float:
    return air.density_kg_per_m3 / (1.0 + air.humidity_ratio)


def _refuse_no_volume(volume_m3: float) -> None:
    if not volume_m3 > 0.0:
        raise ValueError(f"A volume of {volume_m3:g} m3 holds no air; state the chamber's.")
