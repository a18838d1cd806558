"""What the pages tell of the physics of the air: ±, condensation, forecasts, amounts, finds."""

import re
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import assumed
from chamberwatch.core.air.uncertainty import Spread
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.action import Action, Amounts, Deed
from chamberwatch.core.watch.chamber import Chamber, Sensor
from chamberwatch.core.watch.device import Supply
from chamberwatch.core.watch.effect import Effect, Outcome
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.reminder import Call, State
from chamberwatch.core.watch.situation import Situation
from chamberwatch.service.views import ChamberNow
from chamberwatch.web.app import create_app
from chamberwatch.web.pages.air_words import margin_fact, plus_minus, reading_spread
from chamberwatch.web.pages.counsel_words import grounds
from chamberwatch.web.pages.done_words import done, lines
from chamberwatch.web.pages.holding import Typed, asked_until, morning
from tests.make import NOON, TENT, at
from tests.web.air_fakes import (
    FakeLookback,
    counsel,
    dry_known_tent,
    held_till,
    known_tent,
    looks_like,
    situation,
)
from tests.web.desk_fakes import FIGURES, MIST, MIST_NOW, MISTED, ZONE, Played

ONCE = "a" * 16
GAP = "\N{NO-BREAK SPACE}"


def visit(played: Played, address: str = "/", status: int = 200) -> str:
    """Return a page as a person reads it: no tags, single plain spaces."""
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        answer = visitor.get(address)
    assert answer.status_code == status, answer.text
    return plain(answer.text)


def plain(page: str) -> str:
    text = re.sub(
        r"<(?:svg|script|style|title).*?</(?:svg|script|style|title)>", "", page, flags=re.DOTALL
    )
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", text)).replace(GAP, " "))


def change(played: Played, **changes: object) -> None:
    """Change what is known of the tent."""
    shown: ChamberNow = played.history.rooms["tent"]
    played.put(replace(shown, **changes))  # type: ignore[arg-type]


# ------------------------------------------------------------ what follows


def test_what_follows_has_its_spread() -> None:
    page = visit(known_tent())
    # ± 2 % at 88 % and ± 0.2 K: half a kelvin of dew point, half a tenth of a kPa.
    assert "dew point 16.2 °C ± 0.4 a wall colder" in page
    assert "vapour-pressure deficit 0.25 kPa ± 0.04" in page
    assert "condensation margin dry: walls 2.8 K above the dew point ± 0.4" in page
    assert "reckoned from the room through the cover" in page


def test_a_poor_sensor_gets_fewer_decimals() -> None:
    played = known_tent()
    change(played, spread=Spread(0.5, 6.0, 1.4, 130.0, None))
    page = visit(played)
    assert "dew point 16 °C ± 1 " in page
    assert "vapour-pressure deficit 0.3 kPa ± 0.1 " in page


@pytest.mark.parametrize(
    ("margin", "words", "hint", "shape"),
    [
        pytest.param(
            Margin(17.4, 1.2, 0.4, Origin.ASSUMED, wet=False),
            "dry: walls 1.2 K above the dew point",
            "reckoned from the room through the cover",
            "dry",
            id="dry",
        ),
        pytest.param(
            Margin(15.4, -0.83, 0.4, Origin.MEASURED, wet=True),
            "wet: surface 0.8 K below the dew point",
            "measured on the surface",
            "wet",
            id="wet",
        ),
        pytest.param(
            Margin(16.4, 0.2, 0.4, Origin.ASSUMED, wet=False),
            "can't be told: walls 0.2 K above the dew point",
            "reckoned from the room through the cover; look whether there are drops",
            "unsure",
            id="dry-perhaps",
        ),
        pytest.param(
            Margin(16.0, -0.4, 0.4, Origin.DECLARED, wet=True),
            "can't be told: walls 0.4 K below the dew point",
            "reckoned from what you stated; look whether there are drops",
            "unsure",
            id="as-much-as-the-spread",
        ),
    ],
)
def test_wet_or_dry_in_words_and_in_shape(
    margin: Margin, words: str, hint: str, shape: str
) -> None:
    fact = margin_fact(margin, "dew point", FIGURES)
    assert fact.value.replace(GAP, " ") == words
    assert (fact.hint, fact.shape, fact.spread) == (hint, shape, f"±{GAP}0.4")


