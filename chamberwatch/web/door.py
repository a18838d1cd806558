"""The door of the web room: who may come in, how much they may carry, what they take out.

- Host: on a loopback socket only the names of this machine (and of `web.address`) are answered,
  so that a page elsewhere can't reach us by pointing its own name at 127.0.0.1.
- Origin: a write that a browser marks as coming from another site is refused.
- Body: at most 64 KiB, read before anything is done with it.
- Headers: nothing may be loaded from outside, framed, guessed or cached by mistake.
"""

import ipaddress
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from chamberwatch.web.headers import SECURITY
from chamberwatch.web.problems import refusal

BODY_LIMIT: Final = 64 * 1024
LOOPBACK_NAMES: Final = frozenset({"localhost", "127.0.0.1", "::1"})
READS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
LIVE: Final = "/live"


def host_of(netloc: str) -> str:
    """Return the name in a Host header or address, without port and brackets."""
    try:
        return (urlsplit(f"//{netloc}").hostname or "").lower()
    except ValueError:
        return ""


def on_loopback(scope: Scope) -> bool:
    """Tell whether the request came in on a socket only this machine can reach."""
    server = scope.get("server")
    if server is None:
        return True
    try:
        return ipaddress.ip_address(server[0]).is_loopback
    except ValueError:
        return str(server[0]).lower() == "localhost"


class Door:
    """ASGI application around the application."""

    def __init__(self, app: ASGIApp, address: str | None) -> None:
        """Stand before `app`; `address` is where phones reach it, if they do."""
        self.app = app
        own = urlsplit(address) if address else None
        self._own_origin = f"{own.scheme}://{own.netloc}".lower() if own else None
        self._hosts = LOOPBACK_NAMES | ({own.hostname or ""} if own else set())

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or turn it away with a problem."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        head = scope["method"] == "HEAD" and scope["path"] != LIVE
        if head:
            scope = {**scope, "method": "GET"}
        outward = _dressed(scope["path"], send, head=head)
        turned_away = self._turned_away(scope)
        if turned_away:
            await refusal(scope["path"], *turned_away)(scope, receive, outward)
            return
        if scope["method"] in READS:
            await self.app(scope, receive, outward)
            return
        await self._carry_in(scope, receive, outward)

    def _turned_away(self, scope: Scope) -> tuple[int, str, str] | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if on_loopback(scope) and host_of(host) not in self._hosts:
            return (
                421,
                (
                    "Open this page as http://localhost, or set web.address in the settings to "
                    "the name you use."
                ),
                "wrong-host",
            )
        if scope["method"] not in READS and self._foreign(headers, host):
            return 403, "A write that comes from another site is not taken.", "foreign-origin"
        return None

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


def _dressed(path: str, send: Send, *, head: bool) -> Send:
    """Add the headers every answer carries; keep the body back for HEAD."""

    async def outward(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in SECURITY.items():
                headers[name] = value
            if "cache-control" not in headers:
                headers["Cache-Control"] = "no-cache" if path.startswith("/api/") else "no-store"
        elif head and message["type"] == "http.response.body":
            message = {**message, "body": b""}
        await send(message)

    return outward
