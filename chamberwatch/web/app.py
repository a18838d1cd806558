"""The web application: the API and the pages, behind one door."""

import threading
from typing import Final

from fastapi import FastAPI
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from chamberwatch.service.admission import Admission
from chamberwatch.service.tokens import Tokens
from chamberwatch.web import live, problems
from chamberwatch.web.access import KeptLinks
from chamberwatch.web.api import (
    acting,
    addresses,
    advising,
    ahead,
    bands,
    batch_telling,
    calibrating,
    findings,
    growing,
    looking,
    reading,
    reviewing,
    serving,
    species,
    tasks,
    tokens,
    writing,
)
from chamberwatch.web.api.description import PROBLEMS, describe
from chamberwatch.web.desk import Desk
from chamberwatch.web.door import Door
from chamberwatch.web.gate import Gate, Keeper
from chamberwatch.web.hashing import Argon2
from chamberwatch.web.pages import (
    aside,
    batch_deeds,
    do,
    entering,
    holding,
    minding,
    noting,
    now,
    out,
    quality,
    said,
    told,
    was_it,
    who_may,
)
from chamberwatch.web.rendering import STATIC
from chamberwatch.web.sessions import Sessions

API_PREFIX: Final = "/api/v1"
A_YEAR: Final = "public, max-age=31536000, immutable"
ANSWERING: Final = (now, said, noting, was_it, minding, out, batch_deeds, holding, do)
ASIDE: Final = (quality, aside, told, live, entering, who_may)
PEOPLE: Final = (addresses, tokens)
AIR: Final = (acting, advising, ahead, calibrating, findings, reading, writing)
REMINDED: Final = (reviewing, serving)
GROWING: Final = (bands, batch_telling, growing, looking, species, tasks)


class Kept(StaticFiles):
    """Static files; with the mark of their content in the address they may be kept for good."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer a file, and say how long it may be kept."""
        answer = await super().get_response(path, scope)
        marked = scope["query_string"].startswith(b"v=")
        answer.headers["Cache-Control"] = A_YEAR if marked else "no-cache"
        return answer


def create_app(desk: Desk) -> FastAPI:
    """Return the application, ready to be served.

    Set `app.state.closing` when the server shall stop: the live streams then end at once.
    """
    app = FastAPI(
        title="chamberwatch",
        docs_url=None,  # both load their scripts from outside
        redoc_url=None,
        openapi_url=f"{API_PREFIX}/openapi.json",
    )
    app.state.desk = desk
    app.state.closing = threading.Event()
    app.state.listening = live.Listening(app.state.closing)
    problems.register(app)
    describe(app)
    for part in (*AIR, *REMINDED, *GROWING, *PEOPLE):
        app.include_router(part.router, prefix=API_PREFIX, responses=PROBLEMS)
    for face in (*ANSWERING, *ASIDE):
        app.include_router(face.router)
    app.mount("/static", Kept(directory=STATIC), name="static")
    app.state.keeper = _keeper(desk)
    app.state.links = KeptLinks(desk.books, desk.clock)
    # The last one added stands outermost.
    app.add_middleware(Gate, keeper=app.state.keeper)
    app.add_middleware(Door, address=desk.address, names=desk.names)
    return app


def _keeper(desk: Desk) -> Keeper:
    books, clock = desk.books, desk.clock
    admission = Admission(books, clock, Argon2())
    return Keeper(admission, Sessions(books), Tokens(books, clock), clock)
