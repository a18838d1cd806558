"""What the API answers when all is well."""

import re
from dataclasses import replace
from datetime import UTC, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.backups import BackupStand
from chamberwatch.core.self_check import SelfCheck
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Reject
from chamberwatch.core.watch.reminder import State
from chamberwatch.service.books import Span
from chamberwatch.service.views import ReminderNow, SeriesPoint
from tests.make import at
from tests.web.desk_fakes import AIR, MIST, SPREAD, Played, chamber_now, health

AIR_KEYS = {
    "time",
    "temperature_c",
    "humidity_pct",
    "co2_ppm",
    "pressure_pa",
    "dew_point_c",
    "vpd_kpa",
    "wet_bulb_c",
    "humidity_ratio_g_per_kg",
    "frost_point",
    "enthalpy_kj_per_kg",
    "density_kg_per_m3",
    "absolute_humidity_g_per_m3",
    "plus_minus",
    "condensation",
    "judgements",
    "stale",
    "doubts",
}
READINGS = "/api/v1/readings"
BASIC = {"chamber": "tent", "quantity": "humidity_pct"}


def test_lists_chambers_and_rooms(client: TestClient) -> None:
    assert client.get("/api/v1/chambers").json()["chambers"] == [
        {
            "name": "tent",
            "title": "Tent",
            "stage": "fruiting",
            "volume_l": 500.0,
            "shelves": ["top", "bottom"],
            "surrounding": "room",
            "air_changes_per_h": None,
            "vent_air_changes_per_h": None,
            "wet_area_m2": None,
            "squeeze_g": 1.0,
            "cover_u_w_per_m2k": 3.8,
            "wet_at_most": "PT6H",
            "visits": ["07:30:00", "18:00:00", "22:00:00"],
        },
        {
            "name": "room",
            "title": "Living room",
            "stage": None,
            "volume_l": None,
            "shelves": [],
            "surrounding": None,
            "air_changes_per_h": None,
            "vent_air_changes_per_h": None,
            "wet_area_m2": None,
            "squeeze_g": 1.0,
            "cover_u_w_per_m2k": 3.8,
            "wet_at_most": "PT6H",
            "visits": ["07:30:00", "18:00:00", "22:00:00"],
        },
    ]


def test_air_has_its_keys_and_units(client: TestClient) -> None:
    air = client.get("/api/v1/chambers/tent/air").json()
    assert set(air) == AIR_KEYS
    assert air["time"] == "2026-01-20T11:59:52Z"
    assert air["vpd_kpa"] == pytest.approx(0.502)
    assert air["dew_point_c"] == pytest.approx(13.91)
    assert air["humidity_ratio_g_per_kg"] == pytest.approx(9.904)
    assert air["frost_point"] is False
    assert air["enthalpy_kj_per_kg"] == pytest.approx(43.4)
    assert air["density_kg_per_m3"] == pytest.approx(1.2)
    assert air["absolute_humidity_g_per_m3"] == pytest.approx(11.8)
    assert air["stale"] is False
    assert air["doubts"] == []


def test_air_says_how_far_it_may_be_off(client: TestClient) -> None:
    assert client.get("/api/v1/chambers/tent/air").json()["plus_minus"] == {
        "temperature_k": 0.2,
        "humidity_pct": 2.0,
        "dew_point_k": 0.449,
        "vpd_kpa": 0.0424,
        "co2_ppm": 92.0,
    }


@pytest.mark.parametrize(
    ("co2_ppm", "margin", "wanted"),
    [
        pytest.param(
            None,
            Margin(13.51284, -0.39716, 0.4003, Origin.ASSUMED, wet=True),
            {
                "surface_c": 13.513,
                "margin_k": -0.397,
                "plus_minus_k": 0.4,
                "origin": "assumed",
                "wet": True,
                "certain": False,
            },
            id="reckoned, perhaps wet",
        ),
        pytest.param(
            92.0,
            Margin(16.0, 2.09, 0.7, Origin.MEASURED, wet=False),
            {
                "surface_c": 16.0,
                "margin_k": 2.09,
                "plus_minus_k": 0.7,
                "origin": "measured",
                "wet": False,
                "certain": True,
            },
            id="measured, surely dry",
        ),
        pytest.param(92.0, None, None, id="can't be told"),
    ],
)
def test_air_says_how_close_the_walls_are_to_wet(
    client: TestClient,
    played: Played,
    co2_ppm: float | None,
    margin: Margin | None,
    wanted: dict[str, Any] | None,
) -> None:
    spread = replace(SPREAD, co2_ppm=co2_ppm)
    played.put(replace(played.history.now("tent"), margin=margin, spread=spread))
    air = client.get("/api/v1/chambers/tent/air").json()
    assert air["condensation"] == wanted
    assert air["plus_minus"]["co2_ppm"] == co2_ppm


