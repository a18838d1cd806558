"""What is said where findings share a cause, and of the room."""

from datetime import UTC, datetime

import pytest

from chamberwatch.core import cause_words
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Evidence
from chamberwatch.core.wording import Message
from tests.make import NOON, ROOM, at, evidence, house

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
