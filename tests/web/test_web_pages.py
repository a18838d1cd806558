"""The pages as they are sent."""

import re
from dataclasses import replace
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.self_check import SelfCheck
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.chamber import Chamber, Sensor
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.watch.reading import Quantity, Reject
from chamberwatch.core.watch.reminder import Call, Priority, State
from chamberwatch.service.views import ReminderNow
from chamberwatch.web.app import create_app
from tests.make import TENT, at
from tests.web.air_fakes import known_tent
from tests.web.batch_fakes import standing_batch, with_batches
from tests.web.desk_fakes import (
    AIR,
    DRY,
    MIST,
    MIST_NOW,
    MOIST,
    TOP,
    Played,
    calm_tent,
    chamber_now,
    health,
    sensor_now,
)

ONCE = "a" * 16


def page_of(played: Played, address: str = "/") -> str:
    """Return a page of a desk as plain text of its HTML, with plain spaces."""
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        answer = visitor.get(address)
    assert answer.status_code == 200, answer.text
    return answer.text.replace("\N{NO-BREAK SPACE}", " ")


def test_now_draws_the_tent_with_its_shelves(played: Played) -> None:
    page = page_of(played)
    assert page.count('class="scene tent"') == 1
    assert '<text class="name" x="54"' in page
    assert "top</text>" in page
    assert "bottom</text>" in page
    assert "below the band by 4 %" in page
    assert "Living room" in page


def test_the_drawing_is_told_to_those_who_do_not_see_it(played: Played) -> None:
    page = page_of(played)
    (said,) = re.findall(r"<desc[^>]*>([^<]*)</desc>", page)
    assert said.startswith("Tent with 2 shelves. ")
    assert "Humidity at top 76 %, below the band by 4 %" in said
    assert 'role="img" aria-labelledby="scene-t-0 scene-d-0"' in page


def test_what_to_do_has_its_answers(played: Played) -> None:
    page = page_of(played)
    assert "Tent: mist now</h4>" in page
    assert "Humidity 76 % and falling" in page
    labels = re.findall(r'<button id="(r1[^"]*)"[^>]*>([^<]*)</button>', page)
    assert labels == [
        ("r1-tent-misted", "Misted"),
        ("r1-seen", "Seen"),
        ("r1-later", "Not before 13:30"),
    ]


def test_derived_air_no_finer_than_it_is_known(played: Played) -> None:
    page = page_of(played)
    assert "<b>13.9 °C</b>" in page
    assert "<b>0.50 kPa</b>" in page
    assert "<b>15.5 °C</b>" in page


def test_frost_is_named(played: Played) -> None:
    frosty = replace(AIR, frost=True, dew_point_c=-0.04)
    played.put(chamber_now(TENT, [sensor_now(TOP, played.clock, DRY)], frosty))
    page = page_of(played)
    assert "frost point" in page
    assert "<b>0.0 °C</b>" in page


@pytest.mark.parametrize("address", ["/", "/chamber/tent", "/health", "/cautions", "/problems"])
def test_cautions_are_one_step_away(played: Played, address: str) -> None:
    page = page_of(played, address)
    assert 'href="/cautions"' in page
    assert "never a safety device" in page


@pytest.mark.parametrize(
    "words",
    [
        "Spores and lungs",
        "5000 ppm in the room",
        "clean it often",
        "Damp rooms",
        "Electricity near water",
        "Local codes and licensed practice come first",
    ],
)
def test_cautions_say(played: Played, words: str) -> None:
    assert words in re.sub(r"\s+", " ", page_of(played, "/cautions"))


def test_nothing_comes_from_outside(played: Played) -> None:
    for address in ("/", "/health", "/cautions"):
        page = page_of(played, address)
        assert not re.findall(r"""(?:src|href|action)="(?:https?:)?//""", page)
        assert "style=" not in page
        assert "<style" not in page
        assert not re.findall(r"<script(?![^>]*src=)", page)


def test_without_script_the_page_comes_again_by_itself(played: Played) -> None:
    assert '<noscript><meta http-equiv="refresh" content="60"></noscript>' in page_of(played)


def test_all_is_well_and_since_when() -> None:
    page = page_of(calm_tent())
    assert "Nothing to do. All inside the band since 12:30." in page
    assert "<h4>" not in page


def calm_words(played: Played) -> str:
    (words,) = re.findall(r'<p class="calm">([^<]*)</p>', page_of(played, "/chamber/tent"))
    return str(words)


