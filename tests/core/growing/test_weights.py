"""Weights as they are written, against the exact definitions of the units."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.weights import grams, weight_words


# NIST Special Publication 811 (2008), appendix B.8: pound (avoirdupois) 4.535 924 E-01 kg, exactly
# 0.453 592 37 kg; ounce (avoirdupois) 2.834 952 E-02 kg, exactly 0.028 349 523 125 kg.
@pytest.mark.parametrize(
    ("text", "weight_g"),
    [
        pytest.param("600 g", 600.0, id="grams"),
        pytest.param("0.6 kg", 600.0, id="kilograms"),
        pytest.param("0,6kg", 600.0, id="a comma, no space"),
        pytest.param("1 lb", 453.59237, id="a pound"),
        pytest.param("1 oz", 28.349523125, id="an ounce"),
        pytest.param("21 oz", 21 * 28.349523125, id="ounces"),
        pytest.param("1 lb 5 oz", 21 * 28.349523125, id="pounds and ounces"),
        pytest.param("1lb5oz", 21 * 28.349523125, id="close together"),
        pytest.param("1.3 lb", 589.670081, id="parts of a pound"),
        pytest.param("  2 LBS ", 907.18474, id="capitals and more than one"),
        pytest.param("5 lb", 2267.96185, id="a common block"),
        pytest.param("600\N{NO-BREAK SPACE}g", 600.0, id="copied from a page"),
        pytest.param("1,240 kg", 1240.0, id="grams after a comma"),
        pytest.param("0,125 g", 0.125, id="thousandths"),
        pytest.param("1.250 lb", 566.9904625, id="as a scale shows it"),
        # What weighs nothing is for those who are told it: they know what to say instead.
        pytest.param("0 g", 0.0, id="nothing"),
    ],
)
def test_a_weight_is_read(text: str, weight_g: float) -> None:
    assert grams(text) == pytest.approx(weight_g, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("600", id="no unit"),
        pytest.param("", id="nothing"),
        pytest.param("kg", id="no number"),
        pytest.param("6 stone", id="another unit"),
        pytest.param("-5 g", id="below nothing"),
        pytest.param("5 g of pins", id="more words"),
        pytest.param("about 5 g", id="words before"),
        pytest.param("1.2.3 g", id="two points"),
        pytest.param("1e3 g", id="an exponent"),
        pytest.param("\N{ARABIC-INDIC DIGIT FIVE} g", id="other digits"),
        pytest.param("5 lb 1 kg", id="mixed units"),
        pytest.param("5 oz 1 lb", id="the wrong way round"),
        pytest.param("1 lb 2 oz 3 oz", id="too many parts"),
        pytest.param("1 kg 2 kg", id="the same unit twice"),
        pytest.param("1" * 50 + " g", id="far too long"),
        pytest.param("İ5 g", id="a letter that grows when it is made small"),
    ],
)
def test_what_is_no_weight_is_refused_with_the_cure(text: str) -> None:
    with pytest.raises(RefusedError, match=r"such as 600 g, 1\.2 kg, 21 oz or 1 lb 5 oz"):
        grams(text)


@pytest.mark.parametrize(
    ("text", "cure"),
    [
        pytest.param("1,240 g", "Write 1240 g, or 1.24 g", id="grams, comma"),
        pytest.param("1.240 g", "Write 1240 g, or 1.24 g", id="grams, point"),
        pytest.param("12,500 lb", "Write 12500 lb, or 12.50 lb", id="pounds"),
        pytest.param("1 lb 1,250 oz", "Write 1250 oz, or 1.25 oz", id="ounces after pounds"),
    ],
)
def test_what_may_be_a_thousand_times_as_much_is_refused(text: str, cure: str) -> None:
    with pytest.raises(RefusedError, match=cure):
        grams(text)


_NUMBERS = st.from_regex(r"[0-9]{1,6}([.,][0-9]{1,3})?", fullmatch=True)
_WRITTEN = st.lists(st.tuples(_NUMBERS, st.sampled_from(["g", "kg", "oz", "lb", "lbs", "st"])))


@given(st.text() | _WRITTEN.map(lambda parts: " ".join(f"{n} {unit}" for n, unit in parts)))
def test_any_text_is_a_weight_or_refused(text: str) -> None:
    with suppress(RefusedError):
        assert 0.0 <= grams(text) < float("inf")


@given(st.floats(0.0, 1e7))
def test_what_is_written_can_be_read_again(weight_g: float) -> None:
    read = grams(weight_words(weight_g))
    assert read == pytest.approx(weight_g, abs=0.51 if weight_g < 999.5 else 5.01)
    assert weight_words(read) == weight_words(weight_g)


@pytest.mark.parametrize(
    ("weight_g", "words"),
    [
        pytest.param(0.0, "0 g", id="nothing"),
        pytest.param(599.6, "600 g", id="grams"),
        pytest.param(999.4, "999 g", id="just below a kilogram"),
        pytest.param(999.6, "1.00 kg", id="as good as a kilogram"),
        pytest.param(1240.0, "1.24 kg", id="kilograms"),
        pytest.param(12_346.0, "12.35 kg", id="many"),
    ],
)
def test_a_weight_is_written_no_finer_than_it_was_weighed(weight_g: float, words: str) -> None:
    assert weight_words(weight_g) == words
