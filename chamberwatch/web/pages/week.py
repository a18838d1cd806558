"""The page *Week*: the air of any stretch of time, linked on one axis, and what was done in it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated, Final
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Query, Request, Response

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.review import week as weeks
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.web.desk import Desk, charting_of, desk_of
from chamberwatch.web.event_signs import PATHS
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages import week_words
from chamberwatch.web.pages.chart_paper import NARROW, WIDE
from chamberwatch.web.pages.chart_scale import KINDS, PANELS, spread_of, unit_of
from chamberwatch.web.pages.chart_signs import LANES
from chamberwatch.web.pages.chart_svg import Beside, Scene, drawn
from chamberwatch.web.pages.typical_day import strips
from chamberwatch.web.pages.week_says import says
from chamberwatch.web.pages.week_span import (
    BEFORE,
    LENGTHS,
    LONGEST,
    SHORTEST,
    WEEK,
    Shown,
    asked_span,
    back_from,
    before_words,
    iso,
    newest_end,
    span_words,
    whole_week,
)
from chamberwatch.web.rendering import page, vendored

router = APIRouter(include_in_schema=False)

NOT_FOUND: Final = 404
NOT_VALID: Final = 422
POINTS: Final = 300
"""Of each line in the server's drawing; a script asks for as many as its window has room for."""
LOCAL: Final = "%Y-%m-%dT%H:%M"
"""What a field for date and time holds."""
KEPT_UNITS: Final = {
    "humidity_pct": "%",
    "temperature_c": "°C",
    "dew_point_c": "°C",
    "co2_ppm": "ppm",
    "vpd_kpa": "kPa",
}


@dataclass(frozen=True, slots=True)
class Link:
    """A step through time.

    Attributes:
        label: what is written on it.
        says: the same in full.
        address: where it leads; empty: nowhere, it goes no farther.
        here: this is what is shown.
    """

    label: str
    says: str
    address: str
    here: bool = False


Asked = Annotated[str, Query(max_length=40)]
Name = Annotated[str, Query(max_length=200)]


@router.get("/week")
def week(
    request: Request,
    chamber: Name = "",
    start: Annotated[str, Query(alias="from", max_length=40)] = "",
    end: Annotated[str, Query(alias="to", max_length=40)] = "",
    beside: Name = "",
) -> Response:
    """Show the air of a chamber over a stretch of time."""
    desk, figures = desk_of(request), figures_of(request)
    chambers = desk.history.chambers()
    if not chambers:
        return page("week.html", title=_("Week"), chambers=(), shown=None, zone=desk.zone.key)
    status, error = 200, ""
    now = desk.clock.now()
    names = {each.name: each for each in chambers}
    if chamber and chamber not in names:
        status, error = (
            NOT_FOUND,
            _("There is no chamber “%(chamber)s”. Choose one of these.", chamber=chamber),
        )
    try:
        span = asked_span(start, end, now, desk.zone)
    except RefusedError as exc:
        status, error = NOT_VALID, str(exc)
        span = back_from(newest_end(now), WEEK, desk.zone)
    own = names.get(chamber) or _first(chambers)
    other = beside if beside == BEFORE or (beside in names and beside != own.name) else ""
    shown = Shown(own.name, span, other, desk.zone, now)
    return page(
        "week.html",
        status,
        title=f"{own.title}: {span_words(span, desk.zone)}",
        chambers=chambers,
        shown=shown,
        error=error,
        own=own,
        zone=desk.zone.key,
        **_all_shown(desk, shown, names, figures),
    )


def _first(chambers: Sequence[Chamber]) -> Chamber:
    """Return the first chamber that something grows in; a room where there is none."""
    return next((c for c in chambers if c.stage is not None), chambers[0])


def _all_shown(
    desk: Desk, shown: Shown, names: dict[str, Chamber], figures: Figures
) -> dict[str, object]:
    """Return all that the template writes of what is shown."""
    charting, asked = charting_of(desk), list(KINDS)
    chart = charting.chart(shown.chamber, asked, shown.span, POINTS)
    scene = Scene(chart, _beside(desk, shown, names), figures)
    span = shown.span
    return {
        "words": span_words(span, desk.zone),
        "links": _links(shown),
        "beside_name": scene.beside.name if scene.beside else "",
        "others": [each for each in names.values() if each.name != shown.chamber],
        "before": (BEFORE, before_words(shown.length)),
        "start": f"{span.start.astimezone(desk.zone):{LOCAL}}",
        "end": f"{span.end.astimezone(desk.zone):{LOCAL}}",
        "narrow": drawn(scene, NARROW),
        "wide": drawn(scene, WIDE),
        "empty": week_words.never_read(chart),
        "summing_up": week_words.summing_up(chart, desk.zone),
        "days": week_words.happened(chart, figures),
        "left_out": max(0, len(chart.marks) - week_words.MOST_MARKS),
        "whose": week_words.whose(chart, desk.zone),
        "review": week_words.week_of_reminders(desk, span),
        "csv": _api(shown, "chart.csv", POINTS),
        **_figures_of_week(desk, shown, figures),
        "script": vendored("echarts.min.js"),
        "told": _told(shown, names, figures),
    }


