"""What is said where findings share a cause, and of the room."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from chamberwatch.core import cause_words
from chamberwatch.core.watch.joint import Joint
from chamberwatch.core.watch.opened import Opening
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Evidence
from chamberwatch.core.wording import Message
from tests.make import NOON, ROOM, TENT, at, evidence, house

DAMP = evidence(66.0, low=None, high=60.0, sensor="room")
STALE = evidence(5200.0, Quantity.CO2, low=None, high=5000.0, sensor="room")


@pytest.mark.parametrize(
    ("was", "said"),
    [
        pytest.param(
            evidence(55.0, high=60.0, sensor="room"),
            ("Living room: it was damp, and that is over", "It is over. Humidity is 55 % now."),
            id="damp",
        ),
        pytest.param(
            evidence(900.0, Quantity.CO2, high=5000.0, sensor="room"),
            (
                "Living room: it was full of CO2, and that is over",
                "It is over. CO2 is 900 ppm now.",
            ),
            id="CO2",
        ),
        pytest.param(
            Evidence("room", Quantity.HUMIDITY, None, None, 60.0, None, NOON),
            ("Living room: it was damp, and that is over", "It is over."),
            id="not heard since",
        ),
    ],
)
def test_a_room_that_is_well_again(was: Evidence, said: tuple[str, str]) -> None:
    assert cause_words.room_over(house(), ROOM, was) == Message(*said)


def test_a_damp_room_is_aired_and_a_stale_one_left() -> None:
    damp, stale = (cause_words.room(house(), ROOM, was) for was in (DAMP, STALE))
    assert damp.title == "Living room: air the room"
    assert damp.body.startswith("Humidity has been above 60 % for hours (66 % now): mould likes")
    assert stale.title == "Living room: leave it and air it"
    assert "do not sleep in that room" in stale.body


@pytest.mark.parametrize(
    ("since", "body"),
    [
        pytest.param(at(-42), "It is over. Nothing had come after 11:18.", id="known since when"),
        pytest.param(None, "It is over.", id="from the start"),
    ],
)
def test_sensors_are_heard_again(since: datetime | None, body: str) -> None:
    said = cause_words.everything_heard(since, NOON, UTC)
    assert said == Message("Sensors are heard again", body)


@pytest.mark.parametrize(
    ("since", "body"),
    [
        pytest.param(at(-60), "Still so, since 11:00. Humidity 76 %.", id="for an hour"),
        pytest.param(None, "Humidity 76 %.", id="who knows since when"),
    ],
)
def test_told_again(since: datetime | None, body: str) -> None:
    said = Message("Tent: mist now", "Humidity 76 %.")
    assert cause_words.again(said, since, NOON, UTC) == Message("Tent: mist now", body)


@pytest.mark.parametrize(
    ("together", "title", "ends"),
    [
        pytest.param(
            Joint(Call.COOL, (Call.VENT, Call.MIST)),
            "Tent: cool and vent it, then mist",
            "the same fresh air helps both. It is dry as well, since warm air dries faster: mist "
            "once it is cooler.",
            id="three",
        ),
        pytest.param(
            Joint(Call.VENT, (Call.DRY_OFF,)),
            "Tent: vent now",
            "It is too damp as well, and the same fresh air dries it.",
            id="a title of its own",
        ),
        pytest.param(Joint(Call.MIST), "Tent: vent now", "Open it.", id="alone"),
    ],
)
def test_what_shares_a_cause_is_said_together(together: Joint, title: str, ends: str) -> None:
    said = cause_words.joint(Message("Tent: vent now", "Open it."), together, "Tent")
    assert said.title == title
    assert said.body.startswith("Open it.")
    assert said.body.endswith(ends)


@pytest.mark.parametrize(
    ("chamber", "before", "after"),
    [
        ("Tent", "Tent: mist now (pins dry out)", "Tent: does it stand open? (pins dry out)"),
        ("Tub (old)", "Tub (old): mist now", "Tub (old): does it stand open?"),
        ("Tub (old)", "Tub (old): mist (dry)", "Tub (old): does it stand open? (dry)"),
    ],
)
def test_another_title_says_what_is_at_stake_too(chamber: str, before: str, after: str) -> None:
    tent = replace(TENT, title=chamber)
    said = cause_words.opened(Message(before, "Dry."), tent, Opening(12.0, 400.0, at(-4)), NOON)
    assert said.title == after
    both = Joint(Call.COOL, (Call.VENT,))
    cool = cause_words.joint(Message("Tent: cool it (heat hurts the crop)", "Do."), both, "Tent")
    assert cool.title == "Tent: cool and vent it (heat hurts the crop)"


def test_a_front_that_stands_open_is_asked_about() -> None:
    said = Message("Tent: mist now", "Humidity 71 % and falling, band 80 to 95 %. Mist.")
    assert cause_words.opened(said, TENT, Opening(12.0, 400.0, at(-4)), NOON) == Message(
        "Tent: does it stand open?",
        "Humidity 71 % and falling, band 80 to 95 %. Humidity fell by 12 % and CO2 by 400 ppm "
        "within 4 min, as when a front or a lid is open. Close it; if the air stays dry after "
        "that, mist.",
    )


@pytest.mark.parametrize(
    ("titles", "since", "title", "body"),
    [
        (["Tent"], at(-42), "Tent: look at 2 sensors", "middle and top since 11:18, while"),
        (["Tent", "Tub"], None, "Look at 2 sensors", "middle and top yet, while"),
    ],
)
def test_sensors_that_went_quiet_together(
    titles: list[str], since: datetime | None, title: str, body: str
) -> None:
    said = cause_words.silent_together(titles, ["middle", "top"], since, NOON, UTC)
    assert said.title == title
    assert body in said.body


@pytest.mark.parametrize(("since", "heard"), [(at(-42), "since 11:18"), (None, "yet")])
def test_nothing_at_all_is_heard(since: datetime | None, heard: str) -> None:
    said = cause_words.everything_silent(since, NOON, UTC)
    assert said.body.startswith(f"Nothing has been heard {heard}. Is the power on")
