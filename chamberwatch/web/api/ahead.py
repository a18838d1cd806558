"""When limits will be reached, and how good such forecasts were."""

from fastapi import APIRouter, Request

from chamberwatch.core.errors import RefusedError
from chamberwatch.web.ahead_shapes import AheadOut
from chamberwatch.web.api.reading import ChamberName
from chamberwatch.web.desk import desk_of

router = APIRouter()


@router.get("/chambers/{name}/ahead", response_model=AheadOut)
def ahead(request: Request, name: ChamberName) -> AheadOut:
    """Tell which limits will be reached and when, and how good such forecasts were so far."""
    foreseeing = desk_of(request).foreseeing
    if foreseeing is None:
        raise RefusedError("Nobody looks ahead here. Ask the daemon that takes readings.")
    return AheadOut.of(foreseeing.ahead(name))
