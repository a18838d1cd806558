"""The pages on which a topic that nobody claims becomes a sensor."""

import html
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.errors import ChamberwatchError, Fault, RefusedError, SettingsError
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.settings import Put
from chamberwatch.web.app import create_app
from tests.listeners import heard
from tests.make import NOON, TENT
from tests.web.claiming_fakes import Hearing
from tests.web.desk_fakes import DRY, TOP, chamber_now, sensor_now

SENSORS = "/set-up/sensors"
CLAIM = f"{SENSORS}/claim"
CLIMATE = {"humidity": 81.2, "temperature": 17.9}
PACK = '[{"n":"w","u":"Cel","v":20.6},{"n":"w","u":"%RH","v":44}]'


@pytest.fixture
def hearing() -> Hearing:
    made = Hearing()
    made.ear.heard = [heard("garden/2/climate", CLIMATE)]
    return made


@pytest.fixture
def visitor(hearing: Hearing) -> Iterator[TestClient]:
    with TestClient(hearing.app(), base_url="http://localhost", follow_redirects=False) as client:
        yield client


def plain(page: str) -> str:
    """Return what a page says, without its marks."""
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", page))).replace("\xa0", " ")


def form_of(page: str) -> dict[str, object]:
    """Return what a browser would send of the form as it stands."""
    form = page[page.index('id="claim"') : page.index("</form>")]
    sent: dict[str, object] = {
        name: html.unescape(value)
        for name, value in re.findall(r'<input[^>]*name="(\w+)"[^>]*value="([^"]*)"', form)
        if name not in ("at", "time")
    }
    sent["at"] = [html.unescape(v) for v in re.findall(r'name="at" value="([^"]*)"', form)]
    what: list[str] = []
    for name, inside in re.findall(r'<select[^>]*name="(\w+)".*?>(.*?)</select>', form, re.DOTALL):
        chosen = re.findall(r'<option value="([^"]*)" selected', inside)
        first = re.findall(r'<option value="([^"]*)"', inside)
        value = html.unescape((chosen or first)[0])
        if name == "what":
            what.append(value)
        else:
            sent[name] = value
    sent["what"] = what
    if 'name="time" value="own" checked' in form:
        sent["time"] = "own"
    return sent


# ------------------------------------------------------------------ what is heard


def test_the_sensors_and_the_question(hearing: Hearing, visitor: TestClient) -> None:
    page = visitor.get(SENSORS)
    said = plain(page.text)
    assert page.status_code == 200
    assert "tent-top Tent, top temperature 18.2 °C, humidity 76 %, CO₂ 840 ppm" in said
    assert "heard 8 s ago · tent/top" in said
    assert "garden/2/climate sends humidity 81.2, temperature 17.9: whose is it?" in said
    assert "One topic that belongs to no sensor." in said
    assert "About every 5 s; 3 so far, the last one just now." in said
    assert 'href="/set-up/sensors/claim?topic=garden%2F2%2Fclimate"' in page.text
    assert hearing.ear.asked == 1
    part = visitor.get(f"{SENSORS}/part")
    assert "whose is it?" in plain(part.text)
    assert "<html" not in part.text


def test_a_browser_that_writes_a_comma(visitor: TestClient) -> None:
    page = visitor.get(SENSORS, headers={"Accept-Language": "de"})
    assert "sends humidity 81,2, temperature 17,9" in plain(page.text)


@pytest.mark.parametrize(
    ("message", "words"),
    [
        pytest.param(heard("a/temp", 17.0, old=True), "Kept by the broker from earlier", id="old"),
        pytest.param(heard("a/temp", 17.0, count=1), "One message, just now.", id="one"),
        pytest.param(
            replace(heard("a/temp", 17.0), every_s=0.4), "Every second or more often", id="often"
        ),
        pytest.param(
            replace(heard("a/temp", 17.0), every_s=600.0), "About every 10 min", id="rare"
        ),
        pytest.param(
            replace(heard("a/temp", 17.0), last=NOON - timedelta(seconds=40)),
            "the last one 40 s ago",
            id="a-while-ago",
        ),
        pytest.param(heard("lamp", "on"), "it is neither a number nor JSON.", id="not-of-the-air"),
        pytest.param(
            heard("lamp", {"bright": 64}), "a name that is not known here", id="strange-name"
        ),
        pytest.param(heard("x", "<b>\x1b[2J" + "y" * 400), "<b>·[2Jyyy", id="harmless"),
    ],
)
def test_how_it_was_heard(
    hearing: Hearing, visitor: TestClient, message: object, words: str
) -> None:
    hearing.ear.heard = [message]  # type: ignore[list-item]
    assert words in plain(visitor.get(SENSORS).text)