def test_calm_without_a_past(played: Played) -> None:
    played.history.all_reminders = []
    played.put(chamber_now(TENT, [sensor_now(TOP, played.clock, MOIST)], AIR))
    assert calm_words(played) == "Nothing to do. All inside the band."


@pytest.mark.parametrize(
    ("sensors", "words"),
    [
        pytest.param([], "No sensor hangs here yet", id="no-sensor"),
        pytest.param([({}, None)], "Nothing heard yet", id="never-heard"),
        pytest.param([(MOIST, timedelta(hours=1))], "not all values are fresh", id="silent"),
        pytest.param(
            [(DRY, timedelta(seconds=5))],
            "Nothing new to do. Humidity is outside the band; you will be told",
            id="just-out",
        ),
        pytest.param(
            [({Quantity.BATTERY: 2.9}, timedelta(seconds=5))],
            "Nothing here has a band",
            id="nothing-judged",
        ),
    ],
)
def test_calm_claims_no_more_than_is_known(
    played: Played,
    sensors: list[tuple[dict[Quantity, float], timedelta | None]],
    words: str,
) -> None:
    heard = [sensor_now(TOP, played.clock, values, ago) for values, ago in sensors]
    played.put(chamber_now(TENT, heard, AIR))
    assert words in calm_words(played)


def test_silence_looks_old_everywhere(played: Played) -> None:
    heard = sensor_now(TOP, played.clock, MOIST, timedelta(hours=3))
    played.put(chamber_now(TENT, [heard], AIR))
    page = page_of(played, "/chamber/tent")
    assert "silent for 3 h" in page
    assert page.count("ruler within old") == 3
    assert "inside the band" not in page
    assert "<s>13.9 °C</s>" in page
    assert "<b>13.9 °C</b>" not in page
    assert 'class="chamber aged"' in page


def test_a_sensor_in_doubt_is_marked_in_the_drawing_and_in_the_table(played: Played) -> None:
    doubt = Doubt("top", Doubted.STUCK, at(-200), "Look.", frozenset({Quantity.HUMIDITY}))
    heard = replace(sensor_now(TOP, played.clock, MOIST), doubt=doubt)
    played.put(chamber_now(TENT, [heard], AIR))
    page = page_of(played, "/chamber/tent")
    assert page.count("? in doubt: may be stuck") == 2
    assert "sensor tent-top in doubt: may be stuck" in page


def test_a_single_quantity_that_stopped_looks_old_too(played: Played) -> None:
    heard = sensor_now(TOP, played.clock, MOIST)
    stopped = replace(heard.readings[Quantity.CO2], time=at(-50))
    heard = replace(heard, readings={**heard.readings, Quantity.CO2: stopped})
    played.put(chamber_now(TENT, [heard], AIR))
    page = page_of(played, "/chamber/tent")
    assert page.count("ruler within old") == 1
    assert "50 min old" in page


@pytest.mark.parametrize(
    ("changes", "words", "buttons"),
    [
        pytest.param(
            {"state": State.ACKNOWLEDGED},
            "seen, goes on",
            ["Misted", "Not before 13:30"],
            id="seen",
        ),
        pytest.param(
            {"state": State.SHELVED, "shelved_until": at(30)}, "not before 13:30", [], id="put-off"
        ),
        pytest.param({"state": State.SHELVED}, "put off", [], id="put-off-without-end"),
        pytest.param(
            {"state": State.RETURNED, "active": False}, "over by itself", ["Seen"], id="over"
        ),
        pytest.param({"state": State.OUT_OF_SERVICE}, "out of service", [], id="out"),
        pytest.param(
            {"call": Call.VENT}, "since 12:48", ["Vented", "Seen", "Not before 13:30"], id="vent"
        ),
        pytest.param(
            {"call": Call.CHECK_SENSOR, "since": None},
            "medium priority",
            ["Seen", "Not before 13:30"],
            id="sensor",
        ),
    ],
)
def test_each_state_in_plain_words_with_what_can_be_answered(
    played: Played, changes: dict[str, Any], words: str, buttons: list[str]
) -> None:
    played.history.remember(replace(MIST_NOW, reminder=replace(MIST, **changes)))
    page = page_of(played)
    assert words in page
    assert re.findall(r'<button id="r1[^"]*"[^>]*>([^<]*)<', page) == buttons


