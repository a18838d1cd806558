"""From a topic that nobody claims to a sensor, in a real browser, with a broker and a daemon."""

import threading
import tomllib
from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from chamberwatch.web.whence import Reach
from tests.brokers import MOSQUITTO, NO_MOSQUITTO, Client, Mosquitto, beside, visiting
from tests.browser.served import DESK, PHONE, Watcher, served, take_picture, watched
from tests.faults.processes import DaemonProcess
from tests.listeners import heard
from tests.make import NOON
from tests.web.claiming_fakes import Hearing
from tests.web.guarded_fakes import PASSCODE, Guarded, guarded

CONTRAST = (Path(__file__).parent / "contrast.js").read_text()
LIVE = "html[data-live]"
WIDE = [
    pytest.param(PHONE, False, id="phone"),
    pytest.param(PHONE, True, id="phone-dark"),
    pytest.param(DESK, False, id="desk"),
    pytest.param(DESK, True, id="desk-dark"),
]
# Touch targets lower than a fingertip (WCAG 2.2, 2.5.5: 44 px).
SMALL = """[...document.querySelectorAll('button, select, .press, summary')]
    .filter(n => n.getClientRects().length && !n.classList.contains('unseen'))
    .filter(n => n.getBoundingClientRect().height < 44).map(n => n.outerHTML)"""
HOUSE = """
[[chamber]]
name = "tent"
title = "Tent"     # the blue one
stage = "fruiting"
shelves = ["top", "bottom"]
"""
CLIMATE = '{"humidity": 81.2, "temperature": 17.9, "rssi": -61}'
LONG = "a-house-with-a-long-name/the-second-floor/the-room-beside-the-stairs/climate"


@dataclass
class Living:
    """A daemon that runs, and a client that speaks as its sensors do."""

    daemon: DaemonProcess
    client: Client

    @property
    def at(self) -> str:
        return f"http://127.0.0.1:{self.daemon.web}"

    @property
    def settings(self) -> Path:
        return self.daemon.folder / "cw.toml"


@pytest.fixture
def living(tmp_path: Path) -> Iterator[Living]:
    if MOSQUITTO is None:
        pytest.skip(NO_MOSQUITTO)
    with (
        Mosquitto(tmp_path).running() as broker,
        visiting(broker) as ear,
        visiting(broker) as client,
    ):
        ear.subscribe("chamberwatch/status")
        daemon = DaemonProcess(tmp_path, broker, ear)
        daemon.settle(HOUSE)
        daemon.start()
        try:
            yield Living(daemon, client)
        finally:
            daemon.abandon()


def speaking(client: Client, topic: str, says: str) -> AbstractContextManager[None]:
    """Let a sensor speak about once a second."""

    def speak(stopping: threading.Event) -> None:
        while not stopping.wait(0.8):
            client.publish(topic, says)

    return beside(speak)


def test_from_the_page_to_the_settings_and_back(browser: Browser, living: Living) -> None:
    with watched(browser, living.at, PHONE) as seen:
        page = seen.page
        page.goto(f"{living.at}/set-up/sensors")
        page.wait_for_selector(LIVE)
        expect(page.locator("#none-known")).to_contain_text("No sensor is set up yet.")
        with speaking(living.client, "garden/tent/climate", CLIMATE):
            # Without a reload: the page asks by itself.
            question = page.locator(".asks")
            expect(question).to_have_text(
                "garden/tent/climate sends humidity 81.2, temperature 17.9: whose is it?"
            )
            page.get_by_text("Say whose it is").tap()
            expect(page.locator("#preview")).to_contain_text("humidity 81.2 %")
            assert page.locator("#where").input_value() == "tent/air"
            page.locator("#where").select_option("tent/top")
            page.locator("#name").fill("climate")
            page.locator("#save").tap()
            expect(page.get_by_role("status").first).to_contain_text("stands in the settings")
            known = page.locator("#known li")
            expect(known).to_contain_text("climate Tent, top")
            expect(known).to_contain_text("temperature\N{NO-BREAK SPACE}17.9", timeout=15_000)
            expect(page.locator(".asks")).to_have_count(0)
        seen.assert_clean()
    text = living.settings.read_text()
    assert 'title = "Tent"     # the blue one' in text
    (sensor,) = tomllib.loads(text)["sensor"]
    assert sensor == {
        "name": "climate",
        "chamber": "tent",
        "place": "top",
        "topic": "garden/tent/climate",
        "payload": "json",
        "accuracy": "digital",
        "reads": {
            "humidity": {"at": "/humidity", "unit": "%"},
            "temperature": {"at": "/temperature", "unit": "°C"},
        },
    }
    assert living.daemon.end() == 0
    rows = living.daemon.rows("SELECT DISTINCT value FROM readings ORDER BY value")
    assert [round(value, 1) for (value,) in rows] == [17.9, 81.2]


