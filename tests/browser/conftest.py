"""A browser for all tests here; without one they are skipped."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from tests.browser.served import CHROMIUM, FLAGS, PHONE

HERE: Final = Path(__file__).parent

# A page follows its daemon, and both follow the machine, which may be busy.
expect.set_options(timeout=30_000)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave these tests out of the coverage, and half of the looks to the long run.

    What they reach in Python, quicker ones cover. Where a page is looked at in two sizes and two
    lights, the phone in the light and the desk in the dark show whatever either brings.
    """
    for item in items:
        if HERE not in item.path.parents:
            continue
        item.add_marker(pytest.mark.no_cover)
        looks = getattr(getattr(item, "callspec", None), "params", {})
        if {"size", "dark"} <= set(looks) and (looks["size"] == PHONE) == looks["dark"]:
            item.add_marker(pytest.mark.long)


# Not for the whole session: while the library runs, no other test could start an event loop.
@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start Debian's Chromium, without a window and without calls home."""
    if not CHROMIUM.exists():
        pytest.skip(f"{CHROMIUM} is missing; install chromium-headless-shell to run these tests")
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=str(CHROMIUM), args=list(FLAGS))
        yield started
        started.close()