def test_what_is_back_inside_asks_for_nothing(played: Played) -> None:
    back = "Tent: humidity is back inside its band"
    played.history.remember(ReminderNow(MIST, back, "It closes by itself.", closing=True))
    page = page_of(played)
    assert f'<div class="asked back">\n      <h4>{back}</h4>' in page
    assert re.findall(r'<button id="r1-[^"]*"[^>]*>([^<]*)<', page) == [
        "Seen",
        "Misted",
        "Not before 13:30",
    ]
    assert not re.findall(r'<button id="r1-[^"]*" class="main"', page)
    assert "<title>Now ·" in page
    assert "to do:" not in page
    assert "priority" not in page


def test_what_to_do_now_begins_with_a_sentence(played: Played) -> None:
    over = replace(MIST, state=State.RETURNED, active=False)
    played.put(chamber_now(TENT, [sensor_now(TOP, played.clock, MOIST)], AIR))
    played.history.remember(ReminderNow(over, "Tent: it was too dry, and that is over", ""))
    page = page_of(played)
    todo = page[page.index("What to do now</h3>") :]
    said = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", todo[: todo.index("<button")])).strip()
    assert said.startswith("What to do now Nothing to do now. What was asked for is over. Tent:")


def test_what_was_done_stands_right_under_the_drawing(played: Played) -> None:
    page = page_of(played)
    after = page[page.index("</figure>") :]
    assert re.findall(r'<button id="([^"]*)"', after)[:3] == [
        "did-tent-misted",
        "did-tent-vented",
        "did-tent-refilled",
    ]


def test_two_tents_in_one_room_tell_of_its_sensor_once(played: Played) -> None:
    played.put(chamber_now(Chamber("tub", "Tub", Stage.FRUITING, 60.0, (), "room")))
    look = replace(MIST, id=9, chamber="room", call=Call.CHECK_SENSOR, subject="room-wall")
    played.history.remember(ReminderNow(look, "Room sensor: look at it", "Silent."))
    page = page_of(played)
    assert page.count("Room sensor: look at it</h4>") == 1
    assert page.count("<article") == 2
    assert 'class="scene tub"' in page
    assert '<a href="/chamber/tub">Tub</a>' in page
    assert '<a href="#chamber-0">Tent: mist now and 1 more</a>' in page
    assert '<a href="#chamber-1">Tub: no sensor hangs here yet, so' in page


def test_a_room_by_itself_is_drawn_as_one(played: Played) -> None:
    page = page_of(played, "/chamber/room")
    assert 'class="scene room"' in page
    assert "What was done" not in page


def test_nothing_declared_yet() -> None:
    assert "No chamber yet" in page_of(Played())


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        pytest.param({}, None, id="well"),
        pytest.param({"rejects": 1}, "1 message of sensors could not be read", id="one-reject"),
        pytest.param({"rejects": 5}, "5 messages of sensors could not be read", id="rejects"),
        pytest.param({"well": False}, "Something is not as it should be", id="unsaid"),
        pytest.param({"well": False, "troubles": ("No broker.",)}, "No broker. <a", id="one"),
        pytest.param(
            {"well": False, "troubles": ("No broker.", "b", "c")}, "(and 2 more)", id="several"
        ),
    ],
)
def test_a_line_when_the_watcher_is_not_well(
    played: Played, changes: dict[str, Any], words: str | None
) -> None:
    played.history.state = health(played.clock, **changes)
    page = page_of(played)
    if words is None:
        assert "The watcher:" not in page
    else:
        assert words in page
        assert '<a href="/health">See what to do</a>' in page


@pytest.mark.parametrize(
    ("address", "lit"),
    [
        pytest.param("/chamber/tent/hold?till=morning", "Now", id="hold"),
        pytest.param("/chamber/tent/note", "Now", id="note"),
        pytest.param("/cautions", "Set-up", id="cautions"),
    ],
)
def test_each_page_lights_one_of_the_navigation(address: str, lit: str) -> None:
    assert f'aria-current="page">{lit}</a>' in page_of(known_tent(), address)


def fact_of(page: str, label: str) -> str:
    """Return what the page says of one thing."""
    (said,) = re.findall(rf"<dt>{label}</dt><dd>(.*?)</dd>", page)
    return unescape(re.sub("<[^>]*>", "", said))


def test_health_when_all_is_well(played: Played) -> None:
    page = page_of(played, "/health")
    assert "All is well: messages arrive" in page
    assert "What is not well" not in page
    assert fact_of(page, "the watcher") == "It runs since 13:00 on 17 January."
    assert fact_of(page, "readings").startswith("1,234,567 are kept; each stays for 366 days")
    assert fact_of(page, "wear of the card").startswith("About 64.0 MB are written a day")
    assert fact_of(page, "versions") == "chamberwatch 0.1.0, schema 7."
    assert "Everything that arrived was understood" in page


