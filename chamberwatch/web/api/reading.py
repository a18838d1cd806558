"""What can be asked: chambers, air, readings, reminders and their moves, rejects, health."""

from datetime import timedelta
from typing import Annotated, Final

from fastapi import APIRouter, Query, Request, Response
from fastapi import Path as InPath
from pydantic import Field

from chamberwatch.core.air.derived import DERIVED
from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.watch.reminder import State
from chamberwatch.service.books import Span
from chamberwatch.service.views import SeriesPage, SeriesPoint
from chamberwatch.web import given, shapes
from chamberwatch.web.air_shapes import AirOut
from chamberwatch.web.api import cursor as cursors
from chamberwatch.web.api.etag import tagged
from chamberwatch.web.desk import Desk, desk_of, wellness_of
from chamberwatch.web.health_shapes import HealthOut
from chamberwatch.web.problems import ProblemError

router = APIRouter()

DEFAULT_SPAN: Final = timedelta(hours=24)
QUANTITIES: Final = (
    "temperature_c, humidity_pct, co2_ppm, pressure_pa, dew_point_c, vpd_kpa, wet_bulb_c, "
    "humidity_ratio_g_per_kg; or temperature, humidity, co2, pressure, battery"
)

ChamberName = Annotated[str, InPath(max_length=200, description="name of the chamber")]
Limit = Annotated[int, Query(ge=1, le=5000, description="at most so many rows")]


class ReadingsQuery(given.Given):
    """Which readings."""

    chamber: str = Field(max_length=200, description="name of the chamber")
    quantity: str = Field(max_length=64, description=QUANTITIES)
    from_: given.GivenMoment | None = Field(
        default=None, alias="from", description="ISO 8601 with zone; default: 24 h before `to`"
    )
    to: given.GivenMoment | None = Field(
        default=None, description="ISO 8601 with zone, not included; default: now"
    )
    step: given.GivenDuration | None = Field(
        default=None, description="ISO 8601 duration such as PT15M; without it: raw readings"
    )
    cursor: str | None = Field(
        default=None, max_length=400, description="`next` of the page before"
    )
    limit: int = Field(default=500, ge=1, le=5000)

    def span(self, desk: Desk) -> Span:
        """Return the stretch of time that is asked for; a cursor carries its own.

        Raises:
            ProblemError: it ends before it begins.
        """
        if self.cursor is not None:
            return cursors.read(self.cursor, self.chamber, self.quantity, self.step)
        end = self.to or desk.clock.now()
        start = self.from_ or end - DEFAULT_SPAN
        if start >= end:
            raise ProblemError(422, "not-valid", "`from` must lie before `to`. Swap them.")
        return Span(start, end)


@router.get("/chambers", response_model=shapes.ChambersOut)
def chambers(request: Request) -> shapes.ChambersOut:
    """List the chambers and rooms."""
    known = desk_of(request).history.chambers()
    return shapes.ChambersOut(chambers=[shapes.ChamberOut.of(chamber) for chamber in known])


@router.get("/chambers/{name}/air", response_model=AirOut)
def air(request: Request, name: ChamberName) -> Response:
    """Tell the air of a chamber now, each value held against its band."""
    return tagged(request, AirOut.of(desk_of(request).history.now(name)))


@router.get("/readings", response_model=shapes.ReadingsOut)
def readings(
    request: Request,
    asked: Annotated[ReadingsQuery, Query()],
) -> Response:
    """Return readings as they were sent, or summed up in steps."""
    desk = desk_of(request)
    span = asked.span(desk)
    found = desk.history.series(asked.chamber, asked.quantity, span, asked.step, asked.limit)
    more = None
    if found.next_from is not None:
        rest = Span(found.next_from, span.end)
        more = cursors.make(rest, asked.chamber, asked.quantity, asked.step)
    return tagged(request, _written(found, asked.step, more))


DECIMALS: Final = 4
"""Of what is reckoned: finer than any sensor. What a sensor sent stays as it was sent."""


def _row(point: SeriesPoint, *, reckoned: bool) -> shapes.RowOut:
    value = round(point.mean, DECIMALS) if reckoned else point.mean
    return shapes.RowOut(time=point.time, sensor=point.sensor, value=value)


def _bucket(point: SeriesPoint, *, reckoned: bool) -> shapes.BucketOut:
    least, most = point.least, point.most
    if reckoned:
        least, most = round(least, DECIMALS), round(most, DECIMALS)
    return shapes.BucketOut(
        time=point.time, min=least, mean=round(point.mean, DECIMALS), max=most, count=point.count
    )


def _written(found: SeriesPage, step: timedelta | None, more: str | None) -> shapes.ReadingsOut:
    write = _row if step is None else _bucket
    reckoned = found.quantity in DERIVED
    return shapes.ReadingsOut(
        chamber=found.chamber,
        quantity=found.quantity,
        unit=found.unit,
        step_s=step.total_seconds() if step else None,
        rows=[write(point, reckoned=reckoned) for point in found.points],
        next=more,
    )


@router.get("/reminders", response_model=shapes.RemindersOut)
def reminders(
    request: Request, state: Annotated[list[State] | None, Query()] = None
) -> shapes.RemindersOut:
    """List reminders, of some states where given (the parameter may be repeated)."""
    found = desk_of(request).history.reminders(frozenset(state) if state else None)
    return shapes.RemindersOut(
        reminders=[shapes.ReminderNowOut.with_words(shown) for shown in found]
    )


@router.get("/reminders/{number}/moves", response_model=shapes.MovesOut)
def moves(
    request: Request,
    number: given.Id,
    after: Annotated[int, Query(ge=0, le=given.BIGGEST_ID)] = 0,
    limit: Limit = 200,
) -> shapes.MovesOut:
    """Return the life of a reminder, oldest move first."""
    history = desk_of(request).history
    found = history.moves(number, after, limit)
    if not found and number not in {each.reminder.id for each in history.reminders(None)}:
        raise UnknownNameError(f"There is no reminder {number}. Ask for the list of reminders.")
    return shapes.MovesOut(moves=[shapes.MoveOut.of(own, move) for own, move in found])


@router.get("/rejects", response_model=shapes.RejectsOut)
def rejects(
    request: Request, limit: Annotated[int, Query(ge=1, le=200)] = 200
) -> shapes.RejectsOut:
    """Return the messages that could not be taken in, newest first, and how many there were."""
    history = desk_of(request).history
    return shapes.RejectsOut(
        count=history.reject_count(),
        rejects=[shapes.RejectOut.of(reject) for reject in history.rejects(limit)],
    )


@router.get("/health", response_model=HealthOut)
def health(request: Request) -> HealthOut:
    """Tell how the watcher itself is doing, and what of all that it needs is unwell."""
    state = desk_of(request).history.health()
    return HealthOut.told(state, wellness_of(request).report_on(state))
