"""The page *Now*: the drawing of the tent is the page."""

import re
from dataclasses import replace
from typing import Annotated, Final
from urllib.parse import quote

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse

from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.service.views import ChamberNow
from chamberwatch.web import words
from chamberwatch.web.desk import Desk, desk_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.language import _, marked, ngettext
from chamberwatch.web.pages.sheet import Sheet, sheet
from chamberwatch.web.rendering import page

router = APIRouter(include_in_schema=False)

# What a form did, said once on the page it leads back to. Only these words can be called up by
# an address, so a link from elsewhere can't put words on the page.
SAID: Final[dict[str, str]] = {
    "misted": marked("Noted: misted just now."),
    "vented": marked("Noted: vented just now."),
    "refilled": marked("Noted: refilled just now."),
    "noted": marked("Noted."),
    "seen": marked("Noted: seen."),
    "later": marked("Put off. It will be asked again then if it is still so."),
    "it-was": marked("Noted. It counts from now on."),
    "it-was-not": marked("Noted: it was none. Nothing is learnt from it."),
    "grew": marked("Noted in the growing record."),
    "out": marked(
        "Out of service. It goes on being judged, but nobody is told until it is put back."
    ),
    "in": marked("Back in service."),
    "minded": marked("Noted who has seen it. It comes back when there is more to mind."),
    "twice": marked("That was noted already; it was not noted a second time."),
}


_UNIT: Final = re.compile(r"(?<=\d) (?=(?:%|°C|°F|ppm|kPa|K|g|kg|oz|min|h|s)(?!\w))")


def sheets(desk: Desk, figures: Figures, only: str | None) -> list[Sheet]:
    """Return one sheet, or those of all chambers; a room is shown with what stands in it."""
    history = desk.history
    if only is not None:
        shown = history.now(only)
        return [sheet(desk, figures, shown, _around(desk, shown.chamber), whole=False)]
    chambers = history.chambers()
    surrounding = {chamber.surrounding for chamber in chambers}
    rooms_told: set[str] = set()
    made = []
    for chamber in chambers:
        if chamber.stage is None and chamber.name in surrounding:
            continue
        around = _around(desk, chamber)
        if around is not None and around.chamber.name in rooms_told:
            around = _quiet(around)
        elif around is not None:
            rooms_told.add(around.chamber.name)
        made.append(sheet(desk, figures, history.now(chamber.name), around, whole=True))
    return made


def _around(desk: Desk, chamber: Chamber) -> ChamberNow | None:
    return desk.history.now(chamber.surrounding) if chamber.surrounding else None


def _quiet(room: ChamberNow) -> ChamberNow:
    """Return a room without its reminders: two tents in it would show them twice."""
    return replace(room, reminders=())


def _watcher(desk: Desk) -> str:
    """Say in one line what is wrong with the watcher itself, if anything."""
    health = desk.history.health()
    if not health.well:
        first = health.troubles[0] if health.troubles else _("Something is not as it should be.")
        more = len(health.troubles) - 1
        return _("%(first)s (and %(more)s more)", first=first, more=more) if more > 0 else first
    if health.rejects:
        return ngettext(
            "%(num)s message of sensors could not be read.",
            "%(num)s messages of sensors could not be read.",
            health.rejects,
        )
    return ""


def _held_together(said: str) -> str:
    """Let no line begin with the unit of the number at the end of the line before."""
    return _UNIT.sub(words.GAP, said)


def _render(
    request: Request, template: str, only: str | None, said: str | None = None
) -> HTMLResponse:
    desk, figures = desk_of(request), figures_of(request)
    made = sheets(desk, figures, only)
    now = desk.clock.now()
    loud = [each for one in made for each in one.asked if each.asks]
    return page(
        template,
        sheets=made,
        chambers=desk.history.chambers() if only else (),
        written=lambda said: _held_together(figures.said(said)),
        only=only,
        said=_(SAID.get(said or "", "")),
        watcher=_watcher(desk),
        title=loud[0].title if loud else _("Now"),
        drawn=words.moment(now, now, desk.zone),
        zone=desk.zone.key,
        part=f"/part/chamber/{quote(only, safe='')}" if only else "/part/now",
    )


Said = Annotated[str | None, Query(max_length=20)]


@router.get("/")
def now(request: Request, said: Said = None) -> Response:
    """Show all chambers."""
    return _render(request, "now.html", None, said)


@router.get("/chamber/{name}")
def chamber_now(request: Request, name: str, said: Said = None) -> Response:
    """Show one chamber."""
    return _render(request, "now.html", name, said)


@router.get("/part/now")
def part_now(request: Request) -> Response:
    """Return the changing part of the page of all chambers, for the live view."""
    return _render(request, "part.html", None)


@router.get("/part/chamber/{name}")
def part_chamber(request: Request, name: str) -> Response:
    """Return the changing part of the page of one chamber."""
    return _render(request, "part.html", name)
