"""CO2 and fresh air: one well-mixed chamber with a source and an inlet.

C(t) = C_end + (C_start - C_end) e^(-N t), with C_end = C_inlet + rise / N. Air changes N and the
rise that the source causes in a closed chamber are per hour.
"""

import math
from typing import Final

from chamberwatch.core.air.psychrometrics import STANDARD_PRESSURE_PA

ROOM_C: Final = 20.0

OUTDOOR_PPM: Final = 430.0
"""CO2 of outdoor air: Mauna Loa, monthly mean of May 2025, a yearly most: 430.2 (Scripps), 430.5
(NOAA). Towns are up to 70 above (common practice)."""

_CO2_G_PER_MOL: Final = 44.0095
_GAS_CONSTANT: Final = 8.314462618  # J/(mol K)
_KELVIN: Final = 273.15
_HARDLY_ANY: Final = 1e-9  # below this many volumes the exponential is straight


def co2_g_per_m3_per_ppm(
    temperature_c: float = ROOM_C, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return the CO2 in a cubic metre for each ppm: 1.8295e-3 at 20 °C by the sea. [g/(m3 ppm)].

    Args:
        temperature_c: of the air. [°C]
        pressure_pa: of the air. [Pa]

    Source: ideal gas, M P / (R T).
    """
    return _CO2_G_PER_MOL * pressure_pa / (_GAS_CONSTANT * (temperature_c + _KELVIN)) * 1e-6


def rise_ppm_per_h(
    source_g_per_h: float,
    volume_m3: float,
    temperature_c: float = ROOM_C,
    pressure_pa: float = STANDARD_PRESSURE_PA,
) -> float:
    """Return how fast CO2 rises while a chamber is closed. [ppm/h].

    Args:
        source_g_per_h: CO2 that everything in it gives off. [g/h]
        volume_m3: free air. [m3]
        temperature_c: of the air. [°C]
        pressure_pa: of the air. [Pa]

    Raises:
        ValueError: there is no volume.
    """
    if not volume_m3 > 0.0:
        raise ValueError(f"A volume of {volume_m3:g} m3 holds no air; state the chamber's.")
    return source_g_per_h / (volume_m3 * co2_g_per_m3_per_ppm(temperature_c, pressure_pa))


def co2_end_ppm(inlet_ppm: float, rise_ppm_per_h: float, air_changes_per_h: float) -> float:
    """Return where CO2 settles; endless for a source in a sealed chamber. [ppm].

    Args:
        inlet_ppm: of the air that comes in. [ppm]
        rise_ppm_per_h: what the source adds while closed. [ppm/h]
        air_changes_per_h: fresh air in volumes an hour. [1/h]

    Raises:
        ValueError: air changes below 0.
    """
    _refuse_below_zero(air_changes_per_h)
    if air_changes_per_h > 0.0:
        return inlet_ppm + rise_ppm_per_h / air_changes_per_h
    return math.inf if rise_ppm_per_h > 0.0 else inlet_ppm


def co2_after_ppm(
    start_ppm: float,
    inlet_ppm: float,
    rise_ppm_per_h: float,
    air_changes_per_h: float,
    hours: float,
) -> float:
    """Return the CO2 after some time of steady venting. [ppm].

    Args:
        start_ppm: now. [ppm]
        inlet_ppm: of the air that comes in. [ppm]
        rise_ppm_per_h: what the source adds while closed. [ppm/h]
        air_changes_per_h: fresh air in volumes an hour. [1/h]
        hours: from now. [h]

    Raises:
        ValueError: air changes below 0.
    """
    _refuse_below_zero(air_changes_per_h)
    volumes = air_changes_per_h * hours
    replaced = -math.expm1(-volumes)
    # Written so that it also holds without any fresh air, where there is no end value.
    gathered_h = hours if volumes < _HARDLY_ANY else replaced / air_changes_per_h
    return start_ppm + (inlet_ppm - start_ppm) * replaced + rise_ppm_per_h * gathered_h


def purge_min(
    start_ppm: float,
    target_ppm: float,
    inlet_ppm: float,
    rise_ppm_per_h: float,
    air_changes_per_h: float,
) -> float | None:
    """Return how long to vent down to a target. [min].

    Args:
        start_ppm: now. [ppm]
        target_ppm: wanted. [ppm]
        inlet_ppm: of the air that comes in. [ppm]
        rise_ppm_per_h: what the source adds while closed. [ppm/h]
        air_changes_per_h: fresh air while venting. [1/h]

    Returns:
        0 where it is already there, None where this much of this air never gets there.

    Raises:
        ValueError: air changes below 0.
    """
    end = co2_end_ppm(inlet_ppm, rise_ppm_per_h, air_changes_per_h)
    if start_ppm <= target_ppm:
        return 0.0
    if air_changes_per_h == 0.0 or target_ppm <= end:
        return None
    return 60.0 / air_changes_per_h * math.log((start_ppm - end) / (target_ppm - end))


def changes_needed_per_h(
    target_ppm: float, inlet_ppm: float, rise_ppm_per_h: float
) -> float | None:
    """Return the air changes that hold CO2 at a target against a steady source. [1/h].

    Args:
        target_ppm: to hold. [ppm]
        inlet_ppm: of the air that comes in. [ppm]
        rise_ppm_per_h: what the source adds while closed. [ppm/h]

    Returns:
        0 where nothing gives CO2 off, None where the air that comes in is no better than the
        target.
    """
    if rise_ppm_per_h <= 0.0 and target_ppm >= inlet_ppm:
        return 0.0
    if target_ppm <= inlet_ppm:
        return None
    return rise_ppm_per_h / (target_ppm - inlet_ppm)


def changes_from_step(
    start_ppm: float,
    end_ppm: float,
    inlet_ppm: float,
    minutes: float,
    rise_ppm_per_h: float = 0.0,
) -> float | None:
    """Return the air changes that a fall of CO2 between two readings shows. [1/h].

    An inlet stated 30 ppm too low makes the result about 3 % too low; so does a source that is
    not known.

    Args:
        start_ppm: at first. [ppm]
        end_ppm: later. [ppm]
        inlet_ppm: of the air that came in. [ppm]
        minutes: between them. [min]
        rise_ppm_per_h: what a steady source adds meanwhile. [ppm/h]

    Returns:
        None where it isn't a fall towards the inlet, or no time passed.

    Source: ASTM E741, two-point tracer decay (equation from memory).
    """
    if not (minutes > 0.0 and start_ppm > end_ppm > inlet_ppm):
        return None
    plain = 60.0 / minutes * math.log((start_ppm - inlet_ppm) / (end_ppm - inlet_ppm))
    if rise_ppm_per_h <= 0.0:
        return plain
    # With a source it takes more of them; where they lead falls with their number.
    # The upper end is enough: of the step e^-1 is left at most, and half of it from the source.
    low, high = plain, plain + 60.0 / minutes + 2.0 * rise_ppm_per_h / (end_ppm - inlet_ppm)
    for _ in range(40):
        middle = (low + high) / 2
        after = co2_after_ppm(start_ppm, inlet_ppm, rise_ppm_per_h, middle, minutes / 60.0)
        low, high = (middle, high) if after > end_ppm else (low, middle)
    return (low + high) / 2


def _refuse_below_zero(air_changes_per_h: float) -> None:
    if not air_changes_per_h >= 0.0:
        raise ValueError(f"{air_changes_per_h:g} air changes per hour can't be; state 0 or more.")
