"""Who may come in, how much they may carry, and what they take out."""

import asyncio

import pytest
from fastapi.testclient import TestClient
from starlette.types import Message, Receive, Scope, Send

from chamberwatch.web.app import create_app
from chamberwatch.web.door import BODY_LIMIT, Door
from chamberwatch.web.whence import host_of, on_loopback
from tests.web.desk_fakes import Played, dry_tent

MISTED = {"chamber": "tent", "kind": "misted"}
ACTIONS = "/api/v1/actions"


@pytest.mark.parametrize(
    ("host", "let_in"),
    [
        pytest.param("localhost", True, id="localhost"),
        pytest.param("localhost:8765", True, id="with-port"),
        pytest.param("LOCALHOST", True, id="capitals"),
        pytest.param("127.0.0.1:8765", True, id="number"),
        pytest.param("[::1]:8765", True, id="number-six"),
        pytest.param("tent.example", True, id="own-address"),
        pytest.param("evil.example", False, id="foreign"),
        pytest.param("localhost.evil.example", False, id="foreign-prefix"),
        pytest.param("evil.example:80@localhost", True, id="user-part-is-not-the-host"),
        pytest.param("[::1", False, id="broken"),
        pytest.param("", False, id="none"),
    ],
)
def test_on_loopback_only_our_names_are_answered(
    client: TestClient, host: str, let_in: bool
) -> None:
    answer = client.get("/api/v1/chambers", headers={"Host": host})
    assert answer.status_code == (200 if let_in else 421)
    if not let_in:
        assert answer.json()["type"] == "/problems#wrong-host"


def test_the_pages_too(client: TestClient) -> None:
    answer = client.get("/", headers={"Host": "evil.example"})
    assert answer.status_code == 421
    assert answer.headers["content-type"].startswith("text/html")


@pytest.mark.parametrize(
    ("server", "loopback"),
    [
        pytest.param(("127.0.0.1", 80), True, id="four"),
        pytest.param(("127.1.2.3", 80), True, id="four-wide"),
        pytest.param(("::1", 80), True, id="six"),
        pytest.param(("192.0.2.4", 80), False, id="network"),
        pytest.param(("localhost", 80), True, id="name"),
        pytest.param(("tent.example", 80), False, id="other-name"),
        pytest.param(None, True, id="unknown-is-treated-as-near"),
    ],
)
def test_which_sockets_are_near(server: tuple[str, int] | None, loopback: bool) -> None:
    assert on_loopback({"type": "http", "server": server}) is loopback


def test_without_an_address_only_the_machine_itself() -> None:
    app = create_app(dry_tent(address=None).desk)
    with TestClient(app, base_url="http://localhost") as visitor:
        assert visitor.get("/", headers={"Host": "tent.example"}).status_code == 421


def test_host_of_nothing() -> None:
    assert host_of("") == ""


@pytest.mark.parametrize(
    ("headers", "let_in"),
    [
        pytest.param({}, True, id="a-program"),
        pytest.param({"Origin": "http://localhost"}, True, id="own"),
        pytest.param({"Origin": "https://localhost"}, True, id="own-behind-tls"),
        pytest.param({"Origin": "http://tent.example"}, True, id="stated-address"),
        pytest.param({"Origin": "http://localhost:99"}, False, id="other-port"),
        pytest.param({"Origin": "http://evil.example"}, False, id="foreign"),
        pytest.param({"Origin": "null"}, False, id="null"),
        pytest.param({"Origin": "http://[::1"}, False, id="broken"),
        pytest.param({"Sec-Fetch-Site": "same-origin"}, True, id="site-own"),
        pytest.param({"Sec-Fetch-Site": "none"}, True, id="site-typed"),
        pytest.param({"Sec-Fetch-Site": "same-site"}, False, id="site-neighbour"),
        pytest.param({"Sec-Fetch-Site": "cross-site"}, False, id="site-foreign"),
        pytest.param(
            {"Sec-Fetch-Site": "cross-site", "Origin": "http://localhost"}, False, id="at-odds"
        ),
    ],
)
def test_writes_from_other_sites_are_refused(
    client: TestClient, played: Played, headers: dict[str, str], let_in: bool
) -> None:
    answer = client.post(ACTIONS, json=MISTED, headers=headers)
    assert answer.status_code == (201 if let_in else 403)
    assert len(played.logbook.told) == int(let_in)
    if not let_in:
        assert answer.json()["type"] == "/problems#foreign-origin"


