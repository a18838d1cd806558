"""Who comes in where: each kind of address, with whatever a visitor may bring."""

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from chamberwatch.service.ports import Answering
from chamberwatch.web.access import SignedLinks, sign_key
from chamberwatch.web.app import create_app
from chamberwatch.web.calendar_address import calendar_path
from chamberwatch.web.gate import OPEN, is_open
from chamberwatch.web.own_pass import OwnPasses
from chamberwatch.web.sessions import LASTS, OVER_TLS
from tests.fakes import FullDisk
from tests.web.guarded_fakes import HERE, PI, Guarded, routes_of

ACT = {"chamber": "tent", "kind": "misted"}
DID = {**ACT, "once": "0123456789"}

READ = {
    "page": "/",
    "part": "/part/now",
    "chamber": "/chamber/tent",
    "health": "/health",
    "who-may": "/access",
    "api": "/api/v1/chambers",
    "api-health": "/api/v1/health",
    "calendar-of-the-api": "/api/v1/calendar.ics",
    "description": "/api/v1/openapi.json",
    "tokens": "/api/v1/tokens",
}
LED = {"page", "part", "chamber", "health", "who-may"}
OPEN_READ = {
    "file": "/static/site.css",
    "mark": "/favicon.svg",
    "cautions": "/cautions",
    "problems": "/problems",
}


def altered(cookie: str) -> str:
    """Return a cookie with one letter of what it says changed, its signature kept."""
    other = "X" if cookie[5] != "X" else "Y"
    return f"{cookie[:5]}{other}{cookie[6:]}"


def after(house: Guarded, seconds: float) -> TestClient:
    """Return somebody who logged in so long ago."""
    cookie = house.cookie()
    house.played.clock.turn(seconds=seconds)
    return house.visitor(cookie=cookie)


def ended_by(house: Guarded, end: Callable[[], object]) -> TestClient:
    """Return somebody who was logged in when that happened."""
    cookie = house.cookie()
    end()
    return house.visitor(cookie=cookie)


def link(house: Guarded) -> str:
    links = SignedLinks(sign_key(house.books), "", house.played.clock)
    return links.link(1, 3, Answering.SEEN).removeprefix("/do/")


def own_command(house: Guarded, seconds_ago: float) -> TestClient:
    made = house.played.clock.now() - timedelta(seconds=seconds_ago)
    return house.visitor(bearer=OwnPasses(house.books).make(made))


def with_a_link_as_cookie(house: Guarded) -> TestClient:
    return house.visitor(cookie=link(house))


def revoked(house: Guarded) -> TestClient:
    token, secret = house.tokens.make("a lamp")
    house.tokens.revoke(token.id)
    return house.visitor(bearer=secret)


def with_basic(house: Guarded) -> TestClient:
    made = house.visitor()
    made.headers["Authorization"] = "Basic eDp3ZXQ="
    return made


LASTS_S = LASTS.total_seconds()
IN: dict[str, Callable[[Guarded], TestClient]] = {
    "session": lambda house: house.visitor(cookie=house.cookie()),
    "session-at-its-end": lambda house: after(house, LASTS_S - 1),
    "session-of-a-clock-set-back": lambda house: after(house, -600),
    "token": lambda house: house.visitor(bearer=house.tokens.make("a lamp")[1]),
    "own-command": lambda house: own_command(house, 0.0),
}
OUT: dict[str, Callable[[Guarded], TestClient]] = {
    "nothing": lambda house: house.visitor(),
    "session-past-its-end": lambda house: after(house, LASTS_S),
    "session-from-the-future": lambda house: after(house, -601),
    "session-of-the-former-passcode": lambda house: ended_by(
        house, lambda: house.admission.choose("another good one")
    ),
    "session-ended-everywhere": lambda house: ended_by(house, house.admission.end_sessions),
    "altered-cookie": lambda house: house.visitor(cookie=altered(house.cookie())),
    "link-as-cookie": with_a_link_as_cookie,
    "nonsense-cookie": lambda house: house.visitor(cookie="%00;=x"),
    "passcode-as-basic": with_basic,
}
WRONG_TOKEN: dict[str, Callable[[Guarded], TestClient]] = {
    "revoked-token": revoked,
    "unknown-token": lambda house: house.visitor(bearer="x" * 43),
    "empty-token": lambda house: house.visitor(bearer=""),
    "own-command-of-before": lambda house: own_command(house, 61.0),
    "link-as-token": lambda house: house.visitor(bearer=link(house)),
    "session-beside-a-wrong-token": lambda house: house.visitor(cookie=house.cookie(), bearer="x"),
}


