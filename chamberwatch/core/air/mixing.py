"""What comes of two airs that mix, as in venting with room air."""

import math
from dataclasses import dataclass
from typing import Final

import psychrolib

from chamberwatch.core.air.psychrometrics import AirState, saturation_pressure_pa

# Two saturated airs of one temperature make 100 % and a rounding error; that is no fog yet.
_ROUNDING_PCT: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Mixture:
    """Air that was mixed from two, before any water drops out of it.

    Attributes:
        temperature_c: as if nothing condensed; fog would leave it a little warmer. [°C]
        humidity_pct: relative humidity; above 100 where there is fog. [%]
        humidity_ratio: water per dry air, with that in the fog. [kg/kg]
        fog: there is more water than the air can hold as vapour.
    """

    temperature_c: float
    humidity_pct: float
    humidity_ratio: float
    fog: bool


def mixed(a: AirState, b: AirState, share_b: float) -> Mixture:
    """Return the mixture of two airs, at the pressure of the first.

    Water and enthalpy are added by mass of dry air; temperature and humidity follow from them.

    Args:
        a: the one.
        b: the other.
        share_b: dry air of b in that of the mixture, 0 to 1.

    Raises:
        ValueError: the share is not between 0 and 1.

    Source: ASHRAE Fundamentals (2017) ch. 1, adiabatic mixing of two streams.
    """
    if not 0.0 <= share_b <= 1.0:
        raise ValueError(f"A share of {share_b:g} is not between 0 and 1; state a part of one.")
    ratio = _between(a.humidity_ratio, b.humidity_ratio, share_b)
    enthalpy = _between(a.enthalpy_j_per_kg, b.enthalpy_j_per_kg, share_b)
    found = psychrolib.GetTDryBulbFromEnthalpyAndHumRatio(enthalpy, ratio)
    # Rounding must not carry it past the ends, beyond which there may be no saturation pressure.
    coldest, warmest = sorted((a.temperature_c, b.temperature_c))
    temperature_c = min(max(found, coldest), warmest)
    vapour_pa = psychrolib.GetVapPresFromHumRatio(ratio, a.pressure_pa)
    humidity_pct = 100.0 * vapour_pa / saturation_pressure_pa(temperature_c)
    return Mixture(temperature_c, humidity_pct, ratio, humidity_pct > 100.0 + _ROUNDING_PCT)


def after_volumes(inside: AirState, room: AirState, volumes: float) -> Mixture:
    """Return the air of a chamber after so many of its volumes of room air came in.

    Well mixed, so that fresh air also leaves again, and without what wet walls give off and what
    the walls warm: the air at the end of a short, strong vent.

    Args:
        inside: the chamber before.
        room: the air that comes in.
        volumes: air that came in, in volumes of the chamber: air changes per hour times hours.

    Raises:
        ValueError: less than nothing came in.
    """
    if not volumes >= 0.0:
        raise ValueError(f"{volumes:g} volumes can't come in; state 0 or more.")
    return mixed(inside, room, share_replaced(volumes))


def share_replaced(volumes: float) -> float:
    """Return which share of well-mixed air has been replaced after so many volumes, 0 to 1."""
    return -math.expm1(-volumes)


def _between(a: float, b: float, share_b: float) -> float:
    return (1.0 - share_b) * a + share_b * b