@pytest.mark.parametrize(
    "address", ["/did", "/seen", "/later", "/do/x", "/api/v1/reminders/1/acknowledge"]
)
def test_every_write_is_looked_at(client: TestClient, address: str) -> None:
    answer = client.post(address, headers={"Origin": "http://evil.example"})
    assert answer.status_code == 403


def test_reading_from_elsewhere_is_no_write(client: TestClient) -> None:
    assert client.get("/", headers={"Sec-Fetch-Site": "cross-site"}).status_code == 200


@pytest.mark.parametrize(
    ("size", "status"),
    [pytest.param(BODY_LIMIT, 422, id="just"), pytest.param(BODY_LIMIT + 1, 413, id="over")],
)
def test_a_body_has_a_limit(client: TestClient, size: int, status: int) -> None:
    answer = client.post(ACTIONS, content=b'"' + b"x" * (size - 2) + b'"')
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"


def _walk(door: Door, scope: Scope, messages: list[Message]) -> list[Message]:
    """Send messages through a door as a server would; return what came out."""
    waiting, sent = list(messages), []

    async def receive() -> Message:
        return waiting.pop(0)

    async def send(message: Message) -> None:
        sent.append(message)

    asyncio.run(door(scope, receive, send))
    return sent


def _scope(**changes: object) -> Scope:
    return {
        "type": "http",
        "method": "POST",
        "path": "/api/v1/actions",
        "headers": [(b"host", b"localhost")],
        "server": ("127.0.0.1", 80),
        **changes,
    }


def test_a_large_body_in_pieces_is_stopped_early() -> None:
    reached: list[Scope] = []

    async def inner(scope: Scope, receive: Receive, send: Send) -> None:
        reached.append(scope)

    piece: Message = {"type": "http.request", "body": b"x" * 40_000, "more_body": True}
    sent = _walk(Door(inner, None), _scope(), [piece, piece, piece])
    assert (sent[0]["status"], reached) == (413, [])


def test_who_leaves_midway_has_done_nothing() -> None:
    reached: list[Scope] = []

    async def inner(scope: Scope, receive: Receive, send: Send) -> None:
        reached.append(scope)

    piece: Message = {"type": "http.request", "body": b"x", "more_body": True}
    assert _walk(Door(inner, None), _scope(), [piece, {"type": "http.disconnect"}]) == []
    assert reached == []


def test_the_body_is_handed_on_once_and_then_the_wire_is_heard() -> None:
    heard: list[Message] = []

    async def inner(scope: Scope, receive: Receive, send: Send) -> None:
        heard.extend([await receive(), await receive()])

    request: Message = {"type": "http.request", "body": b"x"}
    _walk(Door(inner, None), _scope(), [request, {"type": "http.disconnect"}])
    assert [message["type"] for message in heard] == ["http.request", "http.disconnect"]


@pytest.mark.parametrize("address", ["/api/v1/chambers", "/api/v1/addresses", "/api/v1/nothing"])
def test_what_a_session_gets_is_kept_by_nobody_else(client: TestClient, address: str) -> None:
    answer = client.get(address, headers={"Cookie": "chamberwatch=x"})
    assert answer.headers["cache-control"] == "private, no-cache"
    if tag := answer.headers.get("etag"):
        again = client.get(address, headers={"Cookie": "chamberwatch=x", "If-None-Match": tag})
        assert (again.status_code, again.headers["cache-control"]) == (304, "private, no-cache")


@pytest.mark.parametrize(
    ("address", "kept"),
    [
        pytest.param("/", "no-store", id="page"),
        pytest.param("/api/v1/chambers", "no-cache", id="api"),
        pytest.param("/nowhere", "no-store", id="error"),
        pytest.param("/static/site.css", "no-cache", id="file"),
        pytest.param("/static/site.css?v=abc", "public, max-age=31536000, immutable", id="marked"),
    ],
)
def test_headers_of_every_answer(client: TestClient, address: str, kept: str) -> None:
    headers = client.get(address).headers
    assert headers["cache-control"] == kept
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]


@pytest.mark.parametrize("address", ["/", "/api/v1/chambers/tent/air", "/static/site.css"])
def test_head_is_get_without_the_body(client: TestClient, address: str) -> None:
    head, whole = client.head(address), client.get(address)
    assert (head.status_code, head.content) == (200, b"")
    assert head.headers["content-type"] == whole.headers["content-type"]


def test_head_of_the_live_stream_does_not_open_it(client: TestClient) -> None:
    assert client.head("/live").status_code == 405
