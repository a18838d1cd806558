"""One application after another behind one port: requests wait, and live streams end."""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import anyio
import pytest
from fastapi import FastAPI

from chamberwatch.web import succession
from chamberwatch.web.succession import Succession
from tests.brokers import wait_until


def app_of(name: str, gate: threading.Event | None = None) -> FastAPI:
    """Return an application that says its name, perhaps once it is let."""
    app = FastAPI()
    app.state.closing = threading.Event()

    @app.get("/")
    def say() -> str:
        if gate is not None:
            gate.wait(5)
        return name

    return app


@dataclass
class Asked:
    """A request in a thread of its own."""

    front: Succession
    status: int = 0
    body: bytes = b""
    headers: dict[bytes, bytes] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.thread = threading.Thread(target=anyio.run, args=(self._ask,))
        self.thread.start()

    async def _ask(self) -> None:
        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Any) -> None:  # noqa: ANN401 - of ASGI
            if message["type"] == "http.response.start":
                self.status, self.headers = message["status"], dict(message["headers"])
            else:
                self.body += message["body"]

        scope = {
            "type": "http",
            "method": "GET",
            "path": "/",
            "raw_path": b"/",
            "query_string": b"",
            "headers": [],
        }
        await self.front(scope, receive, send)

    def said(self) -> str:
        self.thread.join(10)
        return self.body.decode()


def under_way(front: Succession, number: int) -> Callable[[], bool]:
    return lambda: front._under_way == number


def test_a_request_waits_for_the_next_application() -> None:
    first = app_of("first")
    front = Succession(first)
    assert Asked(front).said() == '"first"'
    front.pause()
    assert first.state.closing.is_set()
    asked = Asked(front)
    asked.thread.join(0.1)
    assert asked.thread.is_alive()
    front.resume(app_of("second"))
    assert asked.said() == '"second"'


def test_one_that_is_under_way_is_waited_for() -> None:
    gate = threading.Event()
    front = Succession(app_of("first", gate))
    asked = Asked(front)
    wait_until(under_way(front, 1), "it is under way")
    pausing = threading.Thread(target=front.pause)
    pausing.start()
    pausing.join(0.1)
    assert pausing.is_alive()
    gate.set()
    pausing.join(5)
    assert asked.said() == '"first"'
    assert not pausing.is_alive()


def test_one_that_hangs_is_not_waited_for_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(succession, "UNDER_WAY_S", 0.1)
    gate = threading.Event()
    front = Succession(app_of("first", gate))
    asked = Asked(front)
    wait_until(under_way(front, 1), "it is under way")
    front.pause()
    gate.set()
    assert asked.said() == '"first"'


def test_what_is_expected_is_waited_for_a_little(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(succession, "PATIENCE_S", 0.1)
    front = Succession(app_of("first"))
    front.expect()
    assert Asked(front).said() == '"first"'
    front.resume()
    assert Asked(front).said() == '"first"'


def test_what_takes_too_long_is_told_to_come_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(succession, "AT_MOST_S", 0.1)
    front = Succession(app_of("first"))
    front.pause()
    asked = Asked(front)
    assert "are being taken over" in asked.said()
    assert asked.status == 503
    assert asked.headers[b"retry-after"] == b"5"
    assert b"content-security-policy" in asked.headers


def test_closed_it_lets_go_of_every_stream_to_come() -> None:
    first, second = app_of("first"), app_of("second")
    front = Succession(first)
    front.pause()
    front.close()
    assert Asked(front).said()
    front.resume(second)
    assert second.state.closing.is_set()
