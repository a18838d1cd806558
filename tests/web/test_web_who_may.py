"""The page that says who comes in, the calendar's address, and tokens through the API."""

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from chamberwatch.web.calendar_address import calendar_path, new_calendar_path
from tests.web.guarded_fakes import HERE, Guarded, guarded

TOKENS = "/api/v1/tokens"


@pytest.fixture
def inside(house: Guarded) -> TestClient:
    return house.visitor(cookie=house.cookie())


def address(page: str) -> str:
    (found,) = re.findall(r'<pre id="address">([^<]+)</pre>', page)
    return str(found)


# ------------------------------------------------------------------ the page


def test_what_it_offers_to_whom(house: Guarded, inside: TestClient) -> None:
    page = inside.get("/access").text
    assert "A passcode is set" in page
    assert 'id="leave"' in page
    assert 'href="/passcode"' not in page
    assert "No program has a token." in page
    token, secret = house.tokens.make("a <lamp>")
    with_token = house.visitor(bearer=secret).get("/access").text
    # What a token opens must end when it is revoked, so it is told no other secret.
    assert calendar_path(house.books) not in with_token
    assert 'id="leave"' not in with_token
    page = inside.get("/access").text
    assert "a &lt;lamp&gt;" in page
    assert "last used 13:00" in page  # of Berlin
    assert secret not in page
    house.tokens.revoke(token.id)
    assert "No program has a token." in inside.get("/access").text


def test_while_none_is_set(tmp_path: Path) -> None:
    with guarded(tmp_path, passcode=None) as house:
        page = house.visitor().get("/access").text
    assert "None is set" in page
    assert 'id="leave"' not in page


def test_where_no_record_is_kept_there_is_no_calendar(client: TestClient) -> None:
    # The plain desk keeps no growing record, and nothing of tokens.
    assert client.get("/calendar/x.ics").status_code == 404


# ------------------------------------------------------------------ the calendar


@pytest.mark.parametrize(
    ("stated", "begins"),
    [
        pytest.param("http://tent.local:8642", "http://tent.local:8642/calendar/", id="stated"),
        pytest.param(None, f"{HERE}/calendar/", id="as-it-was-opened"),
    ],
)
def test_the_address_is_shown_and_works(tmp_path: Path, stated: str | None, begins: str) -> None:
    with guarded(tmp_path, address=stated) as house:
        shown = address(house.visitor(cookie=house.cookie()).get("/access").text)
        assert shown.startswith(begins)
        path = shown.removeprefix(begins.removesuffix("/calendar/"))
        phone = house.visitor()
        first = phone.get(path)
        assert first.status_code == 200
        assert first.content.startswith(b"BEGIN:VCALENDAR")
        tag = first.headers["etag"]
        assert phone.get(path, headers={"If-None-Match": tag}).status_code == 304
        assert phone.head(path).status_code == 200
        assert phone.post(path).status_code == 405
        assert re.fullmatch(r"/calendar/[\w-]{32}\.ics", path)


def test_a_new_address_ends_the_former(house: Guarded, inside: TestClient) -> None:
    former = calendar_path(house.books)
    answer = inside.post("/access/calendar")
    assert answer.headers["location"] == "/access?said=address#calendar"
    now = calendar_path(house.books)
    assert now != former
    assert house.visitor().get(former).status_code == 404
    assert house.visitor().get(now).status_code == 200
    assert "The former one leads nowhere" in inside.get("/access?said=address").text


def test_the_first_address_is_made_once(house: Guarded) -> None:
    first = new_calendar_path(house.books, only_first=True)
    assert new_calendar_path(house.books, only_first=True) == first == calendar_path(house.books)


@pytest.mark.parametrize("secret", ["x", "", "%FF", "a" * 201, ".."])
def test_other_addresses_open_nothing(house: Guarded, secret: str) -> None:
    calendar_path(house.books)
    answer = house.visitor().get(f"/calendar/{secret}.ics")
    assert answer.status_code in (404, 422)
    assert "BEGIN" not in answer.text


# ------------------------------------------------------------------ tokens


