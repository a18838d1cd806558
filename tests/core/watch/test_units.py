import pytest

from chamberwatch.core.errors import BadPayloadError
from chamberwatch.core.watch.reading import PLAUSIBLE, UNITS, Quantity
from chamberwatch.core.watch.units import SCALES, canonical

T, RH, CO2, P, BAT = (
    Quantity.TEMPERATURE,
    Quantity.HUMIDITY,
    Quantity.CO2,
    Quantity.PRESSURE,
    Quantity.BATTERY,
)


# Fixed points by definition: 0 °C = 273.15 K = 32 °F, 100 °C = 212 °F (SI brochure, 2.3.1;
# NIST SP 811, B.8), 1 mbar = 100 Pa, 1 ppm = 1e-6.
@pytest.mark.parametrize(
    ("quantity", "value", "unit", "expected"),
    [
        pytest.param(T, 21.5, None, 21.5, id="none"),
        pytest.param(T, 21.5, "°C", 21.5, id="celsius"),
        pytest.param(T, 21.5, "C", 21.5, id="c"),
        pytest.param(T, 21.5, "Cel", 21.5, id="senml celsius"),
        pytest.param(T, 32.0, "°F", 0.0, id="freezing in fahrenheit"),
        pytest.param(T, 70.7, "F", 21.5, id="fahrenheit"),
        pytest.param(T, 273.15, "K", 0.0, id="freezing in kelvin"),
        pytest.param(T, 294.65, "K", 21.5, id="kelvin without dust"),
        pytest.param(RH, 87.4, "%", 87.4, id="per cent"),
        pytest.param(RH, 87.4, "%RH", 87.4, id="senml humidity"),
        pytest.param(RH, 0.874, "fraction", 87.4, id="fraction"),
        pytest.param(RH, 0.874, "/", 87.4, id="senml ratio"),
        pytest.param(CO2, 850.0, "ppm", 850.0, id="ppm"),
        pytest.param(CO2, 0.085, "%", 850.0, id="co2 per cent"),
        pytest.param(CO2, 0.00085, "/", 850.0, id="co2 ratio"),
        pytest.param(P, 101_325.0, "Pa", 101_325.0, id="pascal"),
        pytest.param(P, 1013.25, "hPa", 101_325.0, id="hectopascal"),
        pytest.param(P, 1013.25, "mbar", 101_325.0, id="millibar"),
        pytest.param(P, 101.325, "kPa", 101_325.0, id="kilopascal"),
        pytest.param(BAT, 2.9, "V", 2.9, id="volt"),
        pytest.param(BAT, 2900.0, "mV", 2.9, id="millivolt"),
    ],
)
def test_units(quantity: Quantity, value: float, unit: str | None, expected: float) -> None:
    assert canonical(quantity, value, unit) == expected


def test_every_quantity_knows_its_own_unit() -> None:
    assert set(SCALES) == set(Quantity)
    for quantity in Quantity:
        assert SCALES[quantity][UNITS[quantity]] == (0.0, 1.0)


@pytest.mark.parametrize("quantity", list(Quantity))
def test_the_plausible_range_is_closed(quantity: Quantity) -> None:
    low, high = PLAUSIBLE[quantity]
    assert canonical(quantity, low, None) == low
    assert canonical(quantity, high, None) == high
    for beyond in (low - 0.01, high + 0.01):
        with pytest.raises(BadPayloadError, match="outside"):
            canonical(quantity, beyond, None)


@pytest.mark.parametrize(
    ("quantity", "value", "unit", "parts"),
    [
        pytest.param(
            RH, 140.0, None, ("humidity 140 %", "outside 0 to 105 %"), id="canonical unit"
        ),
        pytest.param(
            T, 400.0, "°F", ("400 °F (204.444 °C)", "outside -40 to 85 °C"), id="other unit"
        ),
        pytest.param(T, 21.0, "furlong", ("furlong", "°C, C, Cel, °F, F, K"), id="no unit of it"),
    ],
)
def test_refusals_name_value_unit_and_range(
    quantity: Quantity, value: float, unit: str | None, parts: tuple[str, ...]
) -> None:
    with pytest.raises(BadPayloadError) as caught:
        canonical(quantity, value, unit)
    assert all(part in str(caught.value) for part in parts), caught.value
