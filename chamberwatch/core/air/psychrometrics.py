"""Moist air from three numbers: temperature, relative humidity, pressure.

Pure-water convention throughout: saturation pressure is that of pure water (Hyland & Wexler, as
in ASHRAE Fundamentals 2017 ch. 1 eqn. 5 and 6), without the enhancement factor of moist air, so
vapour-pressure deficit is comparable with FAO-56 and WMO-No. 8. The factor would add about 0.4 %.

psychrolib supplies the ASHRAE relations. Two are solved here because psychrolib's own solvers
take most of the time of a reading: the dew point and the wet bulb; both are tested against it.
"""

import math
from dataclasses import dataclass
from typing import Final

import psychrolib

psychrolib.SetUnitSystem(psychrolib.SI)

STANDARD_PRESSURE_PA: Final = 101_325.0
FREEZING_C: Final = 0.0

# Sensors say 100.3 % when wet and 0 % when broken. Above 100 % the air is taken as saturated;
# below this floor there is no dew point that psychrolib would give.
LEAST_HUMIDITY_PCT: Final = 0.1

# Range of the relations used here. [°C]. ASHRAE eqn. 5 and 6 hold from -100 to 200.
LOWEST_C: Final = -90.0
HIGHEST_C: Final = 150.0

_WATER_GAS_CONSTANT: Final = 461.5  # J/(kg K)
_KELVIN: Final = 273.15


@dataclass(frozen=True, slots=True)
class AirState:
    """Moist air and what follows from it.

    Attributes:
        temperature_c: dry bulb. [°C]
        humidity_pct: relative humidity as used, 0.1 to 100. [%]
        pressure_pa: of the air. [Pa]
        saturation_pressure_pa: of pure water at the dry bulb, over ice below 0 °C. [Pa]
        vapour_pressure_pa: of the water in the air. [Pa]
        vpd_pa: what is missing to saturation, pure-water convention. [Pa]
        dew_point_c: where this air would be saturated; exactly the dry bulb at 100 %. [°C]
        frost: the dew point lies below 0 °C and is a frost point.
        humidity_ratio: water per dry air. [kg/kg]
        enthalpy_j_per_kg: per dry air, 0 at 0 °C dry. [J/kg]
        density_kg_per_m3: of the moist air. [kg/m3]
        absolute_humidity_g_per_m3: water in a volume. [g/m3]
    """

    temperature_c: float
    humidity_pct: float
    pressure_pa: float
    saturation_pressure_pa: float
    vapour_pressure_pa: float
    vpd_pa: float
    dew_point_c: float
    frost: bool
    humidity_ratio: float
    enthalpy_j_per_kg: float
    density_kg_per_m3: float
    absolute_humidity_g_per_m3: float

    @property
    def wet_bulb_c(self) -> float:
        """Thermodynamic wet bulb, solved for where it is asked for: few ask. [°C]."""
        return _wet_bulb_c(
            self.temperature_c,
            self.humidity_pct,
            self.dew_point_c,
            self.humidity_ratio,
            self.pressure_pa,
        )


