"""Figures as this grower likes them and as this browser writes them.

Units are the household's (`Desk.shown_in`), the decimal sign is the browser's, times are in the
site's zone. Pages take a `Figures` of the request and write every value through it.
"""

import re
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

from fastapi import Request

from chamberwatch.core.shown_in import ShownIn
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.web import words
from chamberwatch.web.desk import desk_of
from chamberwatch.web.words import GAP

WITH_COMMA: Final = frozenset(
    """af az be bg bs ca cs da de el es et eu fi fo fr gl hr hu hy id is it ka kk ky lt lv mk nb nl
    nn no pl pt ro ru sk sl sq sr sv tr uk uz vi""".split()  # noqa: SIM905 - a list to be read
)
"""Languages that write 18,4. Source: Unicode CLDR, <decimal> of the default numbering system.
Where a country differs (Spanish in Mexico), see `POINT_IN`."""
POINT_IN: Final = frozenset(
    {"de-ch", "de-li", "es-mx", "es-us", "es-gt", "es-pa", "es-pe", "es-pr"}
)

_LONG: Final = re.compile(r"(?<![\d.])\d{5,}(?!\d)", re.ASCII)
"""Below 10 000 there is no sign for thousands, as browsers do by “min2” (ECMA-402)."""
_THIN: Final = "\N{NARROW NO-BREAK SPACE}"
"""Where a comma is the decimal sign: the SI Brochure's sign for thousands (9th edition, 5.4.4)."""
_CO2: Final = re.compile(r"(?<![\w/.-])CO2(?![\w/-])", re.ASCII)

_POINT: Final = re.compile(r"(?<=\d)\.(?=\d)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Figures:
    """How values are written on one page.

    Attributes:
        shown_in: units of temperatures and weights.
        comma: a comma stands for the decimal point.
        zone: of times.
    """

    shown_in: ShownIn
    comma: bool
    zone: ZoneInfo

    def number(self, value: float, decimals: int) -> str:
        """Write a number."""
        return self._figure(self._grouped(words.number(value, decimals)))

    def amount(self, quantity: Quantity, value: float, finer: int = 0) -> str:
        """Write a value of a quantity with its unit, `finer` decimals more than usual."""
        if quantity is Quantity.TEMPERATURE:
            shown = words.number(self.shown_in.temperature_of(value), 1 + finer)
            return self._figure(f"{shown}{GAP}{self.shown_in.temperature}")
        return self._figure(self._grouped(words.amount(quantity, value, finer)))

    def temperature(self, value_c: float, decimals: int = 1) -> str:
        """Write a temperature given in °C, with its unit."""
        shown = words.number(self.shown_in.temperature_of(value_c), decimals)
        return self._figure(f"{shown}{GAP}{self.shown_in.temperature}")

    def difference(self, value_k: float, decimals: int = 1) -> str:
        """Write by how much a temperature is off, given in K, in the unit of the temperature."""
        shown = words.number(self.shown_in.difference_of(value_k), decimals)
        return self._figure(f"{shown}{GAP}{self.shown_in.temperature}")

    def margin(self, value_k: float, decimals: int = 1) -> str:
        """Write how far a surface is from the dew point, given in K: in K or °F, as messages."""
        return self.said(f"{words.number(value_k, decimals)}{GAP}K")

    def weight(self, value_g: float) -> str:
        """Write a weight no finer than a kitchen scale: 600 g, 1.24 kg; 0.9 oz, 2 lb 11.7 oz."""
        return self._figure(self.shown_in.weight_words(value_g).replace(" ", GAP))

    def said(self, sentence: str) -> str:
        """Write a sentence of ours in the liked units, with this browser's decimal sign.

        What goes out as a message or by the API is plain text; a page can write CO₂.
        """
        return self._figure(_CO2.sub("CO₂", self.shown_in.said(sentence)))

    def _grouped(self, written: str) -> str:
        sign = _THIN if self.comma else ","
        return _LONG.sub(lambda match: f"{int(match[0]):,}".replace(",", sign), written)

    def _figure(self, written: str) -> str:
        return _POINT.sub(",", written) if self.comma else written


def figures_of(request: Request) -> Figures:
    """Return how figures are written for whoever asks."""
    desk = desk_of(request)
    accepted = request.headers.get("accept-language", "")
    return Figures(desk.shown_in, writes_comma(accepted), desk.zone)


def writes_comma(accepted: str) -> bool:
    """Tell whether the first language a browser accepts writes a decimal comma.

    Args:
        accepted: the header Accept-Language (RFC 9110, 12.5.4); browsers put their own first.
    """
    first = accepted.split(",", 1)[0].split(";", 1)[0].strip().lower()
    return first not in POINT_IN and first.split("-", 1)[0] in WITH_COMMA
