"""The pictures of the README, taken anew when asked for."""

import os
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.scenes import usual
from tests.browser.served import DESK, PHONE, served, watched

README = Path(__file__).parents[2] / "deploy" / "readme"


@pytest.mark.skipif(
    os.environ.get("CHAMBERWATCH_PICTURES") != "1",
    reason="set CHAMBERWATCH_PICTURES=1 to take the pictures of the README anew",
)
@pytest.mark.parametrize(
    ("name", "size"),
    [pytest.param("desk", DESK, id="desk"), pytest.param("phone", PHONE, id="phone")],
)
def test_picture_of_now(browser: Browser, name: str, size: tuple[int, int]) -> None:
    README.mkdir(parents=True, exist_ok=True)
    path = README / f"now-{name}.png"
    with served(usual()) as address, watched(browser, address, size) as seen:
        seen.page.wait_for_selector("html[data-live]")
        seen.page.screenshot(path=path, full_page=size == DESK)
    assert path.stat().st_size > 10_000
