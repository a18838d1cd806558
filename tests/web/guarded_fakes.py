"""A desk behind a passcode, on a real database, with visitors of every kind."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from fastapi import FastAPI
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from chamberwatch.service.admission import Admission
from chamberwatch.service.books import Books
from chamberwatch.service.tokens import Tokens
from chamberwatch.web.access import sign_key
from chamberwatch.web.app import create_app
from chamberwatch.web.hashing import Argon2
from chamberwatch.web.sessions import NAME, Sessions
from tests.core.growing.timed import TABLE
from tests.web.desk_fakes import Played, dry_tent
from tests.web.plan_fakes import grower

PASSCODE = "wet straw in june"
HERE = "http://localhost"
PI = "192.0.2.4"


@dataclass
class Guarded:
    """An application, and what is needed to come in."""

    app: FastAPI
    played: Played
    books: Books
    file: Path

    @property
    def admission(self) -> Admission:
        return Admission(self.books, self.played.clock, Argon2())

    @property
    def tokens(self) -> Tokens:
        return Tokens(self.books, self.played.clock)

    def cookie(self) -> str:
        """Return the cookie of somebody who logs in now."""
        mark = self.admission.mark()
        assert mark is not None
        return Sessions(self.books).issued(mark, self.played.clock.now())

    def visitor(
        self,
        *,
        base: str = HERE,
        host: str = "127.0.0.1",
        cookie: str | None = None,
        bearer: str | None = None,
    ) -> TestClient:
        """Return somebody at `host` who opens `base` and brings what is given."""
        headers = {}
        if cookie is not None:
            headers["Cookie"] = f"{NAME}={cookie}"
        if bearer is not None:
            headers["Authorization"] = f"Bearer {bearer}"
        return TestClient(
            self.app,
            base_url=base,
            client=(host, 50_000),
            headers=headers,
            follow_redirects=False,
            raise_server_exceptions=False,
        )


@contextmanager
def guarded(
    folder: Path, *, passcode: str | None = PASSCODE, address: str | None = None
) -> Iterator[Guarded]:
    """Set a desk behind a passcode; without one for None."""
    played = dry_tent(address)
    with grower(folder, played, TABLE) as grown:
        names = frozenset({"tent-pi", "tent-pi.local"})
        played.desk = replace(played.desk, books=grown.books, growing=grown.growing, names=names)
        made = Guarded(create_app(played.desk), played, grown.books, folder / "cw.db")
        sign_key(grown.books)  # the daemon makes it when it starts
        if passcode is not None:
            made.admission.choose(passcode)
        yield made


def routes_of(app: FastAPI) -> Iterator[APIRoute]:
    """Yield every address there is, those of all routers too."""
    return _within(app.routes)


def _within(routes: object) -> Iterator[APIRoute]:
    for route in routes:  # type: ignore[attr-defined]
        if isinstance(route, APIRoute):
            yield route
        elif (inner := getattr(route, "original_router", None)) is not None:
            yield from _within(inner.routes)
