"""What the API says of mistings, ventings and air changes."""

from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from chamberwatch.service.books import Span
from chamberwatch.web.app import create_app
from tests.make import NOON, at
from tests.web.desk_fakes import Played
from tests.web.lookback_fakes import FakeLookback

CHAMBERS = "/api/v1/chambers"
MISTINGS = f"{CHAMBERS}/tent/mistings"
CHANGES = f"{CHAMBERS}/tent/air-changes"
PROBLEM = "application/problem+json"


@pytest.fixture
def lookback() -> FakeLookback:
    return FakeLookback()


@pytest.fixture
def visitor(played: Played, lookback: FakeLookback) -> TestClient:
    desk = replace(played.desk, lookback=lookback)
    return TestClient(create_app(desk), base_url="http://localhost")


def test_mistings_newest_first(visitor: TestClient) -> None:
    answer = visitor.get(MISTINGS)
    assert answer.status_code == 200
    body = answer.json()
    assert body["chamber"] == "tent"
    assert body["typical_hold_minutes"] == {
        "value": 11.3,
        "low": 9.0,
        "high": 13.2,
        "origin": "measured",
        "count": 5,
    }
    untold, told = body["mistings"]
    assert told == {
        "id": 3,
        "start": "2026-01-20T10:25:00Z",
        "end": "2026-01-20T10:26:00Z",
        "recorded": True,
        "action": 4,
        "was_it": None,
        "question": None,
        "humidity_before_pct": 77.0,
        "humidity_after_pct": 91.3,
        "vapour_gain_g_per_m3": 2.46,
        "co2_before_ppm": 812.0,
        "co2_after_ppm": 810.0,
        "amount_g": 12.0,
        "held_minutes": 11.3,
        "still_holding": False,
    }
    assert untold["recorded"] is False
    assert untold["question"] == "Looks like a misting at 12:40 \N{EN DASH} was it?"
    assert (untold["held_minutes"], untold["still_holding"]) == (None, True)


def test_no_hold_is_known_yet(visitor: TestClient, lookback: FakeLookback) -> None:
    lookback.typical = None
    assert visitor.get(MISTINGS).json()["typical_hold_minutes"] is None


def test_air_changes_and_ventings(visitor: TestClient) -> None:
    body = visitor.get(CHANGES).json()
    assert body["best"] == {
        "value": 0.81,
        "low": 0.6,
        "high": 1.1,
        "origin": "measured",
        "count": 4,
    }
    refused, calm = body["air_changes"]
    assert calm == {
        "id": 2,
        "start": "2026-01-20T07:00:00Z",
        "end": "2026-01-20T10:00:00Z",
        "vented": False,
        "air_changes_per_h": 0.81,
        "low": 0.5,
        "high": 1.25,
        "r2": 0.988,
        "end_ppm": 1400.0,
        "inlet_ppm": 520.0,
        "inlet_measured": True,
        "source_g_per_h": 0.404,
        "refusal": None,
    }
    assert (refused["air_changes_per_h"], refused["vented"]) == (None, True)
    assert refused["refusal"] == "CO2 hardly changed: vent first"
    (venting,) = body["ventings"]
    assert (venting["minutes"], venting["amount_minutes"]) == (3.5, 4.0)
    assert venting["question"] == "Looks like a venting at 12:30 \N{EN DASH} was it?"


@pytest.mark.parametrize("address", [MISTINGS, CHANGES])
def test_which_stretch(visitor: TestClient, lookback: FakeLookback, address: str) -> None:
    assert visitor.get(address).status_code == 200
    query = "from=2026-01-20T10:00:00Z&to=2026-01-20T13:00:00%2B01:00&limit=1"
    assert visitor.get(f"{address}?{query}").status_code == 200
    assert lookback.asked == [
        (Span(NOON - timedelta(days=7), NOON), 200),
        (Span(at(-120), NOON), 1),
    ]


@pytest.mark.parametrize("address", [MISTINGS, CHANGES])
@pytest.mark.parametrize(
    "query",
    [
        pytest.param("from=2026-01-21T10:00:00Z&to=2026-01-20T10:00:00Z", id="wrong way round"),
        pytest.param("from=yesterday", id="no time"),
        pytest.param("limit=0", id="nothing asked"),
        pytest.param("colour=red", id="unknown"),
    ],
)
def test_a_query_that_cannot_be_read(visitor: TestClient, address: str, query: str) -> None:
    answer = visitor.get(f"{address}?{query}")
    assert (answer.status_code, answer.headers["content-type"]) == (422, PROBLEM)


@pytest.mark.parametrize("address", [MISTINGS, CHANGES])
def test_what_has_not_changed_is_not_sent_again(visitor: TestClient, address: str) -> None:
    tag = visitor.get(address).headers["etag"]
    again = visitor.get(address, headers={"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize("part", ["mistings", "air-changes"])
def test_no_such_chamber(visitor: TestClient, part: str) -> None:
    answer = visitor.get(f"{CHAMBERS}/cellar/{part}")
    assert (answer.status_code, answer.headers["content-type"]) == (404, PROBLEM)


@pytest.mark.parametrize("was_it", [True, False])
@pytest.mark.parametrize(
    "address",
    [
        pytest.param(f"{MISTINGS}/5/answer", id="misting"),
        pytest.param(f"{CHANGES}/ventings/6/answer", id="venting"),
    ],
)
def test_was_it(visitor: TestClient, address: str, was_it: bool) -> None:
    answer = visitor.post(address, json={"was_it": was_it})
    assert answer.status_code == 200
    assert (answer.json()["was_it"], answer.json()["question"]) == (was_it, None)


@pytest.mark.parametrize(
    ("address", "body", "status"),
    [
        pytest.param(f"{MISTINGS}/6/answer", {"was_it": True}, 404, id="that is a venting"),
        pytest.param(f"{MISTINGS}/99/answer", {"was_it": True}, 404, id="no such misting"),
        pytest.param(f"{CHANGES}/ventings/5/answer", {"was_it": True}, 404, id="a misting"),
        pytest.param(f"{CHAMBERS}/cellar/mistings/5/answer", {"was_it": True}, 404, id="chamber"),
        pytest.param(f"{MISTINGS}/5/answer", {"was_it": "perhaps"}, 422, id="no answer"),
        pytest.param(f"{MISTINGS}/5/answer", {}, 422, id="nothing said"),
        pytest.param(f"{MISTINGS}/0/answer", {"was_it": True}, 422, id="no id"),
    ],
)
def test_an_answer_that_fits_nothing(
    visitor: TestClient, address: str, body: dict[str, object], status: int
) -> None:
    answer = visitor.post(address, json=body)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM)


def test_an_answer_with_a_key_is_taken_once(visitor: TestClient, played: Played) -> None:
    key = {"Idempotency-Key": "k1"}
    first = visitor.post(f"{MISTINGS}/5/answer", json={"was_it": True}, headers=key)
    again = visitor.post(f"{MISTINGS}/5/answer", json={"was_it": True}, headers=key)
    assert (first.status_code, first.json()) == (again.status_code, again.json())
    assert played.books.writes == 1


def test_where_nobody_looks_back(played: Played) -> None:
    blind = TestClient(
        create_app(replace(played.desk, lookback=None)), base_url="http://localhost"
    )
    answer = blind.get(MISTINGS)
    assert (answer.status_code, answer.headers["content-type"]) == (422, PROBLEM)
