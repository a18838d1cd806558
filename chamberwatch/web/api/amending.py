"""Putting right what was told of deeds."""

from typing import Annotated, Any

from fastapi import APIRouter, Body, Request, Response
from pydantic import Field

from chamberwatch.core.watch.action import Amounts
from chamberwatch.service.amending import DeedTold
from chamberwatch.web import shapes
from chamberwatch.web.api.writing import VIA
from chamberwatch.web.desk import amending_of, desk_of
from chamberwatch.web.given import Given, GivenMoment, Id
from chamberwatch.web.growing_given import WithdrawIn
from chamberwatch.web.once import Key, once
from chamberwatch.web.problems import ProblemError

router = APIRouter()

_AMOUNTS = frozenset({"into_air_g", "standing_g", "vent_minutes"})


class DeedCorrectIn(Given):
    """What was wrong in a deed; what is not given stays. Of amounts all are told anew."""

    at: GivenMoment | None = Field(default=None, description="when it was done")
    note: str | None = Field(default=None, max_length=2000)
    into_air_g: float | None = Field(default=None, ge=0, le=5000)
    standing_g: float | None = Field(default=None, ge=0, le=50000)
    vent_minutes: float | None = Field(default=None, gt=0, le=1440)

    def told(self) -> DeedTold:
        """Return it as the log takes it.

        Raises:
            ProblemError: nothing is said.
        """
        if not self.model_fields_set:
            raise ProblemError(422, "not-valid", "Give at least one field that was wrong.")
        said = self.model_fields_set & _AMOUNTS
        amounts = Amounts(self.into_air_g, self.standing_g, self.vent_minutes) if said else None
        return DeedTold(self.at, self.note.strip() if self.note else self.note, amounts)


@router.post("/actions/{number}/correct", status_code=201, response_model=shapes.ActionOut)
def correct(request: Request, number: Id, given: DeedCorrectIn, key: Key = None) -> Response:
    """Put right what was told of a deed. The old one is kept as well; the answer is the new."""
    amending = amending_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        kept = amending.correct(number, given.told(), VIA)
        return 201, shapes.json_of(shapes.ActionOut.of(kept))

    return once(desk_of(request), request, key, do)


@router.post("/actions/{number}/withdraw", status_code=201, response_model=shapes.ActionOut)
def withdraw(
    request: Request,
    number: Id,
    given: Annotated[WithdrawIn | None, Body()] = None,
    key: Key = None,
) -> Response:
    """Say that a deed did not happen. It is kept as well; the answer is the withdrawal."""
    amending = amending_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        kept = amending.withdraw(number, given.note.strip() if given else "", VIA)
        return 201, shapes.json_of(shapes.ActionOut.of(kept))

    return once(desk_of(request), request, key, do)
