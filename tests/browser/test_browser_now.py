"""The page *Now* in a real browser: phone and desk, light and dark, with and without script."""

import threading
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import State
from chamberwatch.service.ports import Answering
from chamberwatch.service.views import SensorNow
from chamberwatch.web.access import SignedLinks, sign_key
from tests.browser.scenes import SCENES, unwell
from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.make import NOON, TENT, at
from tests.web.address_fakes import FakeAddresses
from tests.web.desk_fakes import (
    AIR,
    MIST,
    MIST_NOW,
    MOIST,
    TOP,
    Played,
    chamber_now,
    dry_tent,
    sensor_now,
)

SIZES = [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk")]
LIVE = "html[data-live]"

# WCAG 2.2 contrast (1.4.3) of each piece of text on the nearest painted ground.
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()

# Texts of the drawing that lie on one another.
OVERLAPS = (Path(__file__).parent / "overlaps.js").read_text()


@pytest.mark.parametrize("scene", list(SCENES))
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("dark", [pytest.param(False, id="light"), pytest.param(True, id="dark")])
def test_every_scene_is_clean_and_clear(
    browser: Browser, scene: str, size: tuple[int, int], dark: bool
) -> None:
    with (
        served(SCENES[scene]()) as address,
        watched(browser, address, size, dark=dark) as seen,
    ):
        seen.page.wait_for_selector(LIVE)
        name = f"{scene}-{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
        take_picture(seen.page, name)
        assert seen.width_over() == 0
        assert seen.page.evaluate(CONTRAST) == []
        assert seen.page.evaluate(OVERLAPS) == []
        seen.assert_clean()


@pytest.mark.parametrize("address", ["/health", "/cautions", "/problems", "/chamber/tent/note"])
@pytest.mark.parametrize("dark", [pytest.param(False, id="light"), pytest.param(True, id="dark")])
def test_other_pages_are_clean(browser: Browser, address: str, dark: bool) -> None:
    with served(dry_tent()) as at, watched(browser, at, PHONE, dark=dark) as seen:
        seen.page.goto(at + address)
        name = address.strip("/").replace("/", "-")
        take_picture(seen.page, f"{name}-phone{'-dark' if dark else ''}.png")
        assert seen.width_over() == 0
        assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("dark", [pytest.param(False, id="light"), pytest.param(True, id="dark")])
def test_what_is_unwell(browser: Browser, size: tuple[int, int], dark: bool) -> None:
    with (
        served(unwell()) as at,
        watched(browser, at, size, dark=dark, script=False) as seen,
    ):
        seen.page.goto(f"{at}/health")
        name = f"health-unwell-{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
        take_picture(seen.page, name)
        assert seen.page.locator(".troubles li").count() == 4
        assert seen.width_over() == 0
        seen.assert_clean()


@pytest.mark.parametrize("dark", [pytest.param(False, id="light"), pytest.param(True, id="dark")])
def test_who_is_told_and_a_test_message(browser: Browser, dark: bool) -> None:
    played, addresses = dry_tent(), FakeAddresses()
    played.desk = replace(played.desk, addresses=addresses)
    with served(played) as at, watched(browser, at, PHONE, dark=dark, script=False) as seen:
        seen.page.goto(f"{at}/health")
        seen.page.get_by_role("button", name="Send a test message to phone").click()
        expect(seen.page.get_by_role("status")).to_contain_text("did not go out")
        assert addresses.tried == ["phone"]
        take_picture(seen.page, f"health-told-phone{'-dark' if dark else ''}.png")
        assert seen.width_over() == 0
        seen.assert_clean()
    with served(played) as at, watched(browser, at, PHONE, dark=dark) as seen:
        seen.page.goto(f"{at}/health")
        assert seen.page.evaluate(CONTRAST) == []


@pytest.mark.parametrize(
    "script", [pytest.param(True, id="script"), pytest.param(False, id="no-script")]
)
@pytest.mark.parametrize(
    ("button", "told", "said"),
    [
        pytest.param(
            "#r1-tent-misted",
            ("act", "tent", Deed.MISTED, None, "", "page"),
            "Noted: misted just now.",
            id="misted",
        ),
        pytest.param("#r1-seen", ("seen", 1, 3, "page"), "Noted: seen.", id="seen"),
        pytest.param(
            "#r1-later", ("shelve", 1, timedelta(minutes=30), "page"), "Put off.", id="later"
        ),
    ],
)
def test_one_tap_answers(
    browser: Browser, script: bool, button: str, told: tuple[object, ...], said: str
) -> None:
    played = dry_tent()
    with served(played) as address, watched(browser, address, script=script) as seen:
        seen.page.click(button)
        expect(seen.page.locator("#said")).to_contain_text(said)
        assert played.logbook.told == [told]
        if script:
            # What was said once is not said again when the page is loaded anew.
            seen.page.wait_for_selector(LIVE)
            assert seen.page.url == f"{address}/"
        seen.assert_clean()


def test_a_note_of_some_time_ago(browser: Browser) -> None:
    played = dry_tent()
    with served(played) as address, watched(browser, address, script=False) as seen:
        seen.page.get_by_role("link", name="Something else, or earlier").click()
        seen.page.get_by_label("What was done").select_option("cleaned")
        seen.page.get_by_label("How many minutes ago").fill("20")
        seen.page.get_by_label("In your words").fill("the tray")
        seen.page.get_by_role("button", name="Note it").click()
        done = seen.page.get_by_role("region", name="What was done")
        expect(done).to_contain_text("cleaned: the tray, 12:40")
        assert played.logbook.told == [("act", "tent", Deed.CLEANED, at(-20), "the tray", "page")]
        seen.assert_clean()


def test_a_change_appears_by_itself_and_the_focus_stays(browser: Browser) -> None:
    played = dry_tent()
    with served(played) as address, watched(browser, address) as seen:
        seen.page.wait_for_selector(LIVE)
        seen.page.focus("#did-tent-vented")
        seen.page.locator("summary", has_text="The drawing in words").click()
        seen.page.focus("#did-tent-vented")
        heard = sensor_now(TOP, played.clock, {**MOIST})
        calm = replace(MIST, state=State.RETURNED, active=False)
        played.put(chamber_now(TENT, [heard], AIR))
        played.history.remember(replace(MIST_NOW, reminder=calm))
        expect(seen.page.locator(".known")).to_contain_text("over by itself")
        expect(seen.page.locator("svg .value").first).to_contain_text("88")
        assert seen.page.evaluate("document.activeElement.id") == "did-tent-vented"
        assert seen.page.locator("details.told").get_attribute("open") is not None
        seen.assert_clean()


def test_a_chamber_that_comes_and_goes(browser: Browser) -> None:
    played = dry_tent()
    with served(played) as address, watched(browser, address) as seen:
        seen.page.wait_for_selector(LIVE)
        played.put(chamber_now(replace(TENT, name="tub", title="Tub", shelves=())))
        expect(seen.page.locator("article")).to_have_count(2)
        del played.history.rooms["tub"]
        played.history.beat += 1
        expect(seen.page.locator("article")).to_have_count(1)
        seen.assert_clean()


def test_a_lost_server_is_owned_up_to(browser: Browser) -> None:
    played = dry_tent()
    with served(played) as address:
        opened = watched(browser, address)
        seen = opened.__enter__()
        seen.page.wait_for_selector(LIVE)
        expect(seen.page.locator("#lost")).to_be_hidden()
    expect(seen.page.locator("#lost")).to_be_visible(timeout=15_000)
    expect(seen.page.locator("#lost")).to_contain_text("it is as things were at 13:00")
    assert "stopped" in (seen.page.locator("#live").get_attribute("class") or "")
    struck = "getComputedStyle(document.querySelector('svg .value')).textDecorationLine"
    assert seen.page.evaluate(struck) == "line-through"
    assert seen.page.evaluate(CONTRAST) == []
    take_picture(seen.page, "lost-phone.png")
    opened.__exit__(None, None, None)


def test_a_phone_that_slept_does_not_show_old_numbers_as_if_they_were_fresh(
    browser: Browser,
) -> None:
    """Timers stand still in a sleeping phone, so the clock says it on waking."""
    with served(dry_tent()) as address, watched(browser, address) as seen:
        seen.page.clock.install()
        seen.page.goto(address)
        seen.page.wait_for_selector(LIVE)
        # What is asked for meanwhile is never answered; a route taken back would answer it twice.
        asleep = threading.Event()
        asleep.set()
        seen.page.route("**/part/now", lambda to: None if asleep.is_set() else to.fallback())
        for days in range(9999, 10_010):
            seen.page.clock.set_system_time(NOON + timedelta(days=days))
            seen.page.clock.run_for(1_100)
            # An answer that was under way when it fell asleep still came, and counts as fresh.
            if seen.page.locator("#lost").is_visible():
                break
        expect(seen.page.locator("#lost")).to_contain_text("as things were at 13:00")
        asleep.clear()
        seen.page.clock.run_for(41_000)
        expect(seen.page.locator("#lost")).to_be_hidden()
        assert "stopped" not in (seen.page.locator("#live").get_attribute("class") or "")


def test_a_tap_on_a_batch_leads_to_it(browser: Browser) -> None:
    with served(SCENES["usual"]()) as address, watched(browser, address) as seen:
        batch = seen.page.get_by_role("link", name="Batch 6, grey oyster, cut bag, fruiting")
        expect(batch).to_have_attribute("href", "/growing/batches/6")
        box = batch.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44.0
        week = seen.page.get_by_role("link", name="Humidity at top: the week")
        expect(week).to_have_attribute("href", "/week?chamber=tent")
        said = seen.page.get_by_role("img", name="Tent, drawn")
        expect(said).to_have_count(1)
        assert "falling for" in (said.locator("desc").text_content() or "")
        batch.focus()
        assert seen.page.evaluate("document.activeElement.id") == "batch-6-0"


def test_the_focus_stays_on_a_batch_when_the_drawing_changes(browser: Browser) -> None:
    played = SCENES["usual"]()
    with served(played) as address, watched(browser, address) as seen:
        seen.page.wait_for_selector(LIVE)
        seen.page.focus("#batch-6-0")
        played.put(replace(played.history.rooms["tent"], actions=()))
        heard = [replace(each, heard_ago=timedelta(seconds=50)) for each in tent_of(played)]
        played.put(replace(played.history.rooms["tent"], sensors=tuple(heard)))
        expect(seen.page.locator("svg .note").nth(0)).to_contain_text("50")
        assert seen.page.evaluate("document.activeElement.id") == "batch-6-0"


def tent_of(played: Played) -> Sequence[SensorNow]:
    return played.history.rooms["tent"].sensors


def test_nothing_in_the_drawing_is_set_smaller_than_eleven(browser: Browser) -> None:
    with served(SCENES["crowded"]()) as address, watched(browser, address) as seen:
        sizes = seen.page.evaluate(
            "[...document.querySelectorAll('svg.scene')].flatMap((scene) => {"
            " const scale = scene.getBoundingClientRect().width / scene.viewBox.baseVal.width;"
            " return [...scene.querySelectorAll('text')].map("
            "(node) => parseFloat(getComputedStyle(node).fontSize) * scale); })"
        )
        # 358 of 360 units have room beside the margins of a phone 390 px wide.
        assert min(sizes) >= 11.0 * 358 / 360 - 0.01


def test_everything_can_be_reached_with_the_keyboard(browser: Browser) -> None:
    played = dry_tent()
    with served(played) as address, watched(browser, address, DESK) as seen:
        seen.page.wait_for_selector(LIVE)
        reached = []
        for _ in range(30):
            seen.page.keyboard.press("Tab")
            reached.append(seen.page.evaluate("document.activeElement.textContent.trim()"))
        for name in ("Straight to the page", "Set-up", "Cautions", "Misted", "Seen", "Vented"):
            assert name in reached
        seen.page.focus("#r1-seen")
        seen.page.keyboard.press("Enter")
        expect(seen.page.locator("#said")).to_contain_text("Noted: seen.")
        seen.assert_clean()


def test_a_screen_reader_finds_its_way(browser: Browser) -> None:
    with served(dry_tent()) as address, watched(browser, address) as seen:
        seen.page.wait_for_selector(LIVE)
        expect(seen.page.get_by_role("main")).to_have_count(1)
        expect(seen.page.get_by_role("navigation", name="Pages")).to_have_count(1)
        expect(seen.page.get_by_role("heading", level=2, name="Tent")).to_have_count(1)
        expect(seen.page.get_by_role("img", name="Tent, drawn")).to_have_count(1)
        expect(seen.page.get_by_role("button", name="misted now, in tent")).to_have_count(2)
        levels = seen.page.evaluate(
            "[...document.querySelectorAll('h1,h2,h3,h4')].map((node) => +node.tagName[1])"
        )
        assert levels[0] == 1
        assert all(after - before <= 1 for before, after in pairwise(levels))


def test_buttons_are_large_enough_for_a_thumb(browser: Browser) -> None:
    with served(dry_tent()) as address, watched(browser, address) as seen:
        for button in seen.page.locator("button").all():
            box = button.bounding_box()
            assert box is not None
            assert box["height"] >= 44.0


@pytest.mark.parametrize(
    "script", [pytest.param(True, id="script"), pytest.param(False, id="no-script")]
)
def test_a_link_of_a_message_asks_once_and_then_does_it(browser: Browser, script: bool) -> None:
    played = dry_tent()
    links = SignedLinks(sign_key(played.books), "", played.clock)
    path = links.link(1, 3, Answering.MISTED)
    with served(played) as address, watched(browser, address, script=script) as seen:
        seen.page.goto(address + path)
        take_picture(seen.page, "link-phone.png", whole=False)
        assert played.logbook.told == []
        seen.page.get_by_role("button", name="Misted").click()
        expect(seen.page.locator("h1")).to_contain_text("Noted: misted just now.")
        assert played.logbook.told == [("act", "tent", Deed.MISTED, None, "", "link")]
        assert seen.width_over() == 0
        seen.assert_clean()