def test_of_a_crowd_what_may_be_of_the_air_comes_first(
    hearing: Hearing, visitor: TestClient
) -> None:
    hearing.ear.heard = [
        *(heard(f"a/{n}", "on") for n in range(99)),
        *(heard(f"z/{n}", CLIMATE) for n in range(4)),
    ]
    said = plain(visitor.get(SENSORS).text)
    assert "4 topics that belong to no sensor." in said
    assert "96 more that seem not to be of the air" in said
    assert "chamberwatch listen --without-sensor lists all." in said


def test_what_is_not_of_the_air_can_be_claimed_if_it_holds_numbers(
    hearing: Hearing, visitor: TestClient
) -> None:
    hearing.ear.heard = [heard("lamp", {"bright": 64}), heard("word", "on")]
    page = visitor.get(SENSORS).text
    assert "topic=lamp" in page
    assert "topic=word" not in page
    assert "2 more that seem not to be of the air" in plain(page)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param(
            {"trouble": "Can't reach it: start it.", "since": None},
            "Nothing can be heard. Can't reach it: start it.",
            id="trouble",
        ),
        pytest.param({"since": None}, "Connecting to the broker", id="not-yet"),
        pytest.param({}, "Everything that is heard has its sensor.", id="quiet"),
        pytest.param({"left_out": 4}, "4 messages came on topics", id="crowded"),
    ],
)
def test_nothing_to_ask(
    hearing: Hearing, visitor: TestClient, change: dict[str, object], words: str
) -> None:
    hearing.ear.heard = []
    for name, value in change.items():
        setattr(hearing.ear, name, value)
    assert words in plain(visitor.get(SENSORS).text)


def test_the_first_day_and_a_doubted_sensor(hearing: Hearing) -> None:
    doubted = replace(
        sensor_now(TOP, hearing.played.clock, DRY),
        doubt=Doubt("tent-top", Doubted.WET, NOON, "flat at 100 %"),
    )
    hearing.played.put(chamber_now(TENT, [doubted]))
    visitor = TestClient(hearing.app(), base_url="http://localhost")
    assert "in doubt: " in plain(visitor.get(SENSORS).text)
    hearing.played.history.rooms.clear()
    assert "No sensor is set up yet." in plain(visitor.get(SENSORS).text)


def test_where_nothing_listens(hearing: Hearing) -> None:
    desk = replace(hearing.played.desk, claiming=None)
    answer = TestClient(create_app(desk), base_url="http://localhost").get(SENSORS)
    assert answer.status_code == 422
    assert "Nothing listens here." in answer.text


# ------------------------------------------------------------------ the form


def test_what_is_proposed(visitor: TestClient) -> None:
    page = visitor.get(CLAIM, params={"topic": "garden/2/climate"})
    assert "It would read: humidity 81.2 %, temperature 17.9 °C" in plain(page.text)
    sent = form_of(page.text)
    assert len(str(sent.pop("once"))) >= 8
    assert sent == {
        "topic": "garden/2/climate",
        "message": '{"humidity": 81.2, "temperature": 17.9}',
        "at": ["/humidity", "/temperature"],
        "what": ["humidity|%", "temperature|°C"],
        "where": "",
        "name": "garden-2-climate",
        "accuracy": "digital",
    }


