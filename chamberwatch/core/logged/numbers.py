"""Numbers as loggers write them: with a point or a comma, in groups of three, with a unit."""

import re
from collections.abc import Iterable
from typing import Final

POINT: Final = "."
COMMA: Final = ","

NOTHING: Final = frozenset({"", "-", "--", "---", "na", "n/a", "#n/a", "nan", "null", "none", "?"})
"""What stands in a cell where nothing was measured."""

UNITS: Final[dict[str, str]] = {
    **dict.fromkeys(("c", "celsius", "cel"), "°C"),
    **dict.fromkeys(("f", "fahrenheit"), "°F"),
    **dict.fromkeys(("k", "kelvin"), "K"),
    **dict.fromkeys(("%", "%rh", "rh%", "rh", "%rf", "%hr", "%ur", "pct", "percent"), "%"),
    "ppm": "ppm",
    "pa": "Pa",
    **dict.fromkeys(("hpa",), "hPa"),
    **dict.fromkeys(("mbar", "mb"), "mbar"),
    "kpa": "kPa",
    **dict.fromkeys(("v", "volt", "volts"), "V"),
    "mv": "mV",
}
"""Units as they are written, by what is left of them without degree signs, dots and blanks."""

_WRITTEN: Final = re.compile(r"(?P<digits>[+-]?[\d.,' ]*\d[.,]?(?:[eE][+-]?\d+)?) *(?P<unit>\D*)")
_PLAIN: Final = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
_SURE: Final = {
    COMMA: re.compile(r"[+-]?(?:0,\d+|\d+,\d{1,2}|\d+,\d{4,}|\d{4,},\d+|[\d.]*\.\d{3},\d+)"),
    POINT: re.compile(r"[+-]?(?:0?\.\d+|\d+\.\d{1,2}|\d+\.\d{4,}|\d{4,}\.\d+|[\d,]*,\d{3}\.\d+)"),
}
_GROUPED: Final = {
    POINT: re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d*)?"),
    COMMA: re.compile(r"[+-]?\d{1,3}(?:\.\d{3})+(?:,\d*)?"),
}
_THREE_BEHIND_A_COMMA: Final = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+")


def unit_of(text: str) -> str | None:
    """Return the unit that is written here, None where it is none that is known."""
    bare = re.sub(r"[°º˚\s._]", "", text.replace("℃", "C").replace("℉", "F"))
    return UNITS.get(re.sub(r"^deg(rees?)?", "", bare.casefold()))


def parted(text: str) -> tuple[str, str]:
    """Return the digits of a cell and what stands behind them; no digits where it is no number."""
    tidy = text.strip().replace("\u2212", "-").replace("\u00a0", " ").replace("\u202f", " ")
    found = _WRITTEN.fullmatch(tidy.replace("\u2019", "'"))
    if found is None:
        return "", tidy
    return found["digits"].replace(" ", "").replace("'", ""), found["unit"].strip()


def is_nothing(text: str) -> bool:
    """Tell whether nothing was measured."""
    return text.strip().casefold() in NOTHING


def number_like(text: str) -> bool:
    """Tell whether a cell holds a number, with a unit or not."""
    digits, unit = parted(text)
    return bool(digits) and (not unit or unit_of(unit) is not None)


def decimal_sign(cells: Iterable[str]) -> str | None:
    """Return what stands before the decimals, None where it can't be told.

    A comma before three digits may part thousands; without any other sign it can't be told.
    """
    sure: set[str] = set()
    unsure = False
    for cell in cells:
        digits = parted(cell)[0]
        sure |= {sign for sign, form in _SURE.items() if form.fullmatch(digits)}
        unsure = unsure or _THREE_BEHIND_A_COMMA.fullmatch(digits) is not None
    if len(sure) == 1:
        return sure.pop()
    return None if sure or unsure else POINT


def number(text: str, decimal: str) -> float:
    """Return the number in a cell; a known unit may stand behind it.

    Args:
        text: the cell.
        decimal: what stands before its decimals.

    Raises:
        ValueError: it holds none.
    """
    digits, unit = parted(text)
    other = COMMA if decimal == POINT else POINT
    if _GROUPED[decimal].fullmatch(digits):
        digits = digits.replace(other, "")
    plain = digits.replace(decimal, POINT) if other not in digits else ""
    if not _PLAIN.fullmatch(plain) or (unit and unit_of(unit) is None):
        raise ValueError(f"“{text.strip()[:40]}” is not a number")
    return float(plain)
