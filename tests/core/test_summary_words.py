"""What is said of several things at once, of the night, and of harm that is over."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from chamberwatch.core import summary_words as words
from chamberwatch.core.watch.outlook import HoldAnswer
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Reminder
from chamberwatch.core.watch.situation import Limit
from chamberwatch.core.wording import Message
from tests.make import NOON, TENT, evidence, house

MIST = Message("Tent: mist now", "Humidity 76.5 % and falling. Two squeezes. Wet the walls.")
COLD = Message("Tub: warm it", "Temperature 11.0 °C")
DRY = "Tent too dry from 02:10 to 04:30"


@pytest.mark.parametrize(
    ("waited", "over", "night", "title", "body"),
    [
        pytest.param(
            [MIST, COLD],
            [DRY],
            ["Tent since 22:00: humidity 82 to 91 %, now 85 %."],
            "2 things wait for you",
            "Tent: mist now. Humidity 76.5 % and falling. Two squeezes.\n"
            "Tub: warm it. Temperature 11.0 °C.\n"
            f"Back in order: {DRY}.\n"
            "Tent since 22:00: humidity 82 to 91 %, now 85 %.",
            id="all of it",
        ),
        pytest.param(
            [MIST], [], [], "One thing waits for you",
            "Tent: mist now. Humidity 76.5 % and falling. Two squeezes.", id="one",
        ),
        pytest.param(
            [], [DRY], [], "Nothing to do: all is back in order", f"Back in order: {DRY}.",
            id="over",
        ),
        pytest.param([], [], ["Tent: fine."], "All well", "Tent: fine.", id="all well"),
    ],
)  # fmt: skip
def test_one_message_for_all(
    waited: list[Message], over: list[str], night: list[str], title: str, body: str
) -> None:
    assert words.summary(waited, over, night) == Message(title, body)


def test_what_is_not_over_is_not_called_well() -> None:
    one = words.summary([], [], ["Tent: fine."], ["Tent: mist now"])
    told = "Told before and not over yet: Tent: mist now"
    assert one == Message("Nothing new, but one thing isn't over yet", f"{told}.\nTent: fine.")
    more = words.summary([], [DRY], [], ["Tent: mist now", "Tub: warm it"])
    assert more.title == "Nothing new, but 2 things aren't over yet"
    assert more.body == f"{told}; Tub: warm it.\nBack in order: {DRY}."
    assert words.summary([MIST], [], [], ["Tub: warm it"]).title == "One thing waits for you"


@pytest.mark.parametrize(
    ("waited", "over", "title"),
    [
        pytest.param([], [], "chamberwatch itself is not well", id="else all well"),
        pytest.param([], [DRY], "chamberwatch itself is not well", id="else all over"),
        pytest.param([MIST], [], "One thing waits for you", id="the mushrooms first"),
    ],
)
def test_a_watcher_that_ails_is_not_called_well(
    waited: list[Message], over: list[str], title: str
) -> None:
    said = words.summary(waited, over, ["Tent: fine.", *words.itself(["No stick."])])
    assert said.title == title
    assert said.body.endswith("Tent: fine.\nchamberwatch itself is not well: No stick.")


def test_silence_is_not_called_well() -> None:
    silent = words.night(TENT, NOON, [], UTC)
    said = words.summary([], [], [silent, "Tub since 22:00: humidity 84 %."])
    assert said.title == "Nobody knows how it is: look at the sensors"
    assert said.body.startswith("Tent: nothing was heard since 12:00.")


def test_more_than_anybody_reads() -> None:
    said = words.summary([MIST] * 8, [DRY] * 9, [])
    lines = said.body.splitlines()
    assert said.title == "8 things wait for you"
    assert lines[6] == "And 2 more; they stand on the page."
    assert lines[7].count(DRY) == 6
    assert lines[7].endswith("; and 3 more.")


@pytest.mark.parametrize(
    ("body", "short"),
    [
        pytest.param("", "", id="nothing"),
        pytest.param("Look at it!", "Look at it!", id="one"),
        pytest.param("2.5 g. Then 3.5 g. Then more.", "2.5 g. Then 3.5 g.", id="figures"),
        pytest.param("First line\nSecond line.", "First line.", id="lines"),
    ],
)
def test_the_first_sentences(body: str, short: str) -> None:
    assert words.short(body) == short


@pytest.mark.parametrize(
    ("call", "subject", "times", "said"),
    [
        pytest.param(Call.MIST, "", 1, "Tent too dry from 13:00 to 14:30", id="once"),
        pytest.param(
            Call.VENT, "", 3, "Tent stale, 3 times, last from 13:00 to 14:30", id="three times"
        ),
        pytest.param(
            Call.CHECK_SENSOR, "middle", 1,
            "Tent sensor middle silent or in doubt from 13:00 to 14:30", id="sensor",
        ),
        pytest.param(
            Call.DRY_OFF, "surfaces", 1, "Tent surfaces wet from 13:00 to 14:30", id="surfaces"
        ),
        pytest.param(Call.SOAK, "", 1, "Tent soak from 13:00 to 14:30", id="any other"),
    ],
)  # fmt: skip
def test_what_is_over(call: Call, subject: str, times: int, said: str) -> None:
    span = (NOON + timedelta(hours=1), NOON + timedelta(hours=2.5))
    reminder = Reminder(1, "tent", call, subject)
    assert words.over_since(TENT, reminder, span, times, UTC) == said


def _newest(quantity: Quantity, value: float) -> Reading:
    return Reading(NOON, "middle", quantity, value)


def test_the_night_in_a_line() -> None:
    since = datetime(2026, 1, 19, 22, tzinfo=UTC)
    ranges = [
        (82.2, 91.4, _newest(Quantity.HUMIDITY, 85.0)),
        (18.0, 18.0, _newest(Quantity.TEMPERATURE, 18.04)),
        (1.0, 2.0, None),
    ]
    assert words.night(TENT, since, ranges, UTC) == (
        "Tent since 22:00: humidity 82 to 91 %, now 85 %; temperature 18.0 °C."
    )
    assert words.night(TENT, since, [], UTC) == "Tent: nothing was heard since 22:00."


@pytest.mark.parametrize("hushed", [True, False])
def test_a_night_that_will_not_hold(hushed: bool) -> None:
    bedtime = datetime(2026, 1, 20, 22, tzinfo=UTC)
    answer = HoldAnswer(
        asked_until=bedtime + timedelta(hours=9.5),
        holds=False,
        until=bedtime + timedelta(hours=3.2),
        limit=Limit.WATER,
        humidity_pct=80.0,
        co2_ppm=None,
        mist=None,
        changes_per_h=None,
        load_share=None,
    )
    said = words.forecast(TENT, answer, bedtime, UTC, hushed=hushed)
    assert said == Message(
        "Tent: it won't hold till morning",
        "Not till 07:30 tomorrow: it lasts till about 01:10 tomorrow, then the water on walls and "
        "tray is used up." + (" You won't be woken for that." if hushed else ""),
    )


def test_harm_that_is_over() -> None:
    back = _newest(Quantity.HUMIDITY, 88.0)
    assert words.returned(house(), TENT, evidence(), back) == Message(
        "Tent: humidity is back inside its band",
        "Humidity 88 %, band 80 to 95 %. Nothing more to do.",
    )
    over = Message("Tent: it is over", "It is back in order.")
    assert words.returned(house(), TENT, evidence(), None) == over
    assert words.returned(house(), TENT, replace(evidence(), quantity=None), back) == over
