"""The guided check of a sensor: begun, waited for, worked out, recorded, withdrawn."""

import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.air.calibration import Salt, SaltReading
from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.web.app import create_app
from tests.make import at
from tests.web.check_fakes import Checked, checked
from tests.web.desk_fakes import Played

PAGE = "/set-up/check/middle"


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Checked]:
    with checked(tmp_path) as given:
        yield given


@pytest.fixture
def client(made: Checked) -> Iterator[TestClient]:
    app = create_app(made.played.desk)
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as visitor:
        yield visitor


def plain(html: str) -> str:
    text = unescape(re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(text.split())


_count = iter(range(10**6))


def send(client: TestClient, do: str, **typed: str) -> str:
    """Send a form; return where it leads, or what the page says."""
    form = {"once": f"mark-number-{next(_count)}", "do": do, **typed}
    answer = client.post(PAGE, data=form)
    return answer.headers.get("location") or plain(answer.text)


SALT = {"kind": "one", "salt": "NaCl", "temperature": "20.4", "read": "77.1", "who": "Ann"}


def test_sensors_are_listed_with_their_last_check(made: Checked, client: TestClient) -> None:
    page = plain(client.get("/set-up/check").text)
    assert "middle Tent; never checked here" in page
    send(client, "begin", kind="one")
    assert "never checked here; a check is under way" in plain(client.get("/set-up/check").text)
    send(client, "record", **SALT)
    assert "middle Tent; 2026-01-20 13:00" in plain(client.get("/set-up/check").text)


def test_a_sensor_is_offered_what_fits_it(made: Checked, client: TestClient) -> None:
    page = plain(client.get(PAGE).text)
    for kind in ("One salt", "Two salts", "Fresh air", "Beside a thermometer", "By hand"):
        assert kind in page
    assert "Nothing has been heard from it yet." in page
    dew = plain(client.get("/set-up/check/dew").text)
    assert "One salt" in dew
    assert "Fresh air" not in dew
    assert client.get("/set-up/check/mould").status_code == 404


def test_what_it_sends_stands_on_top(made: Checked, client: TestClient) -> None:
    made.heard()
    page = plain(client.get(PAGE).text)
    assert "humidity 77.1 % 0 s ago; at rest: +0.0 % in half an hour" in page
    assert "CO₂ 455 ppm" in page
    # It may be silent for five minutes.
    made.played.clock.turn(minutes=5)
    assert "too old to go by" not in plain(client.get(PAGE).text)
    made.played.clock.turn(minutes=1)
    assert "6 min ago, too old to go by" in plain(client.get(PAGE).text)
    made.played.clock.turn(minutes=34)
    assert "too old to go by; too little was heard" in plain(client.get(PAGE).text)


def test_what_falls_has_a_true_minus_sign_and_the_way_back_is_shown(
    made: Checked, client: TestClient
) -> None:
    made.heard(drift=-3.0)
    page = client.get(PAGE).text
    assert "\N{MINUS SIGN}3.0 % in half an hour" in plain(page)
    way = page[page.index('<p class="way">') :]
    assert way.startswith('<p class="way"><a href="/set-up">Set-up</a>')
    assert '<a href="/set-up/check">Check a sensor</a></p>' in way


def test_one_salt_from_beginning_to_end(made: Checked, client: TestClient) -> None:
    made.heard(drift=3.0)
    assert send(client, "begin", kind="one").endswith("?said=begun")
    page = plain(client.get(PAGE).text)
    assert "One salt: begun 13:00, 0 s ago; come back at 14:00." in page
    assert "Too early: the reading still moves." in page
    assert "it still drifts: +3.0 % in half an hour" in page
    # The humidity over table salt as Greenspan gives it, at the temperature of the sensor.
    assert "NaCl, table salt without additives: 75.5 % ± 0.1" in page
    made.played.clock.turn(minutes=70)
    made.heard()
    page = client.get(PAGE).text
    assert "70 min ago; that is long enough." in plain(page)
    assert "Too early" not in page
    assert 'name="read" inputmode="decimal" maxlength="20" autocomplete="off" value="77.1"' in page
    said = send(client, "preview", **SALT)
    assert "Reads 1.6 % too high at 75 %; corrected by -1.6 %" in said
    assert "77.1 % as sent, counts as 77.1 % now, and as 75.5 % with this." in said
    assert made.calibrating.of("middle").calibrations == ()
    assert send(client, "record", **SALT).endswith("?said=recorded")
    (kept,) = made.calibrating.of("middle").calibrations
    assert (kept.who, round(kept.offset, 2), kept.at) == ("Ann", -1.64, at(70))
    page = plain(client.get(PAGE).text)
    assert "2026-01-20 14:10 humidity -1.6 % NaCl 75.5 % at 20.4 °C, read 77.1 %; Ann" in page
    assert "How?" in page


def test_two_salts(made: Checked, client: TestClient) -> None:
    made.heard()
    send(client, "begin", kind="two")
    two = {**SALT, "kind": "two"}
    assert "the first salt" in plain(client.get(PAGE).text)
    assert "before the second" in send(client, "record", **two)
    assert send(client, "first", **two).endswith("?said=first")
    page = plain(client.get(PAGE).text)
    assert "Two salts: the second salt" in page
    assert "Kept of the first: NaCl, read 77.1 %." in page
    second = {**two, "salt": "KCl", "read": "86,0"}
    assert "corrected by slope" in send(client, "preview", **second)
    send(client, "record", **second)
    (kept,) = made.calibrating.of("middle").calibrations
    # As over the API: from (77.1, 75.46) and (86.0, 85.04).
    assert kept.slope == pytest.approx((85.04 - 75.46) / (86.0 - 77.1), abs=0.005)
    assert made.guided.begun("middle") is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        pytest.param({"kind": "air", "read": "455"}, "corrected by -25 ppm", id="air"),
        pytest.param(
            {"kind": "air", "read": "455", "fresh": "450"}, "corrected by -5 ppm", id="town"
        ),
        pytest.param(
            {"kind": "thermometer", "read": "20.4", "reference": "19,9"},
            "corrected by -0.5 °C",
            id="thermometer",
        ),
        pytest.param(
            {"kind": "hand", "quantity": "humidity", "slope": "1.02", "offset": "", "how": "lab"},
            "Corrected by slope 1.02",
            id="by hand",
        ),
        pytest.param(
            {"kind": "hand", "quantity": "humidity", "slope": "", "offset": "-1"},
            "Corrected by -1.0 %",
            id="only an offset",
        ),
    ],
)
def test_other_kinds(made: Checked, client: TestClient, typed: dict[str, str], said: str) -> None:
    made.heard()
    send(client, "begin", kind=typed["kind"])
    assert said in send(client, "preview", **typed, who="Ann")
    assert send(client, "record", **typed, who="Ann").endswith("said=recorded")


