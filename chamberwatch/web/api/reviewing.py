"""What can be asked of the past weeks: how well the reminders did, and how the air was."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from chamberwatch.web.api.etag import tagged
from chamberwatch.web.climate_shapes import ClimateOut
from chamberwatch.web.desk import climate_of, desk_of, reviewing_of
from chamberwatch.web.quality_shapes import QualityOut

router = APIRouter()

WEEKS_AT_MOST = 26
Week = Annotated[
    str, Query(max_length=20, description="such as 2026-W47 (ISO 8601); default: the present one")
]
Weeks = Annotated[int, Query(ge=1, le=WEEKS_AT_MOST, description="so many, up to that one")]


@router.get("/reminders/quality", response_model=QualityOut)
def quality(request: Request, week: Week = "", weeks: Weeks = 1) -> Response:
    """Tell how well the reminders did in a week, and what setting would calm the worst three."""
    return tagged(request, QualityOut.of(reviewing_of(desk_of(request)).weeks(week, weeks)))


@router.get("/chambers/{chamber}/week", response_model=ClimateOut)
def week_of_air(request: Request, chamber: str, week: Week = "") -> Response:
    """Tell how the air of a week was: time in band, worst spells, typical day, what to change."""
    return tagged(request, ClimateOut.of(climate_of(desk_of(request)).week(chamber, week)))