def test_the_shape_is_drawn_once() -> None:
    played = known_tent(Margin(15.4, -0.83, 0.4, Origin.MEASURED, wet=True))
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        page = visitor.get("/").text
    assert page.count('class="drop wet"') == 1
    assert 'aria-hidden="true"><path class="edge"' in page


@pytest.mark.parametrize(
    ("spread", "most", "words"),
    [
        pytest.param(0.42, 1, "± 0.4", id="tenths"),
        pytest.param(0.001, 2, "± 0.01", id="never-nothing"),
        pytest.param(1.4, 1, "± 1", id="whole"),
        pytest.param(0.0, 1, "± 0.1", id="none-claimed"),
    ],
)
def test_plus_minus(spread: float, most: int, words: str) -> None:
    assert plus_minus(spread, most, FIGURES).replace(GAP, " ") == words


@pytest.mark.parametrize(
    ("place", "quantity", "value", "words"),
    [
        pytest.param(Place.AIR, Quantity.TEMPERATURE, 18.2, "± 0.2", id="air"),
        pytest.param(Place.SURFACE, Quantity.TEMPERATURE, 17.0, "± 0.5", id="surface"),
        pytest.param(Place.AIR, Quantity.HUMIDITY, 88.0, "± 2", id="humidity"),
        pytest.param(Place.AIR, Quantity.HUMIDITY, 95.0, "± 3", id="humidity-wet"),
        pytest.param(Place.AIR, Quantity.CO2, 840.0, "± 90", id="co2"),
        pytest.param(Place.AIR, Quantity.BATTERY, 2.9, "", id="claims-nothing"),
    ],
)
def test_a_reading_has_the_spread_its_sensor_claims(
    place: Place, quantity: Quantity, value: float, words: str
) -> None:
    sensor = Sensor("one", "tent", place)
    assert reading_spread(sensor, quantity, value, FIGURES).replace(GAP, " ") == words


def test_the_table_has_the_spread() -> None:
    page = visit(known_tent())
    assert "humidity 88 % ± 2 inside the band" in page
    assert "CO₂ 840 ppm ± 90 inside the band" in page


# -------------------------------------------------------------- will it hold


def test_now_answers_till_the_next_visit() -> None:
    played = known_tent()
    page = visit(played)
    told = played.history.rooms["tent"].counsel
    assert told is not None
    assert f"Will it hold? {told.hold_words} What it was reckoned from" in page


def test_now_points_to_the_amounts_of_a_reminder() -> None:
    page = visit(dry_known_tent())
    assert "humidity is below its band now. How much to mist stands above. What it was" in page
    assert page.count("squeezes into the air") == 1


@pytest.mark.parametrize(
    ("body", "amounts", "twice"),
    [
        pytest.param("Ninety squeezes.", {Call.MIST}, False, id="other figures, the same advice"),
        pytest.param("Open it, then mist.", {Call.VENT, Call.MIST}, False, id="after venting"),
        pytest.param("Open it for a minute.", {Call.VENT}, True, id="of venting alone"),
        pytest.param("Mist as soon as the air is fresh.", set(), True, id="without amounts"),
    ],
)
def test_advice_is_pointed_to_by_its_kind(body: str, amounts: set[Call], twice: bool) -> None:
    played = dry_known_tent()
    (asked,) = played.history.all_reminders
    played.history.remember(replace(asked, body=body, amounts=frozenset(amounts)))
    page = visit(played)
    assert ("How much to mist stands above." in page) is not twice
    assert ("To hold the humidity:" in page) is twice


def test_now_says_what_is_missing_for_an_answer() -> None:
    played = known_tent()
    change(played, counsel=None)
    page = visit(played)
    assert "It can't be told. State volume_l of the chamber “tent” in the settings." in page
    assert "Till I'm back at" not in page


