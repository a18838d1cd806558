"""Weights and dates of the plan, as its page writes them."""

from datetime import date

from chamberwatch.core.growing.weights import KILOGRAM
from chamberwatch.core.shown_in import WeightUnit
from chamberwatch.web.figures import Figures
from chamberwatch.web.words import GAP, month_short, weekday_short


def kilos(figures: Figures, low: float, high: float) -> str:
    """Write from how much to how much is expected, no finer than a crop can be foretold. [kg]."""
    if figures.shown_in.weight is WeightUnit.OUNCE:
        ends = [figures.number(figures.shown_in.weight_of(kg * KILOGRAM), 0) for kg in (low, high)]
        return f"{_span(*ends)}{GAP}oz"
    digits = 1 if high >= 1.0 else 2
    return f"{_span(*(figures.number(kg, digits) for kg in (low, high)))}{GAP}kg"


def _span(low: str, high: str) -> str:
    return low if low == high else f"{low}\N{EN DASH}{high}"


def day(one: date) -> str:
    """Write a day of the plan."""
    return f"{weekday_short(one)} {one.day} {month_short(one)}"