def test_saving_writes_it_and_leads_back(hearing: Hearing, visitor: TestClient) -> None:
    sent = form_of(visitor.get(CLAIM, params={"topic": "garden/2/climate"}).text)
    # By then the topic may be silent: the form carries the message it was made from.
    hearing.ear.heard = []
    answer = visitor.post(CLAIM, data={**sent, "where": "tent/top", "doing": "save"})
    assert answer.headers["location"] == f"{SENSORS}?said=claimed"
    entry = {
        "chamber": "tent",
        "place": "top",
        "topic": "garden/2/climate",
        "payload": "json",
        "accuracy": "digital",
        "reads": {
            "humidity": {"at": "/humidity", "unit": "%"},
            "temperature": {"at": "/temperature", "unit": "°C"},
        },
    }
    assert hearing.editing.asked == [[Put("sensor", "garden-2-climate", entry)]]
    assert "stands in the settings" in plain(visitor.get(answer.headers["location"]).text)


def test_a_double_tap_takes_it_once_and_answers_twice_the_same(
    hearing: Hearing, visitor: TestClient
) -> None:
    sent = form_of(visitor.get(CLAIM, params={"topic": "garden/2/climate"}).text)
    tap = {**sent, "where": "tent/top", "doing": "save"}
    with ThreadPoolExecutor(2) as fingers:
        answers = list(fingers.map(lambda _: visitor.post(CLAIM, data=tap), range(2)))
    said = [(answer.status_code, answer.headers.get("location")) for answer in answers]
    assert said == [(303, f"{SENSORS}?said=claimed")] * 2
    assert len(hearing.editing.asked) == 1
    # Another form that asks for the same is told that it is taken.
    other = visitor.post(CLAIM, data={**tap, "once": "another-mark"})
    assert other.status_code == 422
    assert len(hearing.editing.asked) == 1


def test_what_was_refused_can_be_mended_and_sent_again(
    hearing: Hearing, visitor: TestClient
) -> None:
    sent = form_of(visitor.get(CLAIM, params={"topic": "garden/2/climate"}).text)
    refused = visitor.post(CLAIM, data={**sent, "where": "", "doing": "save"})
    assert refused.status_code == 422
    mended = {**form_of(refused.text), "where": "tent/top", "doing": "save"}
    assert mended["once"] == sent["once"]
    assert visitor.post(CLAIM, data=mended).status_code == 303
    assert len(hearing.editing.asked) == 1


def test_the_place_is_read_from_the_topic(hearing: Hearing, visitor: TestClient) -> None:
    hearing.ear.heard = [heard("garden/tent/top", CLIMATE)]
    sent = form_of(visitor.get(CLAIM, params={"topic": "garden/tent/top"}).text)
    assert sent["where"] == "tent/top"


def test_the_only_chamber_is_taken(hearing: Hearing, visitor: TestClient) -> None:
    del hearing.played.history.rooms["room"]
    page = visitor.get(CLAIM, params={"topic": "garden/2/climate"}).text
    assert form_of(page)["where"] == "tent/air"


def test_its_own_time_is_taken_unless_it_is_left_out(
    hearing: Hearing, visitor: TestClient
) -> None:
    hearing.ear.heard = [heard("g", {**CLIMATE, "time": NOON.isoformat()})]
    page = visitor.get(CLAIM, params={"topic": "g"}).text
    sent = {**form_of(page), "where": "tent/air", "doing": "save"}
    assert sent["time"] == "own"
    visitor.post(CLAIM, data={**sent, "name": "with"})
    hearing.editing.now = {}
    again = {**{k: v for k, v in sent.items() if k != "time"}, "once": "another-mark"}
    visitor.post(CLAIM, data={**again, "name": "without"})
    contents = [edit.content for (edit,) in hearing.editing.asked if isinstance(edit, Put)]
    assert [content.get("time") for content in contents] == [{"at": "/time"}, None]


def test_a_clock_that_was_never_set(hearing: Hearing, visitor: TestClient) -> None:
    hearing.ear.heard = [heard("g", {**CLIMATE, "ts": 88_421})]
    said = plain(visitor.get(CLAIM, params={"topic": "g"}).text)
    assert "before 1980" in said
    assert "dated by when they arrive" in said


