"""The demo on a desk, at the pace it comes with: every page opens, and *Now* lives."""

import re
import signal
import subprocess
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Response, expect

from chamberwatch.web.rendering import PAGES
from tests.brokers import DEADLINE_S, free_port, listens, wait_until
from tests.browser.served import DESK, watched
from tests.faults.processes import command, environment

LIVE = "html[data-live]"
BEGINS_S = 90.0
LIVES_MS = 30_000
WAYS_ON = "els => els.map(e => e.getAttribute('href'))"
# What asks for a deed or for another service is not opened: these only look.
LEFT_OUT = re.compile(r"^(#|mailto:|/calendar|/do/|.*\.(csv|ics)\b)")
MOST = 60


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[str]:
    port = free_port()
    with (tmp_path / "demo.log").open("wb") as log:
        process = subprocess.Popen(
            command("demo", "--port", str(port), "--pace", "60"),
            cwd=tmp_path,
            env=environment(),
            stdout=log,
            stderr=log,
        )
    try:
        wait_until(lambda: listens(port) or process.poll() is not None, "the page", BEGINS_S)
        assert process.poll() is None, (tmp_path / "demo.log").read_text(errors="replace")
        # The door is open before the past week is told; whoever knocks is let in after that.
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=BEGINS_S) as answer:
            assert answer.status == 200
        yield f"http://127.0.0.1:{port}"
        process.send_signal(signal.SIGINT)
        process.wait(DEADLINE_S)
        assert "Traceback" not in (tmp_path / "demo.log").read_text(errors="replace")
    finally:
        process.kill()
        process.wait(DEADLINE_S)


def test_every_page_opens_while_the_tent_lives(browser: Browser, demo: str) -> None:
    with watched(browser, demo, DESK) as seen:
        page, wrong = seen.page, list[str]()
        page.on("response", lambda answer: _note(answer, wrong))
        lives_by_itself(page)
        to_open = [address for _, address, _ in PAGES]
        opened: list[str] = []
        while to_open and len(opened) < MOST:
            path = to_open.pop(0)
            opened.append(path)
            page.goto(f"{demo}{path}")
            expect(page.locator("h1, h2").first).to_be_attached()
            assert seen.width_over() == 0, path
            to_open += [new for new in _ways_on(page) if new not in {*opened, *to_open}]
        assert {address for _, address, _ in PAGES} <= set(opened)
        assert len(opened) > 30
        assert wrong == []
        seen.assert_clean()


def lives_by_itself(page: Page) -> None:
    """See the values change on a page that nobody loads anew."""
    page.wait_for_selector(LIVE)
    page.evaluate("window.loadedOnce = true")
    heading = page.locator("#piece-0-heading, article .heading").first
    drawing = page.locator("article").first
    first, told = heading.inner_text(), drawing.inner_html()
    expect(heading).not_to_have_text(first, timeout=LIVES_MS)
    assert drawing.inner_html() != told
    assert page.evaluate("window.loadedOnce") is True


def _note(answer: Response, wrong: list[str]) -> None:
    if answer.status >= 400:
        wrong.append(f"{answer.status} {answer.url}")


def _ways_on(page: Page) -> list[str]:
    """Return the addresses a page leads to; of those that differ only in their query, one."""
    found: dict[str, str] = {}
    for href in page.locator("main a[href], footer a[href]").evaluate_all(WAYS_ON):
        path = href.partition("#")[0]
        if path.startswith("/") and not LEFT_OUT.match(path):
            found.setdefault(path.partition("?")[0], path)
    return list(found.values())
