"""How far the derived numbers may be off, from what the sensor claims.

First-order propagation: each ± is multiplied by how strongly the result follows it, and the parts
are added as a root sum of squares (GUM, JCGM 100:2008, section 5.1, from memory). The errors of
temperature and humidity are taken as independent. With a humidity of a few per cent, where a
sensor is broken rather than the air dry, the dew point is too bent for a first order to hold.
"""

import math
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.accuracy import Accuracy
from chamberwatch.core.air.psychrometrics import (
    HIGHEST_C,
    LOWEST_C,
    AirState,
    saturation_pressure_pa,
)

DEW_POINT_DECIMALS: Final = 1
"""Most decimals of a dew point or a margin in °C or K that a hygrometer allows."""

VPD_KPA_DECIMALS: Final = 2
"""Most decimals of a vapour-pressure deficit in kPa that a hygrometer allows."""

_STEP_K: Final = 0.01  # small against the bend of the curve, large against rounding


@dataclass(frozen=True, slots=True)
class Spread:
    """How far the numbers of one air state may be off, each as ±.

    Attributes:
        temperature_k: of the temperature. [K]
        humidity_pct: of the relative humidity. [%]
        dew_point_k: of the dew point. [K]
        vpd_pa: of the vapour-pressure deficit. [Pa]
        co2_ppm: of the CO2; None where it isn't measured. [ppm]
    """

    temperature_k: float
    humidity_pct: float
    dew_point_k: float
    vpd_pa: float
    co2_ppm: float | None


def spread(air: AirState, accuracy: Accuracy, co2_ppm: float | None = None) -> Spread:
    """Return the ± of an air state.

    Args:
        air: as read.
        accuracy: what the sensor claims.
        co2_ppm: the CO2 that was read with it. [ppm]

    Source: first-order propagation, see the head of this module.
    """
    by_temperature, by_humidity = _dew_point_follows(air)
    saturation = air.saturation_pressure_pa
    drier = 1.0 - air.humidity_pct / 100.0
    vpd_by_temperature = saturation * drier * _log_slope_per_k(air.temperature_c)
    vpd_by_humidity = -saturation / 100.0
    temperature_k = accuracy.temperature_k
    humidity_pct = accuracy.humidity_at_pct(air.humidity_pct)
    return Spread(
        temperature_k=temperature_k,
        humidity_pct=humidity_pct,
        dew_point_k=math.hypot(by_temperature * temperature_k, by_humidity * humidity_pct),
        vpd_pa=math.hypot(vpd_by_temperature * temperature_k, vpd_by_humidity * humidity_pct),
        co2_ppm=None if co2_ppm is None else accuracy.co2_at_ppm(co2_ppm),
    )


def margin_spread_k(air: AirState, accuracy: Accuracy, surface_k: float | None) -> float:
    """Return the ± of a condensation margin: surface temperature less dew point. [K].

    Args:
        air: as read.
        accuracy: what the sensor of the air claims.
        surface_k: ± of the surface's temperature where that has a sensor of its own. None where
            it is at air temperature or reckoned from the same sensor: a sensor that reads too
            warm then moves surface and dew point alike, and most of its error cancels. [K]

    Source: first-order propagation, see the head of this module.
    """
    by_temperature, by_humidity = _dew_point_follows(air)
    from_humidity = by_humidity * accuracy.humidity_at_pct(air.humidity_pct)
    if surface_k is None:
        return math.hypot((1.0 - by_temperature) * accuracy.temperature_k, from_humidity)
    return math.hypot(by_temperature * accuracy.temperature_k, from_humidity, surface_k)


def decimals_for(spread: float, most: int = VPD_KPA_DECIMALS) -> int:
    """Return how many decimals are honest: the last one shown is of the size of the ±.

    A deficit of 0.234 kPa that is good to ± 0.047 is shown as 0.23, a dew point of 18.31 °C that
    is good to ± 0.4 as 18.3.

    Args:
        spread: the ±, in the unit that is shown.
        most: never more than this, see `DEW_POINT_DECIMALS` and `VPD_KPA_DECIMALS`.
    """
    if spread <= 0.0:
        return most
    # log10 first: an endless ± is one without decimals, and ceil would refuse it.
    wanted = min(max(-math.log10(spread), 0.0), float(most))
    return math.ceil(wanted)


def _dew_point_follows(air: AirState) -> tuple[float, float]:
    """Return how the dew point follows temperature [K/K] and humidity [K/%].

    From ln e(dew point) = ln e(T) + ln RH, differentiated.
    """
    at_dew_point = _log_slope_per_k(air.dew_point_c)
    by_temperature = _log_slope_per_k(air.temperature_c) / at_dew_point
    return by_temperature, 1.0 / (air.humidity_pct * at_dew_point)


def _log_slope_per_k(temperature_c: float) -> float:
    """Return the slope of ln of the saturation pressure, by central differences. [1/K]."""
    middle = min(max(temperature_c, LOWEST_C + _STEP_K), HIGHEST_C - _STEP_K)
    above = saturation_pressure_pa(middle + _STEP_K)
    below = saturation_pressure_pa(middle - _STEP_K)
    return math.log(above / below) / (2.0 * _STEP_K)
