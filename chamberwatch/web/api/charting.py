"""What a chart shows: as small JSON for the page, and the same as CSV."""

import csv
import io
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from math import floor
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request, Response
from fastapi import Path as InPath
from pydantic import Field
from pydantic_core import to_json

from chamberwatch.core.errors import RefusedError
from chamberwatch.service.books import Span
from chamberwatch.service.chart import BandThen, Chart, ChartLine, Mark
from chamberwatch.web import given
from chamberwatch.web.api.etag import tagged_bytes
from chamberwatch.web.chart_shapes import ChartOut
from chamberwatch.web.desk import Desk, desk_of

router = APIRouter()

ChamberName = Annotated[str, InPath(max_length=200, description="name of the chamber")]

DEFAULT_SPAN: Final = timedelta(days=7)
DEFAULT: Final = "temperature_c,humidity_pct,co2_ppm,vpd_kpa,dew_point_c"
MOST_QUANTITIES: Final = 8
SAMPLE: Final = "time,quantity,unit,least,mean,most"

# No finer than a home sensor can tell, with one digit more where a mean of many has it.
DECIMALS: Final = {
    "temperature_c": 2,
    "humidity_pct": 1,
    "co2_ppm": 0,
    "pressure_pa": 0,
    "vpd_kpa": 3,
    "dew_point_c": 2,
    "wet_bulb_c": 2,
    "humidity_ratio_g_per_kg": 2,
}


class ChartQuery(given.Given):
    """Which stretch of which lines."""

    from_: given.GivenMoment | None = Field(
        default=None, alias="from", description="ISO 8601 with zone; default: a week before `to`"
    )
    to: given.GivenMoment | None = Field(
        default=None, description="ISO 8601 with zone, not included; default: now"
    )
    quantities: str = Field(
        default=DEFAULT, max_length=200, description="names as in /readings, with commas between"
    )
    points: int = Field(default=1000, ge=2, le=5000, description="of each line at most")

    def names(self) -> tuple[str, ...]:
        """Return the quantities asked for, each once."""
        said = (part.strip() for part in self.quantities.split(","))
        return tuple(dict.fromkeys(part for part in said if part))[:MOST_QUANTITIES]

    def span(self, desk: Desk) -> Span:
        """Return the stretch asked for."""
        end = self.to or desk.clock.now()
        return Span(self.from_ or end - DEFAULT_SPAN, end)


def _asked(request: Request, name: str, asked: ChartQuery) -> Chart:
    desk = desk_of(request)
    if desk.charting is None:
        raise RefusedError("Nothing is drawn here. Ask the daemon that takes readings.")
    return desk.charting.chart(name, asked.names(), asked.span(desk), asked.points)


@router.get("/chambers/{name}/chart", response_model=ChartOut)
def chart(request: Request, name: ChamberName, asked: Annotated[ChartQuery, Query()]) -> Response:
    """Return the lines of a chamber's air over any stretch, its bands, and what happened.

    Whatever the stretch, each line has at most so many points: single readings where they are
    few and of one sensor, else the least, mean and most of each step. A null is a gap.
    """
    return tagged_bytes(
        request, to_json(_written(_asked(request, name, asked))), "application/json"
    )


@router.get(
    "/chambers/{name}/chart.csv",
    response_class=Response,
    responses={200: {"content": {"text/csv": {"example": SAMPLE}}, "description": "the same"}},
)
def chart_csv(
    request: Request, name: ChamberName, asked: Annotated[ChartQuery, Query()]
) -> Response:
    """Return exactly what the chart shows as rows of CSV (RFC 4180), gaps as empty values."""
    found = _asked(request, name, asked)
    text = io.StringIO()
    write = csv.writer(text)
    write.writerow(SAMPLE.split(","))
    for line in found.lines:
        write.writerows(_rows(line))
    return tagged_bytes(request, text.getvalue().encode(), "text/csv; charset=utf-8")


def _written(found: Chart) -> dict[str, Any]:
    return {
        "chamber": found.chamber,
        "from": _iso(found.span.start),
        "to": _iso(found.span.end),
        "step_s": round(found.step.total_seconds()),
        "lines": [_line(line) for line in found.lines],
        "bands": [_band(band) for band in found.bands],
        "marks": [_mark(mark) for mark in found.marks],
        "nights": [[_iso(night.start), _iso(night.end)] for night in found.nights],
        "left_out": [_iso(left.start), _iso(left.end)] if (left := found.left_out) else None,
    }


def _line(line: ChartLine) -> dict[str, Any]:
    made: dict[str, Any] = {
        "quantity": line.quantity,
        "unit": line.unit,
        "at": [round(at) for at in line.at],
    }
    for name in ("least", "mean", "most"):
        made[name] = _rounded(line.quantity, getattr(line, name))
    return made


def _rounded(quantity: str, values: Sequence[float | None]) -> list[float | None]:
    # Not `round`, which is exact in the last bit and takes most of the time of an answer.
    parts = 10.0 ** DECIMALS[quantity]
    if parts == 1.0:
        return [None if value is None else floor(value + 0.5) for value in values]
    return [None if value is None else floor(value * parts + 0.5) / parts for value in values]


def _band(band: BandThen) -> dict[str, Any]:
    return {
        "quantity": band.quantity,
        "from": _iso(band.start),
        "to": _iso(band.end),
        "low": band.low,
        "high": band.high,
        "harm_low": band.harm_low,
        "harm_high": band.harm_high,
        "why": band.why,
    }


def _mark(mark: Mark) -> dict[str, Any]:
    return {
        "kind": mark.kind.value,
        "at": _iso(mark.at),
        "until": None if mark.until is None else _iso(mark.until),
        "word": mark.word,
        "text": mark.text,
    }


def _iso(time: datetime) -> str:
    return time.isoformat(timespec="seconds").replace("+00:00", "Z")


def _rows(line: ChartLine) -> Iterator[list[object]]:
    """Yield the rows of a line, with the figures of the JSON."""
    columns = [_rounded(line.quantity, c) for c in (line.least, line.mean, line.most)]
    for at, *values in zip(line.at, *columns, strict=True):
        time = datetime.fromtimestamp(round(at), UTC)
        yield [_iso(time), line.quantity, line.unit, *values]
