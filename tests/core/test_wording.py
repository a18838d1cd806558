"""Every sentence, read aloud."""

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core import wording
from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.species import Species, Stated, View, Wants
from chamberwatch.core.growing.wants import Grown, follow
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.doubt import Doubt, Doubted, silence
from chamberwatch.core.watch.reading import Place, Quantity
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
            "Tent: mist now (pins dry out)",
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
            "Tent: cool it (heat hurts the crop)",
            "Temperature 31.0 °C, band 13 to 24 °C. This heat hurts the crop; do it first. Bring "
            "it below 23.5 °C: shade, a cooler room, more fresh air.",
            id="cool",
        ),
    ],
)
def test_message(call: Call, spoken: Evidence, priority: Priority, title: str, body: str) -> None:
    said = wording.message(house(), TENT, call, spoken, priority)
    assert said == wording.Message(title, body)


def hot(high: float = 35.0, sensor: str = "block") -> Evidence:
    return evidence(35.5, Quantity.TEMPERATURE, 1.2, None, high, sensor)


@pytest.mark.parametrize(
    ("shelf", "first"),
    [
        pytest.param(None, "The core of a block is at 35.5 °C and rising;", id="somewhere"),
        pytest.param(
            "top", "The core of a block (top) is at 35.5 °C and rising;", id="on a shelf"
        ),
    ],
)
def test_a_hot_core(shelf: str | None, first: str) -> None:
    core = Sensor("block", "tent", Place.CORE, shelf, quantities=(Quantity.TEMPERATURE,))
    said = wording.message(house(core), TENT, Call.COOL, hot(), Priority.HIGH)
    assert said == wording.Message(
        "Tent: cool it (heat hurts the crop)",
        f"{first} the crop is hurt above 35 °C. Bring it below 34.5 °C, and do it first: move "
        "the blocks apart and into a cooler room, and let fresh air pass between them.",
    )


def test_hot_air_of_a_sensor_that_is_not_known_any_more() -> None:
    said = wording.message(house(), TENT, Call.COOL, hot(30.0, "gone"), Priority.HIGH)
    assert said.body.startswith("Temperature 35.5 °C and rising, limit 30 °C. This heat hurts")


@pytest.mark.parametrize(
    ("margin", "within", "feel"),
    [
        pytest.param(
            Margin(13.5, -1.26, 0.42, Origin.MEASURED, wet=True),
            "-1.3 K ± 0.4, by a sensor of their own",
            False,
            id="measured",
        ),
        pytest.param(
            Margin(13.5, -0.36, 0.42, Origin.ASSUMED, wet=True),
            "-0.4 K ± 0.4, reckoned from the room through the cover",
            True,
            id="reckoned, too fine to tell",
        ),
        pytest.param(
            Margin(13.5, -0.04, 0.42, Origin.MEASURED, wet=True),
            "0.0 K ± 0.4, by a sensor of their own",
            True,
            id="nought has no sign",
        ),
        pytest.param(
            Margin(13.5, -3.7, 1.2, Origin.DECLARED, wet=True),
            "-4 K ± 1, as declared",
            False,
            id="no finer than its spread",
        ),
    ],
)
def test_wet_surfaces(margin: Margin, within: str, feel: bool) -> None:
    said = wording.wet_surfaces(TENT, at(-650), margin, NOON, UTC)
    first = "Feel them first, since this is as fine as the sensors can tell. " if feel else ""
    assert said == wording.Message(
        "Tent: let it dry off",
        f"The walls have been wet since 01:10 (their margin to the dew point is {within}): caps "
        f"that stay wet blotch. {first}Vent a little, leave the bottle alone until the walls are "
        "dry, and wipe what stands on the caps' side.",
    )


def test_wet_surfaces_of_which_little_is_known() -> None:
    said = wording.wet_surfaces(TENT, None, None, NOON, UTC)
    assert said.body.startswith(
        "The walls have been wet for a while (their margin to the dew point can't be told just "
        "now): caps that stay wet blotch. Vent a little,"
    )


@pytest.mark.parametrize(
    ("since", "first"),
    [
        pytest.param(at(-650), "The walls had been wet since 01:10; that is over.", id="since"),
        pytest.param(None, "The walls had been wet for a while; that is over.", id="not known"),
    ],
)
def test_surfaces_that_have_dried(since: datetime | None, first: str) -> None:
    said = wording.dried(TENT, since, NOON, UTC)
    assert said.title == "Tent: let it dry off"
    assert said.body.startswith(f"{first} Look over the caps that sat against them.")


def test_every_origin_has_its_words() -> None:
    assert set(wording.SURFACE_FROM) == set(Origin)


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


