"""Invented weeks to be looked at, and data for their charts where the API has none."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Annotated

from fastapi import FastAPI, Query, Request
from fastapi.responses import JSONResponse, PlainTextResponse
from starlette.routing import Route

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.service.books import Span
from chamberwatch.service.chart import Chart, Mark, MarkKind
from chamberwatch.web.desk import charting_of, desk_of
from tests.fakes import HandClock
from tests.make import NOON, ROOM
from tests.web.desk_fakes import AIR, Played, calm_tent, chamber_now
from tests.web.lookback_fakes import FakeLookback
from tests.web.week_fakes import FakeCharting

CHART = "/api/v1/chambers/{name}/chart"


def usual_week(charting: FakeCharting | None = None) -> Played:
    """Return a tent with a year of readings behind it."""
    played = calm_tent()
    found = FakeLookback()
    played.desk = replace(played.desk, charting=charting or FakeCharting(), lookback=found)
    return played


def first_day() -> Played:
    """Return a tent whose first reading is five hours old."""
    return usual_week(FakeCharting(first=NOON - timedelta(hours=5), marks=()))


def never_read() -> Played:
    """Return a tent of which nothing was ever read."""
    return usual_week(FakeCharting(first=NOON + timedelta(days=9), marks=()))


def no_chamber() -> Played:
    """Return a house in which nothing was declared."""
    played = Played()
    played.desk = replace(played.desk, charting=FakeCharting({}))
    return played


def crowded_week() -> Played:
    """Return long names, many chambers, and far more marks than there is room for."""
    words = ("misted", "vented", "refilled", "cleaned")
    marks = tuple(
        Mark(MarkKind.DEED, NOON - timedelta(minutes=47 * n), None, words[n % 4], f"deed {n}")
        for n in range(300)
    ) + tuple(
        Mark(
            MarkKind.REMINDER,
            NOON - timedelta(hours=5 * n),
            NOON - timedelta(hours=5 * n - 3),
            "check the sensor",
            "The big shelving tent behind the cellar stairs: check the sensor",
        )
        for n in range(30)
    )
    long = "The big shelving tent behind the cellar stairs, left side row"
    others = {f"chamber-{n}": -3.0 * n for n in range(6)}
    played = usual_week(FakeCharting({"tent": 0.0, "room": -30.0, **others}, marks=marks))
    tent = Chamber("tent", long, Stage.FRUITING, 500.0, ("top", "bottom"), "room")
    played.put(chamber_now(tent, [], AIR))
    played.put(chamber_now(ROOM))
    for name in others:
        played.put(chamber_now(Chamber(name, f"{name} {long}"[:60], Stage.COLONISATION, 60.0)))
    played.desk = replace(played.desk, lookback=None)  # the invented one knows the tent alone
    return played


def clocks_change() -> Played:
    """Return the Sunday evening after the clocks went back, at one in the night."""
    sunday = datetime(2025, 10, 26, 20, 30, tzinfo=UTC)
    played = usual_week(FakeCharting(last=sunday))
    played.history.clock = played.clock = HandClock(sunday)
    played.desk = replace(played.desk, clock=played.clock)
    return played


WEEKS = {
    "usual": usual_week,
    "first-day": first_day,
    "never-read": never_read,
    "crowded": crowded_week,
    "clocks": clocks_change,
    "no-chamber": no_chamber,
}


def with_charts(app: FastAPI) -> None:
    """Give an application the data of charts, unless its API answers them already."""
    if any(isinstance(route, Route) and route.path == CHART for route in app.routes):
        return

    @app.get(CHART)
    def chart(
        request: Request,
        name: str,
        asked: Annotated[str, Query(alias="quantities")],
        start: Annotated[datetime, Query(alias="from")],
        end: Annotated[datetime, Query(alias="to")],
        points: int = 1000,
    ) -> JSONResponse:
        made = charting_of(desk_of(request)).chart(
            name, asked.split(","), Span(start, end), points
        )
        return JSONResponse(_shape(made))

    @app.get(f"{CHART}.csv")
    def csv(
        request: Request,
        name: str,
        asked: Annotated[str, Query(alias="quantities")],
        start: Annotated[datetime, Query(alias="from")],
        end: Annotated[datetime, Query(alias="to")],
        points: int = 1000,
    ) -> PlainTextResponse:
        made = charting_of(desk_of(request)).chart(
            name, asked.split(","), Span(start, end), points
        )
        return PlainTextResponse("".join(_rows(made)), media_type="text/csv")


def _rows(chart: Chart) -> Iterator[str]:
    yield "time,quantity,least,mean,most\r\n"
    for line in chart.lines:
        for at, *values in zip(line.at, line.least, line.mean, line.most, strict=True):
            told = ",".join("" if value is None else str(value) for value in values)
            yield f"{_iso(datetime.fromtimestamp(at, UTC))},{line.quantity},{told}\r\n"


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat().replace("+00:00", "Z")


def _shape(chart: Chart) -> dict[str, object]:
    return {
        "chamber": chart.chamber,
        "from": _iso(chart.span.start),
        "to": _iso(chart.span.end),
        "step_s": chart.step.total_seconds(),
        "lines": [
            {
                "quantity": line.quantity,
                "unit": line.unit,
                "at": line.at,
                "least": line.least,
                "mean": line.mean,
                "most": line.most,
            }
            for line in chart.lines
        ],
        "bands": [
            {
                "quantity": band.quantity,
                "from": _iso(band.start),
                "to": _iso(band.end),
                "low": band.low,
                "high": band.high,
                "harm_low": band.harm_low,
                "harm_high": band.harm_high,
                "why": band.why,
            }
            for band in chart.bands
        ],
        "marks": [
            {
                "kind": mark.kind.value,
                "at": _iso(mark.at),
                "until": _iso(mark.until),
                "word": mark.word,
                "text": mark.text,
            }
            for mark in chart.marks
        ],
        "nights": [[_iso(night.start), _iso(night.end)] for night in chart.nights],
    }
