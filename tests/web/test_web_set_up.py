"""Set-up: the page of contents, and the forms that change the settings."""

import re
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from chamberwatch.core.errors import Fault, RefusedError, SettingsError
from chamberwatch.core.growing.batch import Container, Start
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.growing.places import Place
from chamberwatch.settings import Put, SetKeys, Settings, TakeOut, load
from chamberwatch.storage.book import open_books
from chamberwatch.web.app import create_app
from chamberwatch.web.pages.chamber_form import answers, told_of
from chamberwatch.web.pages.form import free_name
from chamberwatch.web.pages.telling_form import answers as telling_answers
from chamberwatch.web.pages.telling_form import told_of as telling_told
from chamberwatch.web.tells import SettingsStand
from chamberwatch.wiring.claiming import claiming_with
from tests.web.address_fakes import FakeAddresses
from tests.web.claiming_fakes import Hearing
from tests.web.desk_fakes import Played, chamber_now, dry_tent, sensor_now
from tests.web.editing_fakes import FakeEditing, OnDisk
from tests.web.growing_fakes import growing
from tests.web.guarded_fakes import Guarded, routes_of

TENT: dict[str, Any] = {"name": "tent", "title": "Tent", "stage": "fruiting", "volume_l": 500}
ROOM: dict[str, Any] = {"name": "room", "title": "Living room"}
HERE = "http://localhost"


def visitor(played: Played) -> TestClient:
    return TestClient(create_app(played.desk), base_url=HERE, follow_redirects=False)


@pytest.fixture
def editing() -> FakeEditing:
    return FakeEditing({"chamber": [TENT, ROOM]})


@pytest.fixture
def desk(editing: FakeEditing) -> Iterator[TestClient]:
    played = dry_tent()
    played.desk = replace(played.desk, editing=editing)
    with visitor(played) as client:
        yield client


def send(client: TestClient, path: str, **told: str) -> Response:
    return client.post(path, data=told)


# ------------------------------------------------------------------ the contents


def test_the_contents_say_how_each_chapter_stands(desk: TestClient) -> None:
    page = desk.get("/set-up").text
    for link in ("broker", "sensors", "chambers", "units", "telling", "phone"):
        assert f'href="/set-up/{link}"' in page
    for link in ("/access", "/health", "/health#rejects", "/reminders", "/cautions"):
        assert f'href="{link}"' in page
    assert "the newest heard" in page
    assert "Tent, Living room" in page
    assert "To begin with" not in page  # there are a chamber and a sensor
    assert 'aria-current="page">Set-up' in page


def test_the_first_steps_begin_with_a_chamber(editing: FakeEditing) -> None:
    played = Played()
    played.desk = replace(played.desk, editing=editing)
    with visitor(played) as client:
        now, page = client.get("/").text, client.get("/set-up").text
    assert "No chamber yet" in now
    assert 'action="/set-up"' in now
    assert '<a href="/set-up/chambers/new"><b>A chamber</b></a>' in page
    assert "none yet" in page


def test_a_silent_sensor_is_said_in_the_contents(editing: FakeEditing) -> None:
    played = dry_tent()
    shown = played.history.now("tent")
    old = sensor_now(
        shown.sensors[0].sensor, played.clock, {Quantity.HUMIDITY: 80.0}, timedelta(hours=3)
    )
    played.put(replace(shown, sensors=(old,)))
    played.desk = replace(played.desk, editing=editing)
    with visitor(played) as client:
        page = client.get("/set-up").text
    assert "silent" in page
    assert 'class="loud"' in page


def test_where_nothing_can_be_changed_it_is_said(played: Played) -> None:
    with visitor(played) as client:
        assert "can't be changed from here" in client.get("/set-up").text
        assert client.get("/set-up/units").status_code == 422
        assert client.post("/set-up/read-again").status_code == 422


def test_why_the_former_settings_go_on_stands_on_the_page(
    desk: TestClient, editing: FakeEditing
) -> None:
    editing.stands = SettingsStand("cw.toml: chamber[1]: Mend <it>.\nAnd that.", ("web.port",))
    page = desk.get("/set-up?said=again").text
    assert "Mend &lt;it&gt;." in page
    assert "<p>And that.</p>" in page
    assert "were read again" not in page
    assert "web.port: takes effect when chamberwatch is started again" in page