WET = Doubt("top", Doubted.WET, NOON, "top may be wet.", frozenset({Quantity.HUMIDITY}))
LOW = Doubt("top", Doubted.LOW_BATTERY, NOON, "The battery is low.")
UNLIKE = Doubt("top", Doubted.DISAGREEING, NOON, "One of the two is wrong.")


@pytest.mark.parametrize(
    ("held", "quantity", "note"),
    [
        pytest.param(
            WET,
            Quantity.HUMIDITY,
            " Only sensor top says so, and it may be wet: look at it first.",
            id="the only one, and doubted",
        ),
        pytest.param(WET, Quantity.CO2, "", id="another quantity"),
        pytest.param(
            UNLIKE,
            Quantity.TEMPERATURE,
            " Sensor top says so, and it disagrees with another: look at both first.",
            id="one of the two",
        ),
        pytest.param(UNLIKE, Quantity.CO2, "", id="CO2 is not compared"),
        pytest.param(LOW, Quantity.HUMIDITY, "", id="a low battery measures well"),
        pytest.param(silence("top", NOON), Quantity.HUMIDITY, "", id="silence says enough"),
        pytest.param(None, Quantity.HUMIDITY, "", id="believed"),
    ],
)
def test_a_message_says_that_its_sensor_is_doubted(
    held: Doubt | None, quantity: Quantity, note: str
) -> None:
    doubts = {} if held is None else {"top": held}
    plain = wording.Message("Tent: mist now", "Humidity 76 %.")
    said = wording.with_doubt(plain, evidence(quantity=quantity, sensor="top"), doubts)
    assert said == wording.Message("Tent: mist now", "Humidity 76 %." + note)


def test_a_doubt_and_its_end() -> None:
    assert wording.doubt(TENT, WET) == wording.Message(
        "Tent: look at sensor top", "top may be wet."
    )
    shown = Evidence("top", Quantity.HUMIDITY, 99.5, None, None, None, NOON)
    over = wording.believed(TENT, shown, NOON, UTC)
    assert over.body.startswith("top was in doubt from 12:00 on and gives good readings again.")
    undated = Evidence("top", Quantity.HUMIDITY, 99.5, None, None, None, None)
    assert "from a while ago on" in wording.believed(TENT, undated, NOON, UTC).body


def test_every_doubt_has_its_words() -> None:
    assert set(wording.MAY) == set(Doubted)


def band(low: float | None, high: float | None) -> Stated:
    return Stated((View(low, high),))


OYSTER = Species(
    "grey-oyster",
    "Grey oyster",
    "",
    {Stage.FRUITING: Wants(Stage.FRUITING, band(10, 21), band(85, 95), band(None, 1000))},
)


@pytest.mark.parametrize(
    ("call", "spoken", "first"),
    [
        pytest.param(
            Call.MIST,
            evidence(76.0, low=85.0),
            "Humidity 76 % and falling, band 85 to 95 % for batch 14 (grey oyster, fruiting).",
            id="low",
        ),
        pytest.param(
            Call.VENT,
            evidence(1350.0, Quantity.CO2, 200.0, None, 1000.0),
            "CO2 1350 ppm and rising, limit 1000 ppm for batch 14 (grey oyster, fruiting).",
            id="high",
        ),
        pytest.param(
            Call.COOL, hot(), "The core of a block is at 35.5 °C and rising; ", id="a core"
        ),
    ],
)
def test_it_names_the_batch_whose_limit_it_is(call: Call, spoken: Evidence, first: str) -> None:
    following = follow([Grown(14, OYSTER, Stage.FRUITING, sealed=False)], {})
    tent = replace(TENT, following=following)
    said = wording.message(house(), tent, call, spoken, Priority.MEDIUM)
    assert said.body.startswith(first)


def test_a_quantity_that_nobody_wants_names_nobody() -> None:
    tent = replace(TENT, following=follow([], {}))
    assert wording.whose(tent, Call.MIST, Quantity.HUMIDITY) == ""


@pytest.mark.parametrize(
    ("spoken", "words"),
    [
        pytest.param(evidence(79.7), "Humidity 79.7 %", id="just below"),
        pytest.param(evidence(79.4), "Humidity 79 %", id="below"),
        pytest.param(evidence(95.2, trend_per_h=None), "Humidity 95.2 %", id="just above"),
        pytest.param(
            evidence(24.02, Quantity.TEMPERATURE, None, 13.0, 24.0),
            "Temperature 24.02 °C",
            id="a temperature",
        ),
    ],
)
def test_a_value_beside_its_limit_does_not_read_as_the_limit(spoken: Evidence, words: str) -> None:
    said = wording.message(house(), TENT, Call.MIST, spoken, Priority.MEDIUM)
    assert said.body.startswith(words)
