"""How close a surface is to being wet, and how hard the air dries a mushroom."""

from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.psychrometrics import AirState

STILL_AIR_M2K_PER_W: Final = 0.13
"""Surface resistance of still air at an upright wall (ISO 6946 Rsi, from memory). [m2 K/W]"""

INNER_FILM_W_PER_M2K: Final = 1.0 / STILL_AIR_M2K_PER_W

# Bowman 1989, Mushroom Science XII, citing Edwards: metres a minute times millibar.
EVAPORATION_LEAST: Final = 4.0
"""Below this caps stay wet, and bacterial blotch follows."""
EVAPORATION_MOST: Final = 10.0
"""Above this caps dry out and scale."""


@dataclass(frozen=True, slots=True)
class Margin:
    """What a surface is short of being wet.

    Attributes:
        surface_c: temperature of the surface. [°C]
        margin_k: surface less dew point; water forms at 0 and below. [K]
        spread_k: ± of the margin. [K]
        origin: where the temperature of the surface came from.
        wet: the margin is 0 or less.
    """

    surface_c: float
    margin_k: float
    spread_k: float
    origin: Origin
    wet: bool

    @property
    def certain(self) -> bool:
        """The sensors are good enough to tell wet from dry here."""
        return abs(self.margin_k) > self.spread_k


def inner_surface_c(
    air_c: float,
    room_c: float,
    u_w_per_m2k: float,
    inner_film_w_per_m2k: float = INNER_FILM_W_PER_M2K,
) -> float:
    """Return the temperature of the inner side of a cover in steady state. [°C].

    The heat that passes the whole cover also passes its inner air film, so the film takes the
    share U / film of the difference.

    Args:
        air_c: inside. [°C]
        room_c: outside. [°C]
        u_w_per_m2k: U-value of the cover with the air films of both sides; a single sheet with
            still air on both sides has 1 / (0.13 + 0.13) = 3.8. From the film's own value
            up the surface is as cold as the room. [W/(m2 K)]
        inner_film_w_per_m2k: of the inner air film; stirred air conducts more. [W/(m2 K)]

    Raises:
        ValueError: a value below 0, or no film.

    Source: ISO 6946 (series of resistances; Rsi 0.13 m2 K/W, from memory).
    """
    if not (u_w_per_m2k >= 0.0 and inner_film_w_per_m2k > 0.0):
        raise ValueError(
            f"A U-value of {u_w_per_m2k:g} W/(m2 K) within an air film of "
            f"{inner_film_w_per_m2k:g} can't be; state a thin sheet as 3.8."
        )
    # No cover passes more than its film; a U-value stated without films is one of a bare sheet.
    share = min(u_w_per_m2k / inner_film_w_per_m2k, 1.0)
    return air_c - (air_c - room_c) * share


def margin(air: AirState, surface_c: float, spread_k: float, origin: Origin) -> Margin:
    """Return how far a surface is from being wet.

    Convention: margin = surface - dew point, and a surface exactly at the dew point is wet. Where
    the ± exceeds the margin it can't be told: `Margin.certain`. Below 0 °C it is frost.

    Args:
        air: that touches the surface.
        surface_c: temperature of the surface. [°C]
        spread_k: ± of the margin, see `uncertainty.margin_spread_k`. [K]
        origin: where the temperature of the surface came from.
    """
    margin_k = surface_c - air.dew_point_c
    return Margin(surface_c, margin_k, spread_k, origin, wet=margin_k <= 0.0)


def evaporation_coefficient(vpd_pa: float, air_speed_m_per_s: float) -> float:
    """Return air speed times vapour-pressure deficit. [m/min x mbar].

    Between `EVAPORATION_LEAST` and `EVAPORATION_MOST` is acceptable for caps.

    Args:
        vpd_pa: vapour-pressure deficit. [Pa]
        air_speed_m_per_s: over the caps. [m/s]

    Source: Bowman 1989, Mushroom Science XII, citing Edwards.
    """
    return air_speed_m_per_s * 60.0 * vpd_pa / 100.0
