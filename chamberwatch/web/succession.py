"""One application after another behind one open port.

When the settings change, the parts behind the pages are made anew, and so is the application. The
server goes on: a request that comes meanwhile waits for the new one, for a moment.
"""

import asyncio
import threading
import time
from typing import Final

from fastapi import FastAPI
from starlette.types import Receive, Scope, Send

from chamberwatch.web.headers import SECURITY
from chamberwatch.web.problems import refusal

LOOK_S: Final = 0.02
PATIENCE_S: Final = 5.0
"""So long a request waits for a new application while the old one could still answer it."""
AT_MOST_S: Final = 20.0
"""So long it waits while nothing can answer it."""
AGAIN_S: Final = 5
UNDER_WAY_S: Final = 3.0

CHANGING: Final = (
    "The settings are being taken over, which takes longer than usual. Try again in a few seconds."
)


class Succession:
    """ASGI application in front of the one that answers at present."""

    def __init__(self, app: FastAPI) -> None:
        """Begin with the first one."""
        self._lock = threading.Lock()
        self._app = app
        self._expected = False
        self._open = True
        self._closed = False
        self._under_way = 0

    def expect(self) -> None:
        """Let requests wait a little from now on: what answers them is about to be replaced.

        Safe from a signal handler, so without the lock.
        """
        self._expected = True

    def pause(self) -> None:
        """Let no request in, and wait for those under way; live streams end at once."""
        self.expect()
        with self._lock:
            self._open = False
            self._app.state.closing.set()
        given_up_s = time.monotonic() + UNDER_WAY_S
        pause = threading.Event()
        while self._under_way and time.monotonic() < given_up_s:
            pause.wait(LOOK_S)

    def resume(self, app: FastAPI | None = None) -> None:
        """Answer again, from now on with another application if one is given."""
        with self._lock:
            if app is not None:
                self._app = app
            if self._closed:
                self._app.state.closing.set()
            self._expected = False
            self._open = True

    def close(self) -> None:
        """End live streams, those of later applications too; safe from a signal handler."""
        self._closed = True
        self._app.state.closing.set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand a request to the application that answers now."""
        app = await self._entered()
        if app is None:
            answer = refusal(scope["path"], 503, CHANGING, "changing")
            answer.headers.update({**SECURITY, "Retry-After": str(AGAIN_S)})
            await answer(scope, receive, send)
            return
        try:
            await app(scope, receive, send)
        finally:
            with self._lock:
                self._under_way -= 1

    async def _entered(self) -> FastAPI | None:
        """Return what answers, counted as under way; None where there is nothing for too long."""
        came_s = time.monotonic()
        while True:
            with self._lock:
                waited_s = time.monotonic() - came_s
                wait_on = self._expected and waited_s < PATIENCE_S
                if self._open and not wait_on:
                    self._under_way += 1
                    return self._app
            if waited_s > AT_MOST_S or self._closed:
                return None
            await asyncio.sleep(LOOK_S)