def test_two_quantities_of_one_record_name(hearing: Hearing, visitor: TestClient) -> None:
    hearing.ear.heard = [heard("g", PACK)]
    page = visitor.get(CLAIM, params={"topic": "g"}).text
    assert "It would read: temperature 20.6 °C, humidity 44.0 %" in plain(page)
    sent = {**form_of(page), "where": "room/air", "doing": "save"}
    assert visitor.post(CLAIM, data=sent).status_code == 303
    ((edit,),) = hearing.editing.asked
    assert isinstance(edit, Put)
    assert edit.content["reads"] == {
        "temperature": {"at": "w", "unit": "Cel"},
        "humidity": {"at": "w", "unit": "%RH"},
    }


def test_units_are_offered_with_what_each_would_read(hearing: Hearing) -> None:
    hearing.ear.heard = [heard("g/temp", 64.0)]
    liked = ShownIn(temperature=TemperatureUnit.FAHRENHEIT)
    app = create_app(replace(hearing.played.desk, shown_in=liked))
    page = TestClient(app, base_url="http://localhost").get(CLAIM, params={"topic": "g/temp"})
    said = plain(page.text)
    assert "temperature in °F: 64.0 °F" in said
    assert "temperature in °C: 147.2 °F" in said  # 64 °C, hot but within what sensors may say
    assert "digital, as most are: ±0.4 °F, ±2 %" in said


def test_trying_another_unit(hearing: Hearing, visitor: TestClient) -> None:
    sent = form_of(visitor.get(CLAIM, params={"topic": "garden/2/climate"}).text)
    answer = visitor.post(CLAIM, data={**sent, "what": ["", "temperature|°F"], "doing": "try"})
    assert answer.status_code == 200
    assert "It would read: temperature \N{MINUS SIGN}7.8 °C" in plain(answer.text)
    assert hearing.editing.asked == []
    assert form_of(answer.text)["what"] == ["", "temperature|°F"]


def test_a_number_that_a_person_must_name(hearing: Hearing, visitor: TestClient) -> None:
    hearing.ear.heard = [heard("g", 64.0)]
    page = visitor.get(CLAIM, params={"topic": "g"}).text
    assert "It would read nothing yet." in plain(page)
    assert "by its figure it may be temperature in °F, humidity in % or" in plain(page)
    sent = form_of(page)
    assert sent["what"] == [""]
    save = {**sent, "where": "tent/air", "what": ["humidity|%"], "doing": "save"}
    assert visitor.post(CLAIM, data=save).status_code == 303
    ((edit,),) = hearing.editing.asked
    assert isinstance(edit, Put)
    assert (edit.content["payload"], edit.content["reads"]) == (
        "number",
        {"humidity": {"unit": "%"}},
    )


# ------------------------------------------------------------------ what is wrong


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        pytest.param({"name": ""}, "name", "Give it a name", id="no-name"),
        pytest.param(
            {"name": "tent-top"}, "name", "There is a sensor “tent-top” already", id="used"
        ),
        pytest.param({"where": ""}, "where", "Choose a place.", id="no-place"),
        pytest.param({"where": "attic/air"}, "where", "There is no chamber “attic”", id="chamber"),
        pytest.param({"where": "tent/attic"}, "where", "has no shelf “attic”", id="shelf"),
        pytest.param({"accuracy": "good"}, "accuracy", "Choose one of basic", id="accuracy"),
        pytest.param({"what": ["", ""]}, "what", "at least one number", id="nothing-chosen"),
        pytest.param({"what": ["x", ""]}, "what-0", "Choose one of the lines", id="no-line"),
        pytest.param({"what": ["humidity|lx", ""]}, "what-0", "Choose one of", id="no-unit"),
        pytest.param(
            {"what": ["humidity|%", "humidity|%"]}, "what-1", "The humidity is taken", id="twice"
        ),
        pytest.param({"topic": "#"}, "", "without + and #", id="every-topic"),
        pytest.param({"topic": "garden/+/climate"}, "", "without + and #", id="many-topics"),
        pytest.param({"topic": "tent/top"}, "", "“tent-top” reads this topic", id="claimed"),
    ],
)
def test_faults_stand_at_their_field(
    hearing: Hearing, visitor: TestClient, change: dict[str, object], field: str, words: str
) -> None:
    sent = form_of(visitor.get(CLAIM, params={"topic": "garden/2/climate"}).text)
    answer = visitor.post(CLAIM, data={**sent, "where": "tent/air", "doing": "save", **change})
    assert answer.status_code == 422
    place = f"{field}-wrong" if field else "wrong"
    (found,) = re.findall(rf'id="{place}">(.*?)</p>', answer.text, re.DOTALL)
    assert words in html.unescape(found)
    if field not in ("", "what"):
        assert f'aria-describedby="{place}"' in answer.text
    assert hearing.editing.asked == []


