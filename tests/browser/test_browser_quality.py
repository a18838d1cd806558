"""The page about the reminders of a week, as it is drawn."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from chamberwatch.service.reviewing import Reviewing
from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.browser.test_browser_now import CONTRAST
from tests.service.machine import Bench
from tests.web.desk_fakes import Played, calm_tent
from tests.web.test_web_quality import BERLIN, lived


@pytest.fixture
def played(tmp_path: Path) -> Iterator[Played]:
    """Return a desk that looks back on a week in which much was said."""
    bench, found = Bench(tmp_path), calm_tent()
    lived(bench)
    looked = Reviewing(bench.books, bench.clock, bench.house, BERLIN, "terminal")
    found.desk = replace(found.desk, reviewing=looked)
    yield found
    bench.close()


@pytest.mark.parametrize("size", [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk")])
@pytest.mark.parametrize("dark", [pytest.param(False, id="light"), pytest.param(True, id="dark")])
def test_the_page_is_clean_and_clear(
    browser: Browser, played: Played, size: tuple[int, int], dark: bool
) -> None:
    picture = f"reminders-{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    with served(played) as address, watched(browser, address, size, dark=dark) as seen:
        seen.page.goto(f"{address}/health")
        seen.page.get_by_role("link", name="How well the reminders do").click()
        seen.page.get_by_text("How it is counted").click()
        take_picture(seen.page, picture)
        assert seen.width_over() == 0
        assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean()
