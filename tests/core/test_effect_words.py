"""What came of a deed, in words."""

from dataclasses import replace
from datetime import UTC, timedelta
from typing import Final

import pytest

from chamberwatch.core.effect_words import no_effect, refill, refilled, said
from chamberwatch.core.watch.effect import Effect, Outcome
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Evidence
from tests.make import TENT, at, evidence

CAME: Final = Effect(Call.MIST, Outcome.CAME, 76.2, 85.0, 1.0, 3.7, timedelta(minutes=11))
NONE: Final = Effect(Call.MIST, Outcome.NONE, 76.2, 76.4, 1.0)


@pytest.mark.parametrize(
    ("effect", "words"),
    [
        pytest.param(CAME, "humidity rose 9 % in 4 min, held 11 min", id="misted"),
        pytest.param(replace(CAME, held=None), "humidity rose 9 % in 4 min", id="it holds"),
        pytest.param(
            replace(CAME, held=timedelta(seconds=40)),
            "humidity rose 9 % in 4 min, held hardly a minute",
            id="not for long",
        ),
        pytest.param(
            replace(CAME, held=timedelta(hours=3, minutes=50), minutes=0.2),
            "humidity rose 9 % in 1 min, held about 4 hours",
            id="for hours",
        ),
        pytest.param(replace(CAME, minutes=None, held=None), "humidity rose 9 %", id="plain"),
        pytest.param(
            Effect(Call.VENT, Outcome.CAME, 1403.0, 618.0, 60.0, 5.6),
            "CO2 fell 780 ppm in 6 min",
            id="vented",
        ),
        pytest.param(
            Effect(Call.DRY_OFF, Outcome.CAME, 97.0, 88.0, 1.5, 5.0),
            "humidity fell 9 % in 5 min",
            id="vented, no CO2 sensor",
        ),
        pytest.param(NONE, "humidity has not risen", id="no effect"),
        pytest.param(
            Effect(Call.VENT, Outcome.NONE, 1400.0, 1395.0, 60.0), "CO2 has not fallen", id="CO2"
        ),
        pytest.param(Effect(Call.MIST, Outcome.PENDING), "", id="too early"),
        pytest.param(replace(NONE, outcome=Outcome.UNKNOWN), "", id="can't be told"),
        pytest.param(Effect(Call.MIST, Outcome.CAME), "", id="without figures"),
    ],
)
def test_said(effect: Effect, words: str) -> None:
    assert said(effect) == words


@pytest.mark.parametrize(
    ("effect", "now", "title", "body"),
    [
        pytest.param(
            NONE,
            evidence(76.4),
            "Tent: the misting had no effect",
            "You misted at 12:05 and humidity has not risen (still 76 %). Look: is the bottle "
            "empty, is the cover open, and does the mist reach the air around the sensor?",
            id="misted",
        ),
        pytest.param(
            NONE,
            evidence(72.0),
            "Tent: the misting had no effect",
            "You misted at 12:05 and humidity has not risen (72 % now). Look: is the bottle "
            "empty, is the cover open, and does the mist reach the air around the sensor?",
            id="it fell",
        ),
        pytest.param(
            Effect(Call.VENT, Outcome.NONE, 1400.0, 1395.0, 60.0),
            evidence(1410.0, Quantity.CO2),
            "Tent: the venting had no effect",
            "You vented at 12:05 and CO2 has not fallen (still 1410 ppm). Look: was it open wide "
            "and for long enough, does the fan run with a free inlet, and is the air of the room "
            "as stale?",
            id="vented",
        ),
        pytest.param(
            Effect(Call.DRY_OFF, Outcome.NONE, 97.0, 96.8, 1.5),
            evidence(97.1),
            "Tent: the venting had no effect",
            "You vented at 12:05 and humidity has not fallen (still 97 %). Look: is the air of "
            "the room as damp, does water stand on walls and tray, and is the sensor itself wet?",
            id="to dry off",
        ),
        pytest.param(
            NONE,
            replace(evidence(), value=None),
            "Tent: the misting had no effect",
            "You misted at 12:05 and humidity has not risen. Look: is the bottle empty, is the "
            "cover open, and does the mist reach the air around the sensor?",
            id="no value",
        ),
    ],
)
def test_no_effect(effect: Effect, now: Evidence, title: str, body: str) -> None:
    words = no_effect(TENT, effect, at(5), now, (at(20), UTC))
    assert (words.title, words.body) == (title, body)


@pytest.mark.parametrize(
    ("holds_min", "held_min", "body"),
    [
        pytest.param(
            12.0,
            40.4,
            "Mistings held about 40 min before and about 12 min the last three times: the water "
            "that stood there is used up, and more mist alone won't hold. Fill the tray and wet "
            "the walls with fresh water; change what stands there daily.",
            id="minutes",
        ),
        pytest.param(
            0.5,
            200.0,
            "Mistings held about 3.5 hours before and hardly a minute the last three times: the "
            "water that stood there is used up, and more mist alone won't hold. Fill the tray and "
            "wet the walls with fresh water; change what stands there daily.",
            id="hours",
        ),
    ],
)
def test_refill(holds_min: float, held_min: float, body: str) -> None:
    words = refill(TENT, holds_min, held_min)
    assert words.title == "Tent: refill the tray and wet the walls"
    assert words.body == body


def test_refilled() -> None:
    words = refilled(TENT, 12.0)
    assert words.title == "Tent: refill the tray and wet the walls"
    assert words.body == (
        "The last mistings had held about 12 min only; that is over. If it happens often, a "
        "larger tray lasts longer."
    )