def test_trying_says_nothing_of_fields_not_yet_filled(visitor: TestClient) -> None:
    sent = form_of(visitor.get(CLAIM, params={"topic": "garden/2/climate"}).text)
    answer = visitor.post(CLAIM, data={**sent, "name": "", "where": "", "doing": "try"})
    assert answer.status_code == 200
    assert "Choose a place." not in answer.text


@pytest.mark.parametrize(
    ("error", "place", "words"),
    [
        pytest.param(
            SettingsError((Fault("f", 'sensor[2] "x".name', "X", "Use small letters."),)),
            "name-wrong",
            "Use small letters.",
            id="name",
        ),
        pytest.param(
            SettingsError(
                (
                    Fault("f", 'sensor[2] "x".chamber', "attic", "There is no such chamber."),
                    Fault("f", 'sensor[2] "x".place', "loft", "No such place."),
                )
            ),
            "where-wrong",
            "There is no such chamber. No such place.",
            id="place",
        ),
        pytest.param(
            SettingsError((Fault("f", "site.timezone", "X", "Write a zone."),)),
            "wrong",
            "site.timezone: Write a zone.",
            id="elsewhere-in-the-file",
        ),
        pytest.param(RefusedError("It can't be written."), "wrong", "It can't be", id="refused"),
    ],
)
def test_what_the_settings_say_against_it(
    hearing: Hearing, visitor: TestClient, error: ChamberwatchError, place: str, words: str
) -> None:
    hearing.editing.refuse = error
    sent = form_of(visitor.get(CLAIM, params={"topic": "garden/2/climate"}).text)
    save = {**sent, "name": "x", "where": "tent/air", "doing": "save"}
    answer = visitor.post(CLAIM, data=save)
    assert answer.status_code == 422
    (found,) = re.findall(rf'id="{place}">(.*?)</p>', answer.text, re.DOTALL)
    assert words in html.unescape(found)


def test_without_any_chamber(hearing: Hearing, visitor: TestClient) -> None:
    hearing.played.history.rooms.clear()
    page = visitor.get(CLAIM, params={"topic": "garden/2/climate"}).text
    assert "There is no chamber yet." in plain(page)
    assert 'href="/set-up/chambers/new"' in page
    answer = visitor.post(CLAIM, data={**form_of(page), "doing": "save"})
    assert "Make a chamber first." in plain(answer.text)


def test_what_nothing_can_be_made_of_is_said(hearing: Hearing, visitor: TestClient) -> None:
    hearing.ear.heard = [heard("a/climate", {**CLIMATE, "battery": 88, "seq": 1, "n": 0})]
    page = plain(visitor.get(CLAIM, params={"topic": "a/climate"}).text)
    assert "Left out: /battery 88. A battery is read in V or mV here, and 88 is neither." in page
    assert "Left out: /seq 1, /n 0. Neither its name nor its figure is that of the air." in page


@pytest.mark.parametrize(
    ("topic", "words"),
    [
        pytest.param("nobody", "Nothing has come on this topic", id="not-heard"),
        pytest.param("tent/top", "The sensor “tent-top” reads this topic already.", id="claimed"),
        pytest.param("lamp", "Nothing of its newest message can be used", id="unreadable"),
    ],
)
def test_where_there_is_no_form(
    hearing: Hearing, visitor: TestClient, topic: str, words: str
) -> None:
    hearing.ear.heard = [heard("lamp", "on"), heard("tent/top", 17.0)]
    page = visitor.get(CLAIM, params={"topic": topic}).text
    assert words in plain(page)
    assert "<form" not in page
    assert ('http-equiv="refresh"' in page) == (topic == "nobody")
    assert ("What a sensor may send" in page) == (topic == "lamp")
    assert "README" not in page
