"""What the physics of the air tells, in a real browser: forecasts, amounts, finds."""

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.found import Kind
from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.make import at
from tests.web.air_fakes import FakeLookback, dry_known_tent, known_tent

LIVE = "html[data-live]"

# WCAG 2.2 contrast (1.4.3) of each piece of text on the nearest painted ground.
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()

SCRIPT = [pytest.param(True, id="script"), pytest.param(False, id="no-script")]
SIZES = [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk")]
DARK = [pytest.param(False, id="light"), pytest.param(True, id="dark")]


@pytest.mark.parametrize(
    ("address", "name"),
    [
        pytest.param("/chamber/tent/hold", "hold", id="hold"),
        pytest.param("/chamber/tent/hold?till=soon", "hold-wrong", id="hold-wrong"),
    ],
)
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("dark", DARK)
def test_the_forecast_is_clean_and_clear(
    browser: Browser, address: str, name: str, size: tuple[int, int], dark: bool
) -> None:
    picture = f"{name}-{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    with served(known_tent()) as at_, watched(browser, at_, size, dark=dark) as seen:
        seen.page.goto(at_ + address)
        take_picture(seen.page, picture)
        assert seen.width_over() == 0
        assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean(422)


@pytest.mark.parametrize("script", SCRIPT)
def test_will_it_hold_till_im_back(browser: Browser, script: bool) -> None:
    played = known_tent()
    with served(played) as address, watched(browser, address, script=script) as seen:
        seen.page.get_by_label("Till I'm back at").fill("15:00")
        seen.page.get_by_role("button", name="Ask: will Tent hold till then?").click()
        assert seen.page.url == f"{address}/chamber/tent/hold?till=15%3A00"
        expect(seen.page.locator("#answer")).to_contain_text("not till 18:00")
        seen.page.get_by_role("button", name="Till morning, 07:30 tomorrow").click()
        expect(seen.page.locator(".letter > .state")).to_contain_text("Till Wednesday 07:30")
        asked = [until for _, until in played.history.asked_hold]
        assert asked == [at(120), at(18 * 60 + 30)]
        seen.assert_clean()


def test_a_time_half_typed_survives_what_changes(browser: Browser) -> None:
    played = known_tent()
    with served(played) as address, watched(browser, address) as seen:
        seen.page.wait_for_selector(LIVE)
        seen.page.get_by_label("Till I'm back at").fill("15:00")
        shown = played.history.rooms["tent"]
        assert shown.counsel is not None
        told = replace(shown.counsel, hold_words="Yes, it holds till 18:00: about 84 % then.")
        played.put(replace(shown, counsel=told))
        expect(seen.page.locator(".hold")).to_contain_text("Yes, it holds till 18:00")
        expect(seen.page.get_by_label("Till I'm back at")).to_have_value("15:00")
        seen.assert_clean()


@pytest.mark.parametrize("script", SCRIPT)
def test_was_it_is_one_tap(browser: Browser, script: bool) -> None:
    played = dry_known_tent()
    with served(played) as address, watched(browser, address, script=script) as seen:
        asked = seen.page.get_by_role(
            "group", name="Looks like a venting at 09:40 \N{EN DASH} was it?"
        )
        expect(asked).to_have_count(1)
        seen.page.get_by_role("button", name="No, it was not a venting at 09:40, in tent").click()
        expect(seen.page.locator("#said")).to_contain_text("it was none")
        expect(asked).to_have_count(0)
        seen.page.get_by_role("button", name="Yes, it was a misting at 07:40, in tent").click()
        expect(seen.page.locator("#said")).to_contain_text("It counts from now on")
        expect(seen.page.locator(".question")).to_have_count(0)
        lookback = played.desk.lookback
        assert isinstance(lookback, FakeLookback)
        assert lookback.answers == [
            ("tent", Kind.VENTING, 2, False),
            ("tent", Kind.MISTING, 1, True),
        ]
        seen.assert_clean()


def test_amounts_are_noted_and_a_wrong_one_is_marked(browser: Browser) -> None:
    played = known_tent()
    with served(played) as address, watched(browser, address, script=False) as seen:
        seen.page.get_by_role("link", name="Something else, or earlier").click()
        seen.page.get_by_label("What was done").select_option("vented")
        seen.page.get_by_label("Misted: grams into the air").fill("3")
        seen.page.get_by_label("In your words").fill("front only")
        seen.page.get_by_role("button", name="Note it").click()
        wrong = seen.page.get_by_label("Misted: grams into the air")
        expect(wrong).to_have_accessible_description(
            "Something vented has no such amount: empty this, or choose “misted” above."
        )
        expect(seen.page.get_by_role("alert")).to_contain_text("Not noted yet")
        assert seen.width_over() == 0
        assert seen.page.evaluate(CONTRAST) == []
        assert played.logbook.told == []
        wrong.fill("")
        seen.page.get_by_label("Vented: minutes open").fill("4")
        seen.page.get_by_role("button", name="Note it").click()
        expect(seen.page.get_by_role("region", name="What was done")).to_contain_text(
            "vented 4 min: front only, 13:00"
        )
        assert played.logbook.told == [("act", "tent", Deed.VENTED, None, "front only", "page")]


def test_all_of_it_can_be_reached_with_the_keyboard(browser: Browser) -> None:
    with served(dry_known_tent()) as address, watched(browser, address, DESK) as seen:
        seen.page.wait_for_selector(LIVE)
        reached = []
        for _ in range(32):
            seen.page.keyboard.press("Tab")
            reached.append(seen.page.evaluate("document.activeElement.id"))
        for name in ("morning-0", "till-0", "ask-0", "was-it-tent-misting-1-yes"):
            assert name in reached
        seen.page.focus("#morning-0")
        seen.page.keyboard.press("Enter")
        expect(seen.page.locator("h1")).to_contain_text("Will it hold? Tent")


@pytest.mark.parametrize("address", ["/", "/chamber/tent/hold", "/chamber/tent/note"])
def test_all_of_it_is_large_enough_for_a_thumb(browser: Browser, address: str) -> None:
    with served(dry_known_tent()) as at_, watched(browser, at_) as seen:
        seen.page.goto(at_ + address)
        for thing in seen.page.locator("button, input:not([type=hidden]), select").all():
            box = thing.bounding_box()
            assert box is not None
            assert box["height"] >= 44.0
