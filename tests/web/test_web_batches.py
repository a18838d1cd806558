"""The life of batches over the API."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.web.app import create_app
from tests.make import at
from tests.web.desk_fakes import Played
from tests.web.growing_fakes import growing

BATCHES = "/api/v1/batches"
ENTRIES = f"{BATCHES}/1/entries"
PROBLEM = "application/problem+json"

BAG: dict[str, Any] = {
    "species": "grey-oyster",
    "container": "sealed bag",
    "substrate": "wheat straw",
    "wet_g": 2270,
    "moisture_pct": 62,
    "chamber": "tent",
    "shelf": "top",
    "at": "2025-12-20",
}


@pytest.fixture
def books(tmp_path: Path) -> Iterator[SqlBooks]:
    opened = open_books(f"sqlite:///{tmp_path / 'cw.db'}", at(0))
    yield opened
    opened.close()


@pytest.fixture
def visitor(played: Played, books: SqlBooks) -> Iterator[TestClient]:
    """Return a visitor of a desk that keeps a growing record in a real database."""
    desk = replace(played.desk, growing=growing(books, played.clock))
    with TestClient(create_app(desk), base_url="http://localhost") as client:
        yield client


def told(visitor: TestClient, address: str, **body: object) -> dict[str, Any]:
    answer = visitor.post(address, json=body)
    assert answer.status_code == 201, answer.text
    said: dict[str, Any] = answer.json()
    return said


def test_a_whole_life(visitor: TestClient) -> None:
    begun = told(visitor, BATCHES, **BAG)
    assert begun["batch"]["id"] == 1
    assert (begun["batch"]["stage"], begun["batch"]["sealed"]) == ("colonisation", True)
    assert begun["batch"]["started"] == "2025-12-20T11:00:00Z"  # noon in Berlin
    assert begun["batch"]["start"]["wet"] == {"g": 2270.0, "words": "2.27 kg"}
    assert [words.split(":")[0] for words in begun["bands"][0]["words"]] == [
        "temperature 18 to 27 °C"
    ]
    told(visitor, ENTRIES, kind="white through", at="2026-01-05")
    opened = told(visitor, ENTRIES, kind="opened", at="2026-01-06")
    assert opened["batch"]["stage"] == "pinning"
    assert opened["band_changed"] is True
    (band,) = opened["bands"]
    assert band["chamber"] == "tent"
    (humidity,) = (words for words in band["words"] if words.startswith("humidity"))
    assert humidity.startswith("humidity 90 to 100 %: pinning, grey oyster, batch 1; ")
    assert "Stamets" in humidity
    told(visitor, ENTRIES, kind="pinned", at="2026-01-10")
    picked = told(visitor, ENTRIES, kind="harvested", weight="1 lb 5 oz", at="2026-01-15T18:30Z")
    assert picked["batch"]["harvests"] == [
        {
            "entry": picked["entry"],
            "at": "2026-01-15T18:30:00Z",
            "flush": 1,
            "weight": {"g": 595.3, "words": "595 g"},
        }
    ]
    said = visitor.get(f"{BATCHES}/1").json()
    assert (said["stage"], said["flush"], said["title"]) == ("resting", 1, "Grey oyster")
    assert [passed["stage"] for passed in said["stages"]] == [
        "colonisation",
        "pinning",
        "fruiting",
        "resting",
    ]
    assert said["dues"][0]["kind"] == "next flush"
    assert said["dues"][0]["words"].startswith("Batch 1: harvest of flush 2, most likely")
    assert said["lineage"] == {
        "generation": 1,
        "parent": None,
        "split_from": None,
        "children": [],
        "note": "",
    }
    # 595.34 g from 2270 g at 62 %: 862.6 g of dry substrate.
    assert said["crop"]["efficiency_pct"] == 69.0
    assert said["entries"] == 5
    ended = told(visitor, ENTRIES, kind="spent")
    assert (ended["batch"]["living"], ended["batch"]["chamber"]) == (False, None)
    assert visitor.get(f"{BATCHES}/1").json()["dues"] == []
    # Empty: nothing is judged there.
    assert ended["bands"] == [{"chamber": "tent", "words": [], "disagreements": []}]


def test_nothing_is_overwritten(visitor: TestClient) -> None:
    told(visitor, BATCHES, **BAG)
    told(visitor, ENTRIES, kind="opened", at="2026-01-06")
    told(visitor, ENTRIES, kind="pinned", at="2026-01-10")
    wrong = told(visitor, ENTRIES, kind="harvested", weight_g=5950, note="big", at="2026-01-15")
    right = told(visitor, f"/api/v1/entries/{wrong['entry']}/correct", weight="595 g")
    assert right["batch"]["harvested"]["g"] == 595.0
    start = told(visitor, "/api/v1/entries/1/correct", wet="5 lb", shelf="bottom", at="2025-12-19")
    assert start["batch"]["start"]["wet"]["g"] == 2268.0
    assert (start["batch"]["chamber"], start["batch"]["shelf"]) == ("tent", "bottom")
    gone = told(visitor, f"/api/v1/entries/{right['entry']}/withdraw")
    assert (gone["batch"]["harvests"], gone["batch"]["stage"]) == ([], "fruiting")
    again = told(visitor, f"/api/v1/entries/{start['entry']}/correct", strain="warm")
    assert (again["batch"]["start"]["strain"], again["batch"]["shelf"]) == ("warm", "bottom")
    said = visitor.get(ENTRIES).json()["entries"]
    assert [(e["kind"], e["corrects"], e["corrected_by"]) for e in said] == [
        ("started", None, 6),
        ("opened", None, None),
        ("pinned", None, None),
        ("harvested", None, 5),
        ("harvested", 4, 7),
        ("started", 1, 8),
        ("withdrawn", 5, None),
        ("started", 6, None),
    ]
    assert (said[4]["note"], said[4]["at"]) == ("big", said[3]["at"])
    assert {entry["via"] for entry in said} == {"api"}


def test_moving_and_splitting(visitor: TestClient) -> None:
    told(visitor, BATCHES, **{**BAG, "count": 4})
    parts = told(visitor, f"{BATCHES}/1/split", count=1, chamber="shelf", at="2026-01-05")
    assert (parts["batch"]["count"], parts["taken"]["count"]) == (3, 1)
    assert (parts["taken"]["id"], parts["taken"]["chamber"]) == (2, "shelf")
    assert parts["taken"]["start"]["wet"]["g"] == 567.5
    moved = told(visitor, ENTRIES, kind="moved", chamber=None, at="2026-01-06")
    assert (moved["batch"]["chamber"], moved["band_changed"]) == (None, True)
    back = told(visitor, f"/api/v1/entries/{moved['entry']}/correct", chamber="shelf")
    assert back["batch"]["chamber"] == "shelf"
    beside = told(visitor, f"{BATCHES}/1/split", count=1)
    assert beside["taken"]["chamber"] == "shelf"
    child = told(visitor, BATCHES, **{**BAG, "parent": 2, "at": None})
    line = visitor.get(f"{BATCHES}/{child['batch']['id']}").json()["lineage"]
    assert (line["generation"], line["parent"]) == (2, 2)
    assert visitor.get(f"{BATCHES}/2").json()["lineage"]["children"] == [4]
    assert visitor.get(f"{BATCHES}/1").json()["lineage"]["children"] == [2, 3]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        pytest.param("", [1, 2, 3], id="all"),
        pytest.param("?living=true", [1, 3], id="living"),
        pytest.param("?living=false", [2], id="ended"),
        pytest.param("?chamber=tent", [1], id="in the tent"),
        pytest.param("?species=shiitake", [2, 3], id="of a species"),
        pytest.param("?species=shiitake&living=true&chamber=tent", [], id="none"),
    ],
)
def test_which_batches(visitor: TestClient, query: str, found: list[int]) -> None:
    told(visitor, BATCHES, **BAG)
    told(visitor, BATCHES, **{**BAG, "species": "shiitake"})
    told(visitor, BATCHES, species="shiitake", container="log", at="2026-01-01")
    told(visitor, f"{BATCHES}/2/entries", kind="contaminated")
    answer = visitor.get(f"{BATCHES}{query}")
    assert [batch["id"] for batch in answer.json()["batches"]] == found
    again = visitor.get(f"{BATCHES}{query}", headers={"If-None-Match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_container_may_have_its_short_name(visitor: TestClient) -> None:
    made = visitor.post(BATCHES, json={**BAG, "container": "bag"})
    assert made.status_code == 201
    assert made.json()["batch"]["start"]["container"] == "sealed bag"


def test_the_same_key_is_done_once(visitor: TestClient) -> None:
    key = {"Idempotency-Key": "k1"}
    first, second = (visitor.post(BATCHES, json=BAG, headers=key) for _ in range(2))
    assert first.json() == second.json()
    other = visitor.post(BATCHES, json={**BAG, "count": 2}, headers=key)
    assert (other.status_code, other.json()["type"]) == (422, "/problems#key-reused")
    assert len(visitor.get(BATCHES).json()["batches"]) == 1


@pytest.mark.parametrize(
    ("change", "status", "words"),
    [
        pytest.param({"species": "truffle"}, 404, "Known: grey-oyster", id="species"),
        pytest.param({"chamber": "attic"}, 404, "Known: tent", id="chamber"),
        pytest.param({"chamber": "room", "shelf": None}, 422, "is a room", id="room"),
        pytest.param({"shelf": "middle"}, 404, "Known: top, bottom", id="shelf"),
        pytest.param({"chamber": None}, 422, "Give the chamber too", id="shelf in the air"),
        pytest.param({"container": "shoe"}, 422, "#/container", id="container"),
        pytest.param({"wet": "5 lb"}, 422, "wet_g or wet, not both", id="weight twice"),
        pytest.param(
            {"wet_g": None, "wet": "5 stone"}, 422, "Write a weight with its unit", id="unit"
        ),
        pytest.param({"wet_g": None, "wet": "0 g"}, 422, "more than nothing", id="no weight"),
        pytest.param({"dry_g": 2500}, 422, "exchanged", id="drier than wet"),
        pytest.param({"at": "2026-01-21"}, 422, "is in the future", id="tomorrow"),
        pytest.param({"at": "2026-01-20T12:00:00"}, 422, "with its zone", id="no zone"),
        pytest.param({"at": "2026-02-30"}, 422, "give a day such as", id="no such day"),
        pytest.param({"at": "0001-01-01"}, 422, "year between", id="long ago"),
        pytest.param({"at": 5}, 422, "year", id="a number"),
        pytest.param({"at": {}}, 422, "give a day such as", id="no time at all"),
        pytest.param({"parent": 9}, 422, "no batch 9", id="no parent"),
        pytest.param({"colour": "grey"}, 422, "#/colour", id="unknown field"),
    ],
)
@pytest.mark.parametrize("key", [{}, {"Idempotency-Key": "k"}], ids=["bare", "with-key"])
def test_starts_that_are_refused(
    visitor: TestClient, change: dict[str, Any], status: int, words: str, key: dict[str, str]
) -> None:
    answer = visitor.post(BATCHES, json={**BAG, **change}, headers=key)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM)
    assert words in answer.json()["detail"]
    assert visitor.get(BATCHES).json() == {"batches": [], "next": None}


@pytest.mark.parametrize(
    ("address", "body", "status", "words"),
    [
        pytest.param(ENTRIES, {"kind": "started"}, 422, "POST /batches", id="start"),
        pytest.param(ENTRIES, {"kind": "split"}, 422, "/split", id="split"),
        pytest.param(ENTRIES, {"kind": "withdrawn"}, 422, "/withdraw", id="withdraw"),
        pytest.param(ENTRIES, {"kind": "sung to"}, 422, "#/kind", id="no such kind"),
        pytest.param(ENTRIES, {"kind": "moved"}, 422, "or null", id="moved nowhere"),
        pytest.param(
            ENTRIES, {"kind": "moved", "chamber": None, "shelf": "top"}, 422, "chamber", id="shelf"
        ),
        pytest.param(ENTRIES, {"kind": "stage set"}, 422, "needs the stage", id="no stage"),
        pytest.param(
            ENTRIES, {"kind": "harvested", "weight_g": 4}, 422, "opened", id="still sealed"
        ),
        pytest.param(
            ENTRIES,
            {"kind": "opened", "weight": "4 g"},
            422,
            "Leave the weight out",
            id="weight of an opening",
        ),
        pytest.param(
            ENTRIES, {"kind": "opened", "at": "2025-12-19"}, 422, "started on", id="before"
        ),
        pytest.param(
            ENTRIES, {"kind": "opened", "at": "2026-01-20T12:03Z"}, 422, "future", id="ahead"
        ),
        pytest.param(f"{BATCHES}/9/entries", {"kind": "opened"}, 404, "no batch 9", id="batch"),
        pytest.param(f"{BATCHES}/0/entries", {"kind": "opened"}, 422, "number", id="batch 0"),
        pytest.param(f"{BATCHES}/1/split", {"count": 1}, 422, "move it instead", id="only one"),
        pytest.param(f"{BATCHES}/9/split", {"count": 1}, 404, "no batch 9", id="split of none"),
        pytest.param("/api/v1/entries/1/correct", {}, 422, "at least one", id="nothing wrong"),
        pytest.param(
            "/api/v1/entries/1/correct", {"weight": "1 kg"}, 422, "no weight_g", id="foreign field"
        ),
        pytest.param(
            "/api/v1/entries/1/correct", {"shelf": None, "chamber": "x"}, 404, "x", id="to nowhere"
        ),
        pytest.param("/api/v1/entries/9/correct", {"note": "x"}, 404, "no entry 9", id="entry"),
        pytest.param("/api/v1/entries/9/withdraw", {}, 404, "no entry 9", id="withdraw none"),
        pytest.param("/api/v1/entries/1/withdraw", {}, 422, "Correct it", id="withdraw a start"),
    ],
)
def test_what_cannot_have_happened(
    visitor: TestClient, address: str, body: dict[str, Any], status: int, words: str
) -> None:
    told(visitor, BATCHES, **BAG)
    answer = visitor.post(address, json=body)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM)
    assert words in answer.json()["detail"]
    assert len(visitor.get(ENTRIES).json()["entries"]) == 1


def test_today_is_now_until_noon(visitor: TestClient, played: Played) -> None:
    played.clock.wall -= timedelta(hours=5)  # 8 o'clock in Berlin
    begun = told(visitor, BATCHES, **{**BAG, "at": "2026-01-20"})
    assert begun["batch"]["started"] == "2026-01-20T07:00:00Z"


@pytest.mark.parametrize("path", ["1", "1/entries"])
def test_no_such_batch(visitor: TestClient, path: str) -> None:
    answer = visitor.get(f"{BATCHES}/{path}")
    assert (answer.status_code, answer.headers["content-type"]) == (404, PROBLEM)


def test_a_desk_that_keeps_none_says_so(client: TestClient) -> None:
    for answer in (client.get(BATCHES), client.post(BATCHES, json=BAG)):
        assert (answer.status_code, answer.json()["type"]) == (422, "/problems#refused")
