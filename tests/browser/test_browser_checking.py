"""The guided check of a sensor in a real browser: begun, waited for, recorded; kept fresh."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.web.check_fakes import Checked, checked

# WCAG 2.2 contrast (1.4.3) of each piece of text on the nearest painted ground.
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()
LOOKS = [
    pytest.param(PHONE, False, id="phone"),
    pytest.param(PHONE, True, id="phone-dark"),
    pytest.param(DESK, False, id="desk"),
    pytest.param(DESK, True, id="desk-dark"),
]


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Checked]:
    with checked(tmp_path) as given:
        yield given


@pytest.mark.parametrize(("size", "dark"), LOOKS)
def test_it_is_clean_and_clear(
    browser: Browser, made: Checked, size: tuple[int, int], dark: bool
) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    made.heard(drift=2.0)
    with served(made.played) as at, watched(browser, at, size, dark=dark) as seen:

        def looked_at(name: str) -> None:
            take_picture(seen.page, f"{name}-{look}")
            assert seen.width_over() == 0
            assert seen.page.evaluate(CONTRAST) == []

        seen.page.goto(f"{at}/set-up/check")
        looked_at("check-sensors")
        seen.page.get_by_role("link", name="middle").click()
        looked_at("check-how")
        seen.page.get_by_role("button", name="Begin").click()
        looked_at("check-early")
        seen.page.get_by_label("Who did it").fill("Ann")
        seen.page.get_by_role("button", name="Work out what it comes to").click()
        looked_at("check-found")
        seen.page.get_by_role("button", name="Record it").click()
        looked_at("check-done")
        for thing in seen.page.locator("main button, main input, main select, .choice").all():
            box = thing.bounding_box()
            assert box is None or box["height"] >= 20.0
        seen.assert_clean()


@pytest.mark.parametrize(
    "script", [pytest.param(True, id="script"), pytest.param(False, id="no-script")]
)
def test_two_salts_from_the_page_to_the_base(
    browser: Browser, made: Checked, script: bool
) -> None:
    made.heard()
    with served(made.played) as at, watched(browser, at, script=script) as seen:
        page = seen.page
        page.goto(f"{at}/set-up/check/middle")
        page.get_by_label("Two salts").check()
        page.get_by_role("button", name="Begin").click()
        expect(page.locator(".clock")).to_contain_text("come back at 14:00")
        page.get_by_role("button", name="Keep it, and go on").click()
        expect(page.locator("#first")).to_contain_text("NaCl, read 77.1 %")
        page.get_by_label("Which salt").select_option("KCl")
        page.get_by_label("What the sensor says").fill("86.0")
        page.get_by_label("Who did it").fill("Ann")
        page.get_by_role("button", name="Work out").click()
        expect(page.locator("#finding")).to_contain_text("corrected by slope")
        page.get_by_role("button", name="Record it").click()
        expect(page.locator("#past li")).to_have_count(1)
        (kept,) = made.calibrating.of("middle").calibrations
        assert kept.slope == pytest.approx(1.076, abs=0.01)
        seen.assert_clean()


def test_what_it_sends_is_kept_fresh_and_what_was_typed_stays(
    browser: Browser, made: Checked
) -> None:
    made.heard(drift=2.0)
    made.guided.begin("middle", "one")
    with served(made.played) as at, watched(browser, at) as seen:
        seen.page.goto(f"{at}/set-up/check/middle")
        expect(seen.page.locator("#drifting")).to_be_visible()
        seen.page.get_by_label("Who did it").fill("Ann")
        made.played.clock.turn(minutes=70)
        made.heard()
        expect(seen.page.locator("#now")).to_contain_text("that is long enough", timeout=15_000)
        expect(seen.page.locator("#drifting")).to_have_count(0)
        expect(seen.page.get_by_label("Who did it")).to_have_value("Ann")
        seen.assert_clean()
