"""Logging in and out, growing waits, the first passcode, and where one is led."""

import logging
import re
from pathlib import Path
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.service.admission import PASSCODE_NAME
from chamberwatch.web.pages.entering import led_to
from chamberwatch.web.sessions import NAME, OVER_TLS
from tests.web.guarded_fakes import HERE, PASSCODE, PI, Guarded, guarded

LAN = f"http://{PI}:8642"


def log_in(
    visitor: TestClient, passcode: str = PASSCODE, then: str = "/", **headers: str
) -> Response:
    told = {"passcode": passcode, "then": then}
    names = {name.replace("_", "-"): value for name, value in headers.items()}
    return visitor.post("/enter", data=told, headers=names)


def said(answer: Response) -> str:
    """Return what the page says is wrong."""
    (words,) = re.findall(r'role="alert">([^<]+)<', answer.text)
    return str(words)


# ------------------------------------------------------------------ in and out


def test_logged_in_and_led_back(house: Guarded) -> None:
    phone = house.visitor(base=LAN, host="192.0.2.7")
    led = phone.get("/chamber/tent").headers["location"]
    form = phone.get(led).text
    assert 'name="then" value="/chamber/tent"' in form
    assert 'type="password" autocomplete="current-password"' in form
    answer = log_in(phone, then="/chamber/tent")
    assert (answer.status_code, answer.headers["location"]) == (303, "/chamber/tent")
    assert phone.get("/chamber/tent").status_code == 200
    assert phone.get("/enter?then=/health").headers["location"] == "/health"


def test_the_form_names_no_closed_page(house: Guarded) -> None:
    form = house.visitor().get("/enter").text
    assert set(re.findall(r'href="(/[^"?]*)', form)) <= {
        *("/", "/cautions", "/static/site.css", "/static/favicon.svg"),
        *("/manifest.webmanifest", "/static/icon-180.png"),
    }


@pytest.mark.parametrize(
    ("address", "base", "headers", "secure"),
    [
        pytest.param(None, HERE, {}, False, id="plain"),
        pytest.param(None, HERE.replace("http", "https"), {}, True, id="over-tls"),
        pytest.param("https://tent.example", "http://tent.example", {}, True, id="proxy-says-not"),
        pytest.param(
            "https://tent.example", "http://tent.example:8642", {}, False, id="beside-the-proxy"
        ),
        pytest.param(
            "https://tent.example",
            HERE,
            {"Origin": "https://tent.example"},
            True,
            id="proxy-hides-the-host",
        ),
        pytest.param("http://tent.example", "http://tent.example", {}, False, id="plain-address"),
    ],
)
def test_the_cookie(
    tmp_path: Path, address: str | None, base: str, headers: dict[str, str], secure: bool
) -> None:
    with guarded(tmp_path, address=address) as house:
        answer = log_in(house.visitor(base=base), **headers)
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"]
    parts = [part.strip().lower() for part in cookie.split(";")]
    assert parts[0].startswith(OVER_TLS.lower() if secure else f"{NAME}=")
    assert {"httponly", "samesite=strict", "path=/", "max-age=2592000"} <= set(parts)
    assert ("secure" in parts) is secure
    assert not any(part.startswith("domain") for part in parts)


def test_logged_out_here(house: Guarded) -> None:
    phone, desk = house.visitor(), house.visitor()
    log_in(phone)
    log_in(desk)
    answer = phone.post("/leave")
    assert answer.headers["location"] == "/enter?why=out"
    assert phone.get("/").status_code == 303
    assert desk.get("/").status_code == 200
    assert "You are logged out on this device." in phone.get("/enter?why=out").text


def test_logged_out_everywhere(house: Guarded) -> None:
    phone, desk = house.visitor(), house.visitor()
    log_in(phone)
    log_in(desk)
    assert phone.post("/leave", data={"everywhere": "true"}).status_code == 303
    assert desk.get("/").status_code == 303
    assert "Everybody is logged out" in phone.get("/enter?why=everywhere").text
    assert log_in(desk).headers["location"] == "/"
    assert desk.get("/").status_code == 200


def test_a_new_passcode_logs_everybody_out(house: Guarded) -> None:
    phone = house.visitor()
    log_in(phone)
    house.admission.choose("another good one")
    assert phone.get("/").status_code == 303
    assert log_in(phone).status_code == 403
    assert log_in(phone, "another good one").status_code == 303