def test_a_dew_point_below_freezing_is_a_frost_point(client: TestClient, played: Played) -> None:
    frosty = replace(AIR, dew_point_c=-1.25, frost=True)
    played.put(replace(played.history.now("tent"), air=frosty))
    air = client.get("/api/v1/chambers/tent/air").json()
    assert (air["dew_point_c"], air["frost_point"]) == (-1.25, True)


def test_air_judges_each_value(client: TestClient) -> None:
    judged = client.get("/api/v1/chambers/tent/air").json()["judgements"]
    (humidity,) = [each for each in judged if each["quantity"] == "humidity"]
    assert humidity == {
        "sensor": "tent-top",
        "where": "top",
        "quantity": "humidity",
        "value": 76.0,
        "unit": "%",
        "time": "2026-01-20T11:59:52Z",
        "standing": "below",
        "by": 4.0,
        "harm": False,
        "low": 80.0,
        "high": 95.0,
        "harm_low": 70.0,
        "harm_high": None,
        "source": "common practice for a home chamber with nothing recorded in it",
    }


def test_air_that_is_not_known_is_null(client: TestClient, played: Played) -> None:
    played.put(chamber_now(Chamber("tub", "Tub")))
    air = client.get("/api/v1/chambers/tub/air").json()
    assert set(air) == AIR_KEYS
    said = {"judgements": [], "stale": False, "doubts": [], "pressure_pa": 101_325.0}
    assert air == dict.fromkeys(AIR_KEYS) | said


@pytest.mark.parametrize(
    "address",
    [
        pytest.param("/api/v1/chambers/tent/air", id="air"),
        pytest.param(f"{READINGS}?chamber=tent&quantity=humidity", id="readings"),
    ],
)
@pytest.mark.parametrize(
    ("sent", "status"),
    [
        pytest.param("{tag}", 304, id="same"),
        pytest.param("W/{tag}", 304, id="weak"),
        pytest.param('"other", {tag}', 304, id="in-a-list"),
        pytest.param("*", 304, id="any"),
        pytest.param('"other"', 200, id="other"),
    ],
)
def test_what_has_not_changed_is_not_sent_again(
    client: TestClient, address: str, sent: str, status: int
) -> None:
    tag = client.get(address).headers["ETag"]
    again = client.get(address, headers={"If-None-Match": sent.format(tag=tag)})
    assert (again.status_code, again.headers["ETag"]) == (status, tag)
    assert (again.content == b"") is (status == 304)


def test_default_span_is_the_last_day(client: TestClient, played: Played) -> None:
    assert client.get(READINGS, params=BASIC).status_code == 200
    span = Span(at(-24 * 60), at(0))
    assert played.history.asked == [("tent", "humidity_pct", span, None, 500)]


def test_span_and_step_as_asked(client: TestClient, played: Played) -> None:
    asked: dict[str, str | int] = {
        **BASIC,
        "from": "2026-01-20T10:00:00+01:00",
        "to": "2026-01-20T11:00:00Z",
        "step": "PT15M",
        "limit": 10,
    }
    played.history.points = (SeriesPoint(at(-60), None, 3, 70.0, 75.0, 80.0),)
    answer = client.get(READINGS, params=asked).json()
    span = Span(at(-180), at(-60))
    assert played.history.asked == [("tent", "humidity_pct", span, timedelta(minutes=15), 10)]
    assert answer["step_s"] == 900.0
    assert answer["rows"] == [
        {"time": "2026-01-20T11:00:00Z", "min": 70.0, "mean": 75.0, "max": 80.0, "count": 3}
    ]


def test_raw_rows_and_a_cursor_that_goes_on(client: TestClient, played: Played) -> None:
    played.history.points = (SeriesPoint(at(-5), "tent-top", 1, 75.0, 75.0, 75.0),)
    played.history.next_from = at(-4)
    first = client.get(READINGS, params=BASIC).json()
    assert first["rows"] == [{"time": "2026-01-20T11:55:00Z", "sensor": "tent-top", "value": 75.0}]
    played.clock.turn(minutes=10)
    played.history.next_from = None
    second = client.get(READINGS, params={**BASIC, "cursor": first["next"]}).json()
    # The end stays where it was when the question was first asked.
    assert played.history.asked[1][2] == Span(at(-4), at(0))
    assert second["next"] is None


LONG = 88.123456789012