def test_the_file_is_read_again(desk: TestClient, editing: FakeEditing) -> None:
    answer = desk.post("/set-up/read-again")
    assert answer.status_code == 303
    assert editing.again == 1
    assert "were read again" in desk.get(answer.headers["location"]).text


# ------------------------------------------------------------------ chambers


def test_a_first_chamber_is_added(desk: TestClient, editing: FakeEditing) -> None:
    page = desk.get("/set-up/chambers/new").text
    assert 'name="length_cm"' in page
    answer = send(
        desk,
        "/set-up/chambers/new",
        once="abcdefgh",
        title="Big Tub",
        kind="fruiting",
        length_cm="60",
        width_cm="40",
        height_cm="50,5",
        shelves="Top shelf\r\nbottom",
        surrounding="room",
        living_space="yes",
        visits="7:30, 18:00",
        squeeze_g="1,2",
        shelf_holds="2",
    )
    assert answer.status_code == 303
    wanted = {
        "title": "Big Tub",
        "stage": "fruiting",
        "volume_l": 121.2,
        "shelves": ["top-shelf", "bottom"],
        "surrounding": "room",
        "living_space": True,
        "visits": ["7:30", "18:00"],
        "squeeze_g": 1.2,
        "shelf_holds": 2,
    }
    assert editing.now["chamber"][2] == {"name": "big-tub", **wanted}


def test_a_room_is_set_around_the_chambers_that_stand_in_none(editing: FakeEditing) -> None:
    played = dry_tent()
    shown = played.history.now("tent")
    played.put(replace(shown, chamber=replace(shown.chamber, surrounding=None)))
    played.desk = replace(played.desk, editing=editing)
    desk = visitor(played)
    page = desk.get("/set-up/chambers/new?kind=room").text
    assert '<input type="checkbox" id="in:tent" name="in:tent" value="yes" checked' in page
    assert 'name="length_cm"' not in page
    told = {"title": "Cellar", "kind": "room", "room_alone": "yes", "in:tent": "yes"}
    # Only a chamber in which something grows stands in a room, and only one that there is.
    answer = desk.post(
        "/set-up/chambers/new", data={**told, "once": "abcdefgh", "in:room": "yes", "in:x": "yes"}
    )
    assert answer.status_code == 303
    assert "The room is kept." in desk.get(answer.headers["location"]).text
    assert editing.now["chamber"] == [
        {**TENT, "surrounding": "cellar"},
        ROOM,
        {"name": "cellar", "title": "Cellar"},
    ]


def test_a_room_around_nothing_yet_is_a_room_all_the_same(
    desk: TestClient, editing: FakeEditing
) -> None:
    told = {"title": "Balcony", "kind": "outdoors", "room_alone": "yes", "once": "abcdefgh"}
    assert send(desk, "/set-up/chambers/new", **told).status_code == 303
    assert editing.now["chamber"] == [
        TENT,
        ROOM,
        {"name": "balcony", "title": "Balcony", "outdoors": True},
    ]


def test_what_is_wrong_with_a_room_is_said_in_its_short_form(
    desk: TestClient, editing: FakeEditing
) -> None:
    told = {"title": " ", "kind": "room", "room_alone": "yes", "once": "abcdefgh"}
    answer = send(desk, "/set-up/chambers/new", **told)
    assert answer.status_code == 422
    assert "Write what you call it." in answer.text
    assert 'name="length_cm"' not in answer.text
    assert editing.asked == []


def test_the_same_form_twice_adds_one(desk: TestClient, editing: FakeEditing) -> None:
    for _ in range(2):
        answer = send(desk, "/set-up/chambers/new", once="abcdefgh", title="Tub", kind="room")
        assert answer.status_code == 303
    assert len(editing.now["chamber"]) == 3


