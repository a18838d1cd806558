"""Reminders out of service: told to the API and on the page, and shown with who and why."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.watch.reminder import Call, State
from chamberwatch.service.history import History, Vitals
from chamberwatch.service.out_of_service import OutOfService
from chamberwatch.web.app import create_app
from chamberwatch.web.desk import Desk
from tests.make import NOON
from tests.service.machine import Bench

UTC_ZONE = ZoneInfo("UTC")
WHY = {"why": "the probe is at the maker's", "who": "Ann"}


class Visitor:
    """A grower before the page of a tent that is too dry."""

    def __init__(self, folder: Path) -> None:
        self.bench = Bench(folder)
        self.bench.minutes_of("humidity", 76.0, 5)
        bench = self.bench
        history = History(
            bench.books,
            bench.clock,
            bench.house,
            bench.board,
            UTC_ZONE,
            lambda: Vitals(connected=True, message_ago=timedelta(0), troubles=()),
            NOON,
            "0",
        )
        serving = OutOfService(bench.books, bench.clock, bench.board)
        desk = Desk(
            history, bench.logbook, bench.clock, bench.books, UTC_ZONE, None, serving=serving
        )
        self.client = TestClient(
            create_app(desk), base_url="http://localhost", follow_redirects=False
        )
        self.number = bench.reminder(Call.MIST).id

    def post(self, where: str, body: dict[str, str]) -> tuple[int, dict[str, object]]:
        answer = self.client.post(f"/api/v1/reminders/{self.number}/{where}", json=body)
        return answer.status_code, answer.json()

    def state(self) -> State:
        return self.bench.reminder(Call.MIST).state


@pytest.fixture
def visitor(tmp_path: Path) -> Iterator[Visitor]:
    made = Visitor(tmp_path)
    yield made
    made.bench.close()


def test_out_and_in_by_the_api(visitor: Visitor) -> None:
    until = "2026-01-27T12:00:00Z"
    status, shown = visitor.post("out-of-service", {**WHY, "until": until})
    assert (status, shown["state"], shown["out_until"]) == (200, "out of service", until)
    assert (shown["out_by"], shown["out_why"]) == ("Ann", "the probe is at the maker's")
    status, shown = visitor.post("in-service", {"who": "Ben"})
    assert (status, shown["state"], shown["out_by"]) == (200, "unacknowledged", "")


@pytest.mark.parametrize(
    ("where", "body", "words"),
    [
        pytest.param("out-of-service", {"why": " ", "who": "Ann"}, "Say why", id="no reason"),
        pytest.param(
            "out-of-service", {**WHY, "until": "2026-01-20T12:00:00Z"}, "lie ahead", id="past"
        ),
        pytest.param("in-service", {"who": "Ann"}, "nothing to put back", id="in service"),
    ],
)
def test_what_is_refused(visitor: Visitor, where: str, body: dict[str, str], words: str) -> None:
    status, problem = visitor.post(where, body)
    assert 400 <= status < 500
    assert words in str(problem["detail"])
    assert visitor.state() is State.UNACKNOWLEDGED


def test_a_request_that_is_sent_twice_is_done_once(visitor: Visitor) -> None:
    address = f"/api/v1/reminders/{visitor.number}/out-of-service"
    answers = [
        visitor.client.post(address, json=WHY, headers={"Idempotency-Key": "mine"})
        for _ in range(2)
    ]
    assert [answer.status_code for answer in answers] == [200, 200]


def test_out_and_in_by_the_page(visitor: Visitor) -> None:
    address = f"/reminders/{visitor.number}/service"
    assert f'href="{address}"' in visitor.client.get("/").text
    form = visitor.client.get(address).text
    assert "Tent: mist now" in form
    assert 'name="why"' in form
    told = {"number": str(visitor.number), "days": "7", "once": "a-mark-of-mine", **WHY}
    answer = visitor.client.post("/out-of-service", data=told)
    assert (answer.status_code, answer.headers["location"]) == (303, "/?said=out")
    page = visitor.client.get(answer.headers["location"]).text
    assert "out of service until 27 Jan" in page
    assert "Ann: the probe is at the maker&#39;s" in page
    assert "Out of service. It goes on being judged" in page
    assert 'name="why"' not in visitor.client.get(address).text
    back = {"number": str(visitor.number), "once": "another-mark", "who": "Ben", "back": "tent"}
    answer = visitor.client.post("/in-service", data=back)
    assert answer.headers["location"] == "/chamber/tent?said=in"
    assert visitor.state() is State.UNACKNOWLEDGED


def test_without_an_end_a_person_puts_it_back(visitor: Visitor) -> None:
    told = {"number": str(visitor.number), "days": "9999", "once": "a-mark-of-mine", **WHY}
    assert visitor.client.post("/out-of-service", data=told).status_code == 303
    assert visitor.bench.reminder(Call.MIST).out_until is None


def test_a_form_of_no_reminder(visitor: Visitor) -> None:
    assert visitor.client.get("/reminders/99/service").status_code == 404


def test_where_nothing_is_taken_out_it_is_not_offered(client: TestClient) -> None:
    assert "Take out of service" not in client.get("/").text
    answer = client.post("/api/v1/reminders/1/in-service", json={"who": "Ann"})
    assert "Ask the daemon" in answer.json()["detail"]