def test_where_none_is_set_nobody_is_asked(open_house: Guarded) -> None:
    here = open_house.visitor()
    assert here.get("/enter?then=/health").headers["location"] == "/health"
    assert log_in(here, "whatever", "/health").headers["location"] == "/health"
    assert here.post("/leave").status_code == 303


# ------------------------------------------------------------------ guesses


def test_a_wrong_passcode(house: Guarded, caplog: pytest.LogCaptureFixture) -> None:
    phone = house.visitor(base=LAN, host="192.0.2.7")
    with caplog.at_level(logging.WARNING):
        answer = log_in(phone, "wet straw in july", "/health")
    assert answer.status_code == 403
    assert said(answer).startswith("That is not the passcode.")
    assert 'name="then" value="/health"' in answer.text
    assert "july" not in answer.text + caplog.text
    assert "set-cookie" not in answer.headers
    assert "from 192.0.2.7, 1 in a row" in caplog.text


def test_waits_grow_and_say_so(house: Guarded) -> None:
    thief, clock = house.visitor(base=LAN, host="192.0.2.66"), house.played.clock
    waits = []
    slips = [said(log_in(thief, "no")) for _ in range(4)]
    assert ["longer wait" in words for words in slips] == [False, False, False, True]
    for _ in range(7):
        assert log_in(thief, "no").status_code == 403
        answer = log_in(thief, PASSCODE)
        assert (answer.status_code, "set-cookie" in answer.headers) == (429, False)
        waits.append((answer.headers["retry-after"], said(answer).rpartition("again in ")[2]))
        clock.turn(seconds=int(answer.headers["retry-after"]))
    assert waits == [
        ("2", "2 seconds."),
        ("4", "4 seconds."),
        ("8", "8 seconds."),
        ("16", "16 seconds."),
        ("32", "32 seconds."),
        ("64", "2 minutes."),
        ("128", "3 minutes."),
    ]
    assert log_in(thief, PASSCODE).status_code == 303


def test_a_right_one_comes_in_whatever_others_guess(house: Guarded) -> None:
    thief = house.visitor(base=LAN, host="192.0.2.66")
    while log_in(thief, "no").status_code != 429:
        pass
    assert log_in(house.visitor(base=LAN, host="192.0.2.7")).status_code == 303


@pytest.mark.parametrize(
    "kept",
    [
        pytest.param("no hash of ours", id="nothing-like-one"),
        pytest.param("$argon2id$v=19$m=19456,t=2,p=1", id="cut-off"),
        pytest.param("$argon2id$v=19$m=many,t=2,p=1$AAAA$AAAA", id="damaged"),
    ],
)
def test_a_kept_hash_that_cannot_be_read(house: Guarded, kept: str) -> None:
    with house.books.write() as book:
        book.kept.keep_text(PASSCODE_NAME, kept)
    answer = log_in(house.visitor())
    assert answer.status_code == 503
    assert "Set it anew on the machine itself: chamberwatch passcode" in said(answer)
    assert "set-cookie" not in answer.headers
    house.admission.choose(PASSCODE)
    assert log_in(house.visitor()).status_code == 303


def test_what_is_too_long_is_not_looked_at(house: Guarded) -> None:
    answer = log_in(house.visitor(), "x" * 401)
    assert answer.status_code == 422
    assert "xxx" not in answer.text


# ------------------------------------------------------------------ where it leads


@pytest.mark.parametrize(
    ("address", "led"),
    [
        pytest.param("/chamber/tent?said=noted", "/chamber/tent?said=noted", id="ours"),
        pytest.param("/a%20b", "/a%20b", id="escaped"),
        pytest.param("", "/", id="none"),
        pytest.param("health", "/", id="relative"),
        pytest.param("https://evil.example/", "/", id="full"),
        pytest.param("//evil.example", "/", id="no-scheme"),
        pytest.param("/\\evil.example", "/", id="backslash"),
        pytest.param("\\\\evil.example", "/", id="backslashes"),
        pytest.param("/x\\..\\evil", "/", id="backslash-inside"),
        pytest.param("/\t/evil.example", "/", id="tab"),
        pytest.param("/\n/evil.example", "/", id="line-break"),
        pytest.param("/health\n", "/", id="line-break-behind"),
        pytest.param(" /health", "/", id="blank"),
        pytest.param("javascript:alert(1)", "/", id="script"),
        pytest.param("/ü", "/", id="not-escaped"),
        pytest.param("/enter?then=/enter", "/", id="round-and-round"),
        pytest.param("/leave", "/", id="out-again"),
        pytest.param("/" + "x" * 500, "/", id="long"),
    ],
)
def test_led_on_to_pages_of_ours_only(address: str, led: str) -> None:
    assert led_to(address) == led


