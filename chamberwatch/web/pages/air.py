"""The page *Air*: a psychrometric chart of a chamber, with what is known and what would come."""

import json
from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import quote

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse

from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.views import ChamberNow
from chamberwatch.web import words
from chamberwatch.web.desk import Desk, desk_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.air_axes import HEIGHT, WIDTH
from chamberwatch.web.pages.air_points import (
    Spot,
    Trust,
    misting,
    spot_now,
    spot_room,
    towards_room,
    venting,
)
from chamberwatch.web.pages.air_verdict import (
    Bands,
    Verdict,
    bands_of,
    follows,
    limits_of,
    says,
    verdict,
)
from chamberwatch.web.pages.airchart import AirChart, Subject, chart_of
from chamberwatch.web.pages.grows import stage_words
from chamberwatch.web.pages.holding import Holding, holding, not_told, size_address
from chamberwatch.web.pages.trail import trail
from chamberwatch.web.rendering import page
from chamberwatch.web.words import GAP

router = APIRouter(include_in_schema=False)

UNMEASURED: Final = marked("Known once a sensor of temperature and humidity hangs here.")
NOT_NOW: Final = marked(
    "Not while the values are old: what would come of it follows from the air now."
)


@dataclass(frozen=True, slots=True)
class Row:
    """A named point in words; `old` is struck out."""

    name: str
    air: str
    follows: str
    note: str
    verdict: Verdict
    old: bool


@dataclass(frozen=True, slots=True)
class Leads:
    """Where a deed leads, in words; where nowhere, why. `size`: as of `Holding`."""

    name: str
    words: str
    size: str = ""


@dataclass(frozen=True, slots=True)
class AirSheet:
    """All that the page shows of one chamber."""

    chamber: Chamber
    stage: str
    as_of: str
    old: str
    missing: str
    bare: bool
    chart: AirChart
    described: str
    rows: tuple[Row, ...]
    leads: tuple[Leads, ...]
    hold: Holding | None
    walls: str
    pressure: str
    reads: str


def chosen(desk: Desk, name: str | None) -> str | None:
    """Return which chamber is shown: the one asked for, else the first in which anything grows.

    Raises:
        UnknownNameError: no such chamber.
    """
    if name:
        return desk.history.now(name).chamber.name
    chambers = desk.history.chambers()
    first = next((each for each in chambers if each.stage is not None), None)
    return first.name if first else next((each.name for each in chambers), None)


def air_sheet(desk: Desk, name: str, figures: Figures) -> AirSheet:
    """Put together what the page shows of a chamber."""
    shown, now = desk.history.now(name), desk.clock.now()
    chamber = shown.chamber
    around = desk.history.now(chamber.surrounding) if chamber.surrounding else None
    here, bands = spot_now(shown, now), bands_of(chamber)
    fresh = here is not None and here.trust is not Trust.OLD
    counsel = shown.counsel if fresh else None
    subject = Subject(
        pressure_pa=shown.pressure_pa,
        bands=bands,
        now=here,
        spread=shown.spread,
        room=spot_room(around, shown, now),
        misted=misting(counsel, figures) if counsel else None,
        vented=venting(counsel, figures) if counsel else None,
        to_room=towards_room(counsel) if counsel else (),
        margin=shown.margin if fresh else None,
        trail=trail(desk.history, name, now),
        at=now,
    )
    rows = tuple(_rows(subject, bands_of(around.chamber) if around else None, figures))
    return AirSheet(
        chamber=chamber,
        stage=stage_words(chamber),
        as_of=words.moment(shown.time, now, desk.zone) if shown.time else "",
        old=here.note if here is not None and here.trust is Trust.OLD else "",
        missing="" if here is not None else _missing(shown),
        bare=not shown.sensors,
        chart=chart_of(subject, figures),
        described=". ".join(_described(rows, subject)) + ".",
        rows=rows,
        leads=tuple(_leads(desk, shown, fresh=fresh)) if chamber.stage else (),
        hold=holding(desk, shown) if counsel else None,
        walls=_walls(subject, figures),
        pressure=_pressure(shown, figures),
        reads=_reads(shown, bands, figures),
    )


def _missing(shown: ChamberNow) -> str:
    if not shown.sensors:
        return _("No sensor hangs here yet, so nothing is known of its air.")
    if all(each.heard_ago is None for each in shown.sensors):
        return _("Nothing heard yet. Once the first message arrives, the air is marked here.")
    return _("No sensor here gives temperature and humidity together, so the air can't be marked.")


def _rows(subject: Subject, around: Bands | None, figures: Figures) -> list[Row]:
    rows = [_row(subject.now, subject.bands, figures)] if subject.now else []
    ways = [way.spot for way in (subject.misted, subject.vented) if way is not None]
    rows += [_row(spot, subject.bands, figures) for spot in ways]
    if subject.room is not None:
        rows.append(_row(subject.room, around or Bands(None, None), figures))
    return rows


