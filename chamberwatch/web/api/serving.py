"""Reminders out of service, and back in it."""

from typing import Any

from fastapi import APIRouter, Request, Response

from chamberwatch.service.out_of_service import Reason
from chamberwatch.web import shapes
from chamberwatch.web.api.writing import VIA
from chamberwatch.web.desk import desk_of, serving_of
from chamberwatch.web.given import Id, InServiceIn, OutOfServiceIn
from chamberwatch.web.once import Key, once

router = APIRouter()


@router.post("/reminders/{number}/out-of-service", response_model=shapes.ReminderOut)
def take_out(request: Request, number: Id, given: OutOfServiceIn, key: Key = None) -> Response:
    """Take a reminder out of service: judged as before, and never told until it is put back."""
    serving = serving_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        reason = Reason(given.why, given.who, given.until)
        reminder = serving.take_out(number, reason, VIA)
        return 200, shapes.json_of(shapes.ReminderOut.of(reminder))

    return once(desk_of(request), request, key, do)


@router.post("/reminders/{number}/in-service", response_model=shapes.ReminderOut)
def put_back(request: Request, number: Id, given: InServiceIn, key: Key = None) -> Response:
    """Put a reminder back in service; where its cause holds, it is told."""
    serving = serving_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        reminder = serving.put_back(number, given.who, VIA)
        return 200, shapes.json_of(shapes.ReminderOut.of(reminder))

    return once(desk_of(request), request, key, do)
