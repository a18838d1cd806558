"""What was done, and what came of it."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from chamberwatch.web.api.etag import tagged
from chamberwatch.web.deed_shapes import ActionsOut
from chamberwatch.web.desk import desk_of

router = APIRouter()


@router.get("/actions", response_model=ActionsOut)
def actions(
    request: Request,
    chamber: Annotated[
        str | None, Query(max_length=200, description="of this chamber; default: of all")
    ] = None,
    limit: Annotated[int, Query(ge=1, le=200, description="at most so many, the newest")] = 50,
) -> Response:
    """List what was done, newest first, and what came of each."""
    return tagged(request, ActionsOut.of(desk_of(request).history.actions(chamber, limit)))