@pytest.mark.parametrize(
    ("quantity", "step", "row"),
    [
        pytest.param("humidity_pct", None, {"value": LONG}, id="as sent"),
        pytest.param("dew_point_c", None, {"value": 88.1235}, id="reckoned"),
        pytest.param(
            "humidity_pct", "PT5M", {"min": LONG, "mean": 88.1235, "max": LONG}, id="in steps"
        ),
        pytest.param(
            "dew_point_c",
            "PT5M",
            {"min": 88.1235, "mean": 88.1235, "max": 88.1235},
            id="reckoned, in steps",
        ),
    ],
)
def test_no_more_decimals_than_anybody_can_tell(
    client: TestClient, played: Played, quantity: str, step: str | None, row: dict[str, float]
) -> None:
    played.history.points = (SeriesPoint(at(-10), "tent-top", 1, LONG, LONG, LONG),)
    asked = {"chamber": "tent", "quantity": quantity} | ({"step": step} if step else {})
    (told,) = client.get(READINGS, params=asked).json()["rows"]
    assert {key: told[key] for key in row} == row


def test_a_trend_and_a_pressure_are_no_finer_than_they_are_known(
    client: TestClient, played: Played
) -> None:
    assert MIST.evidence is not None
    evidence = replace(MIST.evidence, trend_per_h=-12.3456789012)
    (shown,) = played.history.all_reminders
    played.history.remember(replace(shown, reminder=replace(MIST, evidence=evidence)))
    (told,) = client.get("/api/v1/reminders").json()["reminders"]
    assert told["evidence"]["trend_per_h"] == -12.3
    played.put(replace(played.history.rooms["tent"], pressure_pa=100_129.51234))
    assert client.get("/api/v1/chambers/tent/air").json()["pressure_pa"] == 100_130.0


def test_a_cursor_says_nothing_to_the_eye(client: TestClient, played: Played) -> None:
    played.history.next_from = at(-4)
    cursor = client.get(READINGS, params=BASIC).json()["next"]
    assert re.fullmatch(r"[A-Za-z0-9_-]+", cursor)


def test_reminders_with_their_words(client: TestClient) -> None:
    (mist,) = client.get("/api/v1/reminders").json()["reminders"]
    assert mist["title"] == "Tent: mist now"
    assert (mist["state"], mist["priority"], mist["episode"]) == ("unacknowledged", "medium", 3)
    assert mist["evidence"]["quantity"] == "humidity"
    assert mist["since"] == "2026-01-20T11:48:00Z"


@pytest.mark.parametrize(
    ("states", "ids"),
    [
        pytest.param(["unacknowledged"], [1], id="one"),
        pytest.param(["normal"], [2], id="other"),
        pytest.param(["normal", "unacknowledged"], [1, 2], id="two"),
        pytest.param(["out of service"], [], id="none"),
    ],
)
def test_reminders_by_state(
    client: TestClient, played: Played, states: list[str], ids: list[int]
) -> None:
    calm = replace(MIST, id=2, state=State.NORMAL, evidence=None)
    played.history.all_reminders.append(ReminderNow(calm, "Tent: mist", ""))
    found = client.get("/api/v1/reminders", params={"state": states}).json()["reminders"]
    assert [each["id"] for each in found] == ids


def test_moves_of_a_reminder(client: TestClient) -> None:
    found = client.get("/api/v1/reminders/1/moves").json()["moves"]
    assert found == [
        {
            "id": 7,
            "reminder": 1,
            "episode": 3,
            "event": "raised",
            "before": "normal",
            "after": "unacknowledged",
            "time": "2026-01-20T11:48:00Z",
            "cause": "humidity 76 %",
            "evidence": None,
        }
    ]
    assert client.get("/api/v1/reminders/1/moves?after=7").json() == {"moves": []}


def test_moves_of_no_reminder(client: TestClient, played: Played) -> None:
    played.history.all_moves = []
    assert client.get("/api/v1/reminders/99/moves").status_code == 404


def test_rejects_with_their_count(client: TestClient, played: Played) -> None:
    played.history.all_rejects = [Reject("tent/x", at(-1), "not JSON", "{oops")] * 3
    answer = client.get("/api/v1/rejects?limit=2").json()
    assert (answer["count"], len(answer["rejects"])) == (3, 2)
    assert answer["rejects"][0] == {
        "topic": "tent/x",
        "time": "2026-01-20T11:59:00Z",
        "reason": "not JSON",
        "excerpt": "{oops",
    }


@pytest.mark.parametrize(
    ("changes", "seconds"),
    [
        pytest.param({}, 4.0, id="heard"),
        pytest.param({"last_message_ago": None}, None, id="never"),
    ],
)
def test_health(
    client: TestClient, played: Played, changes: dict[str, Any], seconds: float | None
) -> None:
    played.history.state = health(played.clock, **changes)
    answer = client.get("/api/v1/health").json()
    assert answer["last_message_ago_s"] == seconds
    assert (answer["well"], answer["now"]) == (True, "2026-01-20T12:00:00Z")


