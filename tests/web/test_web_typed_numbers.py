"""Numbers as people type them, whichever form they are typed into."""

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.web.pages import noting
from chamberwatch.web.pages.chamber_form import answers
from chamberwatch.web.pages.check_forms import HAND, CheckIn, check_of
from chamberwatch.web.pages.growing import typed
from chamberwatch.web.pages.mend_fields import number_of
from chamberwatch.web.pages.typed_numbers import number_typed, whole_typed
from tests.web.test_web_rotation_page import FIGURES

NO_NUMBERS = ("nan", "NaN", "inf", "-inf", "infinity", "1_000", "1e3", "0x1f", "٣", "", "9" * 41)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        pytest.param("2", 2.0, id="whole"),
        pytest.param(" 2.5 ", 2.5, id="point"),
        pytest.param("2,5", 2.5, id="comma"),
        pytest.param("1,025", 1.025, id="three decimals"),
        pytest.param(".5", 0.5, id="no nought"),
        pytest.param("5,", 5.0, id="nothing behind the comma"),
        pytest.param("-1.5", -1.5, id="hyphen"),
        pytest.param("\N{MINUS SIGN}1,5", -1.5, id="minus"),
        pytest.param("+3", 3.0, id="plus"),
        pytest.param("12 500", 12500.0, id="blank"),
        pytest.param("12\N{NARROW NO-BREAK SPACE}500,5", 12500.5, id="as pages write it"),
        pytest.param("1\N{NO-BREAK SPACE}234\N{NO-BREAK SPACE}567", 1234567.0, id="millions"),
        pytest.param("1 2", None, id="two numbers"),
        pytest.param("12 5000", None, id="no group of three"),
        pytest.param("1.234,5", None, id="both signs"),
        pytest.param("1,2,3", None, id="two commas"),
        pytest.param("--1", None, id="two minuses"),
        pytest.param(".", None, id="a point"),
        pytest.param("5 g", None, id="a unit"),
        *(pytest.param(text, None, id=text[:9] or "empty") for text in NO_NUMBERS),
    ],
)
def test_a_number(text: str, value: float | None) -> None:
    assert number_typed(text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [("0", 0), (" 12 ", 12), ("007", 7), ("1.0", None), ("-1", None), ("1_0", None),
     ("²", None), ("٣", None), ("1234567890", None), ("", None)],
)  # fmt: skip
def test_a_count(text: str, value: int | None) -> None:
    assert whole_typed(text) == value


@pytest.mark.parametrize("text", [text for text in NO_NUMBERS if text])
def test_no_form_takes_what_is_no_number(text: str) -> None:
    told = CheckIn(once="mark-0001", do="keep", quantity="humidity", slope=text)
    with pytest.raises(RefusedError, match=r"write a number"):
        check_of(HAND, told, None, FIGURES)
    with pytest.raises(RefusedError, match=r"write a number"):
        number_of(text, "Grams")
    with pytest.raises(RefusedError, match=r"in percent"):
        typed.share(text)
    with pytest.raises(RefusedError, match=r"whole number"):
        typed.count(text)
    with pytest.raises(ValueError, match=r"no number"):
        noting.number(text)
    # The settings say what is wrong with it, so it comes to them as it was typed.
    assert answers({"kind": "fruiting", "squeeze_g": text}, {})["squeeze_g"] == text
