"""What can be told to the API, once."""

import threading
from datetime import timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.action import Deed
from tests.make import at
from tests.web.desk_fakes import Played

ACTIONS = "/api/v1/actions"
SEEN = "/api/v1/reminders/1/acknowledge"
SHELVE = "/api/v1/reminders/1/shelve"
MISTED: dict[str, Any] = {"chamber": "tent", "kind": "misted"}


def test_a_deed_is_recorded(client: TestClient, played: Played) -> None:
    sent = {**MISTED, "at": "2026-01-20T12:30:00+01:00", "note": "  two squeezes "}
    answer = client.post(ACTIONS, json=sent)
    assert answer.status_code == 201
    assert answer.json() == {
        "id": 101,
        "chamber": "tent",
        "kind": "misted",
        "at": "2026-01-20T11:30:00Z",
        "note": "two squeezes",
        "recorded": "2026-01-20T12:00:00Z",
        "via": "api",
        "into_air_g": None,
        "standing_g": None,
        "vent_minutes": None,
        "advised": False,
        "corrects": None,
        "withdrawn": False,
    }
    assert played.logbook.told == [("act", "tent", Deed.MISTED, at(-30), "two squeezes", "api")]


@pytest.mark.parametrize(
    ("kind", "amounts"),
    [
        pytest.param("misted", {"into_air_g": 2.0, "standing_g": 25.0}, id="misted"),
        pytest.param("misted", {"into_air_g": 2.04321, "standing_g": 24.987}, id="in tenths"),
        pytest.param("vented", {"vent_minutes": 10.0}, id="vented"),
    ],
)
def test_a_deed_keeps_its_amounts(
    client: TestClient, kind: str, amounts: dict[str, float]
) -> None:
    answer = client.post(ACTIONS, json={"chamber": "tent", "kind": kind, **amounts})
    assert answer.status_code == 201
    none = dict.fromkeys(("into_air_g", "standing_g", "vent_minutes"))
    assert {key: answer.json()[key] for key in none} == none | {
        key: round(value, 1) for key, value in amounts.items()
    }


@pytest.mark.parametrize(
    ("body", "episode"),
    [
        pytest.param(None, None, id="without-a-body"),
        pytest.param({}, None, id="empty"),
        pytest.param({"episode": 3}, 3, id="an-episode"),
    ],
)
def test_a_reminder_is_seen(
    client: TestClient, played: Played, body: dict[str, int] | None, episode: int | None
) -> None:
    answer = client.post(SEEN, json=body) if body is not None else client.post(SEEN)
    assert (answer.status_code, answer.json()["state"]) == (200, "acknowledged")
    assert played.logbook.told == [("seen", 1, episode, "api")]


def test_seen_twice_is_a_conflict(client: TestClient) -> None:
    client.post(SEEN)
    again = client.post(SEEN)
    assert (again.status_code, again.json()["type"]) == (409, "/problems#conflict")


def test_a_reminder_is_put_off(client: TestClient, played: Played) -> None:
    answer = client.post(SHELVE, json={"for": "PT30M"})
    assert answer.status_code == 200
    assert answer.json()["shelved_until"] == "2026-01-20T12:30:00Z"
    assert played.logbook.told == [("shelve", 1, timedelta(minutes=30), "api")]


def test_the_same_key_is_done_once(client: TestClient, played: Played) -> None:
    headers = {"Idempotency-Key": "abc"}
    first, second = (client.post(ACTIONS, json=MISTED, headers=headers) for _ in range(2))
    assert first.status_code == second.status_code == 201
    assert first.json() == second.json()
    assert len(played.logbook.told) == 1


def test_other_keys_are_other_deeds(client: TestClient, played: Played) -> None:
    for key in ("a", "b"):
        client.post(ACTIONS, json=MISTED, headers={"Idempotency-Key": key})
    client.post(ACTIONS, json=MISTED)
    assert len(played.logbook.told) == 3


@pytest.mark.parametrize(
    ("address", "body"),
    [
        pytest.param(ACTIONS, {**MISTED, "note": "x"}, id="other-body"),
        pytest.param(SHELVE, MISTED, id="other-address-not-valid"),
        pytest.param(SHELVE, {"for": "PT5M"}, id="other-address"),
        pytest.param(SEEN, {"episode": 3}, id="seen"),
    ],
)
def test_a_key_for_something_else_is_refused(
    client: TestClient, played: Played, address: str, body: dict[str, Any]
) -> None:
    headers = {"Idempotency-Key": "abc"}
    client.post(ACTIONS, json=MISTED, headers=headers)
    other = client.post(address, json=body, headers=headers)
    assert other.status_code == 422
    assert other.headers["content-type"] == "application/problem+json"
    assert len(played.logbook.told) == 1


@pytest.mark.parametrize(
    ("address", "body"),
    [
        pytest.param(ACTIONS, MISTED, id="actions"),
        pytest.param(SEEN, {}, id="acknowledge"),
        pytest.param(SHELVE, {"for": "PT5M"}, id="shelve"),
    ],
)
@pytest.mark.parametrize(
    ("length", "taken"), [pytest.param(128, True, id="128"), pytest.param(129, False, id="129")]
)
def test_a_key_has_at_most_128_characters(
    client: TestClient, address: str, body: dict[str, Any], length: int, taken: bool
) -> None:
    answer = client.post(address, json=body, headers={"Idempotency-Key": "k" * length})
    assert answer.is_success is taken
    if not taken:
        assert answer.status_code == 422
        assert answer.json()["errors"][0]["parameter"] == "Idempotency-Key"


@pytest.mark.parametrize(
    ("address", "body", "status"),
    [
        pytest.param("/api/v1/reminders/99/acknowledge", {}, 404, id="unknown"),
        pytest.param(ACTIONS, {**MISTED, "chamber": "attic"}, 404, id="no-chamber"),
        pytest.param(ACTIONS, {**MISTED, "at": "2026-02-01T00:00:00Z"}, 422, id="future"),
        pytest.param(SHELVE, {"for": "PT25H"}, 422, id="too-long"),
    ],
)
def test_a_refusal_is_answered_again_alike(
    client: TestClient, address: str, body: dict[str, Any], status: int
) -> None:
    headers = {"Idempotency-Key": "abc"}
    bare = client.post(address, json=body)
    first, second = (client.post(address, json=body, headers=headers) for _ in range(2))
    for answer in (bare, first, second):
        assert answer.status_code == status
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json() == bare.json()


def test_seen_in_vain_with_a_key(client: TestClient) -> None:
    client.post(SEEN)
    answer = client.post(SEEN, headers={"Idempotency-Key": "abc"})
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems#conflict")


def test_a_database_in_trouble_is_worth_another_try(client: TestClient, played: Played) -> None:
    headers = {"Idempotency-Key": "abc"}
    played.logbook.breaks = StorageError("The disk is full. Make room.")
    answer = client.post(ACTIONS, json=MISTED, headers=headers)
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems#storage")
    played.logbook.breaks = None
    assert client.post(ACTIONS, json=MISTED, headers=headers).status_code == 201


def test_a_double_tap_at_the_same_moment_is_one_deed(client: TestClient, played: Played) -> None:
    headers, answers = {"Idempotency-Key": "abc"}, []
    taps = [
        threading.Thread(
            target=lambda: answers.append(client.post(ACTIONS, json=MISTED, headers=headers))
        )
        for _ in range(4)
    ]
    for tap in taps:
        tap.start()
    for tap in taps:
        tap.join(10.0)
    assert {answer.text for answer in answers} == {answers[0].text}
    assert len(played.logbook.told) == 1
