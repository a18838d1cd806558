"""What batches gave, over the API."""

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
HARVESTS = "/api/v1/harvests"
YIELDS = "/api/v1/yields"
PROBLEM = "application/problem+json"


@pytest.fixture
def visitor(played: Played, tmp_path: Path) -> Iterator[TestClient]:
    """Return a visitor of a record with a finished batch, one under way and a lost one."""
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", at(0))
    desk = replace(played.desk, growing=growing(books, played.clock))
    with TestClient(create_app(desk), base_url="http://localhost") as client:
        for species, start, opened in (
            ("grey-oyster", "2025-11-01", "2025-11-18"),
            ("shiitake", "2025-10-01", "2025-12-10"),
            ("grey-oyster", "2025-12-01", "2025-12-18"),
        ):
            told(
                client,
                BATCHES,
                species=species,
                container="sealed bag",
                substrate="Wheat  straw",
                wet="2.27 kg",
                moisture_pct=62,
                chamber="tent",
                at=start,
            )
            number = len(client.get(BATCHES).json()["batches"])
            told(client, f"{BATCHES}/{number}/entries", kind="opened", at=opened)
            told(client, f"{BATCHES}/{number}/entries", kind="pinned", at=f"{opened[:8]}23")
        told(client, HARVESTS, batch=1, weight_g=400, at="2025-11-28")
        told(client, HARVESTS, batch=1, weight="0,2 kg", at="2025-12-10", note="second")
        told(client, f"{BATCHES}/1/entries", kind="spent", at="2025-12-11")
        told(client, HARVESTS, batch=2, weight="10 oz", at="2025-12-29T08:00Z", flush=1)
        told(client, f"{BATCHES}/3/entries", kind="contaminated", at="2025-12-30")
        yield client
    books.close()


def told(visitor: TestClient, address: str, **body: object) -> dict[str, Any]:
    answer = visitor.post(address, json=body)
    assert answer.status_code == 201, answer.text
    said: dict[str, Any] = answer.json()
    return said


def test_newest_first(visitor: TestClient) -> None:
    said = visitor.get(HARVESTS).json()
    assert [(h["batch"], h["flush"], h["weight"]["words"]) for h in said["harvests"]] == [
        (2, 1, "283 g"),
        (1, 2, "200 g"),
        (1, 1, "400 g"),
    ]
    assert said["total"] == {"g": 883.5, "words": "883 g"}
    assert said["harvests"][0]["species"] == "shiitake"
    # The same as an entry of the batch.
    entry = said["harvests"][1]["entry"]
    (kept,) = (
        each
        for each in visitor.get(f"{BATCHES}/1/entries").json()["entries"]
        if each["id"] == entry
    )
    assert (kept["kind"], kept["weight"]["g"], kept["note"]) == ("harvested", 200.0, "second")


@pytest.mark.parametrize(
    ("query", "weights"),
    [
        pytest.param("batch=1", [200.0, 400.0], id="of a batch"),
        pytest.param("species=shiitake", [283.5], id="of a species"),
        pytest.param("from=2025-12-10", [283.5, 200.0], id="from a day"),
        pytest.param("to=2025-12-10", [400.0], id="until a day"),
        pytest.param("from=2025-12-10T11:00:01Z&to=2025-12-29T09:00Z", [283.5], id="times"),
        pytest.param("batch=7", [], id="of none"),
    ],
)
def test_which_harvests(visitor: TestClient, query: str, weights: list[float]) -> None:
    found = visitor.get(f"{HARVESTS}?{query}").json()["harvests"]
    assert [harvest["weight"]["g"] for harvest in found] == weights


