"""The page *Set-up*: a page of contents, each chapter with how it stands."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.service.views import SensorNow
from chamberwatch.web import words
from chamberwatch.web.desk import Desk, desk_of, editing_of
from chamberwatch.web.gate import Came, by_people, how_came
from chamberwatch.web.language import _
from chamberwatch.web.pages import told
from chamberwatch.web.pages.beginning import over, sensors_of, steps
from chamberwatch.web.pages.phone import ways_of
from chamberwatch.web.pages.set_up_words import SAID
from chamberwatch.web.rendering import page
from chamberwatch.web.tells import SettingsStand

router = APIRouter(include_in_schema=False, dependencies=[Depends(by_people)])

SET_UP = "/set-up"
SHOWN = 4
"""So many names stand in one line; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """One line of the contents. `loud`: it wants to be looked at."""

    title: str
    address: str
    stands: str
    loud: bool = False


@router.get(SET_UP)
def contents(request: Request, said: Annotated[str, Query(max_length=20)] = "") -> Response:
    """Show what can be set up, and how it stands."""
    desk = desk_of(request)
    stand = desk.editing.stand() if desk.editing is not None else SettingsStand()
    # Once for the whole page: each look at a chamber reckons all that is known of its air.
    sensors = sensors_of(desk)
    begun = list(steps(desk, SET_UP, sensors))
    return page(
        "set_up.html",
        title=_("Set-up"),
        said="" if stand.trouble else _(SAID.get(said, "")),
        stand=stand,
        editable=desk.editing is not None,
        steps=[] if over(begun) else begun,
        parts=[
            (_("The house"), list(_house(desk, sensors))),
            (_("The people"), list(_people(desk, how_came(request)))),
            (_("The watcher"), list(_watcher(desk))),
        ],
    )


@router.post(f"{SET_UP}/read-again")
def read_again(request: Request) -> Response:
    """Take over what was changed in the file by hand."""
    editing_of(desk_of(request)).read_again()
    return RedirectResponse(f"{SET_UP}?said=again", 303)


# ------------------------------------------------------------------ the chapters


def _house(desk: Desk, sensors: Sequence[SensorNow]) -> Iterator[Chapter]:
    up = desk.history.health().broker_connected
    yield Chapter(
        _("The broker"), f"{SET_UP}/broker", _("lets us in") if up else _("not reached"), not up
    )
    silent = any(one.silent for one in sensors)
    yield Chapter(_("Sensors"), f"{SET_UP}/sensors", _heard(sensors), loud=silent)
    if desk.guided is not None:
        yield Chapter(_("Check a sensor"), f"{SET_UP}/check", _("with salt, or in fresh air"))
    chambers = desk.history.chambers()
    yield Chapter(_("Chambers"), f"{SET_UP}/chambers", _named([_called(c) for c in chambers]))
    liked = desk.shown_in
    where = _(
        "%(zone)s, %(temperature)s and %(weight)s",
        zone=desk.zone.key,
        temperature=liked.temperature,
        weight=liked.weight,
    )
    yield Chapter(_("Place and units"), f"{SET_UP}/units", where)


def _people(desk: Desk, came: Came) -> Iterator[Chapter]:
    lines = told.lines(desk)
    failing = [line.name for line in lines if line.failing]
    stands = (
        _("%(named)s not reached", named=_named(failing))
        if failing
        else _named([one.name for one in lines])
    )
    yield Chapter(_("Who is told, and when"), f"{SET_UP}/telling", stands, loud=bool(failing))
    guarded = _("this machine alone") if came is Came.NEAR else _("who knows the passcode")
    yield Chapter(_("Who may open this"), "/access", guarded)
    way = next((way.address for way in ways_of(desk)), None)
    yield Chapter(
        _("This page on a phone"), f"{SET_UP}/phone", way or _("only this machine opens it")
    )
    if desk.growing is not None:
        yield Chapter(
            _("Calendar"), "/access#calendar", _("what is due, in the calendar of a phone")
        )


def _watcher(desk: Desk) -> Iterator[Chapter]:
    health = desk.history.health()
    stands = (
        _("well")
        if health.well
        else _("not well: %(number)s to look at", number=len(health.troubles) or 1)
    )
    yield Chapter(_("Health"), "/health", stands, loud=not health.well)
    count = health.rejects
    stands = _("%(count)s so far", count=count) if count else _("none")
    yield Chapter(_("Messages that could not be read"), "/health#rejects", stands)
    yield Chapter(_("How well the reminders do"), "/reminders", _("the messages of this week"))
    yield Chapter(_("Cautions"), "/cautions", _("spores, CO₂, water and electricity"))


def _heard(sensors: Sequence[SensorNow]) -> str:
    if not sensors:
        return _("none yet")
    ages = [one.heard_ago for one in sensors if one.heard_ago is not None]
    silent = [one.sensor.name for one in sensors if one.silent]
    if silent:
        return _(
            "%(named)s silent, %(sensors)s in all", named=_named(silent), sensors=len(sensors)
        )
    if not ages:
        return _("%(sensors)s, not heard yet", sensors=len(sensors))
    return _(
        "%(sensors)s, the newest heard %(age)s ago",
        sensors=len(sensors),
        age=words.span(min(ages)),
    )


def _called(chamber: Chamber) -> str:
    return chamber.title


def _named(names: list[str]) -> str:
    if not names:
        return _("none yet")
    more = len(names) - SHOWN
    return ", ".join(names[:SHOWN]) + (_(" and %(more)s more", more=more) if more > 0 else "")


def chamber_address(name: str) -> str:
    """Return where a chamber is set up."""
    return f"{SET_UP}/chambers/{quote(name, safe='')}"