def test_health_with_troubles_and_rejects(played: Played) -> None:
    played.history.all_rejects = [Reject("tent/<x>", at(-1500), "not JSON", "<script>")]
    played.history.state = health(
        played.clock,
        well=False,
        troubles=("No broker. Start it.", "Nothing goes to <phone>."),
        undelivered=("Nothing goes to <phone>.",),
        broker_connected=False,
        rejects=1,
        undatable=4,
        outbox_waiting=2,
    )
    page = page_of(played, "/health")
    told = ("No broker. Start it.", "Look at the broker", "Monday 12:00", "not JSON")
    for words in told:
        assert words in page
    assert page.count("No broker. Start it.") == 1
    assert "<li>messages: Nothing goes to &lt;phone&gt;.</li>" in page
    assert fact_of(page, "messages") == "2 messages can't go out for now. Not well, see above."
    assert "Of 4 the time will never be known" in fact_of(page, "readings")
    assert "&lt;script&gt;" in page
    assert "<script>" not in page


def test_health_shows_what_the_self_check_found(played: Played) -> None:
    checks = (
        SelfCheck("clock", well=True, words="A time service sets the clock."),
        SelfCheck("disk", well=False, words="Only 3 MB are free. Make room."),
    )
    played.history.state = health(played.clock, checks=checks)
    page = page_of(played, "/health")
    assert fact_of(page, "clock") == "A time service sets the clock."
    assert fact_of(page, "disk") == "Not well, see above."
    assert page.count("Only 3 MB are free.") == 1
    assert "<li>disk: Only 3 MB are free. Make room.</li>" in page


def test_health_with_trouble_unsaid(played: Played) -> None:
    played.history.state = health(played.clock, well=False)
    assert "the log says more" in page_of(played, "/health")


def test_what_people_wrote_is_shown_as_text(client: TestClient, played: Played) -> None:
    played.logbook.act("tent", Deed.NOTED, None, "<b>bold</b>", "link")
    page = client.get("/").text
    assert "noted: &lt;b&gt;bold&lt;/b&gt;" in page
    assert "(by a link in a message)" in page


@pytest.mark.parametrize(
    ("address", "form", "said", "told"),
    [
        pytest.param(
            "/did",
            {"chamber": "tent", "kind": "misted"},
            "misted",
            ("act", "tent", Deed.MISTED, None, "", "page"),
            id="misted",
        ),
        pytest.param(
            "/did",
            {"chamber": "tent", "kind": "harvested", "note": " 310 g ", "minutes_ago": "90"},
            "noted",
            ("act", "tent", Deed.HARVESTED, at(-90), "310 g", "page"),
            id="with-a-note-earlier",
        ),
        pytest.param(
            "/did",
            {"chamber": "tent", "kind": "cleaned"},
            "noted",
            ("act", "tent", Deed.CLEANED, None, "", "page"),
            id="another-kind",
        ),
        pytest.param(
            "/did",
            {"chamber": "tent", "kind": "vented", "minutes_ago": "5"},
            "noted",
            ("act", "tent", Deed.VENTED, at(-5), "", "page"),
            id="vented-earlier",
        ),
        pytest.param(
            "/seen", {"number": "1", "episode": "3"}, "seen", ("seen", 1, 3, "page"), id="seen"
        ),
        pytest.param(
            "/later",
            {"number": "1", "until": "2026-01-20T12:30:00+00:00"},
            "later",
            ("shelve", 1, timedelta(minutes=30), "page"),
            id="later",
        ),
        pytest.param(
            "/later",
            {"number": "1", "until": "2026-01-20T11:00:00+00:00"},
            "later",
            ("shelve", 1, timedelta(minutes=30), "page"),
            id="later-from-a-page-left-open",
        ),
    ],
)
def test_a_form_is_done_once_and_leads_back(
    client: TestClient,
    played: Played,
    address: str,
    form: dict[str, str],
    said: str,
    told: tuple[object, ...],
) -> None:
    sent = {**form, "once": ONCE}
    first, second = client.post(address, data=sent), client.post(address, data=sent)
    assert (first.status_code, first.headers["location"]) == (303, f"/?said={said}")
    assert (second.status_code, second.headers["location"]) == (303, "/?said=twice")
    assert played.logbook.told == [told]