@pytest.mark.parametrize("species", ["", "&species=grey-oyster"], ids=["all", "of a species"])
def test_harvests_page_by_page(visitor: TestClient, species: str) -> None:
    whole = visitor.get(f"{HARVESTS}?{species}").json()
    assert whole["next"] is None
    # Two at the very same time stand in the order in which they were told.
    told(visitor, HARVESTS, batch=2, weight_g=50, at="2025-12-29T08:00Z", flush=1)
    whole = visitor.get(f"{HARVESTS}?{species}").json()
    found: list[dict[str, Any]] = []
    after: str | None = ""
    while after is not None:
        page = visitor.get(f"{HARVESTS}?limit=1{species}{after}").json()
        assert page["total"] == whole["total"]
        found += page["harvests"]
        after = f"&after={page['next']}" if page["next"] is not None else None
        # What is put right meanwhile is no reason to begin again.
        address = f"/api/v1/entries/{page['harvests'][0]['entry']}/correct"
        again = visitor.post(address, json={"note": "put right"})
        assert again.status_code == 201
    assert found == whole["harvests"]


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        pytest.param(f"{HARVESTS}?after=999", 404, "no entry 999", id="behind nothing"),
        pytest.param(f"{HARVESTS}?limit=0", 422, "limit", id="no harvests"),
        pytest.param(f"{BATCHES}?limit=5001", 422, "limit", id="too many batches"),
        pytest.param(f"{BATCHES}?after=-1", 422, "after", id="behind no batch"),
    ],
)
def test_pages_that_there_are_not(
    visitor: TestClient, address: str, status: int, words: str
) -> None:
    answer = visitor.get(address)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM)
    assert words in answer.json()["detail"]


@pytest.mark.parametrize(
    ("query", "pages"),
    [
        pytest.param("", [[1, 2], [3]], id="all"),
        pytest.param("&species=grey-oyster", [[1, 3]], id="of a species"),
        pytest.param("&living=false&after=1", [[3]], id="from the middle"),
        pytest.param("&after=3", [[]], id="behind the last"),
    ],
)
def test_batches_page_by_page(visitor: TestClient, query: str, pages: list[list[int]]) -> None:
    found, after = [], ""
    while True:
        page = visitor.get(f"{BATCHES}?limit=2{query}{after}").json()
        found.append([batch["id"] for batch in page["batches"]])
        if page["next"] is None:
            break
        after = f"&after={page['next']}"
    assert found == pages


@pytest.mark.parametrize(
    ("address", "words"),
    [
        pytest.param(f"{HARVESTS}?from=2026-01-02&to=2026-01-01", "Swap", id="wrong way round"),
        pytest.param(f"{HARVESTS}?from=soon", "give a day", id="no time"),
        pytest.param(f"{HARVESTS}?batch=0", "batch", id="no batch"),
        pytest.param(f"{HARVESTS}?colour=grey", "colour", id="unknown"),
        pytest.param(f"{YIELDS}?by=moon", "by", id="by what"),
    ],
)
def test_a_query_that_cannot_be_read(visitor: TestClient, address: str, words: str) -> None:
    answer = visitor.get(address)
    assert (answer.status_code, answer.headers["content-type"]) == (422, PROBLEM)
    assert words in answer.json()["detail"]


@pytest.mark.parametrize(
    ("body", "status", "words"),
    [
        pytest.param({"batch": 9, "weight_g": 4}, 404, "no batch 9", id="no such batch"),
        pytest.param({"batch": 2}, 422, "needs the weight", id="unweighed"),
        pytest.param({"batch": 2, "weight_g": 0}, 422, "#/weight_g", id="nothing"),
        pytest.param({"batch": 2, "weight": "10"}, 422, "with its unit", id="no unit"),
        pytest.param({"batch": 2, "weight": "1 lb", "weight_g": 4}, 422, "not both", id="twice"),
        pytest.param({"batch": 2, "weight": "60 kg"}, 422, "Check the unit", id="too heavy"),
        pytest.param({"batch": 1, "weight_g": 4}, 422, "was spent", id="spent"),
        pytest.param({"batch": 2, "weight_g": 4, "at": "2025-09-30"}, 422, "started", id="before"),
        pytest.param({"batch": 2, "weight_g": 4, "at": "2026-02-01"}, 422, "future", id="ahead"),
        pytest.param({"batch": 2, "weight_g": 4, "shelf": "top"}, 422, "#/shelf", id="unknown"),
    ],
)
def test_harvests_that_are_refused(
    visitor: TestClient, body: dict[str, Any], status: int, words: str
) -> None:
    before = visitor.get(HARVESTS).json()
    answer = visitor.post(HARVESTS, json=body)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM)
    assert words in answer.json()["detail"]
    assert visitor.get(HARVESTS).json() == before


