"""Numbers as loggers write them."""

import pytest

from chamberwatch.core.logged.numbers import (
    COMMA,
    POINT,
    decimal_sign,
    is_nothing,
    number,
    number_like,
    unit_of,
)


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        pytest.param("21.5", POINT, 21.5, id="plain"),
        pytest.param(" 21,5 ", COMMA, 21.5, id="comma"),
        pytest.param("-3", POINT, -3.0, id="minus"),
        pytest.param("\u22123,25", COMMA, -3.25, id="a real minus"),
        pytest.param("21.5 °C", POINT, 21.5, id="unit"),
        pytest.param("65%RH", POINT, 65.0, id="unit without a blank"),
        pytest.param("1,204", POINT, 1204.0, id="thousands"),
        pytest.param("1.013,25 hPa", COMMA, 1013.25, id="thousands, comma"),
        pytest.param("1.013", COMMA, 1013.0, id="thousands alone, comma"),
        pytest.param("1'013.2", POINT, 1013.2, id="thousands, mark"),
        pytest.param("1\u202f013,2", COMMA, 1013.2, id="thousands, narrow blank"),
        pytest.param(".5", POINT, 0.5, id="nothing before"),
        pytest.param("21.", POINT, 21.0, id="nothing behind"),
        pytest.param("4.2e2", POINT, 420.0, id="power of ten"),
    ],
)
def test_numbers(text: str, decimal: str, value: float) -> None:
    assert number_like(text)
    assert number(text, decimal) == value


@pytest.mark.parametrize(
    ("text", "decimal"),
    [
        pytest.param("abc", POINT, id="words"),
        pytest.param("", POINT, id="nothing"),
        pytest.param("21,5", POINT, id="the other sign"),
        pytest.param("21.5", COMMA, id="the other sign, turned"),
        pytest.param("1,20,4", POINT, id="groups of two"),
        pytest.param("21.5.3", POINT, id="two points"),
        pytest.param("21.5 apples", POINT, id="no unit"),
        pytest.param("12:30", POINT, id="a time"),
        pytest.param("inf", POINT, id="endless"),
    ],
)
def test_what_is_no_number(text: str, decimal: str) -> None:
    with pytest.raises(ValueError, match="is not a number"):
        number(text, decimal)


@pytest.mark.parametrize(
    ("cells", "sign"),
    [
        pytest.param(["21.5", "20"], POINT, id="points"),
        pytest.param(["21,5", "20"], COMMA, id="commas"),
        pytest.param(["20", "21"], POINT, id="whole ones"),
        pytest.param([], POINT, id="none"),
        pytest.param(["1,204"], None, id="three behind a comma"),
        pytest.param(["1,204", "21.5"], POINT, id="thousands beside points"),
        pytest.param(["1,204", "21,55"], COMMA, id="three beside two"),
        pytest.param(["0,125"], COMMA, id="nought before a comma"),
        pytest.param(["1013,250"], COMMA, id="four before a comma"),
        pytest.param(["1.013,250"], COMMA, id="both, comma last"),
        pytest.param(["1,013.250"], POINT, id="both, point last"),
        pytest.param(["21.500"], POINT, id="three behind a point"),
        pytest.param(["21,5", "20.5"], None, id="mixed"),
        pytest.param(["time", "-"], POINT, id="words"),
    ],
)
def test_the_sign_before_decimals(cells: list[str], sign: str | None) -> None:
    assert decimal_sign(cells) == sign


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("°C", "°C"),
        ("℃", "°C"),
        ("deg C", "°C"),
        ("ºF", "°F"),
        ("% RH", "%"),
        ("rH%", "%"),
        ("ppm", "ppm"),
        ("hPa", "hPa"),
        ("mV", "mV"),
        ("lux", None),
        ("", None),
    ],
)
def test_units(text: str, unit: str | None) -> None:
    assert unit_of(text) == unit


@pytest.mark.parametrize("text", ["", " ", "--", "NaN", "n/a", "NULL"])
def test_nothing_measured(text: str) -> None:
    assert is_nothing(text)
    assert not is_nothing("0")
