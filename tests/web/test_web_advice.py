"""Amounts and forecasts over HTTP: what is given, and what is refused in which words."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.air.figure import Origin
from chamberwatch.core.watch.counsel import mist_advice
from chamberwatch.core.watch.situation import OUTDOOR_PPM
from chamberwatch.service.history import History, Vitals
from chamberwatch.web.app import create_app
from chamberwatch.web.desk import Desk
from tests.make import NOON
from tests.service.machine import Bench
from tests.web.air_fakes import counsel, held_till, known_tent, situation
from tests.web.desk_fakes import Played

ADVICE = "/api/v1/chambers/{}/advice"
HOLD = "/api/v1/chambers/{}/hold"


def visitor(played: Played) -> TestClient:
    return TestClient(create_app(played.desk), base_url="http://localhost")


def figure(value: float, low: float, high: float, origin: str, count: int) -> dict[str, object]:
    return {"value": value, "low": low, "high": high, "origin": origin, "count": count}


# ------------------------------------------------------------------ advice


def test_advice_gives_amounts_forecasts_and_words() -> None:
    played, of = known_tent(), situation()
    answer = visitor(played).get(ADVICE.format("tent"))
    assert answer.status_code == 200
    told, body = counsel(of), answer.json()
    assert body["time"] == "2026-01-20T12:00:00Z"
    assert body["last_held_min"] is None
    mist, vent = told.mist, told.vent
    assert mist is not None
    assert vent is not None
    assert body["mist"] == {
        "squeezes": mist.squeezes,
        "into_air_g": round(mist.into_air_g, 1),
        "standing_g": round(mist.standing_g, 1),
        "carried_off_g_per_h": round(mist.carried_off_g_per_h, 2),
        "humidity_soon_pct": round(mist.reach_pct, 1),
        "settles_pct": round(mist.settles_pct, 1),
        "wanted_until": "2026-01-20T17:00:00Z",
        "holds_until": body["mist"]["holds_until"],
        "limit": mist.limit,
        "words": told.mist_words,
    }
    assert NOON < datetime.fromisoformat(body["mist"]["holds_until"]) <= mist.wanted_until
    assert body["vent"] == {
        "minutes": vent.minutes,
        "aim_ppm": round(vent.aim_ppm),
        "reach_ppm": round(vent.reach_ppm),
        "reachable": True,
        "floor_ppm": round(vent.floor_ppm),
        "temperature_c": round(vent.temperature_c, 1),
        "humidity_pct": round(vent.humidity_pct, 1),
        "back_at_limit": body["vent"]["back_at_limit"],
        "humidity_cost_pct": round(vent.costs_pct, 1),
        "full_minutes": vent.full_minutes,
        "mist_after": vent.mist is not None,
        "words": told.vent_words,
    }


def test_advice_says_from_what_it_was_reckoned() -> None:
    known = visitor(known_tent()).get(ADVICE.format("tent")).json()["known"]
    assert known["volume_l"] == 500.0
    assert known["air_changes_per_h"] == figure(1.24, 0.97, 1.58, "measured", 4)
    assert known["vent_air_changes_per_h"]["origin"] == "assumed"
    assert known["co2_source_g_per_h"] == figure(0.61, 0.55, 0.68, "measured", 3)
    assert (known["device_air_changes_per_h"], known["device_water_g_per_h"]) == (0.0, 0.0)
    assert known["inlet_ppm"] == figure(430.0, 420.0, 500.0, "assumed", 0)
    assert known["standing_g"] == 12.0
    assert (known["room_temperature_c"], known["room_humidity_pct"]) == (20.6, 41.0)
    assert known["room_measured"] is True


def test_what_is_not_known_is_null() -> None:
    played, of = known_tent(), situation(co2_ppm=None)
    of = replace(of, known=replace(of.known, source_g_per_h=None), room_measured=False)
    bare = replace(
        counsel(of), mist=None, mist_words="", last_held=timedelta(minutes=43, seconds=20)
    )
    played.put(replace(played.history.rooms["tent"], counsel=bare))
    body = visitor(played).get(ADVICE.format("tent")).json()
    assert (body["mist"], body["vent"], body["last_held_min"]) == (None, None, 43.3)
    assert body["known"]["co2_source_g_per_h"] is None
    assert body["known"]["room_measured"] is False
    assert OUTDOOR_PPM.origin is Origin.ASSUMED


@pytest.mark.parametrize(
    ("address", "status", "kind", "words"),
    [
        pytest.param(
            ADVICE.format("attic"), 404, "unknown-name", "There is no chamber “attic”", id="advice"
        ),
        pytest.param(
            HOLD.format("attic"), 404, "unknown-name", "There is no chamber “attic”", id="hold"
        ),
        pytest.param(
            ADVICE.format("room"),
            422,
            "refused",
            "State volume_l of the chamber “room”",
            id="room",
        ),
        pytest.param(
            HOLD.format("room"), 422, "refused", "State volume_l of the chamber", id="held"
        ),
        pytest.param(
            HOLD.format("tent") + "?until=tomorrow", 422, "not-valid", "query until", id="no time"
        ),
        pytest.param(
            HOLD.format("tent") + "?until=2026-01-20T15:00:00",
            422,
            "not-valid",
            "query until",
            id="no zone",
        ),
    ],
)
def test_what_can_not_be_answered_is_a_problem_with_words(
    address: str, status: int, kind: str, words: str
) -> None:
    played = known_tent()
    if kind != "not-valid":
        played.history.held = None
    answer = visitor(played).get(address)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    body = answer.json()
    assert (body["type"], body["status"]) == (f"/problems#{kind}", status)
    assert words in body["detail"]


# ------------------------------------------------------------------ hold


@pytest.mark.parametrize(
    ("until", "asked"),
    [
        pytest.param("", None, id="the next visit"),
        pytest.param("?until=2026-01-20T15:00:00Z", NOON + timedelta(hours=3), id="UTC"),
        pytest.param(
            "?until=2026-01-20T16:00:00%2B01:00", NOON + timedelta(hours=3), id="another zone"
        ),
    ],
)
def test_hold_passes_the_time_on(until: str, asked: datetime | None) -> None:
    played = known_tent()
    answer = visitor(played).get(HOLD.format("tent") + until)
    assert answer.status_code == 200
    assert played.history.asked_hold == [("tent", asked)]


def test_hold_gives_what_ends_it_and_what_would_help() -> None:
    played = known_tent()
    until = (NOON + timedelta(hours=20)).astimezone(ZoneInfo("Europe/Berlin"))
    held = held_till(situation(), until)
    played.history.held = held
    body = visitor(played).get(HOLD.format("tent")).json()
    answer = held.answer
    assert not answer.holds
    assert body == {
        "asked_until": "2026-01-21T08:00:00Z",
        "holds": False,
        "until": body["until"],
        "limit": answer.limit,
        "humidity_pct": round(answer.humidity_pct, 1),
        "co2_ppm": round(answer.co2_ppm) if answer.co2_ppm is not None else None,
        "add_water_g": body["add_water_g"],
        "changes_per_h": body["changes_per_h"],
        "load_share": body["load_share"],
        "words": held.words,
    }
    assert NOON < datetime.fromisoformat(body["until"]) < until
    assert body["limit"]


@pytest.mark.parametrize(
    ("water_g", "changes", "load", "co2_ppm", "given"),
    [
        pytest.param(None, None, None, None, (None, None, None, None), id="nothing known"),
        pytest.param(
            12.34, 0.5049, 0.777, 912.4, (12.3, 0.5, 0.78, 912), id="rounded to what can be told"
        ),
    ],
)
def test_hold_writes_figures_and_nulls(
    water_g: float | None,
    changes: float | None,
    load: float | None,
    co2_ppm: float | None,
    given: tuple[float | None, ...],
) -> None:
    played = known_tent()
    held = held_till(situation(), NOON + timedelta(hours=2))
    advised = mist_advice(situation(), NOON + timedelta(hours=2))
    assert advised is not None
    mist = None if water_g is None else replace(advised, standing_g=water_g)
    answer = replace(
        held.answer, mist=mist, changes_per_h=changes, load_share=load, co2_ppm=co2_ppm
    )
    played.history.held = replace(held, answer=answer)
    body = visitor(played).get(HOLD.format("tent")).json()
    names = ("add_water_g", "changes_per_h", "load_share", "co2_ppm")
    assert tuple(body[name] for name in names) == given


# ------------------------------------------------------------------ with the whole service


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path, counselled=True)
    yield made
    made.close()


def served(bench: Bench) -> TestClient:
    vitals = Vitals(connected=True, message_ago=None, troubles=())
    history = History(
        bench.books,
        bench.clock,
        bench.house,
        bench.board,
        UTC,
        lambda: vitals,
        NOON,
        "0.0",
        bench.counsel,
    )
    desk = Desk(history, bench.logbook, bench.clock, bench.books, ZoneInfo("UTC"), None)
    return TestClient(create_app(desk), base_url="http://localhost")


def test_the_next_visit_is_the_default(bench: Bench) -> None:
    bench.minutes_of("temperature", 19.0, 1)
    bench.minutes_of("humidity", 88.0, 1)
    body = served(bench).get(HOLD.format("tent")).json()
    assert body["asked_until"] == "2026-01-20T18:00:00Z"
    advice = served(bench).get(ADVICE.format("tent")).json()
    assert advice["mist"]["wanted_until"] == "2026-01-20T18:00:00Z"
    assert advice["vent"] is None
    assert advice["known"]["room_measured"] is False


@pytest.mark.parametrize(
    ("chamber", "until", "words"),
    [
        pytest.param("tent", "2026-01-20T11:00:00Z", "from now on", id="past"),
        pytest.param("tent", "2026-01-23T12:00:00Z", "at most two days ahead", id="too far"),
        pytest.param("room", "2026-01-20T15:00:00Z", "is a room; name a chamber.", id="a room"),
        pytest.param("shelf", "2026-01-20T15:00:00Z", "sealed bags keep their own", id="sealed"),
    ],
)
def test_why_it_can_not_be_told(bench: Bench, chamber: str, until: str, words: str) -> None:
    bench.minutes_of("temperature", 19.0, 1)
    bench.minutes_of("humidity", 88.0, 1)
    answer = served(bench).get(HOLD.format(chamber), params={"until": until})
    assert answer.status_code == 422
    assert words in answer.json()["detail"]


def test_a_silent_sensor_is_named_as_the_cause(bench: Bench) -> None:
    for address in (ADVICE, HOLD):
        answer = served(bench).get(address.format("tent"))
        assert answer.status_code == 422
        assert "Nothing was heard from Tent in the last 20 minutes" in answer.json()["detail"]
