"""Sessions: a signed cookie that says when somebody logged in, and under which passcode.

Nothing is kept of them here. Each carries the mark that follows from the passcode, so a new one
ends all. As with links, the time of issue is signed and comes from the given clock.
"""

import hmac
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Final

from itsdangerous import BadData, URLSafeSerializer
from starlette.responses import Response

from chamberwatch.service.books import Books
from chamberwatch.web.access import AHEAD, sign_key, signer

LASTS: Final = timedelta(days=30)
SALT: Final = "chamberwatch.session.1"
NAME: Final = "chamberwatch"
OVER_TLS: Final = "__Host-chamberwatch"
"""Browsers take a cookie of such a name only over TLS, and from this very host (RFC 6265bis)."""


class Sessions:
    """Makes cookies and reads them back."""

    def __init__(self, books: Books) -> None:
        """Take what keeps the key."""
        self._books = books

    @cached_property
    def _signer(self) -> URLSafeSerializer:
        return signer(sign_key(self._books), SALT)

    def issued(self, mark: str, now: datetime) -> str:
        """Return the cookie of somebody who logs in now."""
        return str(self._signer.dumps({"t": int(now.timestamp()), "m": mark}))

    def holds(self, cookies: Mapping[str, str], mark: str, now: datetime) -> bool:
        """Tell whether one of the cookies is of a session that goes on."""
        found = [cookies[name] for name in (OVER_TLS, NAME) if name in cookies]
        return any(self._holds(cookie, mark, now) for cookie in found)

    def _holds(self, cookie: str, mark: str, now: datetime) -> bool:
        try:
            said = self._signer.loads(cookie)
            issued = datetime.fromtimestamp(int(said["t"]), UTC)
            of = str(said["m"])
        except (BadData, KeyError, TypeError, ValueError, OverflowError, OSError):
            return False
        in_time = issued - now <= AHEAD and now - issued < LASTS
        return in_time and hmac.compare_digest(of.encode(), mark.encode())


def give(answer: Response, cookie: str, *, secure: bool) -> None:
    """Let the browser keep a session."""
    answer.set_cookie(
        OVER_TLS if secure else NAME,
        cookie,
        max_age=int(LASTS.total_seconds()),
        path="/",
        secure=secure,
        httponly=True,
        samesite="strict",
    )


def take_back(answer: Response) -> None:
    """Let the browser forget its session."""
    answer.delete_cookie(NAME, path="/", httponly=True, samesite="strict")
    answer.delete_cookie(OVER_TLS, path="/", secure=True, httponly=True, samesite="strict")
