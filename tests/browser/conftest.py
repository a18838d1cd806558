"""A browser for all tests here; without one they are skipped."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.browser.served import CHROMIUM, FLAGS


# Not for the whole session: while the library runs, no other test could start an event loop.
@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start Debian's Chromium, without a window and without calls home."""
    if not CHROMIUM.exists():
        pytest.skip(f"{CHROMIUM} is missing; install the package chromium to run these tests")
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=str(CHROMIUM), args=list(FLAGS))
        yield started
        started.close()
