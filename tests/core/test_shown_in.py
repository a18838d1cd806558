"""Figures of sentences in the units that the grower likes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.shown_in import ShownIn, TemperatureUnit, WeightUnit

AS_KEPT = ShownIn()
THERE = ShownIn(TemperatureUnit.FAHRENHEIT, WeightUnit.OUNCE)
GAP = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"


# Factors: NIST SP 811 (2008), B.8: t/°C = (t/°F - 32) / 1.8; 1 oz = 28.349 523 125 g exactly.
@pytest.mark.parametrize(
    ("sentence", "said"),
    [
        ("Temperature 18.4 °C and falling.", "Temperature 65.1 °F and falling."),
        ("band 13 to 24 °C", "band 55 to 75 °F"),
        (f"{MINUS}2.5{GAP}°C outside", f"27.5{GAP}°F outside"),
        (f"{MINUS}40.0{GAP}°C", f"{MINUS}40.0{GAP}°F"),
        ("-40 °C", "-40 °F"),
        ("above the band by 1.2 °C", "above the band by 2.2 °F"),
        ("18.4 °C ± 0.3 °C", "65.1 °F ± 0.5 °F"),
        ("the walls are 2 K colder", "the walls are 4 °F colder"),
        ("+0.5 K", "+0.9 °F"),
        ("1.18 kg of dry air holds 1.03 J/(g K)", "2 lb 9.6 oz of dry air holds 1.03 J/(g K)"),
        ("about 25 g into the air", "about 0.9 oz into the air"),
        ("20 to 30 g", "0.7 to 1.1 oz"),
        ("4 g an hour, 8.7 g/m3 and 12 g/kg", "0.1 oz an hour, 8.7 g/m3 and 12 g/kg"),
        ("1.2 kg in all", "2 lb 10.3 oz in all"),
        ("Humidity 76 %, CO2 850 ppm at 18:40.", "Humidity 76 %, CO2 850 ppm at 18:40."),
        ("", ""),
    ],
)
def test_a_sentence(sentence: str, said: str) -> None:
    assert THERE.said(sentence) == said
    assert AS_KEPT.said(sentence) == sentence


@pytest.mark.parametrize(
    ("weight_g", "grams", "ounces"),
    [
        (0.0, "0 g", "0.0 oz"),
        (2.0, "2 g", "0.1 oz"),
        (28.349523125, "28 g", "1.0 oz"),
        (453.59237, "454 g", "1 lb 0.0 oz"),
        (453.5, "454 g", "1 lb 0.0 oz"),
        (999.4, "999 g", "2 lb 3.3 oz"),
        (999.6, "1.00 kg", "2 lb 3.3 oz"),
    ],
)
def test_a_weight(weight_g: float, grams: str, ounces: str) -> None:
    assert (AS_KEPT.weight_words(weight_g), THERE.weight_words(weight_g)) == (grams, ounces)


def test_values() -> None:
    assert (THERE.temperature_of(100.0), THERE.difference_of(100.0)) == (212.0, 180.0)
    assert THERE.weight_of(453.59237) == pytest.approx(16.0, abs=1e-12)
    assert (AS_KEPT.temperature_of(1.5), AS_KEPT.difference_of(1.5)) == (1.5, 1.5)
    assert AS_KEPT.weight_of(1.5) == 1.5


@given(st.floats(-60.0, 130.0))
def test_any_temperature_is_rewritten_as_fine_as_it_was(value_c: float) -> None:
    written = f"{value_c:.1f}"
    number, unit = THERE.said(f"{written} °C").split(" ")
    assert unit == "°F"
    assert float(number) == pytest.approx(float(written) * 1.8 + 32.0, abs=0.0501)
