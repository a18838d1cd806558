"""Every sentence, read aloud."""

from datetime import UTC
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core import wording
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Evidence, Priority
from tests.make import NOON, TENT, at, evidence, house

LISBON = ZoneInfo("Europe/Lisbon")


@pytest.mark.parametrize(
    ("call", "spoken", "priority", "title", "body"),
    [
        pytest.param(
            Call.MIST,
            evidence(76.0),
            Priority.MEDIUM,
            "Tent: mist now",
            "Humidity 76 % and falling, band 80 to 95 %. Mist walls and floor finely, not "
            "straight onto the caps, until it reads about 88 %.",
            id="mist",
        ),
        pytest.param(
            Call.MIST,
            evidence(66.0, sensor="top"),
            Priority.HIGH,
            "Tent: mist now",
            "Humidity 66 % and falling (top), band 80 to 95 %. Pins dry out at this; do it first. "
            "Mist walls and floor finely, not straight onto the caps, until it reads about 88 %.",
            id="mist, harm",
        ),
        pytest.param(
            Call.VENT,
            evidence(1350.0, Quantity.CO2, 200.0, None, 1000.0),
            Priority.MEDIUM,
            "Tent: vent now",
            "CO2 1350 ppm and rising, limit 1000 ppm. Let fresh air in, away from where people "
            "sit, until it reads below 925 ppm.",
            id="vent",
        ),
        pytest.param(
            Call.DRY_OFF,
            evidence(97.0, trend_per_h=0.5),
            Priority.LOW,
            "Tent: let it dry off",
            "Humidity 97 % and steady, band 80 to 95 %. Leave the bottle alone and vent a little "
            "until it reads below 93 %; caps that stay wet blotch.",
            id="dry off",
        ),
        pytest.param(
            Call.WARM,
            evidence(11.0, Quantity.TEMPERATURE, None, 13.0, 24.0),
            Priority.MEDIUM,
            "Tent: warm it",
            "Temperature 11.0 °C, band 13 to 24 °C. Bring it gently to about 18.5 °C: a "
            "warmer room, or a mat outside the cover.",
            id="warm",
        ),
        pytest.param(
            Call.COOL,
            evidence(31.0, Quantity.TEMPERATURE, None, 13.0, 24.0),
            Priority.HIGH,
            "Tent: cool it",
            "Temperature 31.0 °C, band 13 to 24 °C. This heat hurts the crop; do it first. Bring "
            "it below 23.5 °C: shade, a cooler room, more fresh air.",
            id="cool",
        ),
    ],
)
def test_message(call: Call, spoken: Evidence, priority: Priority, title: str, body: str) -> None:
    said = wording.message(house(), TENT, call, spoken, priority)
    assert said == wording.Message(title, body)


def test_dry_and_stale_is_one_message() -> None:
    spoken = evidence(1350.0, Quantity.CO2, 200.0, None, 1000.0)
    said = wording.message(house(), TENT, Call.VENT, spoken, Priority.MEDIUM, then_mist=True)
    assert said.title == "Tent: vent, then mist"
    assert said.body.endswith(
        "Then mist, since the air is dry as well and fresh air dries it further."
    )


@pytest.mark.parametrize(
    ("heard", "first"),
    [
        pytest.param(at(-20), "Nothing has been heard from top since 11:40.", id="today"),
        pytest.param(
            at(-2000), "Nothing has been heard from top since 02:40 on 19 January.", id="yesterday"
        ),
        pytest.param(None, "Nothing has been heard from top yet.", id="never"),
    ],
)
def test_silence(heard: object, first: str) -> None:
    times = {str(at(-20)): at(-20), str(at(-2000)): at(-2000)}
    said = wording.silence(TENT, "top", times.get(str(heard)), NOON, LISBON)
    assert said.title == "Tent: look at sensor top"
    assert said.body.startswith(first)


@pytest.mark.parametrize(
    ("quantity", "value", "words"),
    [
        pytest.param(Quantity.TEMPERATURE, 18.26, "18.3 °C", id="temperature"),
        pytest.param(Quantity.HUMIDITY, 88.4, "88 %", id="humidity"),
        pytest.param(Quantity.PRESSURE, 100_130.0, "100.1 kPa", id="pressure"),
        pytest.param(Quantity.BATTERY, 2.96, "3.0 V", id="battery"),
    ],
)
def test_amount(quantity: Quantity, value: float, words: str) -> None:
    assert wording.amount(quantity, value) == words


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        pytest.param(80.0, 95.0, "band 80 to 95 %", id="both"),
        pytest.param(None, 95.0, "limit 95 %", id="high"),
        pytest.param(80.0, None, "at least 80 %", id="low"),
        pytest.param(None, None, "no band", id="none"),
    ],
)
def test_band_words(low: float | None, high: float | None, words: str) -> None:
    assert wording.band_words(Quantity.HUMIDITY, low, high) == words


def test_a_reminder_without_a_value_still_reads() -> None:
    silent = Evidence("middle", None, None, None, None, None, None)
    said = wording.message(house(), TENT, Call.COOL, silent, Priority.LOW)
    assert said.body == "Look at the chamber; no value was kept."


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        pytest.param(13.0, None, "gently to about 13.0 °C", id="one end"),
        pytest.param(None, None, "gently to its band", id="no end"),
    ],
)
def test_aim_without_limits(low: float | None, high: float | None, words: str) -> None:
    open_ended = evidence(5.0, Quantity.TEMPERATURE, None, low, high)
    said = wording.message(house(), TENT, Call.WARM, open_ended, Priority.MEDIUM)
    assert words in said.body


def test_times_of_day_are_local() -> None:
    summer = NOON.replace(month=7)
    assert wording.clock_words(summer, summer, LISBON) == "13:00"
    assert wording.clock_words(summer, summer, UTC) == "12:00"


def test_links() -> None:
    assert wording.link_line("later", "http://x/do/1") == ("Not for half an hour: http://x/do/1")
