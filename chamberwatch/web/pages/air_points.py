"""What stands on the chart of the air: now, the room, and where a deed leads.

All of it are answers that exist already; nothing is reckoned anew here but where they lie.
"""

import math
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Final

from chamberwatch.core import amount_words
from chamberwatch.core.air.chart import (
    Line,
    Window,
    humidity_line,
    misting_line,
    mixing_line,
    point_of,
)
from chamberwatch.core.air.psychrometrics import AirState, air_state
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.counsel import MistAdvice
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.speaking import PAIR, in_doubt
from chamberwatch.service.views import ChamberNow, CounselNow, SensorNow
from chamberwatch.web import words
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _
from chamberwatch.web.pages.hung import doubt_words, is_old
from chamberwatch.web.trade_words import deed_name
from chamberwatch.web.words import GAP

COUNTABLE: Final = 12
"""Nobody counts more squeezes than this; the weight says the same."""


class Trust(StrEnum):
    """How far a point is to be believed, which its form shows."""

    FRESH = "fresh"
    OLD = "old"
    DOUBTED = "doubted"
    ASSUMED = "assumed"
    FORETOLD = "foretold"


@dataclass(frozen=True, slots=True)
class Spot:
    """A named point of the chart.

    Attributes:
        key: now, room, misted or vented.
        name: what it is called.
        air: there.
        trust: how far it is to be believed.
        note: why it is no fresh value, or what brings the air there; empty for a plain one.
        short: what is written beside it where there is little room.
        least: the same where there is hardly any.
    """

    key: str
    name: str
    air: AirState
    trust: Trust
    note: str = ""
    short: str = ""
    least: str = ""


@dataclass(frozen=True, slots=True)
class Way:
    """Where a deed leads: its end, and the line to it.

    Attributes:
        spot: the end.
        line: from the air now.
        then: how it goes on by itself, empty where it doesn't.
    """

    spot: Spot
    line: Line
    then: Line = ()


def spot_now(shown: ChamberNow, now: datetime) -> Spot | None:
    """Return the air of a chamber or room as it was last read; None where nothing says it."""
    if shown.air is None:
        return None
    heard = speaking(shown)
    if heard is None:
        return Spot("now", _("now"), shown.air, Trust.OLD if shown.stale else Trust.FRESH)
    readings = [heard.readings[Quantity.TEMPERATURE], heard.readings[Quantity.HUMIDITY]]
    oldest = min(readings, key=lambda reading: reading.time)
    doubt = doubt_words(heard) if in_doubt(heard.doubt, *PAIR) else ""
    if is_old(oldest, heard, now):
        age = _("%(age)s old", age=words.span(now - oldest.time))
        note = f"{age}, {doubt}" if doubt else age
        return Spot(
            "now", _("%(age)s ago", age=words.span(now - oldest.time)), shown.air, Trust.OLD, note
        )
    trust = Trust.DOUBTED if doubt else Trust.FRESH
    return Spot("now", _("now?") if doubt else _("now"), shown.air, trust, doubt)


def speaking(shown: ChamberNow) -> SensorNow | None:
    """Return the sensor whose temperature and humidity are shown for the chamber."""
    pair = (shown.temperature_c, shown.humidity_pct)
    for heard in shown.sensors:
        warm = heard.readings.get(Quantity.TEMPERATURE)
        humid = heard.readings.get(Quantity.HUMIDITY)
        if warm is not None and humid is not None and (warm.value, humid.value) == pair:
            return heard
    return None


def spot_room(around: ChamberNow | None, shown: ChamberNow, now: datetime) -> Spot | None:
    """Return the air of the room around a chamber; where none is measured, what is assumed."""
    measured = spot_now(around, now) if around is not None else None
    if measured is not None and around is not None:
        name = words.shortened(around.chamber.title, 22)
        return replace(measured, key="room", name=name)
    if shown.counsel is None or shown.counsel.situation.room_measured:
        return None
    room = shown.counsel.situation.room
    note = _("assumed: as warm as inside, dry as in winter; a sensor in the room would tell")
    return Spot("room", _("room, assumed"), room, Trust.ASSUMED, note)


def misting(counsel: CounselNow, figures: Figures) -> Way | None:
    """Return where the misting that is advised leads; None where the air needs none.

    The air alone cools along its wet-bulb line; walls and blocks then warm it again, along the
    line of the humidity that is foretold.
    """
    advice, air = counsel.mist, counsel.situation.air
    if advice is None or not advice.squeezes or advice.reach_pct <= air.humidity_pct:
        return None
    line = misting_line(air, advice.reach_pct)
    coldest_c = line[-1].temperature_c
    amount = _mist_amount(advice, figures)
    note = _(
        "%(amount)s; %(coldest)s at first, then warmer again as the walls give back their heat",
        amount=amount,
        coldest=figures.temperature(coldest_c),
    )
    short = f"{amount}: {figures.number(advice.reach_pct, 0)}{GAP}%"
    end = air_state(air.temperature_c, advice.reach_pct, air.pressure_pa)
    least = deed_name(Deed.MISTED)
    spot = Spot("misted", _("after a misting"), end, Trust.FORETOLD, note, short, least)
    window = Window(coldest_c, air.temperature_c, math.inf, air.pressure_pa)
    return Way(spot, line, humidity_line(window, advice.reach_pct))


def _mist_amount(advice: MistAdvice, figures: Figures) -> str:
    weight = figures.weight(max(round(advice.into_air_g, 1), 0.1))
    if advice.squeezes > COUNTABLE:
        return _("%(weight)s of fine spray", weight=weight)
    return f"{amount_words.squeezes(advice.squeezes)}, {weight}"


def venting(counsel: CounselNow, figures: Figures) -> Way | None:
    """Return where the venting that is advised leads; None where none is, or it can't help.

    It ends a little above the mixing line where wet walls go on giving while it is open.
    """
    advice, air = counsel.vent, counsel.situation.air
    if advice is None or not advice.minutes or not advice.reachable:
        return None
    end = air_state(advice.temperature_c, advice.humidity_pct, air.pressure_pa)
    minutes = f"{advice.minutes}{GAP}min"
    ppm = f"{figures.number(round(advice.reach_ppm, -1), 0)}{GAP}ppm"
    note = _("%(minutes)s open; CO₂ falls to about %(ppm)s", minutes=minutes, ppm=ppm)
    short = f"{minutes}: {figures.number(end.humidity_pct, 0)}{GAP}%, {ppm}"
    least = deed_name(Deed.VENTED)
    spot = Spot("vented", _("after a venting"), end, Trust.FORETOLD, note, short, least)
    return Way(spot, (point_of(air), point_of(end)))


def towards_room(counsel: CounselNow) -> Line:
    """Return the mixtures of the air now with that of the room, which any venting runs along."""
    return mixing_line(counsel.situation.air, counsel.situation.room)