def test_made_used_listed_and_revoked(house: Guarded, inside: TestClient) -> None:
    made = inside.post(TOKENS, json={"name": "a lamp"})
    assert made.status_code == 201
    said = made.json()
    secret = said.pop("token")
    assert said == {
        "id": 1,
        "name": "a lamp",
        "made": "2026-01-20T12:00:00Z",
        "used": None,
        "revoked": None,
    }
    lamp = house.visitor(bearer=secret)
    assert lamp.get("/api/v1/chambers").status_code == 200
    house.played.clock.turn(minutes=10)
    gone = inside.delete(f"{TOKENS}/1").json()
    assert (gone["used"], gone["revoked"]) == ("2026-01-20T12:00:00Z", "2026-01-20T12:10:00Z")
    assert lamp.get("/api/v1/chambers").status_code == 401
    listed = inside.get(TOKENS)
    assert listed.json() == {"tokens": [gone]}
    assert secret not in listed.text


def test_a_token_changes_nothing_about_who_may_come_in(house: Guarded, inside: TestClient) -> None:
    house.tokens.make("a radio")
    lamp = house.visitor(bearer=house.tokens.make("a lamp")[1])
    calendar = calendar_path(house.books)
    answers = [
        lamp.post("/leave", data={"everywhere": "true"}),
        lamp.post("/access/calendar"),
        lamp.delete(f"{TOKENS}/1"),
        lamp.delete(f"{TOKENS}/7"),
    ]
    assert [answer.status_code for answer in answers] == [403] * 4
    assert [("A token can" in answer.text) for answer in answers] == [True] * 4
    assert answers[2].json()["type"] == "/problems#refused"
    assert inside.get("/access").status_code == 200
    assert calendar_path(house.books) == calendar
    assert [token.revoked for token in house.tokens.all()] == [None, None]
    assert lamp.post("/leave").headers["location"] == "/enter?why=out"


def test_a_token_makes_no_tokens_but_may_revoke_itself(house: Guarded, inside: TestClient) -> None:
    lamp = house.visitor(bearer=house.tokens.make("a lamp")[1])
    answer = lamp.post(TOKENS, json={"name": "another"})
    assert (answer.status_code, answer.json()["type"]) == (403, "/problems#refused")
    assert [token.name for token in house.tokens.all()] == ["a lamp"]
    assert lamp.delete(f"{TOKENS}/1").status_code == 200
    assert lamp.get(TOKENS).status_code == 401


@pytest.mark.parametrize(
    ("body", "status"),
    [
        pytest.param({}, 422, id="no-name"),
        pytest.param({"name": ""}, 422, id="empty"),
        pytest.param({"name": "  "}, 422, id="blank"),
        pytest.param({"name": "x" * 101}, 422, id="long"),
        pytest.param({"name": "x", "rights": "all"}, 422, id="more-than-asked"),
    ],
)
def test_a_token_that_cannot_be(
    house: Guarded, inside: TestClient, body: dict[str, str], status: int
) -> None:
    answer = inside.post(TOKENS, json=body)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert house.tokens.all() == []


def test_there_is_no_such_token(inside: TestClient) -> None:
    answer = inside.delete(f"{TOKENS}/7")
    assert (answer.status_code, answer.json()["type"]) == (404, "/problems#unknown-name")
    assert inside.delete(f"{TOKENS}/{2**63}").status_code == 422


def test_the_secret_is_in_no_kept_answer(house: Guarded, inside: TestClient) -> None:
    key = {"Idempotency-Key": "k1"}
    secret = inside.post(TOKENS, json={"name": "a lamp"}, headers=key).json()["token"]
    with house.books.read() as book:
        assert book.kept.answer("api:k1") is None
    assert secret not in house.file.read_bytes().decode("latin-1")


def test_the_description_names_the_ways_in(inside: TestClient) -> None:
    described = inside.get("/api/v1/openapi.json").json()
    assert {"token", "session"} == set(described["components"]["securitySchemes"])
    assert described["security"] == [{}, {"token": []}, {"session": []}]
    assert "401" in described["paths"]["/api/v1/chambers"]["get"]["responses"]
