"""The pages beside *Now*: how the watcher is, cautions, problems, and the mark of the site."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import FileResponse, RedirectResponse

from chamberwatch.web.desk import desk_of
from chamberwatch.web.pages import told, words
from chamberwatch.web.problems import KINDS
from chamberwatch.web.rendering import STATIC, page, static_url

router = APIRouter(include_in_schema=False)

SHOWN_REJECTS = 50


@router.get("/health")
def health(request: Request) -> Response:
    """Say in plain words how the watcher is, and what could not be read."""
    desk = desk_of(request)
    state = desk.history.health()
    ago = state.last_message_ago
    return page(
        "health.html",
        title="Health of the watcher",
        health=state,
        started=words.moment(state.started, state.now, desk.zone),
        heard=f"{words.span(ago)} ago" if ago is not None else "none since it started",
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
    return page("cautions.html", title="Cautions")


@router.get("/problems")
def problem_kinds() -> Response:
    """Explain the kinds of problems the API answers."""
    return page("problems.html", title="Problems the API can answer", kinds=list(KINDS.values()))


@router.get("/favicon.svg")
def mark() -> Response:
    """Return the mark of the site."""
    return FileResponse(STATIC / "favicon.svg", media_type="image/svg+xml")


@router.get("/favicon.ico")
def mark_as_asked_for() -> Response:
    """Lead browsers that ask by habit to the drawn mark."""
    return RedirectResponse(static_url("favicon.svg"), status_code=308)
