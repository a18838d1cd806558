"""The band of a chamber over the API: whose wish each limit is, and who is not suited."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from chamberwatch.storage.book import open_books
from chamberwatch.web.app import create_app
from tests.make import at
from tests.web.desk_fakes import Played
from tests.web.growing_fakes import growing

BATCHES = "/api/v1/batches"
BAND = "/api/v1/chambers/tent/band"


@pytest.fixture
def visitor(played: Played, tmp_path: Path) -> Iterator[TestClient]:
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", at(0))
    desk = replace(played.desk, growing=growing(books, played.clock))
    with TestClient(create_app(desk), base_url="http://localhost") as client:
        yield client
    books.close()


def bag(visitor: TestClient, species: str, *kinds: str, **more: object) -> int:
    """Start a bag in the tent and tell what happened to it since; return its number."""
    body = {"species": species, "container": "sealed bag", "chamber": "tent", "at": "2025-12-01"}
    answer = visitor.post(BATCHES, json={**body, **more})
    assert answer.status_code == 201, answer.text
    number: int = answer.json()["batch"]["id"]
    for day, kind in enumerate(kinds, 10):
        tell(visitor, number, kind=kind, at=f"2026-01-{day}")
    return number


def tell(visitor: TestClient, number: int, **body: object) -> dict[str, Any]:
    answer = visitor.post(f"{BATCHES}/{number}/entries", json=body)
    assert answer.status_code == 201, answer.text
    said: dict[str, Any] = answer.json()
    return said


def limits_of(said: dict[str, Any]) -> dict[str, Any]:
    return {limits["quantity"]: limits for limits in said["limits"]}


def test_a_stated_stage_has_the_same_shape(visitor: TestClient) -> None:
    said = visitor.get(BAND).json()
    assert (said["chamber"], said["follows"], said["batches"]) == ("tent", "stated stage", [])
    assert (said["disagreements"], said["settles_until"]) == ([], None)
    assert limits_of(said)["humidity"] == {
        "quantity": "humidity",
        "unit": "%",
        "low": {"value": 80.0, "because": None},
        "high": {"value": 95.0, "because": None},
        "harm_low": {"value": 70.0, "because": None},
        "harm_high": None,
        "high_after_min": 60.0,
        "words": "humidity 80 to 95 %: stated stage fruiting; common practice for a home chamber "
        "with nothing recorded in it. Hurt below 70 %",
    }


def test_a_sealed_bag_is_asked_for_temperature_alone(visitor: TestClient) -> None:
    bag(visitor, "grey-oyster")
    said = visitor.get(BAND).json()
    assert said["follows"] == "batches"
    assert list(limits_of(said)) == ["temperature"]
    assert said["batches"] == [
        {"batch": 1, "species": "Grey oyster", "stage": "colonisation", "sealed": True}
    ]


def test_opening_a_bag_changes_the_band_at_that_moment(visitor: TestClient) -> None:
    bag(visitor, "grey-oyster")
    before = visitor.get(BAND)
    opened = tell(visitor, 1, kind="opened")
    said = visitor.get(BAND, headers={"If-None-Match": before.headers["etag"]}).json()
    assert said["settles_until"] == "2026-01-20T12:15:00Z"
    low = limits_of(said)["humidity"]["low"]
    assert low["value"] == 90.0
    assert (low["because"]["batch"], low["because"]["stage"]) == (1, "pinning")
    assert low["because"]["words"] == "pinning, grey oyster, batch 1"
    assert low["because"]["source"].startswith("Stamets")
    assert "the source asks for at least 95 %" in low["because"]["note"]
    assert opened["bands"] == [
        {
            "chamber": "tent",
            "words": [limits["words"] for limits in said["limits"]],
            "disagreements": [],
        }
    ]
    same = tell(visitor, 1, kind="noted", note="smells good")
    assert (same["band_changed"], same["bands"]) == (False, opened["bands"])
    unchanged = visitor.get(BAND)
    assert (
        visitor.get(BAND, headers={"If-None-Match": unchanged.headers["etag"]}).status_code == 304
    )


def test_who_is_not_suited_is_named(visitor: TestClient) -> None:
    bag(visitor, "grey-oyster", "opened", "pinned")
    bag(visitor, "golden-oyster", "opened", "pinned")
    bag(visitor, "enoki", "opened")
    said = visitor.get(BAND).json()
    found = {each["quantity"]: each for each in said["disagreements"]}
    assert found["temperature"]["batches"] == [2, 3]
    # Enoki fruits at 10 to 16 °C, which its pins bear as well; golden oyster at 21 to 29 °C.
    assert found["temperature"]["words"] == (
        "no temperature suits all: batch 3 (enoki, pinning) wants at most 16 °C, batch 2 (golden "
        "oyster, fruiting) at least 21; 17.5 to 19.5 °C is the nearest compromise: move one of "
        "them"
    )
    assert found["temperature"]["compromise"] == {"low": 17.5, "high": 19.5}
    assert (found["co2"]["batches"], found["co2"]["compromise"]["low"]) == ([3], None)
    moved = tell(visitor, 3, kind="moved", chamber="shelf")
    assert moved["band_changed"] is True
    assert {band["chamber"] for band in moved["bands"]} == {"tent", "shelf"}
    # 10 to 21 °C and 21 to 29 °C meet in one figure, which nobody can hold.
    said = visitor.get(BAND).json()
    assert said["disagreements"] == []
    assert limits_of(said)["temperature"]["words"].startswith("temperature 20 to 22 °C: at least")


@pytest.mark.parametrize(
    ("chamber", "follows"),
    [
        pytest.param("room", "nothing", id="a room"),
        pytest.param("tent", "nothing", id="empty again"),
        pytest.param("shelf", "stated stage", id="never used"),
    ],
)
def test_what_a_band_follows(visitor: TestClient, chamber: str, follows: str) -> None:
    bag(visitor, "grey-oyster", "spent")
    said = visitor.get(f"/api/v1/chambers/{chamber}/band").json()
    assert said["follows"] == follows
    assert bool(said["limits"]) == (follows == "stated stage")


def test_no_such_chamber(visitor: TestClient) -> None:
    answer = visitor.get("/api/v1/chambers/attic/band")
    assert (answer.status_code, answer.json()["type"]) == (404, "/problems#unknown-name")
