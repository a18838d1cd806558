"""What the API says of deeds and of what came of them."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.effect import Effect, Outcome
from chamberwatch.core.watch.reminder import Call
from tests.make import at
from tests.web.desk_fakes import MISTED, Played

ACTIONS = "/api/v1/actions"
VENTED = Action(5, "tent", Deed.VENTED, at(-30), "", at(-30), "page", amount=4.0)
ELSEWHERE = Action(6, "room", Deed.NOTED, at(-10), "aired", at(-10), "api")


@pytest.fixture
def visitor(client: TestClient, played: Played) -> TestClient:
    effects = {
        MISTED.id: Effect(
            Call.MIST, Outcome.CAME, 76.04, 85.02, 1.0, 3.71, timedelta(minutes=11, seconds=20)
        )
    }
    tent, room = played.history.rooms["tent"], played.history.rooms["room"]
    played.put(replace(tent, actions=(VENTED, MISTED), effects=effects))
    played.put(replace(room, actions=(ELSEWHERE,)))
    return client


def listed(visitor: TestClient, asked: str = "") -> list[dict[str, Any]]:
    answer = visitor.get(f"{ACTIONS}{asked}")
    assert answer.status_code == 200
    found: list[dict[str, Any]] = answer.json()["actions"]
    return found


def test_deeds_newest_first_with_what_came_of_them(visitor: TestClient) -> None:
    noted, vented, misted = listed(visitor)
    assert [each["id"] for each in (noted, vented, misted)] == [6, 5, 4]
    assert (noted["effect"], vented["effect"]) == (None, None)
    assert vented["vent_minutes"] == 4.0
    assert misted["effect"] == {
        "outcome": "came",
        "quantity": "humidity",
        "unit": "%",
        "before": 76.0,
        "after": 85.0,
        "change": 9.0,
        "minutes": 3.7,
        "held_minutes": 11.3,
        "words": "humidity rose 9 % in 4 min, held 11 min",
    }


@pytest.mark.parametrize(
    ("effect", "outcome", "words"),
    [
        pytest.param(
            Effect(Call.VENT, Outcome.NONE, 1300.0, 1290.0, 60.0),
            "none",
            "CO2 has not fallen",
            id="none",
        ),
        pytest.param(Effect(Call.VENT, Outcome.PENDING), "too early to tell", None, id="early"),
        pytest.param(Effect(Call.VENT, Outcome.UNKNOWN), "can't be told", None, id="unknown"),
    ],
)
def test_what_is_not_known_has_no_words(
    visitor: TestClient, played: Played, effect: Effect, outcome: str, words: str | None
) -> None:
    played.put(replace(played.history.rooms["tent"], effects={VENTED.id: effect}))
    told = listed(visitor)[1]["effect"]
    assert (told["outcome"], told["words"], told["held_minutes"]) == (outcome, words, None)


def test_of_one_chamber_and_so_many(visitor: TestClient) -> None:
    assert [each["id"] for each in listed(visitor, "?chamber=tent")] == [5, 4]
    assert [each["id"] for each in listed(visitor, "?limit=1")] == [6]


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        pytest.param("?chamber=attic", 404, id="no such chamber"),
        pytest.param("?limit=0", 422, id="none"),
        pytest.param("?limit=201", 422, id="too many"),
    ],
)
def test_refusals_are_problems(visitor: TestClient, asked: str, status: int) -> None:
    answer = visitor.get(f"{ACTIONS}{asked}")
    assert (answer.status_code, answer.headers["content-type"]) == (
        status,
        "application/problem+json",
    )
