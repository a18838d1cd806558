"""What can be told: deeds, reminders seen, reminders put off."""

from typing import Annotated, Any

from fastapi import APIRouter, Body, Request, Response

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.action import Amounts
from chamberwatch.web import shapes
from chamberwatch.web.desk import desk_of
from chamberwatch.web.given import AcknowledgeIn, ActionIn, Id, ShelveIn
from chamberwatch.web.once import Key, once
from chamberwatch.web.problems import ProblemError

router = APIRouter()

VIA = "api"


@router.post("/actions", status_code=201, response_model=shapes.ActionOut)
def act(request: Request, given: ActionIn, key: Key = None) -> Response:
    """Record what was done in a chamber."""
    desk = desk_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        said = Amounts(given.into_air_g, given.standing_g, given.vent_minutes)
        action = desk.logbook.act(
            given.chamber,
            given.kind,
            given.at,
            given.note.strip(),
            VIA,
            said if said.given() else None,
        )
        return 201, shapes.json_of(shapes.ActionOut.of(action))

    return once(desk, request, key, do)


@router.post("/reminders/{number}/acknowledge", response_model=shapes.ReminderOut)
def acknowledge(
    request: Request,
    number: Id,
    given: Annotated[AcknowledgeIn | None, Body()] = None,
    key: Key = None,
) -> Response:
    """Say that a reminder was seen."""
    desk = desk_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        try:
            reminder = desk.logbook.seen(number, given.episode if given else None, VIA)
        except RefusedError as exc:
            raise ProblemError(409, "conflict", str(exc)) from exc
        return 200, shapes.json_of(shapes.ReminderOut.of(reminder))

    return once(desk, request, key, do)


@router.post("/reminders/{number}/shelve", response_model=shapes.ReminderOut)
def shelve(request: Request, number: Id, given: ShelveIn, key: Key = None) -> Response:
    """Keep a reminder quiet for a while, at most 24 h."""
    desk = desk_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        reminder = desk.logbook.shelve(number, given.for_, VIA)
        return 200, shapes.json_of(shapes.ReminderOut.of(reminder))

    return once(desk, request, key, do)
