"""Coming in with a real browser: phone and desk, light and dark, by keyboard, without script."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.web.guarded_fakes import PASSCODE, Guarded, guarded

# WCAG 2.2 contrast (1.4.3) of each piece of text on the nearest painted ground.
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()
LIVE = "html[data-live]"
WIDE = [
    pytest.param(PHONE, False, id="phone"),
    pytest.param(PHONE, True, id="phone-dark"),
    pytest.param(DESK, False, id="desk"),
    pytest.param(DESK, True, id="desk-dark"),
]


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Guarded]:
    with guarded(tmp_path) as made:
        yield made


@pytest.fixture
def open_house(tmp_path: Path) -> Iterator[Guarded]:
    with guarded(tmp_path, passcode=None) as made:
        yield made


@pytest.mark.parametrize(("size", "dark"), WIDE)
def test_the_pages_are_clean_and_clear(
    browser: Browser, house: Guarded, size: tuple[int, int], dark: bool
) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    house.tokens.make("the lamp in the hall")
    with served(house.played) as at, watched(browser, at, size, dark=dark) as seen:

        def looked_at(name: str) -> None:
            take_picture(seen.page, f"{name}-{look}")
            assert seen.width_over() == 0
            assert seen.page.evaluate(CONTRAST) == []

        expect(seen.page).to_have_url(f"{at}/enter")
        looked_at("enter")
        seen.page.fill("#passcode", PASSCODE)
        seen.page.click("#enter")
        seen.page.wait_for_selector(LIVE)
        seen.page.click("text=Who may open this")
        expect(seen.page.locator("h1")).to_have_text("Who may open this")
        looked_at("access")
        seen.assert_clean()


@pytest.mark.parametrize(("size", "dark"), WIDE)
def test_the_first_passcode(
    browser: Browser, open_house: Guarded, size: tuple[int, int], dark: bool
) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    with served(open_house.played) as at, watched(browser, at, size, dark=dark) as seen:
        seen.page.goto(f"{at}/access")
        take_picture(seen.page, f"access-open-{look}")
        seen.page.click("text=Set a passcode")
        take_picture(seen.page, f"passcode-{look}")
        assert seen.page.evaluate(CONTRAST) == []
        seen.page.fill("#passcode", PASSCODE)
        seen.page.fill("#again", PASSCODE)
        seen.page.click("#set")
        expect(seen.page.get_by_role("status")).to_contain_text("The passcode is set")
        take_picture(seen.page, f"access-set-{look}")
        seen.page.goto(at)
        seen.page.wait_for_selector(LIVE)
        seen.assert_clean()


def test_a_wrong_one_by_keyboard_and_without_script(browser: Browser, house: Guarded) -> None:
    with served(house.played) as at, watched(browser, at, PHONE, script=False) as seen:
        seen.page.goto(f"{at}/health")
        # The field has the focus from the start.
        seen.page.keyboard.type("wet straw in july")
        seen.page.keyboard.press("Enter")
        expect(seen.page.get_by_role("alert")).to_contain_text("That is not the passcode.")
        take_picture(seen.page, "enter-wrong-phone.png")
        seen.page.keyboard.type(PASSCODE)
        seen.page.keyboard.press("Enter")
        expect(seen.page).to_have_url(f"{at}/health")
        assert seen.outside == []


def test_an_open_page_leads_to_the_gate_when_the_session_ends(
    browser: Browser, house: Guarded
) -> None:
    with served(house.played) as at, watched(browser, at, DESK) as seen:
        seen.page.fill("#passcode", PASSCODE)
        seen.page.click("#enter")
        seen.page.wait_for_selector(LIVE)
        house.admission.end_sessions()
        house.played.history.beat += 1
        expect(seen.page).to_have_url(f"{at}/enter", timeout=10_000)
        seen.page.fill("#passcode", PASSCODE)
        seen.page.click("#enter")
        seen.page.wait_for_selector(LIVE)


def test_the_cookie_is_not_for_scripts_and_logging_out_ends_it(
    browser: Browser, house: Guarded
) -> None:
    with served(house.played) as at, watched(browser, at, PHONE) as seen:
        seen.page.fill("#passcode", PASSCODE)
        seen.page.click("#enter")
        seen.page.wait_for_selector(LIVE)
        assert seen.page.evaluate("document.cookie") == ""
        (cookie,) = seen.page.context.cookies()
        assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")
        seen.page.goto(f"{at}/access")
        seen.page.click("#leave")
        expect(seen.page.get_by_role("status")).to_contain_text("You are logged out")
        assert seen.page.context.cookies() == []
        seen.page.goto(at)
        expect(seen.page).to_have_url(f"{at}/enter")
