"""What is said of a reminder that is over, or about to be."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from chamberwatch.core import over_words, wording
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Evidence, Priority
from tests.make import NOON, TENT, at, evidence, house

LATER = at(30)


def later(was: Evidence, value: float | None) -> Evidence:
    return replace(was, value=value, since=LATER)


@pytest.mark.parametrize(
    ("was", "call", "now", "said"),
    [
        pytest.param(
            evidence(72.0),
            Call.MIST,
            89.0,
            "it was too dry / It is over: humidity is back inside its band (89 %). It was 72 % at "
            "12:00.",
            id="back inside",
        ),
        pytest.param(
            evidence(1350.0, Quantity.CO2, None, None, 1000.0, "top"),
            Call.VENT,
            700.0,
            "it was stale / It is over: CO2 (top) is back inside its band (700 ppm). It was "
            "1350 ppm at 12:00.",
            id="on a shelf",
        ),
        pytest.param(
            evidence(36.0, Quantity.TEMPERATURE, None, None, 35.0, "block"),
            Call.COOL,
            33.0,
            "a block was too warm / It is over: temperature (core) is back inside its band "
            "(33.0 °C). It was 36.0 °C at 12:00.",
            id="a core",
        ),
        pytest.param(
            evidence(72.0),
            Call.MIST,
            78.0,
            "it was too dry / It is over. Humidity: it was 72 % at 12:00. It is 78 % now, band "
            "80 to 95 %; if it stays so, you will be told anew.",
            id="outside again",
        ),
        pytest.param(
            evidence(97.0),
            Call.DRY_OFF,
            None,
            "it was too humid / It is over.",
            id="no value",
        ),
    ],
)
def test_over(was: Evidence, call: Call, now: float | None, said: str) -> None:
    words = over_words.over(house(), TENT, call, (was, later(was, now)), "12:00")
    title, body = said.split(" / ")
    assert words == wording.Message(f"Tent: {title}, and that is over", body)


def test_nothing_newer_was_heard() -> None:
    was = evidence(11.0, Quantity.TEMPERATURE, None, 13.0, 24.0)
    words = over_words.over(house(), TENT, Call.WARM, (was, was), "")
    assert words == wording.Message(
        "Tent: it was too cold, and that is over",
        "It is over. Temperature: it was 11.0 °C before.",
    )


@pytest.mark.parametrize(
    ("heard", "last"),
    [
        pytest.param(at(-20), " after 11:40", id="heard before"),
        pytest.param(None, "", id="never"),
    ],
)
def test_heard_again(heard: datetime | None, last: str) -> None:
    words = over_words.heard_again(TENT, "top", heard, NOON, UTC)
    assert words.title == "Tent: sensor top was quiet, and that is over"
    assert words.body.startswith(
        f"It is over: top is heard again. Nothing had come from it{last} for too long."
    )


@pytest.mark.parametrize(
    ("value", "low", "high", "is_inside"),
    [
        pytest.param(80.0, 80.0, 95.0, True, id="at the low limit"),
        pytest.param(95.0, 80.0, 95.0, True, id="at the high limit"),
        pytest.param(79.9, 80.0, 95.0, False, id="below"),
        pytest.param(95.1, 80.0, 95.0, False, id="above"),
        pytest.param(20.0, None, 95.0, True, id="no low limit"),
        pytest.param(99.0, 80.0, None, True, id="no high limit"),
        pytest.param(88.0, None, None, False, id="no band"),
        pytest.param(None, 80.0, 95.0, False, id="no value"),
    ],
)
def test_inside(
    value: float | None, low: float | None, high: float | None, is_inside: bool
) -> None:
    spoken = replace(evidence(low=low, high=high), value=value)
    assert wording.inside(spoken) is is_inside


def test_a_value_that_is_back_asks_for_nothing() -> None:
    said = wording.message(house(), TENT, Call.MIST, evidence(88.0), Priority.HIGH)
    assert said == wording.Message(
        "Tent: humidity is back inside its band",
        "Humidity 88 %, inside its band again; this closes by itself if it stays so.",
    )


def test_mist_after_venting() -> None:
    assert wording.mist_after(TENT) == wording.Message(
        "Tent: mist after venting",
        "See the other reminder first: it says whether to vent, and how much to mist.",
    )