def test_faults_stand_at_their_fields_and_what_was_typed_stays(
    desk: TestClient, editing: FakeEditing
) -> None:
    editing.refuse = SettingsError(
        (
            Fault("f", 'chamber[3] "tub".volume_l', '"many"', "Write a number."),
            Fault("f", 'chamber[3] "tub".stage', '"x"', "Write one of these."),
            Fault("f", "rotation.species", '"x"', "There is no such species."),
        )
    )
    answer = send(
        desk,
        "/set-up/chambers/new",
        once="abcdefgh",
        title="Tub",
        kind="x",
        volume_l="many",
        early="soon<",
    )
    assert answer.status_code == 422
    assert 'value="many" aria-invalid="true" aria-describedby="volume_l-hint volume_l-wrong"' in (
        answer.text
    )
    assert '<p class="wrong" id="volume_l-wrong">Write a number.</p>' in answer.text
    assert '<p class="wrong" id="kind-wrong">Write one of these.</p>' in answer.text
    assert "rotation.species: There is no such species." in answer.text
    assert 'value="soon&lt;"' in answer.text
    editing.refuse = None
    again = send(desk, "/set-up/chambers/new", once="abcdefgh", title="Tub", kind="room")
    assert again.status_code == 303


def test_what_cannot_be_written_is_said_above(desk: TestClient, editing: FakeEditing) -> None:
    editing.refuse = RefusedError("The folder can't be written.")
    answer = send(desk, "/set-up/chambers/tent", title="Tent", kind="fruiting")
    assert answer.status_code == 422
    assert "<p>The folder can&#39;t be written.</p>" in answer.text


@pytest.mark.parametrize("address", ["/set-up/chambers/new", "/set-up/chambers/tent"])
def test_a_chamber_has_a_title(desk: TestClient, editing: FakeEditing, address: str) -> None:
    answer = send(desk, address, title=" ", kind="fruiting")
    assert answer.status_code == 422
    assert "Write what you call it." in answer.text
    assert editing.asked == []


def test_a_chamber_is_changed(desk: TestClient, editing: FakeEditing) -> None:
    page = desk.get("/set-up/chambers/tent").text
    assert 'value="500"' in page
    answer = send(desk, "/set-up/chambers/tent", title="Tent", kind="colonisation", volume_l="480")
    assert answer.status_code == 303
    assert editing.now["chamber"][0] == {**TENT, "stage": "colonisation", "volume_l": 480}


def test_an_unknown_chamber_is_said_so(desk: TestClient) -> None:
    assert desk.get("/set-up/chambers/cellar").status_code == 404
    assert desk.get("/set-up/chambers/cellar/remove").status_code == 404


def test_a_chamber_goes_with_its_sensors_and_devices(
    desk: TestClient, editing: FakeEditing
) -> None:
    editing.now = {
        "chamber": [{**TENT, "surrounding": "room"}, ROOM],
        "sensor": [{"name": "shelf", "chamber": "room"}, {"name": "middle", "chamber": "tent"}],
        "device": [{"name": "fan", "chamber": "room"}],
    }
    page = desk.get("/set-up/chambers/room/remove").text
    assert "With it go its sensors: shelf." in page
    assert "With it go its devices: fan." in page
    assert "stand in no room: Tent." in page
    for _ in range(2):  # two taps
        assert desk.post("/set-up/chambers/room/remove").status_code == 303
    assert editing.asked == [
        [
            TakeOut("sensor", "shelf"),
            TakeOut("device", "fan"),
            Put("chamber", "tent", {"surrounding": None}),
            TakeOut("chamber", "room"),
        ]
    ]
    assert editing.now == {
        "chamber": [TENT],
        "sensor": [{"name": "middle", "chamber": "tent"}],
    }


def test_a_refusal_to_take_out_is_said(desk: TestClient, editing: FakeEditing) -> None:
    editing.refuse = RefusedError("No.")
    answer = desk.post("/set-up/chambers/tent/remove")
    assert answer.status_code == 422
    assert "No." in answer.text


def test_a_chamber_in_which_something_grows_stays(editing: FakeEditing, tmp_path: Path) -> None:
    played = dry_tent()
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", played.clock.now())
    with closing(books):
        record = growing(books, played.clock)
        begun = Start("grey-oyster", Container.BAG, count=2)
        record.record.start(begun, Place("tent", None), None, "", "test")
        played.desk = replace(played.desk, editing=editing, growing=record)
        with visitor(played) as client:
            page = client.get("/set-up/chambers/tent/remove").text
            assert "A batch still stands in it." in page
            assert 'id="remove"' not in page
            assert client.post("/set-up/chambers/tent/remove").status_code == 422
            contents = client.get("/set-up").text
    assert editing.asked == []
    assert "Calendar" in contents


