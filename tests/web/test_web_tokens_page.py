"""Tokens made and revoked on the page, by who is logged in and nobody else."""

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.web.guarded_fakes import Guarded, guarded

PAGE = "/access"
TOKENS = "/access/tokens"


@pytest.fixture
def inside(house: Guarded) -> TestClient:
    return house.visitor(cookie=house.cookie())


def once_of(page: str) -> str:
    (found,) = re.findall(r'name="once" value="([^"]+)"', page)
    return str(found)


def test_made_shown_once_used_and_revoked(house: Guarded, inside: TestClient) -> None:
    once = once_of(inside.get(PAGE).text)
    answer = inside.post(TOKENS, data={"once": once, "name": " a <lamp> "})
    assert (answer.status_code, answer.headers["cache-control"]) == (200, "no-store")
    (secret,) = re.findall(r'id="secret"[^>]*>([^<]+)<', answer.text)
    assert "a &lt;lamp&gt;" in answer.text
    lamp = house.visitor(bearer=str(secret))
    assert lamp.get("/api/v1/chambers").status_code == 200
    page = inside.get(PAGE).text
    assert secret not in page
    assert 'action="/access/tokens/1/revoke"' in page
    answer = inside.post(f"{TOKENS}/1/revoke")
    assert answer.headers["location"] == f"{PAGE}?said=token-revoked#programs"
    assert lamp.get("/api/v1/chambers").status_code == 401
    assert "opens nothing from now on" in inside.get(answer.headers["location"]).text
    assert "No program has a token." in inside.get(PAGE).text


def test_the_same_form_twice_makes_one(house: Guarded, inside: TestClient) -> None:
    data = {"once": once_of(inside.get(PAGE).text), "name": "a lamp"}
    assert inside.post(TOKENS, data=data).status_code == 200
    answer = inside.post(TOKENS, data=data)
    assert answer.headers["location"] == f"{PAGE}?said=token-twice#programs"
    assert len(house.tokens.all()) == 1
    assert "can&#39;t be shown again" in inside.get(answer.headers["location"]).text


@pytest.mark.parametrize("name", ["", "  ", "x" * 101, "a\x07b"])
def test_a_name_that_is_none(house: Guarded, inside: TestClient, name: str) -> None:
    data = {"once": once_of(inside.get(PAGE).text), "name": name}
    answer = inside.post(TOKENS, data=data)
    assert answer.status_code == 422
    assert 'aria-describedby="token-wrong"' in answer.text
    assert "Name the program that will use it" in answer.text
    assert house.tokens.all() == []
    # What was refused may be sent again with the same form.
    assert inside.post(TOKENS, data={**data, "name": "a lamp"}).status_code == 200


def test_one_that_is_not_there(inside: TestClient) -> None:
    answer = inside.post(f"{TOKENS}/7/revoke")
    assert answer.headers["location"] == f"{PAGE}?said=token-gone#programs"


def test_a_token_makes_and_revokes_none_here(house: Guarded) -> None:
    _, secret = house.tokens.make("a lamp")
    lamp = house.visitor(bearer=secret)
    assert lamp.post(TOKENS, data={"once": "x" * 12, "name": "more"}).status_code == 403
    assert lamp.post(f"{TOKENS}/1/revoke").status_code == 403
    page = lamp.get(PAGE).text
    assert 'id="new-token"' not in page
    assert "/revoke" not in page
    assert [token.revoked for token in house.tokens.all()] == [None]


def test_while_no_passcode_is_set_none_is_needed(tmp_path: Path) -> None:
    with guarded(tmp_path, passcode=None) as house:
        visitor = house.visitor()
        assert "programs on this machine need no token" in visitor.get(PAGE).text
        assert visitor.post(TOKENS, data={"once": "x" * 12, "name": "a"}).status_code == 403


def test_nobody_else_comes_near(house: Guarded) -> None:
    stranger = house.visitor()
    answer = stranger.post(TOKENS, data={"once": "x" * 12, "name": "a"})
    assert answer.headers["location"] == "/enter?why=lost"
    foreign = house.visitor(cookie=house.cookie()).post(
        TOKENS, data={"once": "x" * 12, "name": "a"}, headers={"Origin": "http://evil.example"}
    )
    assert foreign.status_code == 403
    assert house.tokens.all() == []
