"""Figures as the grower likes them and the browser writes them."""

from zoneinfo import ZoneInfo

import pytest
from babel import Locale
from babel.numbers import get_decimal_symbol

from chamberwatch.core.shown_in import ShownIn, TemperatureUnit, WeightUnit
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.web.figures import POINT_IN, WITH_COMMA, Figures, writes_comma
from chamberwatch.web.words import GAP, MINUS

ZONE = ZoneInfo("Europe/Lisbon")
METRIC = Figures(ShownIn(), comma=False, zone=ZONE)
COMMA = Figures(ShownIn(), comma=True, zone=ZONE)
THERE = Figures(ShownIn(TemperatureUnit.FAHRENHEIT, WeightUnit.OUNCE), comma=False, zone=ZONE)


@pytest.mark.parametrize("language", sorted(WITH_COMMA | POINT_IN))
def test_the_decimal_sign_is_that_of_the_unicode_locale_data(language: str) -> None:
    locale = Locale.parse(language.replace("-", "_"))
    assert get_decimal_symbol(locale) == ("." if language in POINT_IN else ",")


@pytest.mark.parametrize(
    ("accepted", "comma"),
    [
        pytest.param("", False, id="nothing said"),
        pytest.param("en-GB,en;q=0.9", False, id="english"),
        pytest.param("pt-PT,pt;q=0.9,en;q=0.8", True, id="portuguese"),
        pytest.param("de-CH,de;q=0.9", False, id="a country that differs"),
        pytest.param("DE;q=1", True, id="capitals and a weight"),
        pytest.param(",,;;", False, id="nonsense"),
    ],
)
def test_the_first_language_decides(accepted: str, comma: bool) -> None:
    assert writes_comma(accepted) is comma


@pytest.mark.parametrize(
    ("figures", "said"),
    [
        pytest.param(METRIC, f"18.4{GAP}°C", id="celsius"),
        pytest.param(COMMA, f"18,4{GAP}°C", id="comma"),
        pytest.param(THERE, f"65.1{GAP}°F", id="fahrenheit"),
    ],
)
def test_a_temperature(figures: Figures, said: str) -> None:
    assert figures.temperature(18.4) == said
    assert figures.amount(Quantity.TEMPERATURE, 18.4) == said


@pytest.mark.parametrize(
    ("figures", "said"),
    [
        pytest.param(METRIC, f"2.8{GAP}K", id="kelvin, as in messages"),
        pytest.param(COMMA, f"2,8{GAP}K", id="comma"),
        pytest.param(THERE, f"5.0{GAP}°F", id="fahrenheit"),
    ],
)
def test_a_margin(figures: Figures, said: str) -> None:
    assert figures.margin(2.79) == said


def test_other_figures() -> None:
    assert METRIC.amount(Quantity.HUMIDITY, 81.26, 1) == f"81.3{GAP}%"
    assert METRIC.difference(-2.0) == f"{MINUS}2.0{GAP}°C"
    assert THERE.difference(2.0) == f"3.6{GAP}°F"
    assert COMMA.number(1.25, 1) == "1,2"
    assert METRIC.said("The CO2 of tent/CO2 is up.") == "The CO₂ of tent/CO2 is up."
    assert COMMA.said("At 18:40, 1.24 kg. 3 of them.") == "At 18:40, 1,24 kg. 3 of them."


@pytest.mark.parametrize(
    ("figures", "value", "said"),
    [
        pytest.param(METRIC, 9999.0, "9999", id="below ten thousand"),
        pytest.param(METRIC, 10_000.0, "10,000", id="ten thousand"),
        pytest.param(METRIC, -1_234_567.0, f"{MINUS}1,234,567", id="millions"),
        pytest.param(COMMA, 12_345.0, "12\N{NARROW NO-BREAK SPACE}345", id="comma"),
    ],
)
def test_thousands(figures: Figures, value: float, said: str) -> None:
    assert figures.number(value, 0) == said
    assert figures.amount(Quantity.CO2, value) == f"{said}{GAP}ppm"


@pytest.mark.parametrize(
    ("figures", "weight_g", "said"),
    [
        pytest.param(METRIC, 600.0, f"600{GAP}g", id="grams"),
        pytest.param(METRIC, 999.6, f"1.00{GAP}kg", id="just a kilogram"),
        pytest.param(COMMA, 1240.0, f"1,24{GAP}kg", id="comma"),
        pytest.param(THERE, 601.0, f"1{GAP}lb{GAP}5.2{GAP}oz", id="ounces"),
    ],
)
def test_a_weight(figures: Figures, weight_g: float, said: str) -> None:
    assert figures.weight(weight_g) == said