@given(st.text("/\\ab.:?\t\n@%", max_size=12))
def test_never_led_elsewhere(address: str) -> None:
    led = led_to(address)
    assert led.startswith("/")
    assert not led.startswith(("//", "/\\"))
    assert not set(led) & set("\\\t\r\n ")


def test_a_form_with_a_foreign_thenleads_home(house: Guarded) -> None:
    foreign = "//evil.example"
    assert log_in(house.visitor(), then=foreign).headers["location"] == "/"
    form = house.visitor().get(f"/enter?then={quote(foreign)}").text
    assert 'name="then" value="/"' in form


# ------------------------------------------------------------------ the first passcode

FIRST = {"passcode": "grain jar on the sill", "again": "grain jar on the sill"}


def test_set_on_a_first_visit(open_house: Guarded) -> None:
    here, other = open_house.visitor(), open_house.visitor()
    assert 'href="/passcode"' in here.get("/access").text
    assert "Set a passcode" in here.get("/passcode").text
    answer = here.post("/passcode", data=FIRST, headers={"Origin": HERE})
    assert (answer.status_code, answer.headers["location"]) == (303, "/access?said=set")
    assert "logged in on this device" in here.get("/access?said=set").text
    assert other.get("/").status_code == 303
    # Not offered any more, and not taken.
    assert here.get("/passcode").headers["location"] == "/access"
    again = {"passcode": "one more good one", "again": "one more good one"}
    assert here.post("/passcode", data=again).headers["location"] == "/access"
    assert log_in(other, FIRST["passcode"]).headers["location"] == "/"


@pytest.mark.parametrize(
    ("told", "words"),
    [
        pytest.param({**FIRST, "again": "grain jar"}, "not the same", id="differ"),
        pytest.param({"passcode": "short", "again": "short"}, "at least 8", id="short"),
        pytest.param({}, "at least 8", id="nothing"),
    ],
)
def test_a_first_one_that_does_not_do(
    open_house: Guarded, told: dict[str, str], words: str
) -> None:
    answer = open_house.visitor().post("/passcode", data=told)
    assert answer.status_code == 422
    assert words in said(answer)
    assert open_house.admission.mark() is None


@pytest.mark.parametrize(
    ("host", "base", "headers"),
    [
        pytest.param("192.0.2.7", HERE, {}, id="sender-elsewhere"),
        pytest.param("127.0.0.1", "http://tent-pi.local", {}, id="another-name"),
        pytest.param("127.0.0.1", HERE, {"X-Forwarded-For": "192.0.2.7"}, id="through-a-proxy"),
        pytest.param("127.0.0.1", HERE, {"Forwarded": "for=192.0.2.7"}, id="proxy-by-rfc-7239"),
        pytest.param("127.0.0.1", HERE, {"Via": "1.1 proxy"}, id="proxy-by-via"),
        pytest.param("127.0.0.1", HERE, {"Origin": "https://tent.example"}, id="page-elsewhere"),
    ],
)
def test_the_first_one_is_set_from_this_machine_alone(
    tmp_path: Path, host: str, base: str, headers: dict[str, str]
) -> None:
    with guarded(tmp_path, passcode=None, address="https://tent.example") as house:
        # A name of this machine may well be looked up as loopback there.
        visitor = house.visitor(base=base, host=host)
        server = {"Host": base.partition("://")[2]}
        local = TestClient(
            house.app, base_url=HERE, client=(host, 1), headers=server, follow_redirects=False
        )
        assert 'href="/passcode"' not in local.get("/access", headers=headers).text
        for each in (local, visitor):
            answer = each.post("/passcode", data=FIRST, headers=headers)
            assert answer.status_code == 403
        assert house.admission.mark() is None