def test_chambers_are_listed_with_what_is_known_of_them(editing: FakeEditing) -> None:
    played = dry_tent()
    shed = Chamber("shed", "Shed", outdoors=True)
    tub = Chamber("tub", "Tub", shelves=("one",), volume_l=90.0)
    for each in (shed, tub):
        played.put(chamber_now(each))
    played.desk = replace(played.desk, editing=editing)
    with visitor(played) as client:
        page = client.get("/set-up/chambers").text
    assert "stands in Living room" in page
    assert '<p class="state">outdoors</p>' in page
    assert "90 L, 1 shelf" in page
    assert 'id="new"' in page


@pytest.mark.parametrize(
    "entry",
    [
        pytest.param(TENT, id="plain"),
        pytest.param({**ROOM, "outdoors": True}, id="outdoors"),
        pytest.param({**TENT, "living_space": False, "outdoors": False}, id="false as stated"),
        pytest.param(
            {
                **TENT,
                "shelves": ["top", "bottom"],
                "visits": ["07:30"],
                "squeeze_g": 1.5,
                "early": "30 min",
                "wet_at_most": "6 h",
                "open_at_most": 3,
                "air_changes_per_h": 0.8,
                "surrounding": "room",
                "living_space": True,
            },
            id="all of it",
        ),
    ],
)
def test_a_form_sent_as_it_came_changes_nothing(entry: Mapping[str, Any]) -> None:
    said = answers(told_of(entry), entry)
    assert {"name": entry["name"]} | {k: v for k, v in said.items() if v is not None} | {
        key: value for key, value in entry.items() if value is False
    } == entry


def test_names_are_made_of_titles() -> None:
    assert free_name("Mein großes Zelt!", "chamber", []) == "mein-gro-es-zelt"
    assert free_name("Tent", "chamber", ["tent", "tent-2"]) == "tent-3"
    assert free_name("…", "chamber", []) == "chamber"
    assert len(free_name("x" * 60, "chamber", ["x" * 41])) == 40


# ------------------------------------------------------------------ who is told

PHONE: dict[str, Any] = {
    "name": "phone",
    "to": "json://a-secret",
    "when": [
        {"days": "mon-fri", "hours": "7:00-08:30", "least": "medium"},
        {"hours": "17:30-24:00"},
        {"days": "sat-sun", "hours": "00:00-24:00"},
    ],
    "away": [{"from": "2026-12-20", "until": "2026-12-28 18:00"}],
    "most_per_hour": 4,
    "summary": "none",
    "wake": "never",
}


@pytest.fixture
def told(editing: FakeEditing) -> Iterator[TestClient]:
    editing.now = {"notify": [PHONE]}
    played = dry_tent()
    played.desk = replace(played.desk, editing=editing, addresses=FakeAddresses())
    with visitor(played) as client:
        yield client


def test_addresses_are_listed_without_what_they_hide(told: TestClient) -> None:
    page = told.get("/set-up/telling").text
    assert "Send a test message" in page
    assert 'href="/set-up/telling/phone"' in page
    assert "a-secret" not in page + told.get("/set-up/telling/phone").text


def test_a_test_message_leads_back(told: TestClient) -> None:
    answer = send(told, "/tried", address="phone", once="abcdefgh", back="telling")
    assert answer.headers["location"] == "/set-up/telling?tried=phone"
    assert "The test message to phone" in told.get(answer.headers["location"]).text


def test_an_address_is_added(told: TestClient, editing: FakeEditing) -> None:
    assert told.get("/set-up/telling/new").status_code == 200
    answer = send(told, "/set-up/telling/new", once="abcdefgh", title="Phone", to="json://b")
    assert answer.status_code == 303
    assert editing.now["notify"][1] == {"name": "phone-2", "to": "json://b"}
    send(told, "/set-up/telling/new", once="abcdefgh", title="Phone", to="json://b")
    assert len(editing.now["notify"]) == 2


