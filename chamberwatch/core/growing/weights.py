"""Weights as growers write them.

The pound is the international avoirdupois pound of exactly 453.592 37 g, the ounce a sixteenth of
it (NIST Special Publication 811, 2008, appendix B.8).
"""

import re
from typing import Final

from chamberwatch.core.errors import RefusedError

GRAM: Final = 1.0
KILOGRAM: Final = 1000.0
POUND_G: Final = 453.59237
OUNCE_G: Final = POUND_G / 16.0

_UNITS: Final = {"g": GRAM, "kg": KILOGRAM, "oz": OUNCE_G, "lb": POUND_G, "lbs": POUND_G}
_PART: Final = re.compile(r" ?(\d+(?:[.,]\d+)?) ?([a-z]+)", re.ASCII)
_CURE: Final = "Write a weight with its unit, such as 600 g, 1.2 kg, 21 oz or 1 lb 5 oz."
_LONGEST: Final = 40

# Some write thousands so, others thousandths.
_EITHER: Final = re.compile(r"([1-9]\d*)([.,])(\d{3})", re.ASCII)


def grams(text: str) -> float:
    """Return a weight. [g].

    Args:
        text: a number with g, kg, oz or lb; pounds may be followed by ounces. A comma may stand
            for the point. Whether nothing can be meant is for those who are told the weight.

    Raises:
        RefusedError: it can't be read; the text says how to write one.
    """
    # Every kind of blank is one: what is copied from a page may have one that doesn't break.
    plain = " ".join(text.lower().split()) if len(text) <= _LONGEST else ""
    parts = list(_PART.finditer(plain))
    whole = "".join(part.group() for part in parts)
    if not parts or whole != plain or any(p[2] not in _UNITS for p in parts):
        raise RefusedError(f"“{text[:_LONGEST]}” is no weight. {_CURE}")
    units = [part[2].removesuffix("s") for part in parts]
    if units not in ([units[0]], ["lb", "oz"]):
        raise RefusedError(f"“{text}” mixes units. {_CURE}")
    return sum(_number(part[1], part[2]) * _UNITS[part[2]] for part in parts)


def _number(written: str, unit: str) -> float:
    """Read a number.

    Raises:
        RefusedError: it may be a thousand times as much.
    """
    either = _EITHER.fullmatch(written)
    if either is not None and (unit == "g" or (unit != "kg" and either[2] == ",")):
        raise RefusedError(
            f"“{written} {unit}” can be read in two ways. Write {either[1]}{either[3]} {unit}, or "
            f"{either[1]}.{either[3][:2]} {unit}."
        )
    return float(written.replace(",", "."))


def weight_words(weight_g: float) -> str:
    """Write a weight no finer than a kitchen scale tells it: 600 g, 1.24 kg."""
    if weight_g < KILOGRAM - 0.5:
        return f"{weight_g:.0f} g"
    return f"{weight_g / KILOGRAM:.2f} kg"