@pytest.mark.parametrize("address", ["/", "/chamber/tent/hold"])
def test_where_the_size_is_missing_a_page_leads_to_it(address: str) -> None:
    played = known_tent()
    played.history.held = None
    tent = played.history.rooms["tent"]
    change(played, counsel=None, chamber=replace(tent.chamber, volume_l=None))
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        page = unescape(visitor.get(address).text)
    assert "It can't be told yet: amounts are reckoned from how large it is." in page
    assert '<a href="/set-up/chambers/tent">Say how large it is</a>' in page
    assert "volume_l" not in page


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({"air": None}, id="no-air"),
        pytest.param({"stale": True}, id="old"),
        pytest.param({"chamber": Chamber("tent", "Tent")}, id="not-judged"),
    ],
)
def test_where_the_question_makes_no_sense_it_is_not_asked(changes: dict[str, Any]) -> None:
    played = known_tent()
    change(played, **changes)
    assert "Will it hold?" not in visit(played, "/chamber/tent")


@pytest.mark.parametrize(
    ("query", "until"),
    [
        pytest.param("", None, id="next-visit"),
        pytest.param("?till=", None, id="left-empty"),
        pytest.param("?till=18:30", "2026-01-20T17:30", id="today"),
        pytest.param("?till=7:30", "2026-01-21T06:30", id="tomorrow"),
        pytest.param("?till=18:30&later=1", "2026-01-21T17:30", id="a-day-later"),
        pytest.param("?till=morning", "2026-01-21T06:30", id="morning"),
        pytest.param("?till=2026-01-20T16:00:00Z", "2026-01-20T16:00", id="iso"),
        pytest.param("?till=2026-01-20T18:00", "2026-01-20T17:00", id="iso-here"),
    ],
)
def test_another_time_can_be_asked_about(query: str, until: str | None) -> None:
    played = known_tent()
    page = visit(played, f"/chamber/tent/hold{query}")
    meant = datetime.fromisoformat(until).replace(tzinfo=UTC) if until else None
    assert played.history.asked_hold == [("tent", meant)]
    assert played.history.held is not None
    assert played.history.held.words in page
    assert "a forecast, not a promise" in page


@pytest.mark.parametrize(
    ("till", "words"),
    [
        pytest.param("99:99", "“99:99” is no time. Write a time such as 18:00.", id="no-time"),
        pytest.param("soon", "“soon” is no time", id="no-word"),
        pytest.param("18:00Z", "“18:00Z” is no time", id="time-with-zone"),
        pytest.param("0001-01-01T00:00", "is no time", id="beyond-the-calendar"),
        pytest.param("2026-01-20T09:00", "That time has gone by. Give one between now", id="past"),
        pytest.param("2026-02-20T09:00", "give a time within two days", id="too-far"),
    ],
)
def test_a_time_that_cannot_be_is_told_beside_its_field(till: str, words: str) -> None:
    played = known_tent()
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        answer = visitor.get("/chamber/tent/hold", params={"till": till, "later": "1"})
    assert answer.status_code == 422
    (beside,) = re.findall(r'<p class="wrong" id="till-wrong"[^>]*>([^<]*)</p>', answer.text)
    assert words in unescape(beside)
    assert 'aria-describedby="till-wrong"' in answer.text
    assert '<option value="1" selected>' in answer.text
    assert played.history.asked_hold == []


def test_a_time_too_far_ahead_stays_in_its_field() -> None:
    assert Typed("15:00", 1, "Too far.").clock == "15:00"
    assert Typed("soon", 1, "No time.").clock == ""
    assert Typed("15:00", 0, "").clock == ""


def test_two_days_are_within_two_days() -> None:
    assert asked_until("2026-01-22T13:00", timedelta(0), NOON, ZONE) == NOON + timedelta(days=2)
    with pytest.raises(RefusedError, match="within two days, till Thursday 13:00"):
        asked_until("2026-01-22T13:01", timedelta(0), NOON, ZONE)


@pytest.mark.parametrize(
    ("visits", "now", "hours"),
    [
        pytest.param((time(18), time(7, 30)), NOON, 18.5, id="first-visit-tomorrow"),
        pytest.param((time(7, 30),), NOON - timedelta(hours=10), 4.5, id="at-night"),
        pytest.param((), NOON, 18.5, id="no-visits-stated"),
    ],
)
def test_morning_is_the_first_visit_of_the_next(
    visits: tuple[time, ...], now: datetime, hours: float
) -> None:
    assert morning(replace(TENT, visits=visits), now, ZONE) - now == timedelta(hours=hours)