def air_state(
    temperature_c: float, humidity_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> AirState:
    """Return the state of moist air.

    Args:
        temperature_c: dry bulb, -90 to 150. [°C]
        humidity_pct: relative humidity; taken as 0.1 below and 100 above. [%]
        pressure_pa: of the air. [Pa]

    Raises:
        ValueError: the temperature is out of range, water would boil at that pressure, or a
            value is not a number.

    Source: ASHRAE Fundamentals (2017) ch. 1.
    """
    humidity = usable_humidity_pct(humidity_pct)
    saturation = saturation_pressure_pa(temperature_c)
    if not saturation < pressure_pa < math.inf:
        raise ValueError(
            f"A pressure of {pressure_pa} Pa is not that of air at {temperature_c:g} °C; "
            "look at the sensor or at the altitude."
        )
    vapour = saturation * (humidity / 100.0)  # exactly the saturation pressure at 100 %
    ratio = ratio_of_vapour(vapour, pressure_pa)
    dew_point = _dew_point_c(temperature_c, humidity, vapour)
    return AirState(
        temperature_c=temperature_c,
        humidity_pct=humidity,
        pressure_pa=pressure_pa,
        saturation_pressure_pa=saturation,
        vapour_pressure_pa=vapour,
        vpd_pa=saturation - vapour,
        dew_point_c=dew_point,
        frost=dew_point < FREEZING_C,
        humidity_ratio=ratio,
        enthalpy_j_per_kg=psychrolib.GetMoistAirEnthalpy(temperature_c, ratio),
        density_kg_per_m3=psychrolib.GetMoistAirDensity(temperature_c, ratio, pressure_pa),
        absolute_humidity_g_per_m3=1000.0
        * vapour
        / (_WATER_GAS_CONSTANT * (temperature_c + _KELVIN)),
    )


def usable_humidity_pct(humidity_pct: float) -> float:
    """Return a relative humidity between 0.1 and 100. [%].

    Raises:
        ValueError: not a number.
    """
    if math.isnan(humidity_pct):
        raise ValueError("Humidity is not a number; look at the sensor.")
    return min(max(humidity_pct, LEAST_HUMIDITY_PCT), 100.0)


def saturation_pressure_pa(temperature_c: float) -> float:
    """Return the saturation pressure of pure water, over ice below 0 °C. [Pa].

    Args:
        temperature_c: -90 to 150. [°C]

    Raises:
        ValueError: out of range, or not a number.

    Source: ASHRAE Fundamentals (2017) ch. 1 eqn. 5 and 6 (Hyland & Wexler).
    """
    if not LOWEST_C <= temperature_c <= HIGHEST_C:
        raise ValueError(f"{temperature_c} °C lies outside {LOWEST_C:g} to {HIGHEST_C:g} °C.")
    pressure: float = psychrolib.GetSatVapPres(temperature_c)
    return pressure


def vpd_pa(temperature_c: float, humidity_pct: float) -> float:
    """Return the vapour-pressure deficit, pure-water convention. [Pa]."""
    return saturation_pressure_pa(temperature_c) * (1.0 - usable_humidity_pct(humidity_pct) / 100)


def dew_point_c(temperature_c: float, humidity_pct: float) -> float:
    """Return the dew point, a frost point below 0 °C; exactly the dry bulb at 100 %. [°C]."""
    humidity = usable_humidity_pct(humidity_pct)
    vapour = saturation_pressure_pa(temperature_c) * (humidity / 100.0)
    return _dew_point_c(temperature_c, humidity, vapour)


def pressure_at_altitude_pa(altitude_m: float) -> float:
    """Return the pressure of the standard atmosphere. [Pa].

    Source: ASHRAE Fundamentals (2017) ch. 1 eqn. 3, Table 1; -500 to 11 000 m.
    """
    pressure: float = psychrolib.GetStandardAtmPressure(altitude_m)
    return pressure


# ln of the saturation pressure and its slope: the coefficients of ASHRAE eqn. 5 (ice) and 6
# (water). Kept here as psychrolib does not give the slope that Newton's method needs.
_ICE: Final = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13)
_ICE_LOG: Final = 4.1635019
_WATER: Final = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0)
_WATER_LOG: Final = 6.5459673
_TRIPLE_C: Final = 0.01
_JUST_FROZEN_C: Final = -1e-9


def _log_pressure(temperature_c: float) -> tuple[float, float]:
    """Return ln of the saturation pressure [Pa] and its slope [1/K]."""
    t = temperature_c + _KELVIN
    frozen = temperature_c <= _TRIPLE_C
    (c1, c2, c3, c4, c5, c6), log = (_ICE, _ICE_LOG) if frozen else (_WATER, _WATER_LOG)
    value = c1 / t + c2 + t * (c3 + t * (c4 + t * (c5 + t * c6))) + log * math.log(t)
    slope = -c1 / (t * t) + c3 + t * (2 * c4 + t * (3 * c5 + t * 4 * c6)) + log / t
    return value, slope


