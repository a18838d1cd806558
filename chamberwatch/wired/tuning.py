"""What a CO2 sensor is set to."""

from dataclasses import dataclass
from typing import Final

from chamberwatch.core.watch.wired import Make

STANDARD_PA: Final = 101_300.0
"""What the sensors reckon with where they are told nothing. Source: data sheet SCD4x, 3.6."""


@dataclass(frozen=True, slots=True)
class Tuning:
    """How a CO2 sensor is to be set up.

    Attributes:
        pressure_pa: of the air where it hangs. [Pa]
        self_calibration: it takes the least CO2 of some days for outdoor air.
        self_heating_k: so much warmer than the air it runs; None: as it is set already. [K]
    """

    pressure_pa: float
    self_calibration: bool = False
    self_heating_k: float | None = None


def reckons_with(make: Make, pressure_pa: float) -> bool:
    """Tell whether a sensor can take an air pressure into its CO2."""
    if make.pressures_pa is None:
        return False
    least, most = make.pressures_pa
    return least <= pressure_pa <= most


def given_pressure_pa(make: Make, pressure_pa: float) -> float:
    """Return the air pressure a sensor is told: the standard one where it knows no such. [Pa].

    Its CO2 is then that of the standard pressure, which whoever takes it in can correct.
    """
    return pressure_pa if reckons_with(make, pressure_pa) else STANDARD_PA