def test_an_address_at_fault_stays_on_the_form(told: TestClient, editing: FakeEditing) -> None:
    editing.refuse = SettingsError((Fault("f", 'notify[2] "bell".to', "", "No address."),))
    answer = send(told, "/set-up/telling/new", once="abcdefgh", title="Bell", to="nothing")
    assert answer.status_code == 422
    assert '<p class="wrong" id="to-wrong">No address.</p>' in answer.text


def test_hours_are_changed(told: TestClient, editing: FakeEditing) -> None:
    page = told.get("/set-up/telling/phone").text
    assert 'name="from_0" type="time" value="07:00"' in page
    assert 'name="until_1" type="time" value="00:00"' in page
    assert 'name="days_4"' in page
    assert 'value="2026-12-28 18:00"' in page
    answer = send(
        told,
        "/set-up/telling/phone",
        least="medium",
        days_0="mon-fri",
        from_0="08:00",
        until_0="20:00",
        days_1="",
        days_2="sun",
        from_2="22:00",
        until_2="00:00",
        least_2="medium",
        away_0="2027-01-01",
        back_0="2027-01-05",
        most_per_hour="3",
        summary="07:30",
        pictures="yes",
    )
    assert answer.status_code == 303
    assert editing.now["notify"][0] == {
        "name": "phone",
        "to": "json://a-secret",
        "least": "medium",
        "when": [
            {"days": "mon-fri", "hours": "08:00-20:00"},
            {"days": "sun", "hours": "22:00-24:00", "least": "medium"},
        ],
        "away": [{"from": "2027-01-01", "until": "2027-01-05"}],
        "most_per_hour": 3,
        "summary": "07:30",
    }


def test_faults_of_hours_stand_above_their_rows(told: TestClient, editing: FakeEditing) -> None:
    editing.refuse = SettingsError(
        (Fault("f", 'notify[1] "phone".when[1].hours', '"08:00-"', "Write from and to."),)
    )
    answer = send(told, "/set-up/telling/phone", days_0="daily", from_0="08:00", until_0="")
    assert answer.status_code == 422
    assert '<p class="wrong" id="when-wrong">Write from and to.</p>' in answer.text
    assert 'value="08:00"' in answer.text


def test_an_address_is_taken_out(told: TestClient, editing: FakeEditing) -> None:
    for _ in range(2):  # two taps
        assert told.post("/set-up/telling/phone/remove").status_code == 303
    assert editing.asked == [[TakeOut("notify", "phone")]]


def test_what_cannot_be_taken_out_is_said(told: TestClient, editing: FakeEditing) -> None:
    editing.refuse = RefusedError("No.")
    answer = told.post("/set-up/telling/phone/remove")
    assert answer.status_code == 422
    assert "No." in answer.text


@pytest.mark.parametrize(
    "entry",
    [
        pytest.param(PHONE, id="much"),
        pytest.param({"name": "a", "to": "b"}, id="little"),
        pytest.param(
            {"name": "a", "to": "b", "least": "low", "wake": "foretold", "pictures": True},
            id="what holds anyway",
        ),
        pytest.param({"name": "a", "to": "b", "pictures": False, "bedtime": "22:00"}, id="more"),
    ],
)
def test_hours_sent_as_they_came_change_nothing(entry: Mapping[str, Any]) -> None:
    said = telling_answers(telling_told(entry), entry)
    assert {**entry, **said} == entry


def test_an_unknown_address_is_said_so(told: TestClient) -> None:
    assert told.get("/set-up/telling/bell").status_code == 404


# ------------------------------------------------------------------ place and units


def test_units_are_set(desk: TestClient, editing: FakeEditing) -> None:
    page = desk.get("/set-up/units").text
    assert 'value="Europe/Berlin"' in page
    answer = send(
        desk,
        "/set-up/units",
        timezone="Europe/Lisbon",
        altitude_m="120",
        temperature="°F",
        weight="oz",
    )
    assert answer.status_code == 303
    keys = {"timezone": "Europe/Lisbon", "altitude_m": 120, "temperature": "°F", "weight": "oz"}
    assert editing.asked == [[SetKeys("site", keys)]]
    assert "°F" in desk.get("/set-up/units").text


