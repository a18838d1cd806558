"""What lies ahead, on the pages and in the API."""

import re
from dataclasses import dataclass, replace
from datetime import timedelta
from html import unescape

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core import ahead_words
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.watch.foretold import Foreseen, Foretold, Outcome, TrackRecord
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Side
from chamberwatch.core.watch.situation import Limit
from chamberwatch.service.foreseeing import AheadNow
from chamberwatch.web.app import create_app
from chamberwatch.web.pages.ahead import ahead_lines
from tests.make import NOON, at
from tests.web.air_fakes import known_tent
from tests.web.desk_fakes import Played, calm_tent

FORETOLD = Foretold(
    4, "tent", "middle", Quantity.HUMIDITY, Side.LOW, 85.0, NOON, at(18), at(26), at(39)
)
CAME = replace(FORETOLD, id=3, at=at(-90), told=True, came=at(-60), outcome=Outcome.CAME)
KNOWN = AheadNow(
    early=timedelta(minutes=30),
    coming=(Foreseen(FORETOLD, 88.214, -7.1234),),
    records={Quantity.HUMIDITY: TrackRecord(12, 10, 11)},
    last=(FORETOLD, CAME),
)
NOTHING = AheadNow(None, (), {}, ())
STALE_AHEAD = replace(
    KNOWN,
    coming=(Foreseen(replace(FORETOLD, quantity=Quantity.CO2, side=Side.HIGH), 900.0, 80.0),),
)


@dataclass
class FakeForeseeing:
    """Knows what it was given of the tent, and nothing of the room."""

    known: AheadNow

    def ahead(self, name: str) -> AheadNow:
        if name not in ("tent", "room"):
            raise UnknownNameError(f"There is no chamber “{name}”.")
        return self.known if name == "tent" else NOTHING


def visitor(known: AheadNow | None) -> TestClient:
    played: Played = calm_tent()
    foreseeing = None if known is None else FakeForeseeing(known)
    desk = replace(played.desk, foreseeing=foreseeing)
    return TestClient(create_app(desk), base_url="http://localhost")


def read(known: AheadNow | None, address: str) -> str:
    answer = visitor(known).get(address)
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.text)))


@pytest.mark.parametrize("address", ["/", "/chamber/tent", "/part/now", "/chamber/tent/hold"])
def test_the_pages_say_what_comes_and_how_good_such_forecasts_were(address: str) -> None:
    page = read(KNOWN, address)
    assert page.count("Looking ahead") == 1
    assert "Humidity falls to 85 % at about 13:25 (13:18 to 13:39)." in page
    assert "Of the last 12 forecasts of the humidity here 10 were right within 10 min" in page


@pytest.mark.parametrize(
    ("limit", "origin", "known", "said"),
    [
        pytest.param(Limit.WATER, Origin.ASSUMED, KNOWN, True, id="a guess beside the readings"),
        pytest.param(None, Origin.ASSUMED, KNOWN, False, id="it holds"),
        pytest.param(Limit.WATER, Origin.MEASURED, KNOWN, False, id="no guess"),
        pytest.param(Limit.WATER, Origin.ASSUMED, NOTHING, False, id="nothing ahead"),
        pytest.param(Limit.WATER, Origin.ASSUMED, STALE_AHEAD, False, id="CO2 ahead"),
    ],
)
def test_the_readings_outweigh_a_leak_nobody_measured(
    limit: Limit | None, origin: Origin, known: AheadNow, said: bool
) -> None:
    played = known_tent()
    shown = played.history.rooms["tent"]
    told = shown.counsel
    assert told is not None
    assert told.hold is not None
    leak = replace(told.situation.known.leak_per_h, origin=origin)
    situation = replace(told.situation, known=replace(told.situation.known, leak_per_h=leak))
    told = replace(told, situation=situation, hold=replace(told.hold, limit=limit))
    desk = replace(played.desk, foreseeing=FakeForeseeing(known))
    lines = ahead_lines(desk, replace(shown, counsel=told))
    assert (ahead_words.RATHER_THAN_A_GUESS in lines) is said


@pytest.mark.parametrize("known", [NOTHING, None], ids=["nothing ahead", "nobody looks"])
@pytest.mark.parametrize("address", ["/", "/chamber/tent/hold"])
def test_the_pages_are_silent_where_nothing_is_known(known: AheadNow | None, address: str) -> None:
    assert "Looking ahead" not in read(known, address)


def test_the_api_gives_forecasts_record_and_what_came() -> None:
    answer = visitor(KNOWN).get("/api/v1/chambers/tent/ahead")
    limit = {
        "quantity": "humidity",
        "unit": "%",
        "sensor": "middle",
        "side": "low",
        "limit": 85.0,
        "earliest": "2026-01-20T12:18:00Z",
        "likely": "2026-01-20T12:26:00Z",
        "latest": "2026-01-20T12:39:00Z",
    }
    made = {**limit, "number": 4, "at": "2026-01-20T12:00:00Z", "told": False}
    assert answer.json() == {
        "early": "PT30M",
        "coming": [{**limit, "value": 88.21, "slope_per_h": -7.12}],
        "records": [
            {"quantity": "humidity", "counted": 12, "right": 10, "inside": 11, "good": True}
        ],
        "last": [
            {**made, "came": None, "outcome": "open"},
            {
                **made,
                "number": 3,
                "at": "2026-01-20T10:30:00Z",
                "told": True,
                "came": "2026-01-20T11:00:00Z",
                "outcome": "came",
            },
        ],
    }


@pytest.mark.parametrize(
    ("known", "name", "status", "says"),
    [
        pytest.param(KNOWN, "cellar", 404, "There is no chamber “cellar”.", id="a stranger"),
        pytest.param(None, "tent", 422, "Nobody looks ahead here.", id="nobody looks"),
    ],
)
def test_the_api_says_why_there_is_no_answer(
    known: AheadNow | None, name: str, status: int, says: str
) -> None:
    answer = visitor(known).get(f"/api/v1/chambers/{name}/ahead")
    assert answer.status_code == status
    assert says in answer.json()["detail"]


def test_a_room_has_nothing_ahead() -> None:
    answer = visitor(KNOWN).get("/api/v1/chambers/room/ahead")
    assert answer.json() == {"early": None, "coming": [], "records": [], "last": []}
