"""Answers from the page: plain forms, done once, leading back to the page."""

from collections.abc import Callable
from datetime import timedelta
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.watch.action import Deed
from chamberwatch.web.desk import Desk, desk_of
from chamberwatch.web.given import GivenMoment, Id
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.buttons import LATER

router = APIRouter(include_in_schema=False)

VIA = "page"
LONGEST_AGO_MIN = 7 * 24 * 60

Back = Annotated[str, Form(max_length=200)]
Once = Annotated[str, Form(min_length=8, max_length=64)]


def answered(desk: Desk, once: str, back: str, said: str, do: Callable[[], object]) -> Response:
    """Do what a form asks unless it was sent before, and lead back with a word about it."""
    fresh = first_time(desk, once, lambda: _discard(do()))
    place = f"/chamber/{quote(back, safe='')}" if back else "/"
    return RedirectResponse(f"{place}?said={said if fresh else 'twice'}", status_code=303)


def _discard(result: object) -> None:
    del result


@router.post("/did")
def did(  # noqa: PLR0913, PLR0917 - one argument for each field of the form
    request: Request,
    chamber: Annotated[str, Form(max_length=200)],
    kind: Annotated[Deed, Form()],
    once: Once,
    back: Back = "",
    note: Annotated[str, Form(max_length=2000)] = "",
    minutes_ago: Annotated[int, Form(ge=0, le=LONGEST_AGO_MIN)] = 0,
) -> Response:
    """Record a deed, now or some minutes ago."""
    desk = desk_of(request)
    at = desk.clock.now() - timedelta(minutes=minutes_ago) if minutes_ago else None
    one_tap = kind.value if not (note or minutes_ago) else "noted"
    said = one_tap if kind in (Deed.MISTED, Deed.VENTED, Deed.REFILLED) else "noted"
    return answered(
        desk, once, back, said, lambda: desk.logbook.act(chamber, kind, at, note.strip(), VIA)
    )


@router.post("/seen")
def seen(
    request: Request,
    number: Annotated[Id, Form()],
    once: Once,
    episode: Annotated[Id | None, Form()] = None,
    back: Back = "",
) -> Response:
    """Say that a reminder was seen."""
    desk = desk_of(request)
    return answered(desk, once, back, "seen", lambda: desk.logbook.seen(number, episode, VIA))


@router.post("/later")
def later(
    request: Request,
    number: Annotated[Id, Form()],
    until: Annotated[GivenMoment, Form()],
    once: Once,
    back: Back = "",
) -> Response:
    """Put a reminder off until the time the button named."""
    desk = desk_of(request)
    left = until - desk.clock.now()
    # The page may have lain open past the time it named; then half an hour from now is meant.
    wait = left if left > timedelta(minutes=1) else LATER
    return answered(desk, once, back, "later", lambda: desk.logbook.shelve(number, wait, VIA))