def _dew_point_c(temperature_c: float, humidity_pct: float, vapour_pa: float) -> float:
    """Invert the saturation pressure by Newton's method; ln p is nearly straight in T."""
    if humidity_pct >= 100.0:
        return temperature_c
    wanted = math.log(vapour_pa)
    # Magnus' form (WMO-No. 8) is within a kelvin or two, a good place to begin.
    logarithm = math.log(vapour_pa / 611.2)
    guess = 243.12 * logarithm / (17.62 - logarithm)
    step, tries = 1.0, 20
    while tries and abs(step) >= 1e-7:
        tries -= 1
        value, slope = _log_pressure(guess)
        step = (wanted - value) / slope
        guess += step
    return min(guess, temperature_c)


def ratio_of_vapour(vapour_pa: float, pressure_pa: float) -> float:
    """Return water per dry air, ideal gases. [kg/kg].

    Args:
        vapour_pa: pressure of the vapour. [Pa]
        pressure_pa: of the air. [Pa]

    Source: ASHRAE Fundamentals (2017) ch. 1 eqn. 20.
    """
    return 0.621945 * vapour_pa / (pressure_pa - vapour_pa)


def ratio_of_wet_bulb(wet_bulb_c: float, temperature_c: float, pressure_pa: float) -> float:
    """Return the humidity ratio of air with that wet bulb; below 0 where none has it. [kg/kg].

    Args:
        wet_bulb_c: thermodynamic wet bulb. [°C]
        temperature_c: dry bulb. [°C]
        pressure_pa: of the air. [Pa]

    Source: ASHRAE Fundamentals (2017) ch. 1 eqn. 33, and 35 below 0 °C.
    """
    saturated = ratio_of_vapour(math.exp(_log_pressure(wet_bulb_c)[0]), pressure_pa)
    drop = temperature_c - wet_bulb_c
    if wet_bulb_c >= FREEZING_C:
        above = (2501.0 - 2.326 * wet_bulb_c) * saturated - 1.006 * drop
        return above / (2501.0 + 1.86 * temperature_c - 4.186 * wet_bulb_c)
    above = (2830.0 - 0.24 * wet_bulb_c) * saturated - 1.006 * drop
    return above / (2830.0 + 1.86 * temperature_c - 2.1 * wet_bulb_c)


def _wet_bulb_c(
    temperature_c: float,
    humidity_pct: float,
    dew_point_c: float,
    humidity_ratio: float,
    pressure_pa: float,
) -> float:
    """Solve for the wet bulb between dew point and dry bulb: false position, kept bracketed.

    At 0 °C the relation jumps, and a little air there has two wet bulbs, one over ice and one
    over water. The one over ice is given where it exists, as by the reference.
    """
    if humidity_pct >= 100.0:
        return temperature_c
    low, high = dew_point_c, temperature_c
    if low < FREEZING_C < high:
        wettest = ratio_of_wet_bulb(_JUST_FROZEN_C, temperature_c, pressure_pa)
        low, high = (low, _JUST_FROZEN_C) if wettest >= humidity_ratio else (FREEZING_C, high)
    miss_low = ratio_of_wet_bulb(low, temperature_c, pressure_pa) - humidity_ratio
    miss_high = ratio_of_wet_bulb(high, temperature_c, pressure_pa) - humidity_ratio
    found, miss, tries = low, miss_low, 60
    while tries and abs(miss) >= 1e-9 and high - low >= 1e-6 and miss_high > miss_low:
        tries -= 1
        found = high - miss_high * (high - low) / (miss_high - miss_low)
        miss = ratio_of_wet_bulb(found, temperature_c, pressure_pa) - humidity_ratio
        # Illinois: halve the end that stays, so that both ends close in.
        if miss > 0.0:
            high, miss_high, miss_low = found, miss, miss_low / 2
        else:
            low, miss_low, miss_high = found, miss, miss_high / 2
    return min(max(found, dew_point_c), temperature_c)