def test_the_same_key_is_weighed_once(visitor: TestClient) -> None:
    body, key = {"batch": 2, "weight_g": 120}, {"Idempotency-Key": "k"}
    first, second = (visitor.post(HARVESTS, json=body, headers=key) for _ in range(2))
    assert (first.status_code, first.json()) == (second.status_code, second.json())
    assert len(visitor.get(f"{HARVESTS}?batch=2").json()["harvests"]) == 2


def test_yields_by_species(visitor: TestClient) -> None:
    said = visitor.get(YIELDS).json()
    assert said["by"] == "species"
    assert "dry substrate" in said["reckoned_on"]
    (row,) = said["rows"]  # the shiitake is not finished
    assert (row["key"], row["n"], row["lost"], row["lost_pct"]) == ("grey-oyster", 2, 1, 50.0)
    # 600 g on 862.6 g of dry substrate (69.56 %), and nothing on as much.
    assert row["fresh"] == {"g": 600.0, "words": "600 g"}
    assert row["together_pct"] == 34.8
    assert row["efficiency_pct"] == {
        "n": 2,
        "mean": 34.78,
        "least": 0.0,
        "most": 69.56,
        "standard_error": None,
    }


@pytest.mark.parametrize(
    ("by", "keys"),
    [
        pytest.param("substrate", ["wheat straw"], id="substrate"),
        pytest.param("lineage", ["1", "3"], id="lineage"),
        pytest.param("shelf", ["tent"], id="shelf"),
    ],
)
def test_yields_by_something_else(visitor: TestClient, by: str, keys: list[str]) -> None:
    said = visitor.get(f"{YIELDS}?by={by}").json()
    assert (said["by"], [row["key"] for row in said["rows"]]) == (by, keys)


def test_each_batch_by_itself(visitor: TestClient) -> None:
    answer = visitor.get(f"{YIELDS}?by=batch")
    first, second, third = answer.json()["crops"]
    assert (first["finished"], first["lost"], first["shelf"]) == (True, False, "tent")
    assert (first["efficiency_pct"], first["wet_yield_pct"]) == (69.6, 26.4)
    assert (first["days"], first["per_day_pct"]) == (39.0, 1.78)
    assert [(f["flush"], f["fresh"]["g"], f["share_pct"]) for f in first["flushes"]] == [
        (1, 400.0, 66.7),
        (2, 200.0, 33.3),
    ]
    # Grey oysters hold 74 to 91 % of water.
    assert (first["dried"]["least"]["g"], first["dried"]["most"]["g"]) == (54.0, 156.0)
    assert (second["finished"], third["lost"]) == (False, True)
    assert (third["efficiency_pct"], third["days"], third["per_day_pct"]) == (0.0, None, None)
    tag = answer.headers["etag"]
    again = visitor.get(f"{YIELDS}?by=batch", headers={"If-None-Match": tag})
    assert again.status_code == 304


def test_a_part_has_its_share_of_what_was_picked_before(visitor: TestClient) -> None:
    body = {"species": "grey-oyster", "container": "bucket", "count": 4, "dry": "2 kg"}
    whole = told(visitor, BATCHES, **body, at="2025-12-01")["batch"]["id"]
    told(visitor, f"{BATCHES}/{whole}/entries", kind="pinned", at="2025-12-20")
    told(visitor, HARVESTS, batch=whole, weight="800 g", at="2025-12-28")
    parts = told(visitor, f"{BATCHES}/{whole}/split", count=1, at="2026-01-02")
    part = parts["taken"]["id"]
    for number, fresh, efficiency in ((whole, 600.0, 40.0), (part, 200.0, 40.0)):
        crop = visitor.get(f"{BATCHES}/{number}").json()["crop"]
        assert (crop["fresh"]["g"], crop["efficiency_pct"]) == (fresh, efficiency)