def _row(spot: Spot, bands: Bands, figures: Figures) -> Row:
    air = spot.air
    return Row(
        name=spot.name,
        air=f"{figures.temperature(air.temperature_c)}, "
        f"{figures.number(air.humidity_pct, 0)}{GAP}%",
        follows=follows(air, figures),
        note=spot.note,
        verdict=verdict(air.temperature_c, air.humidity_pct, bands, figures),
        old=spot.trust is Trust.OLD,
    )


def _leads(desk: Desk, shown: ChamberNow, *, fresh: bool) -> list[Leads]:
    """Say what a misting and a venting would do; where it can't be reckoned, why."""
    counsel = shown.counsel
    if not shown.sensors:
        return [Leads(_("a misting or a venting"), _(UNMEASURED))]
    if counsel is None:
        chamber = shown.chamber
        size = size_address(chamber)
        why = not_told(desk, chamber) if size else desk.history.why_no_counsel(chamber.name)
        return [Leads(_("a misting or a venting"), why, size)]
    if not fresh:
        return [Leads(_("a misting or a venting"), _(NOT_NOW))]
    no_co2 = _("CO₂ isn't measured or has no limit here, so nothing is said of venting.")
    no_humidity = _("Humidity has no band here, so there is nothing to mist for.")
    return [
        Leads(_("a misting"), counsel.mist_words or no_humidity),
        Leads(_("a venting"), counsel.vent_words or no_co2),
    ]


def _walls(subject: Subject, figures: Figures) -> str:
    margin = subject.margin
    if margin is None:
        return ""
    by = figures.margin(abs(margin.margin_k))
    off = figures.margin(max(margin.spread_k, 0.1))
    dew = figures.temperature(margin.surface_c - margin.margin_k)
    side = _("above") if margin.margin_k > 0.0 else _("below")
    said = _(
        "The coldest surface is at %(at)s, %(by)s %(side)s the dew point of %(dew)s, "
        "give or take %(off)s",
        at=figures.temperature(margin.surface_c),
        by=by,
        side=side,
        dew=dew,
        off=off,
    )
    if not margin.certain:
        return _("%(said)s: too close to tell. Look whether there are drops.", said=said)
    return f"{said}: {_('it is wet') if margin.wet else _('it stays dry')}."


def _pressure(shown: ChamberNow, figures: Figures) -> str:
    measured = any(Quantity.PRESSURE in each.readings for each in shown.sensors)
    kpa = figures.number(shown.pressure_pa / 1000.0, 1)
    return _(
        "%(kpa)s\N{NO-BREAK SPACE}kPa, %(what)s",
        kpa=kpa,
        what=_("measured") if measured else _("from the altitude of the site"),
    )


def _described(rows: tuple[Row, ...], subject: Subject) -> list[str]:
    said = [
        f"{row.name}: {row.air}, {row.note or row.verdict.words}".replace(GAP, " ") for row in rows
    ]
    said.append(
        _("a trail of %(number)s quarters of an hour in the last day", number=len(subject.trail))
    )
    return said


def _reads(shown: ChamberNow, bands: Bands, figures: Figures) -> str:
    """Return what the script needs to read a point: how figures are written, limits, words."""
    return json.dumps(
        {
            "pressure": shown.pressure_pa,
            "fahrenheit": figures.shown_in.temperature.value == "°F",
            "comma": figures.comma,
            "limits": limits_of(bands),
            "judged": bands.judged,
            "says": says(),
        },
        ensure_ascii=False,
    )


def _render(request: Request, template: str, name: str | None) -> HTMLResponse:
    desk, figures = desk_of(request), figures_of(request)
    shown = chosen(desk, name)
    now = desk.clock.now()
    return page(
        template,
        title=_("Air"),
        sheet=air_sheet(desk, shown, figures) if shown else None,
        chambers=desk.history.chambers(),
        size=(WIDTH, HEIGHT),
        unit=figures.shown_in.temperature.value,
        said=figures.said,
        drawn=words.moment(now, now, desk.zone),
        zone=desk.zone.key,
        part=f"/part/air?chamber={quote(shown, safe='')}" if shown else "/part/air",
    )


Asked = Annotated[str | None, Query(max_length=200)]


@router.get("/air")
def air(request: Request, chamber: Asked = None) -> Response:
    """Show the chart of one chamber."""
    return _render(request, "air.html", chamber)


@router.get("/part/air")
def part_air(request: Request, chamber: Asked = None) -> Response:
    """Return the changing part of the page, for the live view."""
    return _render(request, "air_part.html", chamber)
