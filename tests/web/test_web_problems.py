"""Every error is a problem (RFC 9457), and says what to do."""

from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from chamberwatch.core.errors import BrokerError, ImpossibleMoveError, StorageError
from tests.web.desk_fakes import Played

READINGS = "/api/v1/readings?chamber=tent&quantity=humidity_pct"


def problem(answer: Response) -> dict[str, Any]:
    """Check the form of a problem and return it."""
    said: dict[str, Any] = answer.json()
    assert answer.headers["content-type"] == "application/problem+json"
    assert set(said) - {"errors"} == {"type", "title", "status", "detail", "instance"}
    assert said["status"] == answer.status_code
    assert said["instance"] == answer.request.url.path
    assert said["detail"]
    return said


@pytest.mark.parametrize(
    ("method", "address", "status", "kind"),
    [
        pytest.param("GET", "/api/v1/nothing", 404, "about:blank", id="no-address"),
        pytest.param("DELETE", "/api/v1/chambers", 405, "about:blank", id="no-method"),
        pytest.param(
            "GET", "/api/v1/chambers/attic/air", 404, "/problems#unknown-name", id="no-chamber"
        ),
        pytest.param(
            "GET",
            "/api/v1/readings?chamber=tent&quantity=colour",
            422,
            "/problems#refused",
            id="no-quantity",
        ),
        pytest.param(
            "GET", "/api/v1/reminders/x/moves", 422, "/problems#not-valid", id="not-a-number"
        ),
        pytest.param(
            "GET", f"/api/v1/reminders/{2**63}/moves", 422, "/problems#not-valid", id="too-big"
        ),
    ],
)
def test_an_error_is_a_problem(
    client: TestClient, method: str, address: str, status: int, kind: str
) -> None:
    said = problem(client.request(method, address))
    assert (said["status"], said["type"]) == (status, kind)


def test_method_not_allowed_says_which_are(client: TestClient) -> None:
    assert client.delete("/api/v1/chambers").headers["allow"] == "GET"


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        pytest.param("&from=2026-01-20T10:00:00", "from", id="no-zone"),
        pytest.param("&from=0001-01-01T00:00:00%2B14:00", "from", id="before-the-first-year"),
        pytest.param("&to=9999-12-31T23:59:59Z", "to", id="absurd-year"),
        pytest.param("&from=yesterday", "from", id="not-a-time"),
        pytest.param("&step=900", "step", id="bare-seconds"),
        pytest.param("&step=PT0S", "step", id="no-length"),
        pytest.param("&step=-PT5M", "step", id="backwards"),
        pytest.param("&limit=0", "limit", id="no-rows"),
        pytest.param("&colour=red", "colour", id="unknown-parameter"),
    ],
)
def test_a_query_that_cannot_be_read(client: TestClient, query: str, parameter: str) -> None:
    said = problem(client.get(READINGS + query))
    assert said["type"] == "/problems#not-valid"
    assert said["errors"][0]["in"] == "query"
    assert said["errors"][0]["parameter"] == parameter


@pytest.mark.parametrize(
    "query",
    [
        pytest.param("&from=2026-01-20T10:00:00Z&to=2026-01-20T10:00:00Z", id="no-span"),
        pytest.param("&cursor=!!!", id="not-ours"),
        pytest.param("&cursor=%C3%A9", id="not-ascii"),
        pytest.param("&cursor=WzEsMl0", id="too-short"),
        pytest.param("&cursor=WzFlOTksMiwieCJd", id="absurd-time"),
        pytest.param("&cursor=WzEsMiwieCJd", id="of-another-question"),
        pytest.param("&cursor=W10", id="empty-list"),
    ],
)
def test_a_span_or_cursor_that_makes_no_sense(client: TestClient, query: str) -> None:
    assert problem(client.get(READINGS + query))["type"] == "/problems#not-valid"


@pytest.mark.parametrize(
    ("body", "pointers"),
    [
        pytest.param({"kind": "misted"}, ["#/chamber"], id="missing"),
        pytest.param({"chamber": "tent", "kind": "danced"}, ["#/kind"], id="unknown-kind"),
        pytest.param({"chamber": 1, "kind": 2}, ["#/chamber", "#/kind"], id="two-at-once"),
        pytest.param({"chamber": "tent", "kind": "misted", "a/b~": 1}, ["#/a~1b~0"], id="escaped"),
        pytest.param([], ["#"], id="a-list"),
    ],
)
def test_faults_of_a_body_have_pointers(
    client: TestClient, body: object, pointers: list[str]
) -> None:
    said = problem(client.post("/api/v1/actions", json=body))
    assert [error["pointer"] for error in said["errors"]] == pointers
    assert said["detail"].startswith(pointers[0])