@pytest.mark.parametrize(
    ("refuse", "said"),
    [
        pytest.param(
            SettingsError((Fault("f", "site.timezone", '"x"', "Write a zone."),)),
            'id="timezone-wrong">Write a zone.',
            id="at fault",
        ),
        pytest.param(RefusedError("It can't be."), "It can&#39;t be.", id="refused"),
    ],
)
def test_units_at_fault_are_said(
    desk: TestClient, editing: FakeEditing, refuse: SettingsError | RefusedError, said: str
) -> None:
    editing.refuse = refuse
    answer = send(desk, "/set-up/units", timezone="Lisbone")
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="Lisbone"' in answer.text


# ------------------------------------------------------------------ the broker


def test_the_broker_is_set(desk: TestClient, editing: FakeEditing) -> None:
    editing.now = {"mqtt": {"host": "10.0.0.2", "tls": False, "client_id": "mine"}}
    page = desk.get("/set-up/broker").text
    assert "It lets us in." in page
    assert 'value="10.0.0.2"' in page
    told = {"host": "pi.local", "port": "8883", "username": "me", "tls": "yes"}
    assert send(desk, "/set-up/broker", **told).status_code == 303
    assert editing.now == {
        "mqtt": {
            "host": "pi.local",
            "port": 8883,
            "username": "me",
            "tls": True,
            "client_id": "mine",
        }
    }
    assert send(desk, "/set-up/broker", tls="yes").status_code == 303
    assert editing.now == {"mqtt": {"tls": True, "client_id": "mine"}}


def test_why_the_broker_is_not_reached_stands_there(editing: FakeEditing) -> None:
    played = dry_tent()
    why = "Nothing listens there; start it."
    played.history.state = replace(
        played.history.health(), broker_connected=False, well=False, troubles=(why,)
    )
    played.desk = replace(played.desk, editing=editing)
    with visitor(played) as client:
        assert why in client.get("/set-up/broker").text
        page = client.get("/set-up").text
    assert "not reached" in page
    assert "not well: 1 to look at" in page


@pytest.mark.parametrize(
    ("refuse", "said"),
    [
        pytest.param(
            SettingsError((Fault("f", "mqtt.port", '"x"', "Write a whole number."),)),
            'id="port-wrong">Write a whole number.',
            id="at fault",
        ),
        pytest.param(RefusedError("It can't be."), "It can&#39;t be.", id="refused"),
    ],
)
def test_a_broker_at_fault_is_said(
    desk: TestClient, editing: FakeEditing, refuse: SettingsError | RefusedError, said: str
) -> None:
    editing.refuse = refuse
    answer = send(desk, "/set-up/broker", port="x")
    assert answer.status_code == 422
    assert said in answer.text


# ------------------------------------------------------------------ with a real file


def test_what_was_typed_comes_back_from_the_loader_with_its_cure(tmp_path: Path) -> None:
    file = tmp_path / "cw.toml"
    file.write_text("# mine\n", encoding="utf-8")
    played = Played()
    played.desk = replace(played.desk, editing=OnDisk(file))
    with visitor(played) as client:
        wrong = client.post(
            "/set-up/chambers/new",
            content=urlencode({"title": "Tub", "kind": "fruiting", "visits": "noon"}),
            headers={"Content-Type": "application/x-www-form-urlencoded"},
        )
        assert wrong.status_code == 422
        assert "Write a time of day, such as &#34;07:30&#34;." in wrong.text
        assert file.read_text(encoding="utf-8") == "# mine\n"
        assert send(client, "/set-up/chambers/new", title="Tub", kind="fruiting").is_redirect
        told = {"timezone": "Europe/Lisbon", "temperature": "°F", "weight": "g"}
        assert send(client, "/set-up/units", **told).is_redirect
    settings = load(file, {})
    assert settings.chamber[0].title == "Tub"
    assert settings.site.shown_in().temperature == "°F"
    assert file.read_text(encoding="utf-8").startswith("# mine\n")


