"""The live stream: tells an open page that something has changed, not what."""

import asyncio
import threading
from collections.abc import AsyncIterator, Callable
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse

from chamberwatch.web.desk import desk_of
from chamberwatch.web.problems import refusal

router = APIRouter(include_in_schema=False)

LISTENERS: Final = 50
EVERY_S: Final = 1.0
# Closing is looked at more often than the pulse, so that the server stops at once.
LOOKS: Final = 5
# A comment now and then lets the browser and whatever lies between know that we live.
QUIET_ROUNDS: Final = 15


class Listening:
    """How many pages listen, and whether they shall stop."""

    def __init__(self, closing: threading.Event) -> None:
        """Start with nobody."""
        self.closing = closing
        self.count = 0

    @property
    def full(self) -> bool:
        """Tell whether no more can listen."""
        return self.count >= LISTENERS


async def stream(listening: Listening, pulse: Callable[[], int]) -> AsyncIterator[str]:
    """Yield an event at once and then whenever the pulse changes."""
    listening.count += 1
    try:
        last = await asyncio.to_thread(pulse)
        yield f"retry: 3000\nevent: pulse\ndata: {last}\n\n"
        quiet = 0
        while not await _wait(listening.closing):
            quiet += 1
            beat = await asyncio.to_thread(pulse)
            if beat != last:
                last, quiet = beat, 0
                yield f"event: pulse\ndata: {beat}\n\n"
            elif quiet >= QUIET_ROUNDS:
                quiet = 0
                yield ": still here\n\n"
    finally:
        listening.count -= 1


async def _wait(closing: threading.Event) -> bool:
    for _ in range(LOOKS):
        if closing.is_set():
            return True
        await asyncio.sleep(EVERY_S / LOOKS)
    return closing.is_set()


@router.get("/live")
async def live(request: Request) -> Response:
    """Send server-sent events (HTML Living Standard, section 9.2)."""
    listening: Listening = request.app.state.listening
    if listening.full or listening.closing.is_set():
        return refusal("/live", 503, "Too many pages are open at once.", "too-many")
    return StreamingResponse(
        stream(listening, desk_of(request).history.pulse),
        media_type="text/event-stream",
        headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"},
    )
