"""Calibrations over the API."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.air.calibration import STEPS
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.board import Board
from chamberwatch.service.calibrating import Calibrating
from chamberwatch.service.correcting import Corrector
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.web.app import create_app
from tests.make import at, house
from tests.web.desk_fakes import Played

MIDDLE = "/api/v1/sensors/middle/calibrations"
NACL = {"salt": "NaCl", "temperature_c": 20.4, "read_pct": 77.1}
KCL = {"salt": "KCl", "temperature_c": 20.4, "read_pct": 86.0}
SALT: dict[str, Any] = {"quantity": "humidity", "salts": [NACL], "who": "Ann"}


@pytest.fixture
def books(tmp_path: Path) -> Iterator[SqlBooks]:
    opened = open_books(f"sqlite:///{tmp_path / 'cw.db'}", at(0))
    yield opened
    opened.close()


@pytest.fixture
def visitor(played: Played, books: SqlBooks) -> Iterator[TestClient]:
    """Return a visitor of a desk that keeps calibrations in a real database."""
    board = Board(played.clock.monotonic())
    board.show(Reading(at(-1), "middle", Quantity.HUMIDITY, 78.0, True, 79.6))
    board.show(Reading(at(-1), "middle", Quantity.CO2, 840.0))
    known = house()
    calibrating = Calibrating(books, played.clock, known, board, Corrector(known))
    desk = replace(played.desk, calibrating=calibrating)
    with TestClient(create_app(desk), base_url="http://localhost") as client:
        yield client


def test_one_salt(visitor: TestClient, books: SqlBooks) -> None:
    answer = visitor.post(MIDDLE, json=SALT)
    assert answer.status_code == 201
    assert answer.json() == {
        "calibration": {
            "id": 1,
            "sensor": "middle",
            "quantity": "humidity",
            "unit": "%",
            "slope": 1.0,
            "offset": pytest.approx(-1.6444, abs=1e-9),
            "at": "2026-01-20T12:00:00Z",
            "who": "Ann",
            "how": "NaCl 75.5 % at 20.4 °C, read 77.1 %",
            "recorded": "2026-01-20T12:00:00Z",
        },
        "words": "Reads 1.6 % too high at 75 %; corrected by -1.6 % (± 0.5 % there).",
        "by": pytest.approx(-1.6444, abs=1e-9),
        "plus_minus": pytest.approx(0.5188, abs=1e-9),
        "action": 1,
    }
    with books.read() as book:
        (action,) = book.actions.recent(None)
    assert action.note == "sensor middle: humidity -1.6 % (one salt), by Ann"
    assert action.via == "api"


@pytest.mark.parametrize(
    ("body", "slope", "offset"),
    [
        # Greenspan 1977 at 20.4 °C: 75.4556 and 85.0484 %.
        pytest.param(
            {"quantity": "humidity", "salts": [NACL, KCL]}, 1.077843, -7.646072, id="two-salts"
        ),
        pytest.param(
            {"quantity": "co2", "fresh_air_ppm": 440, "read_ppm": 512}, 1.0, -72.0, id="fresh-air"
        ),
        pytest.param({"quantity": "co2", "read_ppm": 512}, 1.0, -82.0, id="usual-fresh-air"),
        pytest.param(
            {"quantity": "temperature", "reference_c": 0.0, "read_c": 0.5}, 1.0, -0.5, id="ice"
        ),
        pytest.param(
            {"quantity": "humidity", "slope": 1.0, "offset": 0.0, "how": "new sensor"},
            1.0,
            0.0,
            id="withdrawn",
        ),
        pytest.param({"quantity": "co2", "offset": 20, "salts": None}, 1.0, 20.0, id="by-hand"),
        pytest.param({"quantity": "temperature", "slope": 1.01}, 1.01, 0.0, id="slope-alone"),
    ],
)
def test_other_checks(
    visitor: TestClient, body: dict[str, Any], slope: float, offset: float
) -> None:
    answer = visitor.post(MIDDLE, json={**body, "who": "Ann"})
    assert answer.status_code == 201
    kept = answer.json()["calibration"]
    assert (kept["slope"], kept["offset"]) == (
        pytest.approx(slope, abs=1e-6),
        pytest.approx(offset, abs=1e-6),
    )


def test_an_earlier_time_names_the_command_for_the_past(visitor: TestClient) -> None:
    said = visitor.post(MIDDLE, json={**SALT, "at": "2026-01-19T12:00:00Z"}).json()
    assert said["calibration"]["at"] == "2026-01-19T12:00:00Z"
    assert "chamberwatch recalibrate --sensor middle" in said["words"]


@pytest.mark.parametrize(
    ("change", "kind", "words"),
    [
        pytest.param({"salts": None}, "not-valid", "belong together", id="nothing-read"),
        pytest.param({"read_ppm": 512}, "not-valid", "belong together", id="two-checks"),
        pytest.param({"quantity": "co2"}, "not-valid", "belong together", id="salts-for-co2"),
        pytest.param(
            {"salts": None, "how": "so"}, "not-valid", "belong together", id="only-words"
        ),
        pytest.param(
            {"quantity": "temperature", "salts": None, "read_c": None, "reference_c": 20.0},
            "not-valid",
            "belong together",
            id="half-a-reference",
        ),
        pytest.param({"who": ""}, "not-valid", "#/who", id="nobody"),
        pytest.param({"who": "  "}, "refused", "Say who did it", id="blank"),
        pytest.param({"salts": []}, "not-valid", "#/salts", id="no-salt"),
        pytest.param(
            {"salts": [{**NACL, "salt": "sugar"}]}, "not-valid", "#/salts/0/salt", id="sugar"
        ),
        pytest.param(
            {"salts": [{**NACL, "temperature_c": 5.0}]}, "refused", "10 to 35 °C", id="too-cold"
        ),
        pytest.param({"salts": [{**NACL, "read_pct": 95.0}]}, "refused", "Wait an hour", id="off"),
        pytest.param({"at": "2027-01-01T00:00:00Z"}, "refused", "future", id="future"),
        pytest.param({"extra": 1}, "not-valid", "#/extra", id="unknown-field"),
    ],
)
@pytest.mark.parametrize("key", [None, "abc"], ids=["bare", "with-key"])
def test_refused(
    visitor: TestClient,
    books: SqlBooks,
    change: dict[str, Any],
    kind: str,
    words: str,
    key: str | None,
) -> None:
    headers = {"Idempotency-Key": key} if key else {}
    answer = visitor.post(MIDDLE, json={**SALT, **change}, headers=headers)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["type"] == f"/problems#{kind}"
    assert words in answer.json()["detail"]
    with books.read() as book:
        assert book.calibrations.newest_id() == 0


def test_no_number_is_no_reading(visitor: TestClient) -> None:
    body = '{"quantity": "co2", "read_ppm": NaN, "who": "Ann"}'
    answer = visitor.post(MIDDLE, content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 422


@pytest.mark.parametrize("method", ["get", "post"])
def test_no_such_sensor(visitor: TestClient, method: str) -> None:
    address = "/api/v1/sensors/attic/calibrations"
    answer = visitor.get(address) if method == "get" else visitor.post(address, json=SALT)
    assert answer.status_code == 404
    assert "Known: middle" in answer.json()["detail"]


def test_the_same_key_is_done_once(visitor: TestClient, books: SqlBooks) -> None:
    headers = {"Idempotency-Key": "abc"}
    first, second = (visitor.post(MIDDLE, json=SALT, headers=headers) for _ in range(2))
    assert first.json() == second.json()
    other = visitor.post(MIDDLE, json={**SALT, "who": "Bo"}, headers=headers)
    assert (other.status_code, other.json()["type"]) == (422, "/problems#key-reused")
    with books.read() as book:
        assert book.calibrations.newest_id() == 1


def test_what_there_is(visitor: TestClient) -> None:
    visitor.post(MIDDLE, json=SALT)
    said = visitor.get(MIDDLE).json()
    assert (said["sensor"], said["co2_factor"]) == ("middle", 1.0)
    assert [c["id"] for c in said["calibrations"]] == [1]
    assert said["newest"] == [
        {
            "quantity": "humidity",
            "unit": "%",
            "raw": 79.6,
            "value": 78.0,
            "time": "2026-01-20T11:59:00Z",
            "calibration": 1,
        },
        {
            "quantity": "co2",
            "unit": "ppm",
            "raw": 840.0,
            "value": 840.0,
            "time": "2026-01-20T11:59:00Z",
            "calibration": None,
        },
    ]


def test_salts(visitor: TestClient) -> None:
    said = visitor.get("/api/v1/salts", params={"temperature_c": 25}).json()
    found = {
        salt["salt"]: (salt["humidity_pct"], salt["plus_minus_pct"]) for salt in said["salts"]
    }
    # Greenspan 1977, Table 2; second decimals and ± from memory.
    assert (found["NaCl"], found["KCl"]) == ((75.29, 0.12), (84.34, 0.26))
    assert len(found) == 7
    assert said["steps"] == list(STEPS)
    assert visitor.get("/api/v1/salts").json()["temperature_c"] == 20.0
    assert len(visitor.get("/api/v1/salts?temperature_c=33").json()["salts"]) == 6


@pytest.mark.parametrize("temperature", ["5", "50", "warm", "nan"])
def test_salts_outside_the_table(visitor: TestClient, temperature: str) -> None:
    answer = visitor.get("/api/v1/salts", params={"temperature_c": temperature})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_desk_that_keeps_none_says_so(client: TestClient) -> None:
    for answer in (client.get(MIDDLE), client.post(MIDDLE, json=SALT)):
        assert (answer.status_code, answer.json()["type"]) == (422, "/problems#refused")


def test_it_is_described(visitor: TestClient) -> None:
    described = visitor.get("/api/v1/openapi.json").json()
    assert set(described["paths"]["/api/v1/sensors/{name}/calibrations"]) == {"get", "post"}
    assert "get" in described["paths"]["/api/v1/salts"]
