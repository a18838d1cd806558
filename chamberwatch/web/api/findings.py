"""What was found in the record: mistings, ventings, air changes; and whether it is right."""

from datetime import timedelta
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.found import Kind
from chamberwatch.service.books import Span
from chamberwatch.web import findings_shapes as shapes
from chamberwatch.web import given
from chamberwatch.web.api.etag import tagged
from chamberwatch.web.api.reading import ChamberName
from chamberwatch.web.asks import Lookback
from chamberwatch.web.desk import Desk, desk_of
from chamberwatch.web.once import Key, once
from chamberwatch.web.problems import ProblemError
from chamberwatch.web.shapes import json_of

router = APIRouter()

DEFAULT_SPAN: Final = timedelta(days=7)


class FindingsQuery(given.Given):
    """Which stretch of the record."""

    from_: given.GivenMoment | None = Field(
        default=None, alias="from", description="ISO 8601 with zone; default: 7 days before `to`"
    )
    to: given.GivenMoment | None = Field(
        default=None, description="ISO 8601 with zone, not included; default: now"
    )
    limit: int = Field(default=200, ge=1, le=5000, description="at most so many, the newest")

    def span(self, desk: Desk) -> Span:
        """Return the stretch of time that is asked for.

        Raises:
            ProblemError: it ends before it begins.
        """
        end = self.to or desk.clock.now()
        start = self.from_ or end - DEFAULT_SPAN
        if start >= end:
            raise ProblemError(422, "not-valid", "`from` must lie before `to`. Swap them.")
        return Span(start, end)


def _lookback(desk: Desk) -> Lookback:
    if desk.lookback is None:
        raise RefusedError("Nobody looks back here. Ask the daemon that takes readings.")
    return desk.lookback


Asked = Annotated[FindingsQuery, Query()]


@router.get("/chambers/{name}/mistings", response_model=shapes.MistingsOut)
def mistings(request: Request, name: ChamberName, asked: Asked) -> Response:
    """List what looks like a misting, newest first, and how long each held."""
    desk = desk_of(request)
    found = _lookback(desk).mistings(name, asked.span(desk), asked.limit)
    return tagged(request, shapes.MistingsOut.of(name, found))


@router.get("/chambers/{name}/air-changes", response_model=shapes.AirChangesOut)
def air_changes(request: Request, name: ChamberName, asked: Asked) -> Response:
    """List air changes fitted to the CO2, and ventings, newest first; and the best figure."""
    desk = desk_of(request)
    found = _lookback(desk).air_changes(name, asked.span(desk), asked.limit)
    return tagged(request, shapes.AirChangesOut.of(name, found))


@router.post("/chambers/{name}/mistings/{number}/answer", response_model=shapes.MistingOut)
def answer_misting(
    request: Request, name: ChamberName, number: given.Id, told: shapes.WasItIn, key: Key = None
) -> Response:
    """Say whether it was a misting; one that was none is not learnt from any more."""
    desk = desk_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        shown = _lookback(desk).answer(name, Kind.MISTING, number, was_it=told.was_it)
        return 200, json_of(shapes.MistingOut.of(shown))

    return once(desk, request, key, do)


@router.post(
    "/chambers/{name}/air-changes/ventings/{number}/answer", response_model=shapes.VentingOut
)
def answer_venting(
    request: Request, name: ChamberName, number: given.Id, told: shapes.WasItIn, key: Key = None
) -> Response:
    """Say whether it was a venting; one that was none is not learnt from any more."""
    desk = desk_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        shown = _lookback(desk).answer(name, Kind.VENTING, number, was_it=told.was_it)
        return 200, json_of(shapes.VentingOut.of(shown))

    return once(desk, request, key, do)