def test_what_cannot_be_reckoned_is_said_with_the_cure() -> None:
    played = known_tent()
    played.history.held = None
    change(played, counsel=None)
    page = visit(played, "/chamber/tent/hold?till=18:00")
    assert "It can't be told. State volume_l" in page
    assert "What it was reckoned from" not in page


def test_an_unknown_chamber_has_no_answer() -> None:
    assert "attic" in visit(known_tent(), "/chamber/attic/hold", 404)


def said_of(of: Situation) -> dict[str, str]:
    return {
        each.what: f"{each.value} {each.between} | {each.origin}".replace(GAP, " ")
        for each in grounds(of)
    }


def test_what_a_forecast_was_reckoned_from() -> None:
    said = said_of(situation())
    assert said == {
        "air inside": "18.2 °C, 88 %, 840 ppm  | measured",
        "air changes, closed": (
            "1.2 an hour (1.0 to 1.6) | measured from how CO₂ and humidity went, 4 times"
        ),
        "water on walls and in trays": (
            "about 12 g  | reckoned from the mistings noted and what fresh air carried off since"
        ),
        "surface that gets wet": (
            "0.50 m² (0.17 to 1.51) | assumed: from the volume; every misting you note teaches it"
        ),
        "air of the room": "20.6 °C, 41 %  | measured",
        "CO₂ of the air that comes in": "430 ppm  | assumed: outdoor air",
        "CO₂ the crop gives off": (
            "0.61 g an hour (0.55 to 0.68) | measured from its rise while closed, 3 times"
        ),
    }


def test_grounds_own_up_to_what_is_not_known() -> None:
    of = replace(
        situation(),
        known=assumed(0.5, leak_per_h=2.0),
        room_measured=False,
        standing_g=0.0,
        supply=Supply(air_changes_per_h=6.7, water_g_per_h=30.0),
    )
    said = said_of(of)
    assert said["air changes, closed"] == "2.0 an hour  | as you stated it in the settings"
    assert said["air changes by fans"] == "6.7 an hour  | from their timers"
    assert said["water by humidifiers"] == "30 g an hour  | from their timers"
    assert said["water on walls and in trays"].startswith("none known of")
    assert "assumed: as warm as inside" in said["air of the room"]
    assert said["CO₂ the crop gives off"].startswith("not known yet  | left out of the answer")


def test_grounds_leave_out_co2_that_nothing_measures() -> None:
    assert not any("CO₂" in what for what in said_of(situation(co2_ppm=None)))


def test_a_source_of_nothing_is_written() -> None:
    known = replace(assumed(0.5), source_g_per_h=Figure(0.0, 0.0, 0.0, Origin.MEASURED, 1))
    said = said_of(replace(situation(), known=known))
    assert said["CO₂ the crop gives off"] == "0 g an hour  | measured from its rise while closed"


# ------------------------------------------------------------------ what if


def test_a_quiet_line_of_what_a_deed_would_do() -> None:
    played = known_tent()
    told = played.history.rooms["tent"].counsel
    assert told is not None
    page = visit(played)
    assert "What a misting or a venting would do now" in page
    assert f"If you mist now: {told.mist_words}" in page
    assert f"If you vent now: {told.vent_words}".replace("CO2", "CO₂") in page


def test_fresh_air_that_is_not_needed_is_not_called_impossible() -> None:
    page = visit(known_tent(co2_ppm=600.0))
    assert "If you vent now: No need to vent" in page
    assert "can't bring it below" not in page


def test_a_room_too_stale_is_called_so() -> None:
    played = known_tent()
    stale = replace(situation(co2_ppm=1400.0), inlet_ppm=Figure.declared(1200.0))
    change(played, counsel=counsel(stale))
    assert "If you vent now: Venting can't bring it below" in visit(played)


@pytest.mark.parametrize(
    ("gone", "left"),
    [pytest.param("mist", "vent", id="vent-only"), pytest.param("vent", "mist", id="mist-only")],
)
def test_what_cannot_be_reckoned_is_left_out(gone: str, left: str) -> None:
    played = known_tent()
    told = played.history.rooms["tent"].counsel
    assert told is not None
    change(played, counsel=replace(told, **{gone: None}))  # type: ignore[arg-type]
    page = visit(played)
    assert f"If you {left} now:" in page
    assert f"If you {gone} now:" not in page
    assert f"What a {left}ing would do now" in page