def visitor(house: Guarded, brings: str) -> TestClient:
    """Return somebody who brings what one of the tables names."""
    return (IN | OUT | WRONG_TOKEN)[brings](house)


def answers(visitor: TestClient, addresses: dict[str, str]) -> dict[str, Response]:
    return {kind: visitor.get(address) for kind, address in addresses.items()}


def statuses(visitor: TestClient, addresses: dict[str, str]) -> dict[str, int]:
    return {kind: answer.status_code for kind, answer in answers(visitor, addresses).items()}


@pytest.mark.parametrize("brings", IN)
def test_let_in(house: Guarded, brings: str) -> None:
    assert statuses(visitor(house, brings), READ) == dict.fromkeys(READ, 200)


@pytest.mark.parametrize("brings", OUT)
def test_kept_out(house: Guarded, brings: str) -> None:
    found = answers(visitor(house, brings), READ)
    for kind, answer in found.items():
        assert answer.headers["x-content-type-options"] == "nosniff"
        if kind in LED:
            assert answer.status_code == 303
            assert answer.headers["location"].startswith("/enter")
            assert answer.content == b""
        else:
            assert answer.status_code == 401
            assert answer.headers["www-authenticate"] == "Bearer"
            assert answer.headers["content-type"] == "application/problem+json"
            assert answer.json()["type"] == "/problems#not-logged-in"
            assert "chamberwatch token new" in answer.json()["detail"]


@pytest.mark.parametrize("brings", WRONG_TOKEN)
def test_a_wrong_token_is_said_to_be_wrong(house: Guarded, brings: str) -> None:
    for answer in answers(visitor(house, brings), READ).values():
        assert answer.status_code == 401
        assert answer.headers["www-authenticate"] == 'Bearer error="invalid_token"'


@pytest.mark.parametrize("brings", ["nothing", "altered-cookie", "revoked-token"])
def test_open_to_all(house: Guarded, brings: str) -> None:
    assert statuses(visitor(house, brings), OPEN_READ) == dict.fromkeys(OPEN_READ, 200)


def test_without_a_passcode_this_machine_comes_in(open_house: Guarded) -> None:
    every = READ | OPEN_READ
    assert statuses(open_house.visitor(), every) == dict.fromkeys(every, 200)


@pytest.mark.parametrize("base", [f"http://{PI}:8642", "http://tent-pi.local:8642"])
def test_without_a_passcode_the_network_does_not(open_house: Guarded, base: str) -> None:
    secret = open_house.tokens.make("a lamp")[1]
    for bearer in (None, secret):
        from_afar = open_house.visitor(base=base, host="192.0.2.7", bearer=bearer)
        for answer in answers(from_afar, READ).values():
            assert answer.status_code == 403
            assert "chamberwatch passcode" in answer.text


def test_with_one_the_network_comes_in_who_brings_something(house: Guarded) -> None:
    base = f"http://{PI}:8642"
    assert house.visitor(base=base, host="192.0.2.7").get("/").status_code == 303
    inside = house.visitor(base=base, host="192.0.2.7", cookie=house.cookie())
    assert inside.get("/").status_code == 200


# ------------------------------------------------------------------ writes


WRITES: list[tuple[str, str, dict[str, dict[str, str]]]] = [
    ("POST", "/api/v1/actions", {"json": ACT}),
    ("POST", "/api/v1/reminders/1/acknowledge", {}),
    ("POST", "/did", {"data": DID}),
    ("POST", "/api/v1/tokens", {"json": {"name": "x"}}),
    ("DELETE", "/api/v1/tokens/1", {}),
    ("POST", "/access/calendar", {}),
    ("POST", "/leave", {"data": {"everywhere": "true"}}),
    ("POST", "/passcode", {"data": {"passcode": "a new one", "again": "a new one"}}),
]


@pytest.mark.parametrize("brings", [*OUT, *WRONG_TOKEN])
def test_no_write_without_leave(house: Guarded, brings: str) -> None:
    bringer = visitor(house, brings)
    before = _kept(house)
    for method, address, body in WRITES:
        answer = bringer.request(method, address, **body)  # type: ignore[arg-type]
        assert answer.status_code in (303, 401), address
    assert house.played.logbook.told == []
    assert _kept(house) == before


def _kept(house: Guarded) -> list[str]:
    with sqlite3.connect(house.file) as file:
        whole = list(file.iterdump())
    file.close()
    return whole


