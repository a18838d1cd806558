"""What do you see? In a real browser: from a batch to a sign to its causes, and into the log."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from chamberwatch.core.watch.reading import Quantity, Reading
from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.make import at
from tests.web.log_fakes import Logged, logged

# WCAG 2.2 contrast (1.4.3) of each piece of text on the nearest painted ground.
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()
LOOKS = [
    pytest.param(PHONE, False, id="phone"),
    pytest.param(PHONE, True, id="phone-dark"),
    pytest.param(DESK, False, id="desk"),
    pytest.param(DESK, True, id="desk-dark"),
]


def stale(made: Logged) -> None:
    """Let three days of stale air lie behind."""
    with made.books.write() as book:
        book.readings.add(
            [Reading(at(-n * 20.0), "middle", Quantity.CO2, 1600.0) for n in range(1, 200)]
        )


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Logged]:
    with logged(tmp_path) as given:
        stale(given)
        yield given


@pytest.mark.parametrize(("size", "dark"), LOOKS)
def test_it_is_clean_and_clear(
    browser: Browser, made: Logged, size: tuple[int, int], dark: bool
) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    with served(made.played) as at_, watched(browser, at_, size, dark=dark) as seen:
        for name, address in (
            ("look", "/look"),
            ("look-signs", "/look?batch=1"),
            ("look-causes", "/look?batch=1&sign=long-stems"),
            ("look-green", "/look?sign=green-patches"),
        ):
            seen.page.goto(at_ + address)
            take_picture(seen.page, f"{name}-{look}")
            assert seen.width_over() == 0
            assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean()


@pytest.mark.parametrize(
    "script", [pytest.param(True, id="script"), pytest.param(False, id="no-script")]
)
def test_from_what_is_seen_into_the_record(browser: Browser, made: Logged, script: bool) -> None:
    with served(made.played) as at_, watched(browser, at_, script=script) as seen:
        page = seen.page
        page.goto(f"{at_}/look")
        page.get_by_role("link", name="batch 1").click()
        page.get_by_role("link", name="Long stems").click()
        first = page.locator(".reasons li").first
        expect(first).to_contain_text("The air speaks for it")
        expect(first).to_contain_text("CO₂")
        page.get_by_label("In your words").fill("the back row")
        page.get_by_role("button", name="Note it to batch 1").click()
        expect(page.get_by_role("status")).to_contain_text("Noted to the batch")
        entry = made.growing.record.entries(1)[-1]
        assert entry.sign == "long-stems"
        assert entry.note.startswith("the back row Long stems. The air speaks for: stale air")
        page.get_by_role("link", name="In the log").click()
        expect(page.locator(".lines-of-day").first).to_contain_text("looked at: long stems")
        seen.assert_clean()


def test_a_thumb_hits_it(browser: Browser, made: Logged) -> None:
    with served(made.played) as at_, watched(browser, at_) as seen:
        for address in ("/look", "/look?batch=1", "/look?batch=1&sign=blotch"):
            seen.page.goto(at_ + address)
            for thing in seen.page.locator(".choices a, .sketches a, main button, .more").all():
                box = thing.bounding_box()
                assert box is not None
                assert box["height"] >= 44.0
