"""Requests nobody would write: whatever comes, the answer is as the description says."""

import json
import string
from typing import Any
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.web.app import create_app
from tests.web.desk_fakes import dry_tent

JSON: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
NAMES = st.sampled_from(["chamber", "kind", "at", "note", "for", "episode"]) | st.text(max_size=4)
BODIES = JSON | st.dictionaries(
    NAMES,
    JSON | st.sampled_from(["tent", "misted", "PT30M", "P1Y", "PT1E9S", "2026-01-20T11:00:00Z"]),
    max_size=4,
)
QUERY_NAMES = st.sampled_from(
    ["chamber", "quantity", "from", "to", "step", "cursor", "limit", "state", "after"]
)
QUERY_VALUES = st.text(max_size=12) | st.sampled_from(
    ["tent", "humidity_pct", "2026-01-20T11:00:00Z", "0001-01-01T00:00:00+14:00", "PT15M", "P9D"]
)
HARD = settings(
    max_examples=120,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@pytest.fixture(scope="module")
def visitor() -> TestClient:
    return TestClient(create_app(dry_tent().desk), base_url="http://localhost")


def check(answer: Response) -> None:
    """An answer is never a fault of ours, and an error is a problem."""
    assert answer.status_code < 500
    if answer.status_code >= 400:
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json()["status"] == answer.status_code


@HARD
@given(
    address=st.sampled_from(
        ["actions", "reminders/1/acknowledge", "reminders/1/shelve", "reminders/0/shelve"]
    ),
    body=BODIES,
    key=st.none() | st.text(string.ascii_letters, min_size=1, max_size=3),
)
def test_any_json(visitor: TestClient, address: str, body: object, key: str | None) -> None:
    headers = {"Idempotency-Key": key} if key else {}
    text = json.dumps(body)
    headers["content-type"] = "application/json"
    check(visitor.post(f"/api/v1/{address}", content=text, headers=headers))


@HARD
@given(
    address=st.sampled_from(["actions", "reminders/1/acknowledge", "reminders/1/shelve"]),
    body=st.binary(max_size=40),
    kind=st.sampled_from(["application/json", "text/plain", "multipart/form-data", ""]),
)
def test_any_bytes(visitor: TestClient, address: str, body: bytes, kind: str) -> None:
    check(visitor.post(f"/api/v1/{address}", content=body, headers={"content-type": kind}))


@HARD
@given(
    address=st.sampled_from(["readings", "reminders", "reminders/1/moves", "rejects"]),
    query=st.lists(st.tuples(QUERY_NAMES, QUERY_VALUES), max_size=5),
)
def test_any_query(visitor: TestClient, address: str, query: list[tuple[str, str]]) -> None:
    asked = "&".join(f"{name}={quote(value, safe='')}" for name, value in query)
    check(visitor.get(f"/api/v1/{address}?{asked}"))


@HARD
@given(
    address=st.sampled_from(["/did", "/seen", "/later"]),
    form=st.dictionaries(
        st.sampled_from(["chamber", "kind", "number", "until", "once", "back", "minutes_ago"]),
        st.text(max_size=20) | st.sampled_from(["tent", "misted", "1", "a" * 16]),
    ),
)
def test_any_form(visitor: TestClient, address: str, form: dict[str, str]) -> None:
    answer = visitor.post(address, data=form, follow_redirects=False)
    assert answer.status_code < 500
    if answer.status_code == 303:
        assert answer.headers["location"].startswith(("/?", "/chamber/"))


@HARD
@given(token=st.text(max_size=60))
def test_any_link(visitor: TestClient, token: str) -> None:
    path = f"/do/{quote(token, safe='')}"
    assert visitor.get(path).status_code < 500
    assert visitor.post(path).status_code < 500
