"""How much to mist or vent now, and whether the air will hold."""

from typing import Annotated

from fastapi import APIRouter, Query, Request

from chamberwatch.core.errors import RefusedError
from chamberwatch.web import given
from chamberwatch.web.advice_shapes import AdviceOut, HoldOut
from chamberwatch.web.api.reading import ChamberName
from chamberwatch.web.desk import desk_of

router = APIRouter()


@router.get("/chambers/{name}/advice", response_model=AdviceOut)
def advice(request: Request, name: ChamberName) -> AdviceOut:
    """Tell what misting and venting would do now: how much, how long, what comes of it."""
    history = desk_of(request).history
    counsel = history.now(name).counsel
    if counsel is None:
        raise RefusedError(history.why_no_counsel(name))
    return AdviceOut.of(counsel)


@router.get("/chambers/{name}/hold", response_model=HoldOut)
def hold(
    request: Request,
    name: ChamberName,
    until: Annotated[
        given.GivenMoment | None,
        Query(description="ISO 8601 with zone, at most two days ahead; default: the next visit"),
    ] = None,
) -> HoldOut:
    """Tell whether humidity and CO2 stay in their bands until then, and what would make them."""
    return HoldOut.of(desk_of(request).history.hold(name, until))
