"""The web application: the API and the pages, behind one door."""

import threading
from pathlib import Path
from typing import Final

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware

from chamberwatch.service.admission import Admission
from chamberwatch.service.tokens import Tokens
from chamberwatch.web import live, problems
from chamberwatch.web.access import KeptLinks
from chamberwatch.web.api import (
    acting,
    addresses,
    advising,
    ahead,
    amending,
    bands,
    batch_telling,
    calibrating,
    charting,
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
from chamberwatch.web.kept import Kept
from chamberwatch.web.language import TEXTS, Speaking
from chamberwatch.web.own_pass import OwnPasses
from chamberwatch.web.pages import (
    air,
    aside,
    batch_deeds,
    checks,
    claiming,
    do,
    entering,
    holding,
    log,
    look,
    mending,
    minding,
    noting,
    now,
    out,
    phone,
    quality,
    rotation,
    said,
    sensors,
    set_up,
    set_up_broker,
    set_up_chambers,
    set_up_telling,
    set_up_units,
    token_pages,
    told,
    was_it,
    week,
    who_may,
)
from chamberwatch.web.pages.growing import batch as one_batch
from chamberwatch.web.pages.growing import deeds as batch_forms
from chamberwatch.web.pages.growing import finished, lines, photos, starting
from chamberwatch.web.pages.growing import mending as batch_mending
from chamberwatch.web.pages.growing import plan as shelves
from chamberwatch.web.rendering import STATIC
from chamberwatch.web.sessions import Sessions

API_PREFIX: Final = "/api/v1"
PACKED_FROM: Final = 1000
"""Answers of fewer bytes fit into one packet anyway."""
PACKED_HOW_WELL: Final = 5
"""Of 9; beyond it takes twice the time for a hundredth of the size."""
ANSWERING: Final = (now, said, noting, was_it, minding, out, batch_deeds, holding, do)
GROWN: Final = (
    *(shelves, starting, one_batch, batch_forms, batch_mending, photos, finished, lines),
    rotation,
)
ASIDE: Final = (
    air,
    week,
    quality,
    aside,
    told,
    live,
    entering,
    who_may,
    log,
    mending,
    look,
    checks,
)
SETTING_UP: Final = (set_up, set_up_broker, set_up_chambers, set_up_telling, set_up_units)
CLAIMING: Final = (sensors, claiming, phone, token_pages)
PEOPLE: Final = (addresses, tokens)
AIR: Final = (
    *(acting, advising, ahead, amending, calibrating, charting, findings, reading, writing),
)
REMINDED: Final = (reviewing, serving)
GROWING: Final = (bands, batch_telling, growing, looking, species, tasks)


def create_app(desk: Desk, texts: Path = TEXTS) -> FastAPI:
    """Return the application, ready to be served; `texts` is the folder of catalogues.

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
    for face in (*ANSWERING, *GROWN, *ASIDE, *SETTING_UP, *CLAIMING):
        app.include_router(face.router)
    app.mount("/static", Kept(directory=STATIC), name="static")
    app.state.keeper = _keeper(desk)
    app.state.links = KeptLinks(desk.books, desk.clock)
    # What stays a stream (`live`) or is packed already (pictures) it leaves alone.
    app.add_middleware(GZipMiddleware, minimum_size=PACKED_FROM, compresslevel=PACKED_HOW_WELL)
    # The last one added stands outermost.
    app.add_middleware(Gate, keeper=app.state.keeper)
    app.add_middleware(Door, address=desk.address, names=desk.names)
    app.add_middleware(Speaking, folder=texts)
    return app


def _keeper(desk: Desk) -> Keeper:
    books, clock = desk.books, desk.clock
    admission = Admission(books, clock, Argon2())
    return Keeper(admission, Sessions(books), Tokens(books, clock), OwnPasses(books), clock)
