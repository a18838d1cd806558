"""The door of the web room: who may come in, how much they may carry, what they take out.

- Host: only the names of this machine (and of `web.address`) are answered, and on a socket of the
  network its addresses in numbers too, so that a page elsewhere can't reach us by pointing its own
  name at us.
- Origin: a write that a browser marks as coming from another site is refused.
- Body: at most 64 KiB, read before anything is done with it. A note with a photo may have more;
  its length is looked at first, and it then goes on piece by piece, so that who isn't logged in
  is turned away before any of it is read.
- Headers: nothing may be loaded from outside, framed, guessed or cached by mistake.
"""

import re
from collections.abc import Iterable
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from chamberwatch.service.growing.photos import MOST_BYTES
from chamberwatch.web.headers import SECURITY
from chamberwatch.web.problems import refusal
from chamberwatch.web.whence import LOOPBACK_NAMES, address_of, host_of, on_loopback

BODY_LIMIT: Final = 64 * 1024
PHOTO_LIMIT: Final = MOST_BYTES + BODY_LIMIT
WITH_PHOTO: Final = re.compile(r"/growing/batches/[0-9]+/note")
PATIENCE: Final = 8 * PHOTO_LIMIT
"""So much of a body that is too large is still taken and thrown away: a browser that can't finish
sending shows a broken connection instead of the reason."""
READS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
LIVE: Final = "/live"

TOO_LARGE: Final = (
    f"A photo may have {MOST_BYTES // 2**20} MB at most. Go back, take it with fewer pixels or "
    "send a smaller copy; the note was not recorded."
)
ON_LOOPBACK: Final = (
    "Open this page as http://localhost, or set web.address in the settings to the name you use."
)
ON_THE_NETWORK: Final = (
    "Open this page under this machine's own name or its address in numbers, or set web.address "
    "in the settings to the name you use."
)


class Door:
    """ASGI application around the application."""

    def __init__(self, app: ASGIApp, address: str | None, names: Iterable[str] = ()) -> None:
        """Stand before `app`.

        Args:
            app: the application.
            address: where phones reach it, if they do.
            names: of this machine in its home network.
        """
        self.app = app
        own = urlsplit(address) if address else None
        self._own_origin = f"{own.scheme}://{own.netloc}".lower() if own else None
        stated = {(own.hostname or "").removesuffix(".")} if own else set()
        self._hosts = LOOPBACK_NAMES | stated | frozenset(names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or turn it away with a problem."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        head = scope["method"] == "HEAD" and scope["path"] != LIVE
        if head:
            scope = {**scope, "method": "GET"}
        outward = _dressed(scope, send, head=head)
        turned_away = self._turned_away(scope)
        if turned_away:
            await refusal(scope["path"], *turned_away)(scope, receive, outward)
            return
        if scope["method"] in READS:
            await self.app(scope, receive, outward)
            return
        if WITH_PHOTO.fullmatch(scope["path"]):
            await self._let_pass(scope, receive, outward)
            return
        await self._carry_in(scope, receive, outward)

    def _turned_away(self, scope: Scope) -> tuple[int, str, str] | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        near = on_loopback(scope)
        if not self._our_name(host_of(host), near=near):
            return 421, ON_LOOPBACK if near else ON_THE_NETWORK, "wrong-host"
        if scope["method"] not in READS and self._foreign(headers, host):
            return 403, "A write that comes from another site is not taken.", "foreign-origin"
        return None

    def _our_name(self, name: str, *, near: bool) -> bool:
        """Tell whether a name is ours; nobody elsewhere can point an address in numbers at us."""
        return name in self._hosts or (not near and address_of(name) is not None)

    def _foreign(self, headers: Headers, host: str) -> bool:
        site = headers.get("sec-fetch-site")
        if site is not None and site not in ("same-origin", "none"):
            return True
        origin = headers.get("origin")
        if origin is None:
            return False
        if self._own_origin is not None and origin.lower() == self._own_origin:
            return False
        # Only name and port are compared: behind a TLS proxy the scheme here is http.
        try:
            netloc = urlsplit(origin).netloc
        except ValueError:
            return True
        return netloc.lower() != host.lower()

    async def _let_pass(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a body of a stated length go on in pieces; the server lets through no more."""
        stated = Headers(scope=scope).get("content-length", "")
        length = int(stated) if stated.isascii() and stated.isdigit() else None
        if length is None or length > PHOTO_LIMIT:
            await _throw_away(receive, PATIENCE)
            answer = refusal(scope["path"], 413, TOO_LARGE, "too-large")
            answer.headers["Connection"] = "close"
            await answer(scope, receive, send)
            return
        scope.setdefault("state", {})["body"] = b""
        await self.app(scope, receive, send)

    async def _carry_in(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Read the whole body first, so that a large one never gets further than this."""
        body = bytearray()
        more = True
        while more:
            message = await receive()
            if message["type"] == "http.disconnect":
                return
            body += message.get("body", b"")
            more = message.get("more_body", False)
            if len(body) > BODY_LIMIT:
                answer = refusal(scope["path"], 413, "Send at most 64 KiB.", "too-large")
                answer.headers["Connection"] = "close"
                await answer(scope, receive, send)
                return
        waiting: list[Message] = [
            {"type": "http.request", "body": bytes(body), "more_body": False}
        ]

        async def again() -> Message:
            return waiting.pop() if waiting else await receive()

        scope.setdefault("state", {})["body"] = bytes(body)
        await self.app(scope, again, send)


async def _throw_away(receive: Receive, most: int) -> None:
    """Take a body and keep nothing of it, up to a limit."""
    taken, more = 0, True
    while more and taken <= most:
        message = await receive()
        taken += len(message.get("body", b""))
        more = message["type"] == "http.request" and message.get("more_body", False)


def _dressed(scope: Scope, send: Send, *, head: bool) -> Send:
    """Add the headers every answer carries; keep the body back for HEAD."""
    in_api = scope["path"].startswith("/api/")
    # What a session opens is for its browser alone; a proxy must not keep it for others.
    of_api = "private, no-cache" if "cookie" in Headers(scope=scope) else "no-cache"

    async def outward(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in SECURITY.items():
                headers[name] = value
            kept = headers.get("cache-control")
            if in_api and kept in (None, "no-cache"):
                headers["Cache-Control"] = of_api
            elif kept is None:
                headers["Cache-Control"] = "no-store"
        elif head and message["type"] == "http.response.body":
            message = {**message, "body": b""}
        await send(message)

    return outward
