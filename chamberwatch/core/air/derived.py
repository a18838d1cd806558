"""What follows from temperature, humidity and pressure, by the names that the API has for it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from chamberwatch.core.air.psychrometrics import air_state, dew_point_c, vpd_pa

# A calm chamber says the same few pairs for hours, at the resolution of its sensor.
REMEMBERED: Final = 50_000


@dataclass(frozen=True, slots=True)
class Derived:
    """A quantity computed from temperature [°C], humidity [%] and pressure [Pa].

    Attributes:
        unit: of it.
        of: computes it; raises ValueError where no such air exists.
    """

    unit: str
    of: Callable[[float, float, float], float]


DERIVED: Final[Mapping[str, Derived]] = {
    "dew_point_c": Derived("°C", lambda t, rh, _p: dew_point_c(t, rh)),
    "vpd_kpa": Derived("kPa", lambda t, rh, _p: vpd_pa(t, rh) / 1000),
    "wet_bulb_c": Derived("°C", lambda t, rh, p: air_state(t, rh, p).wet_bulb_c),
    "humidity_ratio_g_per_kg": Derived(
        "g/kg", lambda t, rh, p: air_state(t, rh, p).humidity_ratio * 1000
    ),
}


@lru_cache(REMEMBERED)
def derive(
    name: str, temperature_c: float, humidity_pct: float, pressure_pa: float
) -> float | None:
    """Return a quantity of `DERIVED`; None where no such air exists.

    Each of the two may be plausible alone and both together not.
    """
    try:
        return DERIVED[name].of(temperature_c, humidity_pct, pressure_pa)
    except ValueError:
        return None
