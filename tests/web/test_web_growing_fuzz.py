"""Whatever is told of batches: it is kept, or refused with the reason, and never breaks us."""

import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, EntryKind
from chamberwatch.storage.book import open_books
from chamberwatch.web.app import create_app
from tests.make import at
from tests.web.desk_fakes import dry_tent
from tests.web.growing_fakes import growing

JSON: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(), inner, max_size=2),
    max_leaves=4,
)
TIMES = st.sampled_from(
    ["2025-12-20", "2026-01-06", "2026-01-20", "2026-01-10T08:00:00+14:00", "1970-01-01", "2200"]
)
WEIGHTS = st.sampled_from(["1 lb 5 oz", "620 g", "0,4 kg", "9" * 30 + " kg", "0 g", "heavy"])
SENSE: dict[str, st.SearchStrategy[Any]] = {
    "kind": st.sampled_from(list(EntryKind)),
    "species": st.sampled_from(["grey-oyster", "shiitake", "reishi", "button", "truffle"]),
    "container": st.sampled_from(list(Container)),
    "chamber": st.sampled_from([None, "tent", "shelf", "room", "attic"]),
    "shelf": st.sampled_from([None, "top", "bottom", ""]),
    "stage": st.sampled_from(list(Stage)),
    "sign": st.sampled_from(["long-stems", "antlers", "green-patches", ""]),
    "at": TIMES,
    "weight": WEIGHTS,
    "wet": WEIGHTS,
    "dry": WEIGHTS,
    "weight_g": st.floats(0, 3000),
    "wet_g": st.floats(0, 3000),
    "dry_g": st.floats(0, 3000),
    "moisture_pct": st.floats(0, 100),
    "count": st.integers(0, 2**70),
    "flush": st.integers(0, 30),
    "batch": st.integers(0, 4),
    "parent": st.integers(0, 2**70),
    "note": st.text(max_size=5),
    "who": st.text(max_size=5),
}
START = ["species", "container"]
ASKED: dict[str, list[str]] = {
    "batches": START,
    "batches/1/entries": ["kind"],
    "batches/2/entries": ["kind"],
    "batches/1/split": ["count"],
    "batches/1/signs": ["sign"],
    "entries/1/correct": [],
    "entries/2/correct": [],
    "entries/3/correct": [],
    "entries/2/withdraw": [],
    "entries/4/withdraw": [],
    "harvests": ["batch", "weight"],
    "cautions/spores-tent-3/acknowledge": ["who"],
}
MAY: dict[str, list[str]] = {
    "batches": ["chamber", "wet", "moisture_pct", "at", "note"],
    "entries": ["at", "note", "chamber", "weight_g", "stage", "flush"],
    "split": ["chamber", "at", "note"],
    "signs": ["at", "note"],
    "correct": ["at", "note", "weight_g", "count", "wet", "chamber"],
    "withdraw": ["note"],
    "harvests": ["at", "flush", "note"],
    "acknowledge": [],
}
READ = [
    "batches", "batches/1", "batches/2", "batches/1/entries", "harvests", "yields", "signs",
    "cautions", "species", "species/x", "chambers/tent/band", f"batches/{2**63 - 1}",
]  # fmt: skip
HARD = settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@st.composite
def tellings(draw: st.DrawFn) -> tuple[str, object]:
    """Draw an address and a body that mostly fits it; one field is perhaps nonsense."""
    address = draw(st.sampled_from(list(ASKED)))
    may = MAY[address.rsplit("/", 1)[-1]]
    more = draw(st.lists(st.sampled_from(may), unique=True, max_size=2)) if may else []
    body = {name: draw(SENSE[name]) for name in (*ASKED[address], *more)}
    if draw(st.integers(0, 4)) == 0:
        body[draw(st.sampled_from([*SENSE, "x"]))] = draw(JSON)
    return address, draw(JSON) if draw(st.integers(0, 9)) == 0 else body


@pytest.fixture(scope="module")
def visitor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    books = open_books(f"sqlite:///{tmp_path_factory.mktemp('fuzz') / 'cw.db'}", at(0))
    played = dry_tent()
    desk = replace(played.desk, growing=growing(books, played.clock))
    client = TestClient(create_app(desk), base_url="http://localhost")
    for container in ("bucket", "sealed bag"):
        body = {"species": "grey-oyster", "container": container, "count": 9, "at": "2025-12-20"}
        assert client.post("/api/v1/batches", json=body).status_code == 201
    yield client
    books.close()


def check(answer: Response) -> None:
    assert answer.status_code < 500
    if answer.status_code >= 400:
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json()["status"] == answer.status_code


@HARD
@given(telling=tellings(), look=st.sampled_from(READ))
def test_any_telling(visitor: TestClient, telling: tuple[str, object], look: str) -> None:
    address, body = telling
    headers = {"content-type": "application/json"}
    check(visitor.post(f"/api/v1/{address}", content=json.dumps(body), headers=headers))
    # What was kept can always be read again.
    check(visitor.get(f"/api/v1/{look}"))


@HARD
@given(
    kinds=st.lists(
        st.sampled_from(["opened", "pinned", "harvested", "rested", "soaked", "moved"])
    ),
    weights=st.lists(st.floats(1, 500), min_size=8, max_size=8),
)
def test_no_weight_is_lost(visitor: TestClient, kinds: list[str], weights: list[float]) -> None:
    body = {"species": "grey-oyster", "container": "bucket", "at": "2026-01-01"}
    number = visitor.post("/api/v1/batches", json=body).json()["batch"]["id"]
    kept = []
    for kind, weight_g in zip(kinds, weights, strict=False):
        told: dict[str, object] = {"kind": kind}
        told |= {"weight_g": weight_g} if kind == "harvested" else {}
        told |= {"chamber": "tent"} if kind == "moved" else {}
        answer = visitor.post(f"/api/v1/batches/{number}/entries", json=told)
        check(answer)
        kept += [weight_g] if kind == "harvested" and answer.status_code == 201 else []
    said = visitor.get(f"/api/v1/harvests?batch={number}").json()
    assert said["total"]["g"] == pytest.approx(sum(kept), abs=0.051)
    assert len(said["harvests"]) == len(kept)


@HARD
@given(
    address=st.sampled_from(["batches", "harvests", "yields", "signs", "chambers/tent/band"]),
    query=st.lists(
        st.tuples(
            st.sampled_from(["batch", "species", "chamber", "living", "from", "to", "by"]),
            TIMES | st.text(max_size=6) | st.sampled_from(["tent", "1", "true", "batch"]),
        ),
        max_size=4,
    ),
)
def test_any_query(visitor: TestClient, address: str, query: list[tuple[str, str]]) -> None:
    asked = "&".join(f"{name}={quote(value, safe='')}" for name, value in query)
    check(visitor.get(f"/api/v1/{address}?{asked}"))


@HARD
@given(caution=st.text(min_size=1, max_size=40) | st.from_regex(r"[a-z]+-[0-9]{1,40}-[0-9]{1,9}"))
def test_any_caution(visitor: TestClient, caution: str) -> None:
    path = f"/api/v1/cautions/{quote(caution, safe='')}/acknowledge"
    check(visitor.post(path, json={"who": "Ann"}))
