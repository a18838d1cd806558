"""The log in a real browser: read, filtered, turned over, put right; from the page to the base."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import Event
from chamberwatch.service.books import OutState
from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.web.log_fakes import Logged, logged

# WCAG 2.2 contrast (1.4.3) of each piece of text on the nearest painted ground.
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()
LOOKS = [
    pytest.param(PHONE, False, id="phone"),
    pytest.param(PHONE, True, id="phone-dark"),
    pytest.param(DESK, False, id="desk"),
    pytest.param(DESK, True, id="desk-dark"),
]


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Logged]:
    with logged(tmp_path) as given:
        yield given


def crowd(made: Logged) -> None:
    """Fill a day: put right, failed, long words."""
    made.amending.withdraw(2, "that was the other tent", "page")
    for n in range(12):
        made.did(Deed.VENTED, -400 - 7 * n, note="both zips, " * 9)
    made.reminded(-700, Event.RAISED, Event.SHELVED, Event.SHELF_ENDED, Event.SEEN, Event.RETURNED)
    made.sent(-690, OutState.UNCERTAIN)
    made.sent(-680, OutState.DROPPED)


@pytest.mark.parametrize(("size", "dark"), LOOKS)
def test_the_log_is_clean_and_clear(
    browser: Browser, made: Logged, size: tuple[int, int], dark: bool
) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    crowd(made)
    with served(made.played) as at, watched(browser, at, size, dark=dark) as seen:
        for name, address in (
            ("log", "/log"),
            ("log-batch", "/log?batch=1&said=corrected"),
            ("log-nothing", "/log?day=2025-01-01"),
            ("log-deed", "/log/deed/4"),
            ("log-entry", "/growing/entries/1?back=log"),
        ):
            seen.page.goto(at + address)
            take_picture(seen.page, f"{name}-{look}")
            assert seen.width_over() == 0
            assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean()


@pytest.mark.parametrize("dark", [pytest.param(False, id="light"), pytest.param(True, id="dark")])
def test_the_first_day(browser: Browser, tmp_path: Path, dark: bool) -> None:
    with (
        logged(tmp_path, empty=True) as made,
        served(made.played) as at,
        watched(browser, at, PHONE, dark=dark) as seen,
    ):
        seen.page.goto(f"{at}/log")
        expect(seen.page.locator(".blank")).to_contain_text("Nothing has happened yet.")
        take_picture(seen.page, f"log-empty{'-dark' if dark else ''}.png", whole=False)
        seen.assert_clean()


@pytest.mark.parametrize(
    "script", [pytest.param(True, id="script"), pytest.param(False, id="no-script")]
)
def test_a_misting_is_put_right_and_taken_back(
    browser: Browser, made: Logged, script: bool
) -> None:
    with served(made.played) as at, watched(browser, at, script=script) as seen:
        page = seen.page
        page.get_by_role("link", name="Log", exact=True).click()
        page.get_by_role("link", name="Put right: misted").click()
        page.get_by_label("Grams into the air").fill("6")
        page.get_by_label("Note").fill("both shelves")
        page.get_by_role("button", name="Put it right").click()
        expect(page.get_by_role("status")).to_contain_text("Put right.")
        expect(page.locator("#deed-2 del")).to_contain_text("misted, 3")
        expect(page.locator("#deed-4")).to_contain_text("both shelves")
        with made.books.read() as book:
            newest = book.actions.recent("tent", 1)[0]
        assert (newest.amount, newest.standing_g, newest.corrects) == (6.0, 20.0, 2)
        page.locator("#deed-4 .mend").click()
        page.get_by_label("It did not happen?").fill("the other tent")
        page.get_by_role("button", name="It did not happen").click()
        expect(page.locator("#deed-4 .instead")).to_contain_text("did not happen: the other tent")
        with made.books.read() as book:
            assert [a.deed for a in book.actions.recent("tent")] == [Deed.NOTED, Deed.REFILLED]
        seen.assert_clean()


def test_a_filter_is_chosen_and_kept_while_turning_pages(browser: Browser, made: Logged) -> None:
    for n in range(80):
        made.did(Deed.MISTED, -10 * n)
    with served(made.played) as at, watched(browser, at, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/log")
        page.get_by_text("Choose what to show").click()
        page.get_by_label("Chamber").select_option("tent")
        page.get_by_label("done", exact=True).check()
        page.get_by_role("button", name="Show").click()
        expect(page.locator("li[id^=deed-]")).to_have_count(60)
        expect(page.locator("li[id^=message-]")).to_have_count(0)
        page.get_by_role("link", name="Older").click()
        expect(page.locator("li[id^=deed-]")).to_have_count(23)
        expect(page.get_by_label("done", exact=True)).to_be_checked()
        page.get_by_role("link", name="Newer").click()
        expect(page.locator("li[id^=deed-]")).to_have_count(60)
        page.get_by_label("From this day back").fill("2026-01-18")
        page.get_by_role("button", name="Show").click()
        expect(page.locator("li[id^=deed-]")).to_have_count(1)
        with page.expect_download() as down:
            page.get_by_role("link", name="All of this as CSV").click()
        assert Path(down.value.path()).read_text().count("\n") == 2
        seen.assert_clean()


def test_a_wrong_time_is_told_beside_what_was_typed(browser: Browser, made: Logged) -> None:
    with served(made.played) as at, watched(browser, at) as seen:
        seen.page.goto(f"{at}/log/deed/2")
        seen.page.get_by_label("Day").fill("2027-01-20")
        seen.page.get_by_role("button", name="Put it right").click()
        expect(seen.page.get_by_role("alert")).to_contain_text("Nothing was changed.")
        expect(seen.page.get_by_label("Day")).to_have_value("2027-01-20")


def test_all_of_it_is_large_enough_for_a_thumb_and_reached_by_keyboard(
    browser: Browser, made: Logged
) -> None:
    with served(made.played) as at, watched(browser, at) as seen:
        for address in ("/log", "/log?kind=deed", "/log/deed/2", "/growing/entries/1?back=log"):
            seen.page.goto(at + address)
            things = "main button, main input:not([type=hidden]):not([type=checkbox]), main select"
            more = "summary, .ticks label, .mend, .turn a"
            for thing in seen.page.locator(f"{things}, {more}").all():
                box = thing.bounding_box() if thing.is_visible() else None
                assert box is None or box["height"] >= 44.0, thing
        seen.page.goto(f"{at}/log")
        for _ in range(40):
            seen.page.keyboard.press("Tab")
            if "mend" in str(seen.page.evaluate("document.activeElement.className")):
                break
        seen.page.keyboard.press("Enter")
        expect(seen.page.locator("h1")).to_have_text("Put right what was done")


def test_printed_it_is_a_plain_sheet(browser: Browser, made: Logged) -> None:
    with served(made.played) as at, watched(browser, at, DESK) as seen:
        seen.page.goto(f"{at}/log")
        seen.page.emulate_media(media="print")
        for hidden in (".top nav", ".sieve", ".turn", ".mend"):
            expect(seen.page.locator(hidden).first).to_be_hidden()
        expect(seen.page.locator("#deed-2")).to_be_visible()
