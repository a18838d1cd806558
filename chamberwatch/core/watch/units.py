"""Units that sensors speak, and the way from each to the one in which a quantity is kept."""

from typing import Final

from chamberwatch.core.errors import BadPayloadError
from chamberwatch.core.watch.reading import PLAUSIBLE, UNITS, Quantity

# (what to take off, what to multiply by). Symbols without a sign of their own are those of
# SenML: RFC 8428 section 12.1 (Cel, K, %RH, /, Pa, V) and RFC 8798 (%, ppm, hPa, mV).
SCALES: Final[dict[Quantity, dict[str, tuple[float, float]]]] = {
    Quantity.TEMPERATURE: {
        "°C": (0.0, 1.0),
        "C": (0.0, 1.0),
        "Cel": (0.0, 1.0),
        "°F": (32.0, 5 / 9),
        "F": (32.0, 5 / 9),
        "K": (273.15, 1.0),
    },
    Quantity.HUMIDITY: {
        "%": (0.0, 1.0),
        "%RH": (0.0, 1.0),
        "/": (0.0, 100.0),
        "fraction": (0.0, 100.0),
    },
    Quantity.CO2: {
        "ppm": (0.0, 1.0),
        "%": (0.0, 1e4),
        "/": (0.0, 1e6),
        "fraction": (0.0, 1e6),
    },
    Quantity.PRESSURE: {
        "Pa": (0.0, 1.0),
        "hPa": (0.0, 100.0),
        "mbar": (0.0, 100.0),
        "kPa": (0.0, 1000.0),
    },
    Quantity.BATTERY: {"V": (0.0, 1.0), "mV": (0.0, 0.001)},
}

DECIMALS: Final = 6
"""Far finer than any sensor; takes off the dust of the conversion (294.65 K is 21.5 °C)."""


def fault(quantity: Quantity, unit: str | None) -> str:
    """Return what is wrong with a unit and which ones are known; empty when it is right."""
    if unit is None or unit in SCALES[quantity]:
        return ""
    known = ", ".join(SCALES[quantity])
    return f"{unit} is not a unit of {quantity} known here; use one of {known}."


def canonical(quantity: Quantity, value: float, unit: str | None) -> float:
    """Return a value in the unit of `UNITS[quantity]`.

    Args:
        quantity: what was measured.
        value: finite.
        unit: of the value; None is the unit of `UNITS`.

    Raises:
        BadPayloadError: the unit is not known, or no sensor can honestly say this.
    """
    if wrong := fault(quantity, unit):
        raise BadPayloadError(wrong)
    kept_in = UNITS[quantity]
    given_in = kept_in if unit is None else unit
    off, times = SCALES[quantity][given_in]
    kept = value if (off, times) == (0.0, 1.0) else round((value - off) * times, DECIMALS)
    low, high = PLAUSIBLE[quantity]
    if not low <= kept <= high:
        meant = "" if given_in == kept_in else f" ({kept:g} {kept_in})"
        raise BadPayloadError(
            f"{quantity} {value:g} {given_in}{meant} is outside {low:g} to {high:g} {kept_in}; "
            "look at the sensor, and at the unit in its settings."
        )
    return kept
