"""The application on a real port, in a thread, and a browser that may talk to nothing else."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import uvicorn
from playwright.sync_api import Browser, ConsoleMessage, Page, Request, Route

from chamberwatch.web.app import create_app
from tests.web.desk_fakes import Played

CHROMIUM = Path("/usr/bin/chromium")
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
DEADLINE_S = 10.0


@contextmanager
def served(played: Played) -> Iterator[str]:
    """Serve a desk on a free loopback port; yield its address."""
    app = create_app(played.desk)
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

    def assert_clean(self) -> None:
        assert self.outside == []
        assert self.complaints == []

    def width_over(self) -> int:
        """Return by how much the page is wider than its window. [px]"""
        over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        return int(self.page.evaluate(over))


@contextmanager
def watched(
    browser: Browser,
    address: str,
    size: tuple[int, int] = PHONE,
    *,
    dark: bool = False,
    script: bool = True,
) -> Iterator[Watcher]:
    """Open a page that is kept inside `address`."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
        java_script_enabled=script,
        device_scale_factor=2 if size == PHONE else 1,
        has_touch=size == PHONE,
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
