"""The pages beside *Now*: how the watcher is, cautions, problems, and the mark of the site."""

from collections.abc import Mapping
from typing import Final

from fastapi import APIRouter, Request, Response
from fastapi.responses import FileResponse, RedirectResponse

from chamberwatch.core import health as lines
from chamberwatch.core.self_check import BROKER, CLOCK, DATABASE, DISK
from chamberwatch.web import words
from chamberwatch.web.desk import desk_of, wellness_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages import told
from chamberwatch.web.problems import KINDS
from chamberwatch.web.rendering import STATIC, page, static_url

router = APIRouter(include_in_schema=False)

SHOWN_REJECTS = 50

LABELS: Final[Mapping[str, str]] = {
    lines.WATCHER: marked("the watcher"),
    BROKER: marked("broker"),
    CLOCK: marked("clock"),
    DISK: marked("disk"),
    lines.CARD: marked("wear of the card"),
    DATABASE: marked("database"),
    lines.KEPT: marked("readings"),
    lines.BACKUP: marked("backup"),
    lines.DELIVERY: marked("messages"),
    lines.SENSORS: marked("sensors"),
    lines.VERSIONS: marked("versions"),
}
"""What each line of the report is called here."""


@router.get("/health")
def health(request: Request) -> Response:
    """Say in plain words how the watcher is, and what could not be read."""
    desk = desk_of(request)
    state = desk.history.health()
    report = wellness_of(request).report_on(state)
    return page(
        "health.html",
        title=_("Health of the watcher"),
        health=state,
        watched=bool(report.sensors),
        unwell=[(_(LABELS[name]), trouble) for name, trouble in report.unwell],
        lines=[(_(LABELS[line.name]), line.words, line.well) for line in report.lines],
        rejects=[
            (words.moment(reject.time, state.now, desk.zone), reject)
            for reject in desk.history.rejects(SHOWN_REJECTS)
        ],
        zone=desk.zone.key,
        addresses=told.lines(desk),
        tried=told.answer(desk, request.query_params),
    )


@router.get("/cautions")
def cautions() -> Response:
    """Say what can go wrong for people, not only for mushrooms."""
    return page("cautions.html", title=_("Cautions"))


@router.get("/problems")
def problem_kinds() -> Response:
    """Explain the kinds of problems the API answers."""
    return page(
        "problems.html", title=_("Problems the API can answer"), kinds=list(KINDS.values())
    )


@router.get("/favicon.svg")
def mark() -> Response:
    """Return the mark of the site."""
    return FileResponse(STATIC / "favicon.svg", media_type="image/svg+xml")


@router.get("/favicon.ico")
def mark_as_asked_for() -> Response:
    """Lead browsers that ask by habit to the drawn mark."""
    return RedirectResponse(static_url("favicon.svg"), status_code=308)