def test_a_form_leads_back_to_its_chamber(client: TestClient) -> None:
    sent = {"chamber": "tent", "kind": "misted", "once": ONCE, "back": "//evil.example"}
    assert client.post("/did", data=sent).headers["location"] == (
        "/chamber/%2F%2Fevil.example?said=misted"
    )


def test_a_refused_form_says_why_and_may_be_sent_again(client: TestClient, played: Played) -> None:
    client.post("/seen", data={"number": "1", "once": ONCE})
    other = "b" * 16
    for _ in range(2):
        answer = client.post("/seen", data={"number": "1", "once": other})
        assert answer.status_code == 422
        assert "nothing to acknowledge" in answer.text
    assert len(played.logbook.told) == 1


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        pytest.param("misted", "Noted: misted just now.", id="known"),
        pytest.param("twice", "not noted a second time", id="twice"),
        pytest.param("buy-this", None, id="unknown"),
    ],
)
def test_only_our_own_words_can_be_called_up(played: Played, said: str, shown: str | None) -> None:
    page = page_of(played, f"/?said={said}")
    assert ('id="said"' in page) is (shown is not None)
    assert shown is None or shown in page


def test_note_form_knows_every_kind_that_is_not_of_a_batch(played: Played) -> None:
    page = page_of(played, "/chamber/tent/note")
    kinds = ["misted", "vented", "refilled", "cleaned", "noted"]
    assert re.findall(r'<option value="([^"]*)"', page) == kinds


@pytest.mark.parametrize(
    ("part", "whole"),
    [
        pytest.param("/part/now", "/", id="all"),
        pytest.param("/part/chamber/tent", "/chamber/tent", id="one"),
    ],
)
def test_the_changing_part_is_the_page_without_its_frame(
    played: Played, part: str, whole: str
) -> None:
    def plain(text: str) -> str:
        return re.sub(r'name="once" value="[^"]*"', "", text)

    inner = plain(page_of(played, part))
    assert inner.strip() in plain(page_of(played, whole))
    assert "<html" not in inner


def test_the_mark_is_drawn_by_us(client: TestClient) -> None:
    mark = client.get("/favicon.svg")
    assert mark.headers["content-type"] == "image/svg+xml"
    assert client.get("/favicon.ico").headers["location"].startswith("/static/favicon.svg?v=")


def test_a_priority_is_written_out(played: Played) -> None:
    grave = replace(MIST, priority=Priority.HIGH)
    played.history.remember(replace(MIST_NOW, reminder=grave))
    assert "high priority, since 12:48" in page_of(played)


def test_names_of_any_length_keep_their_full_form(played: Played) -> None:
    long = "the uppermost shelf beside the window"
    tent = replace(TENT, shelves=(long,))
    heard = sensor_now(Sensor("tent-top", "tent", shelf=long), played.clock, DRY)
    played.put(chamber_now(tent, [heard], AIR))
    page = page_of(played)
    assert f"<title>{long}</title>the uppermo…the window" in page


@pytest.mark.parametrize(
    ("sensors", "address"),
    [
        pytest.param([], "/set-up/sensors", id="no sensor"),
        pytest.param([({}, None)], "/set-up/sensors", id="none was heard"),
        pytest.param([(MOIST, timedelta(seconds=5))], "/growing/start", id="nothing grows"),
    ],
)
def test_the_first_day_leads_on(
    played: Played, sensors: list[tuple[dict[Quantity, float], timedelta | None]], address: str
) -> None:
    heard = [sensor_now(TOP, played.clock, values, ago) for values, ago in sensors]
    played.put(chamber_now(TENT, heard, AIR))
    page = page_of(with_batches(played), "/chamber/tent")
    assert re.findall(r'class="begin"><a href="([^"]*)"', page) == [address]


def test_without_a_chamber_one_is_set_up_first() -> None:
    shown = page_of(Played())
    assert 'action="/set-up"' in shown
    assert "No chamber yet" in shown


def test_where_something_grows_nothing_has_to_be_told_first(played: Played) -> None:
    batch = standing_batch(6, "grey-oyster", Stage.FRUITING, "top", 5)
    elsewhere = standing_batch(7, "grey-oyster", Stage.FRUITING, "top", 5, chamber="other")
    page = page_of(with_batches(played, batch, elsewhere))
    assert 'class="begin"' not in page
    assert 'href="/growing/batches/6"' in page
    assert 'href="/growing/batches/7"' not in page