def test_a_correction_of_what_was_never_heard_has_no_before(
    made: Checked, client: TestClient
) -> None:
    send(client, "begin", kind="hand")
    said = send(client, "preview", kind="hand", quantity="humidity", offset="1", who="Ann")
    assert "Corrected by +1.0 %." in said
    assert "counts as" not in said


@pytest.mark.parametrize(
    ("do", "typed", "words"),
    [
        pytest.param("preview", {**SALT, "read": "wet"}, "write a number", id="words"),
        pytest.param("preview", {**SALT, "read": "30"}, "the sensor is worn out", id="far off"),
        pytest.param("preview", {**SALT, "salt": "pepper"}, "no salt “pepper”", id="salt"),
        pytest.param("preview", {**SALT, "temperature": "80"}, "temperature", id="hot"),
        pytest.param("record", {**SALT, "who": " "}, "Say who did it", id="nobody"),
        pytest.param("begin", {"kind": "guess"}, "Choose how it is", id="kind"),
        pytest.param("preview", {"kind": "hand", "quantity": "x"}, "Choose what is", id="what"),
        pytest.param("sing", {}, "Use one of the buttons", id="button"),
    ],
)
def test_what_cant_be_is_told(
    made: Checked, client: TestClient, do: str, typed: dict[str, str], words: str
) -> None:
    send(client, "begin", kind="one")
    said = send(client, do, **typed)
    assert "Nothing was recorded." in said
    assert words in said
    assert made.calibrating.of("middle").calibrations == ()