def _figures_of_week(desk: Desk, shown: Shown, figures: Figures) -> dict[str, object]:
    """Return the figures of the calendar week that holds the last moment shown."""
    if desk.climate is None or names_a_room(desk, shown.chamber):
        return {"climate": None}
    last = min(shown.span.end, shown.now) - timedelta(microseconds=1)
    found = desk.climate.week(shown.chamber, weeks.of_moment(last, desk.zone).name)
    return {
        "climate": found,
        "days_of": week_words.calendar_week(found.week, over=found.over),
        "strips": strips(found.climate.day, figures),
        "figures": figures,
        "whole_week": whole_week(shown, found.week).address(),
    }


def names_a_room(desk: Desk, name: str) -> bool:
    """Tell whether nothing grows there, so that there is nothing to change either."""
    return all(c.stage is None for c in desk.history.chambers() if c.name == name)


def _beside(desk: Desk, shown: Shown, names: dict[str, Chamber]) -> Beside | None:
    """Return what is laid beside, begun together with what is shown."""
    if not shown.beside:
        return None
    first = [panel[0] for panel in PANELS]
    charting = charting_of(desk)
    if shown.beside == BEFORE:
        before = shown.before()
        chart = charting.chart(shown.chamber, first, before, POINTS)
        return Beside(chart, shown.span.start - before.start, before_words(shown.length))
    chart = charting.chart(shown.beside, first, shown.span, POINTS)
    return Beside(chart, shown.span.start - shown.span.start, names[shown.beside].title)


def _links(shown: Shown) -> dict[str, Link]:
    """Return the steps by what they do: each length, closer and farther, earlier, later, now."""
    later = "" if shown.is_newest else shown.moved(1).address()
    newest = Shown(
        shown.chamber,
        back_from(newest_end(shown.now), shown.length, shown.zone),
        shown.beside,
        shown.zone,
        shown.now,
    )
    now = "" if shown.is_newest else newest.address()
    return {
        **{name: _length(shown, name, length) for name, length in LENGTHS},
        "closer": Link(
            _("come closer"), _("Come closer: half of this time"), _about(shown, shown.length / 2)
        ),
        "farther": Link(
            _("step back"), _("Step back: twice this time"), _about(shown, shown.length * 2)
        ),
        "earlier": Link(
            _("earlier"), _("Earlier: the time before this"), shown.moved(-1).address()
        ),
        "later": Link(_("later"), _("Later: the time after this"), later),
        "now": Link(_("up to now"), _("Up to now"), now),
    }


LENGTH_WORDS: Final = {
    "hour": (marked("an hour"), marked("Show an hour")),
    "day": (marked("a day"), marked("Show a day")),
    "week": (marked("a week"), marked("Show a week")),
    "month": (marked("a month"), marked("Show a month")),
    "year": (marked("a year"), marked("Show a year")),
}


def _length(shown: Shown, name: str, length: timedelta) -> Link:
    label, says = (_(words) for words in LENGTH_WORDS[name])
    here = abs(shown.length - length) < length / 20
    return Link(label, says, shown.long(length).address(), here)


def _about(shown: Shown, length: timedelta) -> str:
    """Return where another length is shown; empty where it is no other: as far as it goes."""
    seconds = timedelta(seconds=length // timedelta(seconds=1))
    kept = min(LONGEST, max(SHORTEST, seconds))
    return "" if kept == shown.length else shown.long(kept).address()


def _api(shown: Shown, what: str, points: int) -> str:
    asked = {
        "from": iso(shown.span.start),
        "to": iso(shown.span.end),
        "quantities": ",".join(KINDS),
        "points": points,
    }
    name = quote(shown.chamber, safe="")
    return f"/api/v1/chambers/{name}/{what}?{urlencode(asked, safe=',:')}"


def _told(shown: Shown, names: dict[str, Chamber], figures: Figures) -> dict[str, object]:
    """Return what the script is told: what is shown, in which units and words."""
    shown_in = figures.shown_in
    return {
        "chamber": shown.chamber,
        "titles": {each.name: each.title for each in names.values()},
        "from": iso(shown.span.start),
        "to": iso(shown.span.end),
        "now": iso(shown.now),
        "beside": shown.beside,
        "before": BEFORE,
        "zone": shown.zone.key,
        "says": says(),
        "order": list(KINDS),
        "panels": PANELS,
        "signs": dict(PATHS),
        "lanes": [[_(name), sorted(kind.value for kind in kinds)] for name, kinds in LANES],
        "kinds": {
            name: {
                "label": kind.label,
                "short": kind.short or kind.label,
                "unit": unit_of(name, KEPT_UNITS[name], shown_in),
                "decimals": kind.decimals,
                "leastSpread": spread_of(name, shown_in),
                "floor": kind.floor,
                "ceiling": kind.ceiling,
            }
            for name, kind in KINDS.items()
        },
        "comma": figures.comma,
        "fahrenheit": shown_in.temperature_of(0.0) != 0.0,
        "lengths": {name: length.total_seconds() for name, length in LENGTHS},
    }