@pytest.mark.parametrize(
    ("given", "words"),
    [
        pytest.param({}, "it is needed; add it", id="missing"),
        pytest.param({"kind": "vented", "note": 2}, "write a text", id="text"),
        pytest.param({"kind": "vented", "into_air_g": "x"}, "write a number", id="number"),
        pytest.param({"kind": "vented", "vent_minutes": 0}, "give more than 0", id="more"),
        pytest.param({"kind": "vented", "by": "x"}, "there is no such field; leave", id="extra"),
        pytest.param({"kind": "vented", "note": "x" * 2001}, "no more than 2000 char", id="long"),
        pytest.param({"kind": "vented", "at": "1066-10-14T09:00:00Z"}, "give a year", id="ours"),
        pytest.param({"kind": "vented", "at": "soon"}, "give a time with its zone", id="time"),
    ],
)
def test_faults_of_a_body_say_what_to_write(
    client: TestClient, given: dict[str, Any], words: str
) -> None:
    said = problem(client.post("/api/v1/actions", json={"chamber": "tent", **given}))
    (error,) = said["errors"]
    assert words in error["detail"]
    assert "Value error" not in said["detail"]


@pytest.mark.parametrize(
    ("content", "status"),
    [
        pytest.param(b"{", 422, id="cut-off"),
        pytest.param(b"", 422, id="nothing"),
        pytest.param(b'{"a": "\xff"}', 400, id="not-utf-8"),
        pytest.param(b"[" * 30_000, 400, id="deep"),
    ],
)
def test_a_body_that_is_not_json(client: TestClient, content: bytes, status: int) -> None:
    headers = {"content-type": "application/json"}
    said = problem(client.post("/api/v1/actions", content=content, headers=headers))
    assert said["status"] == status


@pytest.mark.parametrize(
    ("error", "status", "kind"),
    [
        pytest.param(StorageError("Locked. Wait."), 503, "/problems#storage", id="storage"),
        pytest.param(ImpossibleMoveError("Not now."), 409, "/problems#conflict", id="move"),
        pytest.param(BrokerError("No broker."), 500, "about:blank", id="another-of-ours"),
        pytest.param(ZeroDivisionError("secret"), 500, "about:blank", id="ours"),
    ],
)
def test_what_breaks_inside(
    client: TestClient, played: Played, error: Exception, status: int, kind: str
) -> None:
    played.history.breaks = error
    answer = client.get("/api/v1/chambers/tent/air")
    said = problem(answer)
    assert (said["status"], said["type"]) == (status, kind)
    assert "secret" not in answer.text
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        pytest.param("/nowhere", 404, "There is no such page", id="no-page"),
        pytest.param("/chamber/attic", 404, "Nothing has that name", id="no-chamber"),
        pytest.param("/did", 405, "That can&#39;t be done here", id="no-method"),
    ],
)
def test_people_get_a_page(client: TestClient, address: str, status: int, words: str) -> None:
    answer = client.get(address)
    assert answer.status_code == status
    assert answer.headers["content-type"].startswith("text/html")
    assert words in answer.text
    assert 'href="/"' in answer.text


def test_a_broken_page_says_so_calmly(client: TestClient, played: Played) -> None:
    played.history.breaks = ZeroDivisionError("secret")
    answer = client.get("/")
    assert answer.status_code == 500
    assert "Something broke on our side" in answer.text
    assert "secret" not in answer.text


def test_a_form_that_cannot_be_read_gets_a_page(client: TestClient) -> None:
    answer = client.post("/did", data={"chamber": "tent", "kind": "danced", "once": "x" * 12})
    assert answer.status_code == 422
    assert answer.headers["content-type"].startswith("text/html")


def test_every_kind_is_explained(client: TestClient) -> None:
    page = client.get("/problems").text
    for slug in ("unknown-name", "not-valid", "refused", "key-reused", "foreign-origin"):
        assert f'id="{slug}"' in page
