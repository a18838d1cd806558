"""The page that looks back on a week of reminders: figures, and what would calm the worst."""

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from chamberwatch.core import review_words
from chamberwatch.core.errors import RefusedError
from chamberwatch.service.reviewing import WeekReview
from chamberwatch.web.desk import desk_of, reviewing_of
from chamberwatch.web.figures import figures_of
from chamberwatch.web.language import _
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False)


@router.get("/reminders")
def reminders(
    request: Request,
    week: Annotated[str, Query(max_length=20, description="such as 2026-W47")] = "",
) -> Response:
    """Say in plain words how well the reminders did in a week."""
    desk = desk_of(request)
    looked, error = reviewing_of(desk), ""
    try:
        (shown,) = looked.weeks(week)
    except RefusedError as exc:
        error = str(exc)
        (shown,) = looked.weeks()
    return _page(request, shown, error)


def _page(request: Request, shown: WeekReview, error: str) -> Response:
    desk, written = desk_of(request), figures_of(request)
    return page(
        "reminders.html",
        NOT_VALID if error else 200,
        title=_("How well the reminders do"),
        error=error,
        shown=shown,
        days=review_words.days(shown.week),
        empty=review_words.silent(shown.quality),
        figures=[
            (label, written.said(said))
            for label, said in review_words.figures(shown.quality, shown.titles)
        ],
        about=list(zip(shown.quality.by_cause, shown.causes, strict=True)),
        before=shown.week.later(-1).name,
        after=shown.week.later(1).name if shown.over else "",
        zone=desk.zone.key,
    )
