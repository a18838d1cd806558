"""What a sensor claims to be good for."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

WET_FROM_PCT: Final = 90.0
"""Above this humidity sensors are worse than their claim."""


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Stated accuracy, each as ±.

    Attributes:
        temperature_k: of the temperature. [K]
        humidity_pct: of the humidity, up to 90 %. [%]
        humidity_wet_pct: of the humidity above 90 %. [%]
        co2_ppm: fixed part of the CO2. [ppm]
        co2_share: part of the CO2 in proportion to the reading.
        surface_k: of a temperature taken at a surface, contact included. [K]
    """

    temperature_k: float = 0.2
    humidity_pct: float = 2.0
    humidity_wet_pct: float = 3.0
    co2_ppm: float = 50.0
    co2_share: float = 0.05
    surface_k: float = 0.5

    def humidity_at_pct(self, humidity_pct: float) -> float:
        """Return the ± that holds at a humidity. [%]."""
        return self.humidity_wet_pct if humidity_pct > WET_FROM_PCT else self.humidity_pct

    def co2_at_ppm(self, co2_ppm: float) -> float:
        """Return the ± that holds at a concentration. [ppm]."""
        return self.co2_ppm + self.co2_share * co2_ppm


DIGITAL: Final = Accuracy()

# Common practice for the kinds of sensor that are sold; capacitive ones are worse above 90 %.
CLASSES: Final[Mapping[str, Accuracy]] = {
    "basic": Accuracy(0.5, 5.0, 6.0, 75.0, 0.07),
    "digital": DIGITAL,
    "probe": Accuracy(0.1, 1.5, 2.0, 30.0, 0.03),
}
