"""Names of this machine, and headers of every answer: what the door goes by."""

import pytest
from fastapi.testclient import TestClient
from starlette.types import Scope

from chamberwatch.web.headers import SECURITY
from chamberwatch.web.whence import from_this_machine, is_loopback, own_names
from tests.web.guarded_fakes import PI, Guarded


@pytest.mark.parametrize(
    ("machine", "names"),
    [
        pytest.param(
            "tent-pi", {"tent-pi", "tent-pi.local", "tent-pi.lan", "tent-pi.home.arpa"}, id="short"
        ),
        pytest.param(
            "Tent-Pi.example.org",
            {"tent-pi", "tent-pi.local", "tent-pi.lan", "tent-pi.home.arpa"},
            id="long",
        ),
        pytest.param("", set(), id="none"),
    ],
)
def test_names_at_home(machine: str, names: set[str]) -> None:
    assert own_names(machine) == names


@pytest.mark.parametrize(
    ("host", "near"),
    [
        pytest.param("127.0.0.1", True, id="four"),
        pytest.param("::1", True, id="six"),
        pytest.param("::ffff:127.0.0.1", True, id="four-within-six"),
        pytest.param("::ffff:192.0.2.4", False, id="network-within-six"),
        pytest.param("0.0.0.0", False, id="every"),  # noqa: S104 - nothing is bound
        pytest.param("localhost", True, id="name"),
        pytest.param("localhost.example", False, id="other-name"),
        pytest.param("", False, id="none"),
    ],
)
def test_what_is_loopback(host: str, near: bool) -> None:
    assert is_loopback(host) is near


@pytest.mark.parametrize("missing", ["client", "server"])
def test_what_is_not_known_is_not_this_machine(missing: str) -> None:
    scope: Scope = {
        "type": "http",
        "headers": [(b"host", b"localhost")],
        "server": ("127.0.0.1", 80),
        "client": ("127.0.0.1", 1),
    }
    assert from_this_machine(scope)
    assert not from_this_machine({**scope, missing: None})


@pytest.mark.parametrize(
    ("host", "answered"),
    [
        pytest.param(f"{PI}:8642", True, id="number"),
        pytest.param("198.51.100.9", True, id="another-number"),
        pytest.param("[2001:db8::4]:8642", True, id="number-six"),
        pytest.param("tent-pi:8642", True, id="own-name"),
        pytest.param("Tent-Pi.local.", True, id="own-name-at-home"),
        pytest.param("localhost", True, id="loopback"),
        pytest.param("tent.example", True, id="stated"),
        pytest.param("evil.example", False, id="foreign"),
        pytest.param("tent-pi.evil.example", False, id="own-name-elsewhere"),
        pytest.param("192.0.2.4.evil.example", False, id="number-in-a-name"),
        pytest.param("", False, id="none"),
    ],
)
def test_names_answered_on_the_network(network: TestClient, host: str, answered: bool) -> None:
    answer = network.get("/cautions", headers={"Host": host})
    assert answer.status_code == (200 if answered else 421)
    if not answered:
        assert "address in numbers" in answer.text


def test_on_loopback_own_names_are_answered_but_no_other_numbers(house: Guarded) -> None:
    here = house.visitor()
    assert here.get("/cautions", headers={"Host": "tent-pi"}).status_code == 200
    assert here.get("/cautions", headers={"Host": PI}).status_code == 421


def test_nothing_from_elsewhere_may_be_loaded() -> None:
    """Each part of the policy allows nothing, or this server alone."""
    policy = SECURITY["Content-Security-Policy"]
    parts = dict(part.split(" ", 1) for part in policy.split("; "))
    assert {parts[name] for name in ("default-src", "base-uri", "frame-ancestors")} == {"'none'"}
    assert parts["form-action"] == "'self'"
    assert set(parts.values()) == {"'none'", "'self'"}


@pytest.mark.parametrize(
    "address",
    [
        "/enter",
        "/",
        "/access",
        "/api/v1/chambers",
        "/static/site.css",
        "/nowhere",
        "/calendar/x.ics",
    ],
)
def test_every_answer_carries_them(house: Guarded, address: str) -> None:
    for visitor in (house.visitor(), house.visitor(cookie=house.cookie())):
        headers = visitor.get(address).headers
        assert {name: headers[name] for name in SECURITY} == SECURITY
    assert SECURITY["Cross-Origin-Opener-Policy"] == "same-origin"
    assert SECURITY["Cross-Origin-Resource-Policy"] == "same-origin"
    assert SECURITY["Referrer-Policy"] == "same-origin"
    assert "camera=()" in SECURITY["Permissions-Policy"]