def test_a_check_can_be_stopped(made: Checked, client: TestClient) -> None:
    send(client, "begin", kind="one")
    assert send(client, "end").endswith("said=ended")
    assert "How?" in plain(client.get(PAGE).text)


def test_a_correction_is_withdrawn(made: Checked, client: TestClient) -> None:
    send(client, "record", **SALT)
    made.heard()
    assert "Let humidity count as sent again" in plain(client.get(PAGE).text)
    assert send(client, "withdraw", quantity="humidity", who="Ann").endswith("said=withdrawn")
    page = plain(client.get(PAGE).text)
    assert "humidity counts as sent correction withdrawn; Ann" in page
    assert "Let humidity count as sent again" not in page


def test_what_counts_stands_beside_what_is_sent(made: Checked, client: TestClient) -> None:
    send(client, "record", **SALT)
    made.board.show(Reading(at(0), "middle", Quantity.HUMIDITY, 76.4, True, 78.0))
    assert "humidity 78.0 % counts as 76.4 %;" in plain(client.get(PAGE).text)


def test_sent_twice_it_is_done_once(made: Checked, client: TestClient) -> None:
    form = {"once": "a-mark-of-a-form", "do": "record", **SALT}
    client.post(PAGE, data=form)
    assert client.post(PAGE, data=form).headers["location"].endswith("said=twice")
    assert len(made.calibrating.of("middle").calibrations) == 1


def test_a_thermometer_in_fahrenheit(made: Checked) -> None:
    made.heard()
    shown_in = ShownIn(temperature=TemperatureUnit.FAHRENHEIT)
    desk = replace(made.played.desk, shown_in=shown_in)
    with TestClient(create_app(desk), base_url="http://localhost") as client:
        send(client, "begin", kind="thermometer")
        page = client.get(PAGE).text
        assert 'value="68.7"' in page
        assert "What the better one says, °F" in page
        typed = {"kind": "thermometer", "read": "68.72", "reference": "68.0", "who": "Ann"}
        send(client, "record", **typed)
    (kept,) = made.calibrating.of("middle").calibrations
    assert kept.offset == pytest.approx(-0.4, abs=1e-6)


def test_a_room_too_hot_for_the_table_is_held_against_the_usual(
    made: Checked, client: TestClient
) -> None:
    made.board.show(Reading(at(0), "middle", Quantity.TEMPERATURE, 44.0))
    send(client, "begin", kind="one")
    assert "NaCl, table salt without additives: 75.5 %" in plain(client.get(PAGE).text)


def test_a_desk_that_checks_nothing_says_so(played: Played, made: Checked) -> None:
    without = replace(made.played.desk, guided=None)
    for desk in (played.desk, without):
        with TestClient(create_app(desk), base_url="http://localhost") as client:
            assert client.get(PAGE).status_code == 422


# ------------------------------------------------------------------ what is remembered


def test_a_check_outlives_a_restart_and_an_older_shape(made: Checked) -> None:
    first = SaltReading(Salt.NACL, 20.4, 77.1)
    begun = made.guided.begin("middle", "two", first)
    assert made.guided.begun("middle") == begun
    with made.books.write() as book:
        book.kept.keep_text("check of a sensor: middle", '{"kind": "two"}')
    assert made.guided.begun("middle") is None
    for ask in (made.guided.rest, made.guided.begun, made.guided.end):
        with pytest.raises(UnknownNameError, match="no sensor “mould”"):
            ask("mould")