def test_a_topic_claimed_meanwhile_and_a_name_in_use(browser: Browser, living: Living) -> None:
    claim = f"{living.at}/set-up/sensors/claim?topic=garden/2"
    with (
        watched(browser, living.at, DESK) as seen,
        speaking(living.client, "garden/2", "77"),
        speaking(living.client, "garden/3", "640"),
    ):
        page = seen.page
        page.goto(claim)
        # Nothing was heard yet; the page looks again by itself.
        expect(page.locator("#what-0")).to_be_visible(timeout=15_000)
        # Its script says the preview; what is chosen before it runs is not heard by it.
        page.wait_for_selector("html[data-live]")
        page.locator("#what-0").select_option("humidity|%")
        expect(page.locator("#preview")).to_contain_text("humidity 77.0 %")
        page.locator("#name").fill("No Name")
        page.locator("#save").click()
        expect(page.locator("#name-wrong")).to_contain_text("Use small letters")
        expect(page.locator("#what-0")).to_have_value("humidity|%")
        page.locator("#name").fill("two")
        second = page.context.new_page()
        second.goto(claim)
        second.locator("#what-0").select_option("humidity|%")
        second.locator("#name").fill("two-of-another")
        second.locator("#save").click()
        expect(second.get_by_role("status").first).to_contain_text("stands in the settings")
        page.locator("#save").click()
        expect(page.get_by_role("alert")).to_contain_text("“two-of-another” reads this topic")
        assert seen.outside == []
    names = [each["name"] for each in tomllib.loads(living.settings.read_text())["sensor"]]
    assert names == ["two-of-another"]


# ------------------------------------------------------------------ as it looks


def crowded() -> Hearing:
    """Return a desk that hears a lot."""
    made = Hearing()
    made.ear.heard = [
        heard(LONG, {"humidity": 81.2, "temperature": 17.9, "battery": 2950, "dew_point": 14.6}),
        heard("shed/t", "64"),
        heard("cellar/probe", {"temp": 37, "rh": 0.61, "time": NOON.isoformat()}),
        heard("old/thing", "17", old=True),
        heard("lamp/hall", {"bright": 64, "state": "on"}),
        heard("door/" + "x" * 120, "open " * 90),
        *(heard(f"garden/{n}/co2", f"{600 + n}") for n in range(12)),
    ]
    made.ear.left_out = 3
    return made


def quiet() -> Hearing:
    """Return the first day: no sensor, and nothing to hear."""
    made = Hearing()
    made.played.history.rooms.clear()
    return made


def barred() -> Hearing:
    """Return a desk whose broker lets nobody in."""
    made = Hearing()
    made.ear.since = None
    made.ear.trouble = (
        "The broker at 127.0.0.1:1883 refuses the user name or password; correct mqtt.username "
        "and mqtt.password."
    )
    return made


SCENES = {"crowded": crowded, "quiet": quiet, "barred": barred}
REACH = Reach(False, 8642, "tent-pi", lambda: ("192.0.2.4",))


def looked_at(seen: Watcher, name: str, status: int | None = None) -> None:
    take_picture(seen.page, f"{name}.png")
    assert seen.width_over() == 0
    assert seen.page.evaluate(CONTRAST) == []
    assert seen.page.evaluate(SMALL) == []
    seen.assert_clean(status)


@pytest.mark.parametrize("scene", list(SCENES))
@pytest.mark.parametrize(("size", "dark"), WIDE)
def test_what_is_heard(browser: Browser, scene: str, size: tuple[int, int], dark: bool) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}"
    with (
        served(SCENES[scene]().played) as at,
        watched(browser, at, size, dark=dark) as seen,
    ):
        seen.page.goto(f"{at}/set-up/sensors")
        seen.page.wait_for_selector(LIVE)
        if scene == "crowded":
            seen.page.locator("#unread-all summary").click()
        looked_at(seen, f"sensors-{scene}-{look}")


