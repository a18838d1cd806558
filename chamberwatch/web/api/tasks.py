"""What can be done today, the plan of starts, and both as a calendar."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from chamberwatch.core.growing.rotation.plan import MOST_WEEKS, WEEKS
from chamberwatch.web import calendar
from chamberwatch.web import growing_plan_shapes as shapes
from chamberwatch.web.api.etag import tagged, tagged_bytes
from chamberwatch.web.desk import desk_of, growing_of

router = APIRouter()

Weeks = Annotated[int, Query(ge=shapes.FEWEST_WEEKS, le=MOST_WEEKS, description="how far ahead")]


@router.get("/tasks", response_model=shapes.TasksOut)
def tasks(request: Request) -> Response:
    """List what can be done with the batches today, what spoils soonest first."""
    return tagged(request, shapes.TasksOut.of(growing_of(request).duties.tasks()))


@router.get("/rotation", response_model=shapes.RotationOut)
def rotation(request: Request, weeks: Weeks = WEEKS) -> Response:
    """Plan the starts for what the settings want."""
    planned = growing_of(request).rotating.plan(None, weeks)
    return tagged(request, shapes.RotationOut.of(planned))


@router.post("/rotation", response_model=shapes.RotationOut)
def what_if(request: Request, given: shapes.RotationIn) -> shapes.RotationOut:
    """Plan the starts for another wish; nothing is kept."""
    planned = growing_of(request).rotating.plan(given.asked(), given.weeks)
    return shapes.RotationOut.of(planned)


@router.get(
    "/calendar.ics",
    response_class=Response,
    responses={200: {"content": {"text/calendar": {"schema": {"type": "string"}}}}},
)
def feed(request: Request) -> Response:
    """Give windows, tasks and planned starts as a calendar to subscribe to (RFC 5545)."""
    content = calendar.feed(desk_of(request), growing_of(request))
    return tagged_bytes(request, content, calendar.MEDIA)
