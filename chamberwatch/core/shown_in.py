"""In which units a grower likes to see temperatures and weights.

What is kept, reckoned and put into words is °C, K and grams throughout; the last step before a
person reads it writes the figures of a sentence in the units they like.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chamberwatch.core.growing.weights import KILOGRAM, OUNCE_G

FAHRENHEIT_PER_K: Final = 9.0 / 5.0
FREEZING_F: Final = 32.0
OUNCES_PER_POUND: Final = 16

_NUMBER: Final = r"[-+\N{MINUS SIGN}]?\d+(?:\.\d+)?"
_JOINED: Final = rf"{_NUMBER}(?:(?: to | and | or | - |\N{{EN DASH}}){_NUMBER})?"
_GAP: Final = r"[ \N{NO-BREAK SPACE}]"
# A difference is given in K, or is what something differs by. “13 to 24 °C” is two temperatures.
_TEMPERATURE: Final = re.compile(
    rf"(?P<by>\b(?:by|about by|within) |± ?)?(?P<numbers>{_JOINED})(?P<gap>{_GAP})"
    r"(?P<unit>°C|K)(?![\w/*])"
)
# Not the grams of g/m3 or of g/kg, and not the K of W/(m2 K).
_WEIGHT: Final = re.compile(rf"(?P<numbers>{_JOINED})(?P<gap>{_GAP})(?P<unit>g|kg)(?![\w/*])")
_EACH: Final = re.compile(_NUMBER)


class TemperatureUnit(StrEnum):
    """Of temperatures and their differences."""

    CELSIUS = "°C"
    FAHRENHEIT = "°F"


class WeightUnit(StrEnum):
    """Of harvests and of water."""

    GRAM = "g"
    OUNCE = "oz"


@dataclass(frozen=True, slots=True)
class ShownIn:
    """The grower's liking.

    Source of the factors: NIST Special Publication 811 (2008), appendix B.8.
    """

    temperature: TemperatureUnit = TemperatureUnit.CELSIUS
    weight: WeightUnit = WeightUnit.GRAM

    def temperature_of(self, value_c: float) -> float:
        """Return a temperature in the liked unit."""
        if self.temperature is TemperatureUnit.CELSIUS:
            return value_c
        return value_c * FAHRENHEIT_PER_K + FREEZING_F

    def difference_of(self, value_k: float) -> float:
        """Return a difference of temperatures in the liked unit."""
        celsius = self.temperature is TemperatureUnit.CELSIUS
        return value_k if celsius else value_k * FAHRENHEIT_PER_K

    def weight_of(self, value_g: float) -> float:
        """Return a weight in the liked unit."""
        return value_g if self.weight is WeightUnit.GRAM else value_g / OUNCE_G

    def weight_words(self, value_g: float) -> str:
        """Write a weight no finer than a kitchen scale: 600 g, 1.24 kg; 0.9 oz, 2 lb 11.7 oz."""
        if self.weight is WeightUnit.GRAM:
            grams = value_g < KILOGRAM - 0.5
            return f"{value_g:.0f} g" if grams else f"{value_g / KILOGRAM:.2f} kg"
        tenths = round(value_g / OUNCE_G * 10.0)
        pounds, rest = divmod(tenths, OUNCES_PER_POUND * 10)
        return f"{pounds} lb {rest / 10:.1f} oz" if pounds else f"{rest / 10:.1f} oz"

    def said(self, sentence: str) -> str:
        """Write the figures of a sentence of ours in the liked units.

        Args:
            sentence: with figures such as 18.4 °C, 13 to 24 °C, by 0.5 °C, 2 K, 25 g, 1.2 kg.
        """
        if self.temperature is not TemperatureUnit.CELSIUS:
            sentence = _TEMPERATURE.sub(self._temperature_said, sentence)
        if self.weight is not WeightUnit.GRAM:
            sentence = _WEIGHT.sub(self._weight_said, sentence)
        return sentence

    def _temperature_said(self, match: re.Match[str]) -> str:
        by = match["by"] or ""
        differs = match["unit"] == "K" or bool(by)
        turned = self.difference_of if differs else self.temperature_of
        numbers = _each(match["numbers"], turned)
        return f"{by}{numbers}{match['gap']}{self.temperature}"

    def _weight_said(self, match: re.Match[str]) -> str:
        factor = KILOGRAM if match["unit"] == "kg" else 1.0
        gap = match["gap"]
        values = [float(_plain(each)) * factor for each in _EACH.findall(match["numbers"])]
        if len(values) == 1:
            return self.weight_words(values[0]).replace(" ", gap)
        joint = match["numbers"]
        for written, value in zip(_EACH.findall(joint), values, strict=True):
            joint = joint.replace(written, f"{self.weight_of(value):.1f}", 1)
        return f"{joint}{gap}{self.weight}"


def _each(numbers: str, turned: Callable[[float], float]) -> str:
    """Write each number of a figure anew, with as many decimals as it had."""

    def one(match: re.Match[str]) -> str:
        written = match[0]
        decimals = len(written.partition(".")[2])
        signed = "+" if written.startswith("+") else ""
        value = f"{turned(float(_plain(written))):{signed}.{decimals}f}"
        return value.replace("-", "\N{MINUS SIGN}") if "\N{MINUS SIGN}" in written else value

    return _EACH.sub(one, numbers)


def _plain(number: str) -> str:
    return number.replace("\N{MINUS SIGN}", "-")
