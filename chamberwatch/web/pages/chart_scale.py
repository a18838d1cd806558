"""From values to places on a chart: what stretch is shown, and which round numbers stand there."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.core.watch.axis import around
from chamberwatch.service.chart import BandThen
from chamberwatch.web.language import _, marked


@dataclass(frozen=True, slots=True)
class Kind:
    """How a quantity is drawn and written.

    Attributes:
        named: its name, in English.
        decimals: no finer than a sensor can honestly say.
        least_spread: shown where next to nothing changes, in the kept unit.
        floor: nothing is less, in the kept unit.
        ceiling: nothing is more.
        short: its name where there is little room; empty for the same.
    """

    named: str
    decimals: int
    least_spread: float
    floor: float | None = None
    ceiling: float | None = None
    short: str = ""

    @property
    def label(self) -> str:
        """Its name on the page."""
        return _(self.named)


KINDS: Final[dict[str, Kind]] = {
    "humidity_pct": Kind(marked("humidity"), 0, 12.0, 0.0, 100.0),
    "temperature_c": Kind(marked("temperature"), 1, 4.0),
    "dew_point_c": Kind(marked("dew point"), 1, 4.0),
    "co2_ppm": Kind("CO₂", 0, 300.0, 0.0),
    "vpd_kpa": Kind(marked("vapour-pressure deficit (VPD)"), 2, 0.2, 0.0, short="VPD"),
}
"""The quantities of a chart, in the order in which they are asked for and read out."""

PANELS: Final[tuple[tuple[str, ...], ...]] = (
    ("humidity_pct",),
    ("temperature_c", "dew_point_c"),
    ("co2_ppm",),
    ("vpd_kpa",),
)
"""What is drawn over what, from the top. Where the dew point meets the temperature, water
condenses, so both share one scale."""

NEAR_HARM: Final = 0.2
"""So far beyond its band, of the way to harm, a value is when the harm limit is drawn."""
_TEMPERATURES: Final = frozenset({"temperature_c", "dew_point_c"})


def unit_of(quantity: str, kept: str, shown_in: ShownIn) -> str:
    """Return the unit a quantity is shown in."""
    return shown_in.temperature.value if quantity in _TEMPERATURES else kept


def shown(quantity: str, value: float, shown_in: ShownIn) -> float:
    """Return a value in the unit it is shown in."""
    return shown_in.temperature_of(value) if quantity in _TEMPERATURES else value


def spread_of(quantity: str, shown_in: ShownIn) -> float:
    """Return the least stretch of an axis, in the unit that is shown."""
    least = KINDS[quantity].least_spread
    fahrenheit = shown_in.temperature is TemperatureUnit.FAHRENHEIT
    return shown_in.difference_of(least) if fahrenheit and quantity in _TEMPERATURES else least


@dataclass(frozen=True, slots=True)
class Stretch:
    """The values between which a panel is drawn, in the unit that is shown."""

    low: float
    high: float

    def share(self, value: float) -> float:
        """Return how far up a value lies, 0 to 1 within the panel."""
        return (value - self.low) / (self.high - self.low)


def stretch(
    quantity: str, values: Iterable[float], bands: Iterable[BandThen], least_spread: float = 0.0
) -> Stretch:
    """Choose what shows all values, the bands, and the harm limits that came near.

    Args:
        quantity: which.
        values: kept ones, without those that are missing.
        bands: those of the quantity, kept.
        least_spread: at least so much is shown, kept; the quantity's own for 0.
    """
    kind, all_values, all_bands = KINDS[quantity], list(values), list(bands)
    seen = [*all_values, *(e for b in all_bands for e in (b.low, b.high) if e is not None)]
    seen += _near_harm(all_values, all_bands)
    if not seen:
        seen = [kind.floor or 0.0]
    least = least_spread or kind.least_spread
    return Stretch(*around(seen, least, kind.floor, kind.ceiling))


def _near_harm(values: list[float], bands: list[BandThen]) -> list[float]:
    """Return the harm limits that came near, and those of a side that has no other limit."""
    least, most = min(values, default=math.inf), max(values, default=-math.inf)
    found = []
    for band in bands:
        low, high, harm_low, harm_high = band.low, band.high, band.harm_low, band.harm_high
        if harm_low is not None and (low is None or least < low - NEAR_HARM * (low - harm_low)):
            found.append(harm_low)
        if harm_high is not None and (
            high is None or most > high + NEAR_HARM * (harm_high - high)
        ):
            found.append(harm_high)
    return found


def decimals_for(numbers: list[float]) -> int:
    """Return how many decimals tell these numbers apart and are all needed."""
    return next(n for n in range(5) if n == 4 or all(abs(v - round(v, n)) < 1e-9 for v in numbers))