WHOLE_FILE = '[[chamber]]\nname = "tent"\ntitle = "Tent"\nstage = "fruiting"\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param(None, "There is no such file", id="gone"),
        pytest.param("[site\n", "Mend that line", id="no-toml"),
        pytest.param(f'{WHOLE_FILE}[[sensor]]\nname = "a"\n', "topic", id="no-topic"),
        pytest.param('[[chamber]]\ntitle = "Tent"\n', "name", id="no-name"),
        pytest.param(f'{WHOLE_FILE}[[device]]\nname = "a"\n', "device", id="no-chamber"),
        pytest.param('[[sensor]]\nname = ["a"]\ntopic = "t"\n', "name", id="name-a-list"),
        pytest.param("mqtt = 3\n", "mqtt", id="mqtt-a-number"),
        pytest.param("site = 1\n", "site", id="site-a-number"),
        pytest.param('[sensor]\nname = "a"\n', "sensor", id="one-sensor"),
        pytest.param('[chamber]\nname = "tent"\n', "chamber", id="one-chamber"),
        pytest.param(f"{WHOLE_FILE}visits = 3\n", "visits", id="visits-a-number"),
        pytest.param(f"{WHOLE_FILE}visits = [3]\n", "visits", id="visits-of-numbers"),
        pytest.param('[[notify]]\nto = "json://a"\nwhen = [1]\n', "when", id="hours-a-number"),
        pytest.param('notify = ["x"]\n', "notify", id="address-a-text"),
        pytest.param('rotation = ["x"]\n', "rotation", id="rotation-a-text"),
    ],
)
def test_a_file_broken_by_hand_is_said_on_every_page(
    tmp_path: Path, text: str | None, words: str
) -> None:
    hearing, file = Hearing(), tmp_path / "cw.toml"
    if text is not None:
        file.write_text(text, encoding="utf-8")
    on_disk = OnDisk(file)
    claiming = claiming_with(Settings(), on_disk, hearing.ear)
    hearing.played.desk = replace(hearing.played.desk, editing=on_disk, claiming=claiming)
    asking = ("sensors", "sensors/part", "sensors/claim?topic=a", "broker", "units", "telling")
    with visitor(hearing.played) as client:
        for path in (*asking, "chambers/tent", "chambers/tent/remove"):
            answer = client.get(f"/set-up/{path}")
            assert (path, answer.status_code) == (path, 409)
            assert "The settings file can&#39;t be used" in answer.text
            assert words in answer.text
        for path in ("units", "broker", "chambers/tent/remove"):
            assert (path, client.post(f"/set-up/{path}").status_code in {409, 422}) == (path, True)
        assert client.get("/set-up").status_code == 200
        assert client.get("/").status_code == 200


def test_every_fault_of_a_file_is_a_line_of_its_own(tmp_path: Path) -> None:
    file = tmp_path / "cw.toml"
    file.write_text("mqtt = 3\nsite = 1\n", encoding="utf-8")
    played = Played()
    played.desk = replace(played.desk, editing=OnDisk(file))
    with visitor(played) as client:
        page = client.get("/set-up/broker").text
    assert re.search(
        r"<p>[^<]*mqtt[^<]*</p>\s*<p>[^<]*site|<p>[^<]*site[^<]*</p>\s*<p>[^<]*mqtt", page
    )


def test_a_token_changes_no_settings(house: Guarded, editing: FakeEditing) -> None:
    """At every form of the settings there is, so that none is forgotten that comes later."""
    house.played.desk = replace(house.played.desk, editing=editing)
    house.app.state.desk = house.played.desk
    _, secret = house.tokens.make("the lamp in the hall")
    headers = {"Authorization": f"Bearer {secret}"}
    forms = {
        re.sub(r"\{name\}", "tent", route.path)
        for route in routes_of(house.app)
        if "POST" in (route.methods or ())
        and route.path.startswith(("/set-up/", "/growing/rotation"))
    }
    # What a check of a sensor found is told, as a deed is, and no setting.
    forms.discard("/set-up/check/{sensor}")
    assert {"/set-up/sensors/claim", "/set-up/units", "/growing/rotation"} <= forms
    assert len(forms) > 10
    assert not [path for path in forms if "{" in path]
    with house.visitor() as client:
        assert client.get("/set-up", headers=headers).status_code == 200
        for path in sorted(forms):
            answer = client.post(path, headers=headers, data={"title": "Tub", "to": "json://a"})
            assert (path, answer.status_code) == (path, 403)
            assert "A token can&#39;t change the settings" in answer.text
    assert editing.asked == []
    assert editing.again == 0