def test_health_lists_what_the_self_check_found(client: TestClient, played: Played) -> None:
    assert client.get("/api/v1/health").json()["checks"] == []
    checks = (SelfCheck("disk", well=False, words="Only 3 MB are free. Make room."),)
    played.history.state = health(played.clock, checks=checks)
    assert client.get("/api/v1/health").json()["checks"] == [
        {"name": "disk", "well": False, "words": "Only 3 MB are free. Make room."}
    ]


def test_health_tells_of_everything_that_watching_needs(
    client: TestClient, played: Played
) -> None:
    stand = BackupStand("/mnt/stick/a.db", at(-600), 23_000_000)
    full = SelfCheck("disk", well=False, words="Only 3 MB are free. Make room.")
    played.history.state = health(
        played.clock, checks=(full,), backup=(stand, time(3, 10)), troubles=(full.words,)
    )
    told = client.get("/api/v1/health").json()
    assert told["running"] is True
    assert told["unwell"] == [{"name": "disk", "words": full.words}]
    assert [line["name"] for line in told["lines"] if not line["well"]] == ["disk"]
    assert told["card"]["file_after_years_bytes"]["10"] == 3.6e9
    assert told["card"]["written_per_day_bytes"] is None
    assert told["backup"] == {
        "file": "/mnt/stick/a.db",
        "at": "2026-01-20T02:00:00Z",
        "bytes": 23_000_000,
        "trouble": "",
        "since": None,
    }
    assert {each["name"] for each in told["sensors"]} == {"tent-top", "room-wall"}
    assert told["versions"] == {"chamberwatch": "0.1.0", "schema": "7"}


def test_times_of_other_zones_are_written_in_utc(client: TestClient, played: Played) -> None:
    tokyo = at(0).astimezone(ZoneInfo("Asia/Tokyo"))
    played.history.state = replace(health(played.clock), now=tokyo)
    assert client.get("/api/v1/health").json()["now"] == "2026-01-20T12:00:00Z"
    assert tokyo.astimezone(UTC) == at(0)


def test_describes_itself(client: TestClient) -> None:
    described = client.get("/api/v1/openapi.json").json()
    assert set(described["paths"]) == {
        "/api/v1/chambers/{chamber}/week",
        "/api/v1/chambers",
        "/api/v1/chambers/{name}/advice",
        "/api/v1/chambers/{name}/ahead",
        "/api/v1/chambers/{name}/air",
        "/api/v1/chambers/{name}/air-changes",
        "/api/v1/chambers/{name}/air-changes/ventings/{number}/answer",
        "/api/v1/chambers/{name}/chart",
        "/api/v1/chambers/{name}/chart.csv",
        "/api/v1/chambers/{name}/hold",
        "/api/v1/chambers/{name}/mistings",
        "/api/v1/chambers/{name}/mistings/{number}/answer",
        "/api/v1/readings",
        "/api/v1/reminders",
        "/api/v1/reminders/quality",
        "/api/v1/reminders/{number}/moves",
        "/api/v1/reminders/{number}/acknowledge",
        "/api/v1/reminders/{number}/shelve",
        "/api/v1/reminders/{number}/out-of-service",
        "/api/v1/reminders/{number}/in-service",
        "/api/v1/actions",
        "/api/v1/sensors/{name}/calibrations",
        "/api/v1/salts",
        "/api/v1/rejects",
        "/api/v1/health",
        "/api/v1/addresses",
        "/api/v1/addresses/{name}/try",
        "/api/v1/chambers/{name}/band",
        "/api/v1/species",
        "/api/v1/species/{name}",
        "/api/v1/batches",
        "/api/v1/batches/{number}",
        "/api/v1/batches/{number}/entries",
        "/api/v1/batches/{number}/split",
        "/api/v1/batches/{number}/signs",
        "/api/v1/actions/{number}/correct",
        "/api/v1/actions/{number}/withdraw",
        "/api/v1/entries/{number}/correct",
        "/api/v1/entries/{number}/withdraw",
        "/api/v1/harvests",
        "/api/v1/yields",
        "/api/v1/signs",
        "/api/v1/cautions",
        "/api/v1/cautions/{caution}/acknowledge",
        "/api/v1/tasks",
        "/api/v1/rotation",
        "/api/v1/calendar.ics",
        "/api/v1/tokens",
        "/api/v1/tokens/{number}",
    }
    text = client.get("/api/v1/openapi.json").text
    assert "HTTPValidationError" not in text
    wanted = set(re.findall(r'"#/components/schemas/(\w+)"', text))
    assert wanted <= set(described["components"]["schemas"])


@pytest.mark.parametrize("address", ["/docs", "/redoc"])
def test_no_page_that_loads_from_outside(client: TestClient, address: str) -> None:
    assert client.get(address).status_code == 404
