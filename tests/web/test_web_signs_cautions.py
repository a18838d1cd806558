"""What do you see, and what is to be minded, over the API."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.growing.sign_table import SIGNS
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.web.app import create_app
from tests.make import NOON, at
from tests.web.desk_fakes import Played
from tests.web.growing_fakes import growing

BATCHES = "/api/v1/batches"
SIGNS_SEEN = f"{BATCHES}/1/signs"
CAUTIONS = "/api/v1/cautions"
PROBLEM = "application/problem+json"


@pytest.fixture
def books(tmp_path: Path) -> Iterator[SqlBooks]:
    opened = open_books(f"sqlite:///{tmp_path / 'cw.db'}", at(0))
    yield opened
    opened.close()


@pytest.fixture
def visitor(played: Played, books: SqlBooks) -> Iterator[TestClient]:
    """Return a visitor of a tent in which one grey oyster fruits."""
    desk = replace(played.desk, growing=growing(books, played.clock))
    with TestClient(create_app(desk), base_url="http://localhost") as client:
        bag(client)
        yield client


def bag(visitor: TestClient) -> None:
    body = {"species": "grey-oyster", "container": "bucket", "chamber": "tent"}
    number = told(visitor, BATCHES, **body, at="2025-12-20")["batch"]["id"]
    told(visitor, f"{BATCHES}/{number}/entries", kind="pinned", at="2026-01-10")


def told(visitor: TestClient, address: str, **body: object) -> dict[str, Any]:
    answer = visitor.post(address, json=body)
    assert answer.status_code == 201, answer.text
    said: dict[str, Any] = answer.json()
    return said


def stale_air(books: SqlBooks) -> None:
    """Let the air of the tent be stale for two days."""
    with books.write() as book:
        book.readings.add(
            Reading(NOON - timedelta(hours=hour), "middle", Quantity.CO2, 2100.0)
            for hour in range(1, 49)
        )


def test_what_is_seen_is_joined_to_the_air_and_kept(visitor: TestClient, books: SqlBooks) -> None:
    stale_air(books)
    seen = told(visitor, SIGNS_SEEN, sign="long-stems", note="on all of them")
    assert (seen["batch"], seen["title"], seen["at"]) == (1, "Long stems", "2026-01-20T12:00:00Z")
    first = seen["findings"][0]
    assert (first["cause"]["title"], first["speaks"]) == ("Stale air", "speaks for it")
    assert (first["heard"]["limit"], first["heard"]["extreme"]) == (1000.0, 2100.0)
    assert first["heard"]["hours"] == first["heard"]["beyond"] == 48
    assert "CO2 was above 1000 ppm for 100 % of the 48 hours" in first["words"]
    assert first["cause"]["source"].startswith("Stamets")
    kept = visitor.get(f"{BATCHES}/1/entries").json()["entries"][-1]
    assert (kept["id"], kept["kind"], kept["sign"]) == (seen["entry"], "looked at", "long-stems")
    assert kept["note"] == seen["kept"]
    assert seen["kept"].startswith("on all of them Long stems. The air speaks for: stale air (")


def test_the_same_key_is_seen_once(visitor: TestClient) -> None:
    key = {"Idempotency-Key": "k"}
    first, second = (
        visitor.post(SIGNS_SEEN, json={"sign": "no-pins"}, headers=key) for _ in range(2)
    )
    assert (first.status_code, first.json()) == (201, second.json())
    assert len(visitor.get(f"{BATCHES}/1/entries").json()["entries"]) == 3


def test_what_may_be_seen(visitor: TestClient) -> None:
    answer = visitor.get("/api/v1/signs")
    everything = answer.json()["signs"]
    assert [sign["name"] for sign in everything] == list(SIGNS)
    assert all(sign["causes"] for sign in everything)
    of_one = visitor.get("/api/v1/signs?batch=1").json()["signs"]
    assert "antlers" in {sign["name"] for sign in everything}
    assert "antlers" not in {sign["name"] for sign in of_one}
    tag = answer.headers["etag"]
    assert visitor.get("/api/v1/signs", headers={"If-None-Match": tag}).status_code == 304


@pytest.mark.parametrize(
    ("number", "body", "status", "words"),
    [
        pytest.param(1, {"sign": "antlers"}, 404, "no sign", id="not of that species"),
        pytest.param(1, {"sign": "x"}, 404, "Known: long-stems", id="no such sign"),
        pytest.param(1, {"sign": ""}, 422, "#/sign", id="none"),
        pytest.param(9, {"sign": "no-pins"}, 404, "no batch 9", id="no such batch"),
        pytest.param(1, {"sign": "no-pins", "at": "2026-01-21"}, 422, "future", id="ahead"),
        pytest.param(1, {"sign": "no-pins", "at": "2025-12-01"}, 422, "started", id="before"),
        pytest.param(1, {"sign": "no-pins", "who": "Ann"}, 422, "#/who", id="unknown"),
    ],
)
def test_signs_that_are_refused(
    visitor: TestClient, number: int, body: dict[str, Any], status: int, words: str
) -> None:
    answer = visitor.post(f"{BATCHES}/{number}/signs", json=body)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM)
    assert words in answer.json()["detail"]
    assert len(visitor.get(f"{BATCHES}/1/entries").json()["entries"]) == 2


def test_spores_are_minded_once_and_again_when_there_are_more(visitor: TestClient) -> None:
    bag(visitor)
    assert visitor.get(CAUTIONS).json() == {"cautions": []}
    bag(visitor)
    (caution,) = visitor.get(CAUTIONS).json()["cautions"]
    assert (caution["id"], caution["chamber"]) == ("spores-tent-3", "tent")
    assert caution["title"].startswith("Tent: 3 open batches")
    assert "respirator" in caution["body"]
    assert any("Lenhart & Cole 1993" in source for source in caution["sources"])
    address = f"{CAUTIONS}/{caution['id']}/acknowledge"
    answer = visitor.post(address, json={"who": " Ann  Lee "})
    assert (answer.status_code, answer.json()) == (200, {"id": "spores-tent-3", "who": "Ann Lee"})
    assert visitor.get(CAUTIONS).json() == {"cautions": []}
    bag(visitor)
    (again,) = visitor.get(CAUTIONS).json()["cautions"]
    assert again["id"] == "spores-tent-4"


def test_who_tells_reads_what_is_to_be_minded_at_once(visitor: TestClient) -> None:
    bag(visitor)
    body = {"species": "grey-oyster", "container": "bucket", "chamber": "tent", "count": 2}
    begun = told(visitor, BATCHES, **body, at="2025-12-20")
    assert begun["cautions"] == []
    opened = told(visitor, f"{BATCHES}/3/entries", kind="pinned", at="2026-01-10")
    assert [caution["id"] for caution in opened["cautions"]] == ["spores-tent-3"]
    assert opened["cautions"] == visitor.get(CAUTIONS).json()["cautions"]
    parts = told(visitor, f"{BATCHES}/3/split", count=1)
    assert [caution["id"] for caution in parts["cautions"]] == ["spores-tent-4"]
    # Outdoors nobody minds what is in the tent, and what is thrown out there is its own.
    logs = {"species": "shiitake", "container": "log", "at": "2025-12-20"}
    outdoors = told(visitor, BATCHES, **logs)["batch"]["id"]
    lost = told(visitor, f"{BATCHES}/{outdoors}/entries", kind="contaminated")
    (caution,) = lost["cautions"]
    assert (caution["id"], caution["chamber"], caution["batch"]) == (
        f"contaminated-{outdoors}-1",
        None,
        outdoors,
    )
    assert "don't open it indoors" in caution["body"]
    assert caution["sources"] == ["common practice"]
    everywhere = visitor.get(CAUTIONS).json()["cautions"]
    assert [each["id"] for each in everywhere] == ["spores-tent-4", caution["id"]]
    address = f"{CAUTIONS}/{caution['id']}/acknowledge"
    assert visitor.post(address, json={"who": "Ann"}).status_code == 200
    assert visitor.get(CAUTIONS).json()["cautions"] == everywhere[:1]


def test_air_for_antlers_is_none_for_people(visitor: TestClient) -> None:
    body = {"species": "reishi", "container": "sealed bag", "chamber": "shelf"}
    begun = told(visitor, BATCHES, **body, at="2025-12-20")
    assert begun["cautions"] == []
    number = begun["batch"]["id"]
    opened = told(visitor, f"{BATCHES}/{number}/entries", kind="opened")
    (caution,) = opened["cautions"]
    assert (caution["id"], caution["chamber"]) == ("co2-shelf-40000", "shelf")
    assert "don't lean in" in caution["body"]


def test_a_growth_that_looks_contaminated(visitor: TestClient) -> None:
    seen = told(visitor, SIGNS_SEEN, sign="green-patches")
    assert seen["contamination"] is True
    (caution,) = visitor.get(CAUTIONS).json()["cautions"]
    assert "don't open it indoors" in caution["body"]


@pytest.mark.parametrize(
    ("caution", "body", "status"),
    [
        pytest.param("spores-tent-9", {"who": "Ann"}, 404, id="none that stands"),
        pytest.param("spores-tent-1", {"who": "Ann"}, 404, id="not yet"),
        pytest.param("contaminated-1-1", {"who": "Ann"}, 404, id="a healthy batch"),
        pytest.param("heat-tent-1", {"who": "Ann"}, 404, id="no such hazard"),
        pytest.param(f"contaminated-{9**30}-1", {"who": "Ann"}, 404, id="no such batch"),
        pytest.param("spores-tent-1", {"who": "  "}, 422, id="nobody"),
        pytest.param("spores-tent-1", {}, 422, id="no name"),
        pytest.param("spores-tent-1", {"who": "x" * 101}, 422, id="too long a name"),
    ],
)
def test_acknowledgements_that_are_refused(
    visitor: TestClient, caution: str, body: dict[str, Any], status: int
) -> None:
    answer = visitor.post(f"{CAUTIONS}/{caution}/acknowledge", json=body)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM)