def test_what_is_over_asks_for_nothing() -> None:
    played = dry_known_tent()
    over = replace(MIST, state=State.RETURNED, active=False)
    played.history.remember(replace(MIST_NOW, reminder=over))
    page = visit(played)
    assert "over by itself" in page
    assert "If you mist now:" in page


def test_what_is_asked_for_needs_no_quiet_line() -> None:
    page = visit(dry_known_tent())
    assert "Tent: mist now" in page
    assert "If you mist now:" not in page


# -------------------------------------------------------------- what was done


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        pytest.param({}, "misted, 11:25", id="not-said"),
        pytest.param(
            {"amount": 2.0, "standing_g": 25.0, "advised": True},
            "misted, 2 g into the air and 25 g onto the walls, as advised, 11:25",
            id="as-advised",
        ),
        pytest.param({"amount": 2.5}, "misted, 2.5 g into the air, 11:25", id="air-only"),
        pytest.param({"standing_g": 40.2}, "misted, 40 g onto the walls, 11:25", id="walls-only"),
        pytest.param(
            {"amount": 1.0, "standing_g": 0.2}, "misted, 1 g into the air, 11:25", id="no-walls"
        ),
        pytest.param(
            {"deed": Deed.VENTED, "amount": 4.0, "via": "link"},
            "vented 4 min, 11:25 (by a link in a message)",
            id="vented",
        ),
        pytest.param(
            {"deed": Deed.VENTED, "amount": 4.0, "advised": True, "note": "zip only"},
            "vented 4 min, as advised: zip only, 11:25",
            id="vented-noted",
        ),
    ],
)
def test_a_deed_with_its_amounts(changes: dict[str, Any], words: str) -> None:
    action: Action = replace(MISTED, at=at(-95), **changes)
    assert done(action, NOON, ZONE).replace(GAP, " ") == words


@pytest.mark.parametrize(
    ("effect", "words"),
    [
        pytest.param(
            Effect(Call.MIST, Outcome.CAME, 76.0, 85.0, 1.0, 4.0, timedelta(minutes=11)),
            "misted, 11:25: humidity rose 9 % in 4 min, held 11 min",
            id="came",
        ),
        pytest.param(
            Effect(Call.MIST, Outcome.NONE, 76.0, 76.0, 1.0),
            "misted, 11:25: humidity has not risen",
            id="none",
        ),
        pytest.param(Effect(Call.MIST, Outcome.UNKNOWN), "misted, 11:25", id="not-known"),
    ],
)
def test_what_came_of_a_deed_stands_beside_it(effect: Effect, words: str) -> None:
    assert done(MISTED, NOON, ZONE, effect) == words
    played = known_tent()
    shown = played.history.rooms["tent"]
    played.put(replace(shown, actions=(MISTED,), effects={MISTED.id: effect}))
    assert f" {words} " in visit(played)


def test_devices_are_named() -> None:
    page = visit(known_tent())
    assert "duct: fan, 20 m³/h, 5 min in every 30 min, day and night" in page
    assert "Advice counts with it" in page
    assert "duct: fan, 20 m³/h" in visit(known_tent(), "/chamber/tent/hold")


@pytest.mark.parametrize(
    ("form", "amounts"),
    [
        pytest.param(
            {"kind": "misted", "into_air_g": "2,5", "standing_g": " 25 "},
            Amounts(2.5, 25.0),
            id="misted",
        ),
        pytest.param(
            {"kind": "vented", "vent_minutes": "4"}, Amounts(vent_minutes=4), id="vented"
        ),
        pytest.param({"kind": "misted", "into_air_g": ""}, None, id="not-said"),
        pytest.param({"kind": "harvested", "minutes_ago": ""}, None, id="no-amount"),
    ],
)
def test_the_form_takes_amounts(form: dict[str, str], amounts: Amounts | None) -> None:
    played = known_tent()
    with TestClient(
        create_app(played.desk), base_url="http://localhost", follow_redirects=False
    ) as visitor:
        answer = visitor.post("/chamber/tent/note", data={**form, "once": ONCE})
        again = visitor.post("/chamber/tent/note", data={**form, "once": ONCE})
    assert (answer.status_code, answer.headers["location"]) == (303, "/chamber/tent?said=noted")
    assert again.headers["location"] == "/chamber/tent?said=twice"
    first = played.history.rooms["tent"].actions[0]
    if amounts is None:
        assert (first.amount, first.standing_g) == (None, None)
    else:
        said = amounts.into_air_g if amounts.into_air_g is not None else amounts.vent_minutes
        assert (first.amount, first.standing_g) == (said, amounts.standing_g)