@pytest.mark.parametrize(("size", "dark"), WIDE)
def test_the_form_and_the_phone(browser: Browser, size: tuple[int, int], dark: bool) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}"
    made = crowded()
    made.played.desk = replace(made.played.desk, address=None, reach=REACH)
    with served(made.played) as at, watched(browser, at, size, dark=dark) as seen:
        page = seen.page
        page.goto(f"{at}/set-up/sensors/claim?topic={LONG}")
        looked_at(seen, f"claim-{look}")
        page.goto(f"{at}/set-up/sensors/claim?topic=cellar/probe")
        expect(page.locator("#what-0-why")).to_contain_text("It may be 37 °C or 37 °F. Say which.")
        page.locator("#name").fill("")
        with page.expect_response("**/claim") as answered:
            page.locator("#save").click()
        assert answered.value.status == 422
        looked_at(seen, f"claim-wrong-{look}", 422)
        page.goto(f"{at}/set-up/phone")
        looked_at(seen, f"phone-{look}", 422)
        made.ear.heard = []
        page.goto(f"{at}/set-up/sensors/claim?topic=nobody")
        looked_at(seen, f"claim-waits-{look}", 422)


def test_nothing_moves_under_a_finger(browser: Browser) -> None:
    made = crowded()
    with served(made.played) as at, watched(browser, at, PHONE) as seen:
        page = seen.page
        page.goto(f"{at}/set-up/sensors")
        page.wait_for_selector(LIVE)
        link = page.locator("#asking li", has_text="shed/t").get_by_role("link")
        link.focus()
        page.evaluate("window.kept = document.activeElement")
        made.ear.heard = [
            replace(each, count=99) if each.topic == "shed/t" else each for each in made.ear.heard
        ]
        made.ear.heard.append(heard("zzz/temp", "18"))
        expect(page.get_by_text("99 so far")).to_be_visible()
        expect(page.get_by_text("zzz/temp").first).to_be_visible()
        assert page.evaluate("window.kept === document.activeElement && kept.isConnected")
        made.ear.heard = made.ear.heard[:2]
        expect(page.locator("#asking li")).to_have_count(2)
        seen.assert_clean()


def test_without_script(browser: Browser) -> None:
    made = crowded()
    with served(made.played) as at, watched(browser, at, DESK, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/set-up/sensors")
        page.locator("#asking li", has_text="shed/t").get_by_role("link").click()
        page.locator("#what-0").select_option("temperature|°C")
        page.locator("#try").click()
        expect(page.locator("#preview")).to_contain_text("temperature 64.0 °C")
        page.locator("#what-0").select_option("temperature|°F")
        page.locator("#where").select_option("tent/core")
        page.locator("#save").click()
        expect(page.get_by_role("status").first).to_contain_text("stands in the settings")
        assert seen.outside == []
    ((edit,),) = made.editing.asked
    assert edit.content["place"] == "core"  # type: ignore[union-attr]


def test_by_keyboard_alone(browser: Browser) -> None:
    made = Hearing()
    made.ear.heard = [heard("garden/tent/climate", {"humidity": 81.2})]
    with served(made.played) as at, watched(browser, at, DESK) as seen:
        page = seen.page
        page.goto(f"{at}/set-up/sensors")
        reached(seen, "Say whose it is")
        page.keyboard.press("Enter")
        expect(page.locator("#preview")).to_contain_text("humidity 81.2 %")
        reached(seen, "It is mine: take it")
        page.keyboard.press("Enter")
        expect(page.get_by_role("status").first).to_contain_text("stands in the settings")
        seen.assert_clean()


def reached(seen: Watcher, words: str) -> None:
    """Press Tab until what has the focus says this."""
    for _ in range(60):
        seen.page.keyboard.press("Tab")
        if words in str(seen.page.evaluate("document.activeElement.textContent")):
            return
    raise AssertionError(f"“{words}” is not reached by keyboard")


# ------------------------------------------------------------------ tokens


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Guarded]:
    with guarded(tmp_path) as made:
        yield made


@pytest.mark.parametrize(("size", "dark"), WIDE)
def test_a_token_is_made_and_revoked(
    browser: Browser, house: Guarded, size: tuple[int, int], dark: bool
) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}"
    with served(house.played) as at, watched(browser, at, size, dark=dark) as seen:
        page = seen.page
        page.fill("#passcode", PASSCODE)
        page.click("#enter")
        page.goto(f"{at}/access")
        page.fill(
            "#token-name", "the lamp in the hall, which says whether all is well with the tent"
        )
        page.click("#make-token")
        secret = page.locator("#secret").input_value()
        looked_at(seen, f"token-{look}")
        lamp = house.visitor(bearer=secret)
        assert lamp.get("/api/v1/chambers").status_code == 200
        page.click("#kept")
        page.locator("#token-1 summary").click()
        looked_at(seen, f"access-token-{look}")
        page.click("#revoke-1")
        expect(page.get_by_role("status")).to_contain_text("opens nothing from now on")
        assert lamp.get("/api/v1/chambers").status_code == 401
        assert secret not in page.content()
        seen.assert_clean()
