"""Where a point of the chart stands against the band, in words.

The page hands the same words to the script that reads any point, so they are said in one place.
"""

from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.psychrometrics import AirState
from chamberwatch.core.growing.band import Band
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _, found, marked
from chamberwatch.web.words import GAP

PA_PER_KPA: Final = 1000.0
J_PER_KJ: Final = 1000.0
G_PER_KG: Final = 1000.0

_SAYS: Final[dict[str, str]] = {
    "cold": marked("%(by)s too cold"),
    "warm": marked("%(by)s too warm"),
    "dry": marked("%(by)s too dry"),
    "humid": marked("%(by)s too humid"),
    "harm": marked("harmful"),
    "within": marked("in the band"),
    "none": marked("no band here"),
    "air": "%(t)s, %(rh)s %%",
    "follows": marked(
        "%(point)s %(dew)s, vapour-pressure deficit %(vpd)s kPa, wet bulb "
        "%(wet)s, %(water)s g of water and %(heat)s kJ in a kg of dry air"
    ),
    "dew": marked("dew point"),
    "frost": marked("frost point"),
    "fog": marked(
        "Above the saturation line: air can't hold so much, and what is too much drops out."
    ),
    "most": marked("The most it holds at %(t)s is %(water)s g of water in a kg of dry air."),
}
"""The words of a point; the script puts the values in itself."""


def says() -> dict[str, str]:
    """Return the words of a point in the language spoken, values not yet put in."""
    return {name: found(text) for name, text in _SAYS.items()}


@dataclass(frozen=True, slots=True)
class Bands:
    """What a chart's points are held against; None: not judged."""

    temperature: Band | None
    humidity: Band | None

    @property
    def judged(self) -> bool:
        """Tell whether there is any band."""
        return self.temperature is not None or self.humidity is not None


@dataclass(frozen=True, slots=True)
class Verdict:
    """Where a point stands: in words, outside the band, beyond a harm limit."""

    words: str
    out: bool
    harm: bool


def bands_of(chamber: Chamber) -> Bands:
    """Return the bands that the air of a chamber or room is held against."""
    return Bands(
        chamber.limits(Quantity.TEMPERATURE, Place.AIR),
        chamber.limits(Quantity.HUMIDITY, Place.AIR),
    )


def verdict(temperature_c: float, humidity_pct: float, bands: Bands, figures: Figures) -> Verdict:
    """Say where an air stands against the bands.

    Args:
        temperature_c: of the air. [°C]
        humidity_pct: of the air. [%]
        bands: what it is held against.
        figures: how this grower likes figures.
    """
    if not bands.judged:
        return Verdict(_(_SAYS["none"]), out=False, harm=False)
    said = []
    cold, warm = _beyond(temperature_c, bands.temperature)
    dry, humid = _beyond(humidity_pct, bands.humidity)
    for key, by in (("cold", cold), ("warm", warm)):
        if by > 0.0:
            said.append(_(_SAYS[key], by=figures.difference(by, _decimals(by))))
    for key, by in (("dry", dry), ("humid", humid)):
        if by > 0.0:
            said.append(_(_SAYS[key], by=f"{figures.number(by, _decimals(by, 0))}{GAP}%"))
    harm = _harms(temperature_c, bands.temperature) or _harms(humidity_pct, bands.humidity)
    if harm:
        said.append(_(_SAYS["harm"]))
    return Verdict(", ".join(said) or _(_SAYS["within"]), out=bool(said), harm=harm)


def _beyond(value: float, band: Band | None) -> tuple[float, float]:
    """Return by how much a value is below its band, and above it; 0 where it isn't."""
    if band is None:
        return 0.0, 0.0
    below = 0.0 if band.low is None else band.low - value
    above = 0.0 if band.high is None else value - band.high
    return max(below, 0.0), max(above, 0.0)


def _harms(value: float, band: Band | None) -> bool:
    if band is None:
        return False
    below = band.harm_low is not None and value < band.harm_low
    return below or (band.harm_high is not None and value > band.harm_high)


def _decimals(by: float, usual: int = 1) -> int:
    """Return one decimal more where a difference would read as nothing."""
    return usual + int(by < 0.5 * 10.0**-usual)


def follows(air: AirState, figures: Figures) -> str:
    """Say what follows from an air."""
    return _(
        _SAYS["follows"],
        point=_(_SAYS["frost" if air.frost else "dew"]),
        dew=figures.temperature(air.dew_point_c),
        vpd=figures.number(air.vpd_pa / PA_PER_KPA, 2),
        wet=figures.temperature(air.wet_bulb_c),
        water=figures.number(air.humidity_ratio * G_PER_KG, 1),
        heat=figures.number(air.enthalpy_j_per_kg / J_PER_KJ, 1),
    )


def limits_of(bands: Bands) -> dict[str, list[float | None]]:
    """Return the limits as the script takes them: low, high, harm low, harm high."""
    return {
        "t": _limits(bands.temperature),
        "rh": _limits(bands.humidity),
    }


def _limits(band: Band | None) -> list[float | None]:
    if band is None:
        return [None, None, None, None]
    return [band.low, band.high, band.harm_low, band.harm_high]