@pytest.mark.parametrize(
    ("form", "field", "words"),
    [
        pytest.param(
            {"kind": "misted", "into_air_g": "a lot"},
            "into_air_g",
            "Write grams as a number from 0 to 1000, such as 2 or 2.5.",
            id="no-number",
        ),
        pytest.param(
            {"kind": "misted", "into_air_g": "1000.1"},
            "into_air_g",
            "That is more than the air of this chamber could ever take; give grams, one squeeze "
            "is about 1 g.",
            id="more-than-the-air-takes",
        ),
        pytest.param(
            {"kind": "misted", "squeezes": "1001"},
            "squeezes",
            "That is more than the air of this chamber could ever take",
            id="too-many-squeezes",
        ),
        pytest.param(
            {"kind": "misted", "into_air_g": "2", "squeezes": "2"},
            "squeezes",
            "Give grams or squeezes, not both: empty one of them.",
            id="told-twice",
        ),
        pytest.param(
            {"kind": "vented", "squeezes": "2"},
            "squeezes",
            "choose “misted” above",
            id="squeezes-of-another-deed",
        ),
        pytest.param(
            {"kind": "misted", "standing_g": "-3"}, "standing_g", "from 0 to 50000", id="negative"
        ),
        pytest.param(
            {"kind": "misted", "standing_g": "inf"}, "standing_g", "from 0 to 50000", id="endless"
        ),
        pytest.param(
            {"kind": "vented", "vent_minutes": "0"}, "vent_minutes", "Leave this empty", id="none"
        ),
        pytest.param(
            {"kind": "vented", "into_air_g": "2"},
            "into_air_g",
            "Something vented has no such amount: empty this, or choose “misted” above.",
            id="another-deed",
        ),
        pytest.param(
            {"kind": "noted", "minutes_ago": "99999"},
            "minutes_ago",
            "Write minutes as a number from 0 to 10080",
            id="too-long-ago",
        ),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(
    form: dict[str, str], field: str, words: str
) -> None:
    played = known_tent()
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        sent = {"note": "kept <words>", **form, "once": ONCE}
        answer = visitor.post("/chamber/tent/note", data=sent)
    assert answer.status_code == 422
    beside = re.findall(r'<p class="wrong" id="([^"]*)-wrong">([^<]*)</p>', answer.text)
    assert [name for name, _ in beside] == [field]
    assert words in unescape(beside[0][1])
    assert f'aria-describedby="{field}-wrong"' in answer.text
    assert "kept &lt;words&gt;" in answer.text
    assert f'<option value="{form["kind"]}" selected>' in answer.text
    assert f'name="once" value="{ONCE}"' in answer.text
    assert played.logbook.told == []


def test_squeezes_are_kept_as_grams() -> None:
    played = known_tent()
    shown = played.history.rooms["tent"]
    chamber = replace(shown.chamber, squeeze_g=1.5, volume_l=None)
    played.put(replace(shown, chamber=chamber))
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        sent = {"kind": "misted", "squeezes": "4", "standing_g": "20", "once": ONCE}
        assert visitor.post("/chamber/tent/note", data=sent).status_code == 200
        form = visitor.get("/chamber/tent/note").text
        flood = visitor.post(
            "/chamber/tent/note", data={"kind": "misted", "squeezes": "334", "once": ONCE + "2"}
        )
    first = played.history.rooms["tent"].actions[0]
    assert (first.amount, first.standing_g) == (6.0, 20.0)
    assert "Misted: squeezes into the air (one is about 1.5 g)" in form
    # A free note without a look at the first field must not count as a misting.
    assert '<option value="noted" selected>' in form
    assert "one squeeze is about 1.5 g." in flood.text


def test_until_is_another_word_for_till() -> None:
    page = visit(known_tent(), "/chamber/tent/hold?until=gestern", 422)
    assert "Write a time such as 18:00." in page


def test_deeds_and_finds_stand_in_the_order_of_time() -> None:
    deeds = [Action(n, "tent", Deed.MISTED, at(-n), "", at(-n), "page") for n in (10, 30)]
    told = lines(deeds, [looks_like(1, -20, Kind.VENTING)], NOON, ZONE)
    assert [line.split(",")[0] for line in told] == [
        "misted",
        "venting found at 12:40",
        "misted",
    ]


def test_the_form_of_an_unknown_chamber(client: TestClient) -> None:
    sent = {"kind": "misted", "once": ONCE}
    assert client.post("/chamber/attic/note", data=sent).status_code == 404


# --------------------------------------------------------------------- was it


def asking(*found: Found) -> tuple[Played, FakeLookback]:
    played, lookback = known_tent(), FakeLookback({each.id: each for each in found})
    played.desk = replace(played.desk, lookback=lookback)
    return played, lookback


def test_the_newest_three_of_the_last_day_are_asked_about() -> None:
    played, _ = asking(
        looks_like(1, -25 * 60),
        looks_like(2, -300),
        looks_like(3, -200, Kind.VENTING),
        looks_like(4, -100),
        looks_like(5, -50),
        replace(looks_like(6, -40), action=9),
        replace(looks_like(7, -30), confirmed=False),
    )
    asked = re.findall(r"Looks like a (\w+ at [\d:]+) \N{EN DASH} was it\?", visit(played))
    assert asked == ["misting at 12:10", "misting at 11:20", "venting at 09:40"]


@pytest.mark.parametrize(
    ("was", "said"),
    [
        pytest.param("yes", "Noted. It counts from now on.", id="yes"),
        pytest.param("no", "Noted: it was none. Nothing is learnt from it.", id="no"),
    ],
)
def test_one_tap_answers_whether_it_was(was: str, said: str) -> None:
    played, lookback = asking(looks_like(4, -100))
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        page = visitor.get("/chamber/tent").text
        form = re.findall(
            rf'<button id="was-it-tent-misting-4-{was}"[^>]*aria-label="([^"]*)"', page
        )
        sent = {
            "chamber": "tent",
            "kind": "misting",
            "number": "4",
            "was": was,
            "back": "tent",
            "once": ONCE,
        }
        after = plain(visitor.post("/was-it", data=sent).text)
        again = plain(visitor.post("/was-it", data=sent).text)
    assert len(form) == 1
    assert form[0].lower().startswith(f"{was}, it was")
    assert said in after
    assert "Looks like" not in after
    # What was said yes to stands among what was done.
    assert ("misting found at 11:20, noted by your answer" in after) is (was == "yes")
    assert "not noted a second time" in again
    assert lookback.answers == [("tent", Kind.MISTING, 4, was == "yes")]


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        pytest.param({"number": "77"}, 404, id="no-such-find"),
        pytest.param({"was": "perhaps"}, 422, id="neither"),
        pytest.param({"kind": "storm"}, 422, id="no-such-kind"),
        pytest.param({"number": "0"}, 422, id="no-number"),
    ],
)
def test_an_answer_that_cannot_be_is_refused(sent: dict[str, str], status: int) -> None:
    played, lookback = asking(looks_like(4, -100))
    form = {
        "chamber": "tent",
        "kind": "misting",
        "number": "4",
        "was": "yes",
        "once": ONCE,
        **sent,
    }
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        assert visitor.post("/was-it", data=form).status_code == status
    assert lookback.answers == []


def test_where_nobody_looks_back_nothing_is_asked_or_taken(client: TestClient) -> None:
    assert "was it?" not in client.get("/").text
    form = {"chamber": "tent", "kind": "misting", "number": "4", "was": "yes", "once": ONCE}
    answer = client.post("/was-it", data=form)
    assert answer.status_code == 422
    assert "Nobody looks back here" in answer.text


def test_the_answer_about_another_time_is_the_services_own() -> None:
    played = known_tent()
    played.history.held = held_till(situation(), at(120))
    assert "Yes, it holds till 15:00" in visit(played, "/chamber/tent/hold?till=15:00")
