"""The application on a real port, in a thread, and a browser that may talk to nothing else."""

import os
import socket
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, ConsoleMessage, Page, Request, Route

from chamberwatch.web.app import create_app
from tests.web.desk_fakes import Played

# Debian's, by preference the build without a window: it takes less than half the processor's time.
_BUILDS = (Path("/usr/lib/chromium/chromium-headless-shell"), Path("/usr/bin/chromium"))
CHROMIUM = next((each for each in _BUILDS if each.exists()), _BUILDS[0])
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE = (390, 844)
DESK = (1280, 900)
PICTURES = Path(__file__).parents[2] / "pictures"
TAKEN = os.environ.get("CHAMBERWATCH_PICTURES") in {"1", "readme"}
"""Pictures show what no test asks for, and cost as much time as the tests: taken when wanted."""
DEADLINE_S = 30.0


def take_picture(page: Page, name: str, *, whole: bool = True) -> Path | None:
    """Wait until all of a page is there; take a picture where pictures are wanted.

    Args:
        page: of what.
        name: of the file.
        whole: all of the page, not only what the window shows.

    Returns:
        The file of the picture; None: there is none.
    """
    page.wait_for_load_state()
    if not TAKEN:
        return None
    PICTURES.mkdir(exist_ok=True)
    page.screenshot(path=PICTURES / name, full_page=whole)
    return PICTURES / name


@contextmanager
def served(played: Played, fitted: Callable[[FastAPI], None] = lambda app: None) -> Iterator[str]:
    """Serve a desk on a free loopback port; yield its address.

    Args:
        played: the desk.
        fitted: what is done to the application first.
    """
    app = create_app(played.desk)
    fitted(app)
    with serving(app) as address:
        yield address


@contextmanager
def serving(app: FastAPI) -> Iterator[str]:
    """Serve an application on a free loopback port; yield its address."""
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", lifespan="off"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    finally:
        app.state.closing.set()
        server.should_exit = True
        thread.join(DEADLINE_S)
        listener.close()
    assert not thread.is_alive(), "the server did not stop at once"


@dataclass
class Watcher:
    """A page, and everything about it that must not be."""

    page: Page
    outside: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def assert_clean(self, status: int | None = None) -> None:
        """Check that nothing was asked of others and nothing went wrong.

        Args:
            status: what a page asked for on purpose was answered with; the browser remarks on it
                when it finds the time, and that is no fault of the page.
        """
        assert self.outside == []
        remark = "Failed to load resource: the server responded with a status of"
        said = [each for each in self.complaints if not each.startswith(f"{remark} {status}")]
        assert said == []

    def width_over(self) -> int:
        """Return by how much the page is wider than its window. [px]"""
        self.page.wait_for_load_state()
        over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        return int(self.page.evaluate(over))


@dataclass(frozen=True, slots=True)
class Visitor:
    """Where somebody looks from: the language and the zone of the browser."""

    locale: str
    zone: str


@contextmanager
def watched(
    browser: Browser,
    address: str,
    size: tuple[int, int] = PHONE,
    *,
    dark: bool = False,
    script: bool = True,
    zone: str | None = None,
    visitor: Visitor | None = None,
    cookie: Mapping[str, str] | None = None,
) -> Iterator[Watcher]:
    """Open a page that is kept inside `address`.

    Args:
        browser: opens it.
        address: of the server.
        size: of the window.
        dark: the visitor likes it dark.
        script: runs in it.
        zone: that of the browser.
        visitor: who looks; None: as the browser comes.
        cookie: what the visitor brings, by name.
    """
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
        java_script_enabled=script,
        device_scale_factor=2 if size == PHONE else 1,
        has_touch=size == PHONE,
        locale=visitor.locale if visitor else None,
        timezone_id=visitor.zone if visitor else zone,
    )
    context.add_cookies(
        [{"name": n, "value": v, "url": address} for n, v in (cookie or {}).items()]
    )
    page = context.new_page()
    seen = Watcher(page)

    def inside_only(route: Route, request: Request) -> None:
        if request.url.startswith(address):
            route.continue_()
        else:
            seen.outside.append(request.url)
            route.abort()

    def hear(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            seen.complaints.append(message.text)

    context.route("**/*", inside_only)
    page.on("console", hear)
    page.on("pageerror", lambda error: seen.complaints.append(str(error)))
    page.goto(address)
    try:
        yield seen
    finally:
        context.close()
