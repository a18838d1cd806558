"""Who is told: on the health page and in the API, and a test message from both."""

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.watch.reminder import Priority
from chamberwatch.service.views import AddressNow, Tried
from chamberwatch.web.app import create_app
from chamberwatch.web.pages.told import ON_PAPER
from tests.make import at
from tests.web.address_fakes import PHONE, FakeAddresses
from tests.web.desk_fakes import Played

REFUSED = "the service refused it (HTTP 401); look at the address and its password"


@pytest.fixture
def addresses() -> FakeAddresses:
    return FakeAddresses()


@pytest.fixture
def visitor(played: Played, addresses: FakeAddresses) -> Iterator[TestClient]:
    desk = replace(played.desk, addresses=addresses)
    with TestClient(
        create_app(desk), base_url="http://localhost", follow_redirects=False
    ) as client:
        yield client


def lines(page: str) -> list[str]:
    part = page[page.index('id="addresses"') : page.index('id="rejects"')]
    found = re.findall(r"<p[^>]*>(.*?)</p>", part)
    return [re.sub(r"<[^>]+>", "", line).replace("\N{NO-BREAK SPACE}", " ") for line in found]


NO_LINKS = (
    "Messages carry pictures, but no links: no address is stated under which a phone comes here."
)


def test_the_page_lists_them_with_what_failed_and_why(visitor: TestClient) -> None:
    assert lines(visitor.get("/health").text) == [
        "terminal: last message 12:48",
        f"{ON_PAPER}Messages carry links, and no pictures.",
        "phone: not reached",
        f"Since 11:45, last tried 12:58. T{REFUSED[1:]}. 2 waiting.",
        NO_LINKS,
        "mail: last message 12:40",
        "It last failed 12:10. No answer.",
        "Messages carry links and pictures.",
        "new: nothing sent yet",
        "Messages carry links and pictures.",
    ]


def test_one_that_has_just_failed(visitor: TestClient, addresses: FakeAddresses) -> None:
    addresses.known = [replace(PHONE, failing_since=at(-2), waiting=0)]
    assert lines(visitor.get("/health").text)[1] == f"Since 12:58. T{REFUSED[1:]}."


def test_a_desk_that_tells_nobody_has_no_such_part(client: TestClient) -> None:
    page = client.get("/health?tried=phone").text
    assert "Send a test message" not in page
    assert client.get("/api/v1/addresses").json() == {"addresses": []}
    assert client.post("/api/v1/addresses/phone/try").status_code == 422
    form = {"address": "phone", "once": "a-mark-of-the-form"}
    assert client.post("/tried", data=form).status_code == 422


@pytest.mark.parametrize(
    ("known", "said"),
    [
        pytest.param(
            replace(PHONE, failing_since=None),
            "The test message to phone went out. Look whether it came.",
            id="went",
        ),
        pytest.param(PHONE, f"The test message to phone did not go out: {REFUSED}.", id="failed"),
    ],
)
def test_a_test_message_from_the_page(
    visitor: TestClient, addresses: FakeAddresses, known: object, said: str
) -> None:
    page = visitor.get("/health").text
    forms = re.findall(r'<form[^>]* action="/tried">.*?</form>', page, re.DOTALL)
    fields = [dict(re.findall(r'name="(\w+)" value="([^"]*)"', form)) for form in forms]
    form = next(each for each in fields if each["address"] == "phone")
    addresses.known = [known]  # type: ignore[list-item]
    answer = visitor.post("/tried", data=form)
    assert (answer.status_code, answer.headers["location"]) == (303, "/health?tried=phone")
    assert said in visitor.get("/health?tried=phone").text
    # A double tap sends the same form twice.
    assert visitor.post("/tried", data=form).status_code == 303
    assert addresses.tried == ["phone"]


@pytest.mark.parametrize(
    ("form", "status"),
    [
        pytest.param({"address": "fridge", "once": "a-mark-of-the-form"}, 404, id="unknown"),
        pytest.param({"address": "phone", "once": "short"}, 422, id="no mark"),
        pytest.param({"once": "a-mark-of-the-form"}, 422, id="no address"),
    ],
)
def test_what_the_page_refuses(
    visitor: TestClient, addresses: FakeAddresses, form: dict[str, str], status: int
) -> None:
    assert visitor.post("/tried", data=form).status_code == status
    assert addresses.tried == []


@pytest.mark.parametrize(
    ("known", "said"),
    [
        pytest.param(
            replace(PHONE, away_until=at(60 * 24 * 2)),
            "Away until Thursday 13:00: nothing goes there, unless everybody is away.",
            id="away",
        ),
        pytest.param(
            replace(PHONE, least=Priority.HIGH), "Only high priority goes there.", id="high"
        ),
        pytest.param(
            replace(PHONE, least=Priority.MEDIUM),
            "Nothing of low priority goes there.",
            id="medium",
        ),
    ],
)
def test_health_says_why_nothing_has_come(
    visitor: TestClient, addresses: FakeAddresses, known: AddressNow, said: str
) -> None:
    addresses.known = [known]
    assert said in visitor.get("/health").text


def test_an_invented_name_in_the_address_says_nothing(visitor: TestClient) -> None:
    assert "did not go out" not in visitor.get("/health?tried=%3Cb%3E").text


def test_the_api_lists_them(visitor: TestClient) -> None:
    answer = visitor.get("/api/v1/addresses").json()
    assert [each["name"] for each in answer["addresses"]] == ["terminal", "phone", "mail", "new"]
    assert answer["addresses"][1] == {
        "name": "phone",
        "links": False,
        "pictures": True,
        "last_went": "2026-01-19T06:00:00Z",
        "last_failed": "2026-01-20T11:58:00Z",
        "why_failed": REFUSED,
        "failing_since": "2026-01-20T10:45:00Z",
        "waiting": 2,
        "away_until": None,
    }
    assert answer["addresses"][3]["why_failed"] is None


@pytest.mark.parametrize(
    ("outcome", "said"),
    [
        pytest.param(
            Tried("phone", True, "", True),
            {"address": "phone", "went": True, "reason": None, "picture": True},
            id="went",
        ),
        pytest.param(
            Tried("phone", False, "no answer", False),
            {"address": "phone", "went": False, "reason": "no answer", "picture": False},
            id="failed",
        ),
    ],
)
def test_a_test_message_from_a_program(
    visitor: TestClient, addresses: FakeAddresses, outcome: Tried, said: dict[str, object]
) -> None:
    addresses.outcome = outcome
    answer = visitor.post("/api/v1/addresses/phone/try")
    assert (answer.status_code, answer.json()) == (200, said)
    assert addresses.tried == ["phone"]
    missing = visitor.post("/api/v1/addresses/fridge/try")
    assert (missing.status_code, missing.json()["type"]) == (404, "/problems#unknown-name")


def test_one_that_carries_neither_says_so(visitor: TestClient, addresses: FakeAddresses) -> None:
    addresses.known = [replace(PHONE, links=False, pictures=False)]
    neither = "Messages carry neither pictures nor links: no address is stated under which a"
    assert any(line.startswith(neither) for line in lines(visitor.get("/health").text))