@pytest.mark.parametrize("brings", IN)
@pytest.mark.parametrize(
    ("origin", "taken"),
    [
        pytest.param({}, True, id="no-origin"),
        pytest.param({"Origin": HERE}, True, id="own"),
        pytest.param({"Origin": "http://evil.example"}, False, id="foreign"),
        pytest.param({"Sec-Fetch-Site": "cross-site"}, False, id="foreign-by-fetch"),
    ],
)
def test_writes_with_leave_and_from_which_site(
    house: Guarded, brings: str, origin: dict[str, str], taken: bool
) -> None:
    bringer = visitor(house, brings)
    api = bringer.post("/api/v1/actions", json=ACT, headers=origin)
    page = bringer.post("/did", data=DID, headers=origin)
    assert (api.status_code, page.status_code) == ((201, 303) if taken else (403, 403))
    assert len(house.played.logbook.told) == (2 if taken else 0)


@pytest.mark.parametrize("address", ["/enter", "/leave", "/passcode", "/access/calendar"])
def test_every_new_write_asks_where_it_comes_from(house: Guarded, address: str) -> None:
    inside = house.visitor(cookie=house.cookie())
    answer = inside.post(address, headers={"Origin": "http://evil.example"})
    assert answer.status_code == 403


# ------------------------------------------------------------------ what is open


def test_links_of_messages_do_their_one_thing_without_logging_in(house: Guarded) -> None:
    links = SignedLinks(sign_key(house.books), "", house.played.clock)
    stranger = house.visitor()
    path = links.link(1, 3, Answering.SEEN)
    assert stranger.get(path).status_code == 200
    assert stranger.post(path).status_code == 200
    assert house.played.logbook.told == [("seen", 1, 3, "link")]
    assert stranger.post(path).status_code == 410
    assert stranger.get("/chamber/tent").status_code == 303
    assert stranger.get("/do/nonsense").status_code == 400


def test_the_calendar_opens_to_who_has_its_address(house: Guarded) -> None:
    path = calendar_path(house.books)
    assert house.visitor().get(path).headers["content-type"].startswith("text/calendar")
    assert house.visitor().get(path[:-5] + ".ics").status_code == 404


def test_what_is_open_is_one_short_list(house: Guarded) -> None:
    """Every address there is, and that no other than these is open."""
    paths = {
        route.path
        for route in routes_of(house.app)
        if is_open(route.path.replace("{secret}", "x").replace("{token}", "x"))
    }
    assert paths == {*OPEN, "/do/{token}", "/calendar/{secret}.ics"}


@pytest.mark.parametrize(
    "path",
    ["/enter/", "/Enter", "//enter", "/staticky", "/do", "/calendar", "/api", "/nowhere", ""],
)
def test_what_only_looks_open_is_closed(path: str) -> None:
    assert not is_open(path)


def test_the_live_stream_is_closed(house: Guarded) -> None:
    assert house.visitor().get("/live").status_code == 401


# ------------------------------------------------------------------ where it leads


@pytest.mark.parametrize(
    ("method", "asked", "led"),
    [
        pytest.param("GET", "/", "/enter", id="home"),
        pytest.param("GET", "/chamber/tent", "/enter?then=%2Fchamber%2Ftent", id="page"),
        pytest.param(
            "GET",
            "/chamber/tent/hold?till=07:30&later=1",
            "/enter?then=%2Fchamber%2Ftent%2Fhold%3Ftill%3D07%3A30%26later%3D1",
            id="with-a-query",
        ),
        pytest.param("GET", "/a%20b", "/enter?then=%2Fa%2520b", id="escaped"),
        pytest.param("HEAD", "/health", "/enter?then=%2Fhealth", id="head"),
        pytest.param("POST", "/did", "/enter?why=lost", id="a-form-is-not-carried-along"),
        pytest.param("POST", "/leave", "/enter?why=out", id="out-already"),
    ],
)
def test_led_to_the_gate(house: Guarded, method: str, asked: str, led: str) -> None:
    answer = house.visitor().request(method, asked)
    assert (answer.status_code, answer.headers["location"]) == (303, led)


def test_the_cookie_of_tls_counts_too(house: Guarded) -> None:
    inside = house.visitor()
    inside.headers["Cookie"] = f"chamberwatch=x; {OVER_TLS}={house.cookie()}"
    assert inside.get("/").status_code == 200


def test_a_database_in_trouble_lets_nobody_in(house: Guarded) -> None:
    class Broken(FullDisk):
        read = FullDisk.write

    cookie = house.cookie()
    disk = Broken(house.books, full=True)
    broken = create_app(replace(house.played.desk, books=disk))
    inside = TestClient(broken, base_url=HERE, cookies={"chamberwatch": cookie})
    for path in ("/", "/api/v1/chambers"):
        answer = inside.get(path)
        assert answer.status_code == 503
        assert "make room" in answer.text
    assert inside.get("/static/site.css").status_code == 200


def test_a_session_lasts_thirty_days() -> None:
    assert timedelta(days=30) == LASTS
