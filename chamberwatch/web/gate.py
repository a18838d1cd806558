"""The gate, behind the door: once a passcode is set, it lets in sessions and tokens alone.

A command of ours that may read the database counts as a token (`own_pass`). While no passcode is
set, whoever reaches a loopback socket comes in, as at a machine nobody shares; on any other socket
nobody does. What is open to all stands in one list, so that a new page is closed.

- Open: how it looks (/static, the mark, and what a home screen asks for, which browsers fetch
  without a cookie), the page to log in, the links of messages (each signed
  for its one deed), the calendar (its address holds a secret), and two pages that are the same in
  every house: cautions, and the kinds of problems.
- Closed: everything else, health too, since it shows topics and what sensors sent.
"""

from enum import StrEnum
from typing import Final
from urllib.parse import quote, urlencode

from fastapi import Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from chamberwatch.core.errors import StorageError
from chamberwatch.service.admission import Admission
from chamberwatch.service.ports import Clock
from chamberwatch.service.tokens import Tokens
from chamberwatch.web.door import READS
from chamberwatch.web.own_pass import OwnPasses
from chamberwatch.web.problems import ProblemError, refusal
from chamberwatch.web.sessions import Sessions
from chamberwatch.web.whence import on_loopback

OPEN: Final = frozenset(
    {"/enter", "/cautions", "/problems", "/favicon.svg", "/favicon.ico", "/manifest.webmanifest"}
)
OPEN_BELOW: Final = ("/static/", "/do/", "/calendar/")
FOR_PROGRAMS: Final = ("/api", "/live")
"""These are never led to a page: nobody would read it."""

ENTER: Final = "/enter"
LEAVE: Final = "/leave"
SCHEME: Final = "bearer"

NOT_LOGGED_IN: Final = (
    "Log in on the page, or send a token: Authorization: Bearer TOKEN. One is made with "
    "chamberwatch token new NAME."
)
UNKNOWN_ONE: Final = (
    "This token is not known, or was revoked. Make one with chamberwatch token new NAME."
)
UNGUARDED: Final = (
    "The network reaches this machine, but no passcode is set. Set one on the machine itself: "
    "chamberwatch passcode."
)


class Came(StrEnum):
    """How a visitor came in, or why not."""

    NEAR = "from this machine"
    SESSION = "with a session"
    TOKEN = "with a token"  # noqa: S105 - no secret
    NOBODY = "without either"
    WRONG_TOKEN = "with a wrong token"  # noqa: S105 - no secret
    UNGUARDED = "from the network while no passcode is set"


IN: Final = frozenset({Came.NEAR, Came.SESSION, Came.TOKEN})


class Keeper:
    """Looks at what a visitor brings."""

    def __init__(
        self,
        admission: Admission,
        sessions: Sessions,
        tokens: Tokens,
        passes: OwnPasses,
        clock: Clock,
    ) -> None:
        """Take what it stands on."""
        self.admission = admission
        self.sessions = sessions
        self.tokens = tokens
        self.passes = passes
        self._clock = clock

    def came(self, scope: Scope) -> Came:
        """Return how a visitor comes.

        Raises:
            StorageError: the database can't be used.
        """
        mark = self.admission.mark()
        if mark is None:
            near = scope.get("server") is not None and on_loopback(scope)
            return Came.NEAR if near else Came.UNGUARDED
        if (secret := _bearer(scope)) is not None:
            known = self.tokens.known(secret) is not None
            ours = known or self.passes.good(secret, self._clock.now())
            return Came.TOKEN if ours else Came.WRONG_TOKEN
        cookies = cookie_parser(Headers(scope=scope).get("cookie", ""))
        held = self.sessions.holds(cookies, mark, self._clock.now())
        return Came.SESSION if held else Came.NOBODY


def _bearer(scope: Scope) -> str | None:
    """Return the secret that a program sent, None if it sent none."""
    given = Headers(scope=scope).get("authorization", "")
    scheme, _, secret = given.strip().partition(" ")
    return secret.strip() if scheme.lower() == SCHEME else None


def keeper_of(request: Request) -> Keeper:
    """Return the keeper of this application."""
    keeper: Keeper = request.app.state.keeper
    return keeper


def how_came(request: Request) -> Came:
    """Return how the visitor of a closed page came in."""
    came: Came = request.state.came
    return came


def refuse_token(request: Request, words: str, *, but: int | None = None) -> None:
    """Let no token change who may come in: once it is revoked, nothing it did must remain.

    Args:
        request: of whoever came.
        words: what it can't do, and who can.
        but: number of a token that may, all the same.

    Raises:
        ProblemError: it came with a token.
    """
    if how_came(request) is not Came.TOKEN:
        return
    if but is not None:
        token = keeper_of(request).tokens.known(_bearer(request.scope) or "")
        if token is not None and token.id == but:
            return
    raise ProblemError(403, "refused", words)


def by_people(request: Request) -> None:
    """Let no token change the settings; for routers whose forms write them.

    An address that a token had added would go on hearing, once the token is revoked.

    Raises:
        ProblemError: it came with a token, and writes.
    """
    if request.method not in READS:
        refuse_token(
            request,
            "A token can't change the settings. Log in on the page and do it there, or change "
            "the file.",
        )


class Gate:
    """ASGI application around the application."""

    def __init__(self, app: ASGIApp, keeper: Keeper) -> None:
        """Stand before `app`."""
        self.app = app
        self._keeper = keeper

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a visitor through, or say what is missing."""
        if scope["type"] != "http" or is_open(scope["path"]):
            await self.app(scope, receive, send)
            return
        try:
            # The database is asked, so not on the loop that serves all.
            came = await run_in_threadpool(self._keeper.came, scope)
        except StorageError as exc:
            await refusal(scope["path"], 503, str(exc), "storage")(scope, receive, send)
            return
        if came not in IN:
            await _kept_out(scope, came)(scope, receive, send)
            return
        scope.setdefault("state", {})["came"] = came
        await self.app(scope, receive, send)


def is_open(path: str) -> bool:
    """Tell whether anybody may ask for a path."""
    return path in OPEN or path.startswith(OPEN_BELOW)


def _kept_out(scope: Scope, came: Came) -> Response:
    path: str = scope["path"]
    if came is Came.UNGUARDED:
        return refusal(path, 403, UNGUARDED, "no-passcode")
    if came is Came.NOBODY and not path.startswith(FOR_PROGRAMS):
        return _to_the_gate(scope)
    wrong = came is Came.WRONG_TOKEN
    answer = refusal(path, 401, UNKNOWN_ONE if wrong else NOT_LOGGED_IN, "not-logged-in")
    answer.headers["WWW-Authenticate"] = 'Bearer error="invalid_token"' if wrong else "Bearer"
    return answer


def _to_the_gate(scope: Scope) -> Response:
    """Lead to the page to log in, and from there back; what a form said is not carried along."""
    if scope["path"] == LEAVE:
        return RedirectResponse(f"{ENTER}?why=out", 303)
    if scope["method"] not in READS:
        return RedirectResponse(f"{ENTER}?why=lost", 303)
    query = scope.get("query_string", b"").decode("latin-1")
    back = quote(scope["path"]) + (f"?{query}" if query else "")
    asked = f"?{urlencode({'then': back})}" if back != "/" else ""
    return RedirectResponse(f"{ENTER}{asked}", 303)
