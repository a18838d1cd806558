"""What a misting or venting would do, and what a forecast was reckoned from, in words."""

import math
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.watch.situation import Situation
from chamberwatch.service.views import CounselNow
from chamberwatch.web import words
from chamberwatch.web.language import _, marked
from chamberwatch.web.words import GAP

DECLARED: Final = marked("as you stated it in the settings")


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What would come of a deed that nobody asks for."""

    name: str
    lead: str
    words: str


@dataclass(frozen=True, slots=True)
class Ground:
    """One thing a forecast was reckoned from, and where it came from.

    `between` is the range the truth hardly leaves; empty where none is known.
    """

    what: str
    value: str
    origin: str
    between: str = ""


def what_if(counsel: CounselNow | None) -> tuple[WhatIf, ...]:
    """Return what a misting and a venting would do now; nothing where it can't be reckoned."""
    if counsel is None:
        return ()
    said = []
    if counsel.mist is not None and counsel.mist_words:
        said.append(WhatIf(_("a misting"), _("If you mist now:"), counsel.mist_words))
    if counsel.vent is not None and counsel.vent_words:
        said.append(WhatIf(_("a venting"), _("If you vent now:"), counsel.vent_words))
    return tuple(said)


def grounds(situation: Situation) -> tuple[Ground, ...]:
    """Return what a forecast was reckoned from, what weighs most first."""
    known = situation.known
    made = [
        Ground(_("air inside"), _air(situation), _("measured")),
        _ground(
            _("air changes, closed"),
            known.leak_per_h,
            _("an hour"),
            (_("from how CO₂ and humidity went"), _("a usual cover; noted ventings show it")),
        ),
    ]
    fans = situation.supply.air_changes_per_h
    if fans > 0.0:
        made.append(
            Ground(
                _("air changes by fans"),
                _("%(amount)s an hour", amount=_short(fans)),
                _("from their timers"),
            )
        )
    if situation.supply.water_g_per_h > 0.0:
        water = _(
            "%(amount)s\N{NO-BREAK SPACE}g an hour", amount=_short(situation.supply.water_g_per_h)
        )
        made.append(Ground(_("water by humidifiers"), water, _("from their timers")))
    made += [_standing(situation), _wet(known.wet_area_m2), _room(situation)]
    return (*made, *_co2(situation))


def _air(situation: Situation) -> str:
    air = situation.air
    said = f"{words.number(air.temperature_c, 1)}{GAP}°C, {air.humidity_pct:.0f}{GAP}%"
    ppm = situation.co2_ppm
    return (
        said
        if ppm is None
        else _("%(said)s, %(ppm)s\N{NO-BREAK SPACE}ppm", said=said, ppm=f"{ppm:.0f}")
    )


def _standing(situation: Situation) -> Ground:
    standing = situation.standing_g
    value = (
        _("none known of")
        if standing < 0.5
        else _("about %(amount)s\N{NO-BREAK SPACE}g", amount=_short(standing))
    )
    origin = _("reckoned from the mistings noted and what fresh air carried off since")
    return Ground(_("water on walls and in trays"), value, origin)


def _wet(area_m2: Figure) -> Ground:
    origins = _("from how mistings went"), _("from the volume; every misting you note teaches it")
    return _ground(_("surface that gets wet"), area_m2, "m²", origins)


def _room(situation: Situation) -> Ground:
    room = situation.room
    value = f"{words.number(room.temperature_c, 1)}{GAP}°C, {room.humidity_pct:.0f}{GAP}%"
    origin = (
        "measured"
        if situation.room_measured
        else _("assumed: as warm as inside, dry as in winter; a sensor in the room would tell")
    )
    return Ground(_("air of the room"), value, origin)


def _co2(situation: Situation) -> tuple[Ground, ...]:
    """Return what decides the CO2; nothing where it isn't measured."""
    if situation.co2_ppm is None:
        return ()
    source, inlet = situation.known.source_g_per_h, situation.inlet_ppm
    comes_in = Ground(
        _("CO₂ of the air that comes in"),
        f"{inlet.value:.0f}{GAP}ppm",
        _origin(inlet, _("in the room"), _("outdoor air")),
    )
    if source is None:
        origin = _("left out of the answer until its rise between two ventings was seen")
        return comes_in, Ground(_("CO₂ the crop gives off"), _("not known yet"), origin)
    origins = _("from its rise while closed"), _("a usual crop")
    return comes_in, _ground(_("CO₂ the crop gives off"), source, _("g an hour"), origins)


def _ground(what: str, known: Figure, unit: str, origins: tuple[str, str]) -> Ground:
    """Write a figure with its range; `origins` where it was measured, and where assumed."""
    decimals = _decimals(known.value)
    low, high = (words.number(limit, decimals) for limit in (known.low, known.high))
    return Ground(
        what,
        f"{_short(known.value)}{GAP}{unit}",
        _origin(known, *origins),
        _("(%(low)s to %(high)s)", low=low, high=high) if low != high else "",
    )


def _origin(known: Figure, measured: str, assumed: str) -> str:
    match known.origin:
        case Origin.MEASURED:
            times = _(", %(count)s times", count=known.count) if known.count > 1 else ""
            return _("measured %(measured)s%(times)s", measured=measured, times=times)
        case Origin.DECLARED:
            return _(DECLARED)
        case Origin.ASSUMED:
            return _("assumed: %(assumed)s", assumed=assumed)


def _decimals(value: float) -> int:
    """Return the decimals of two significant figures."""
    return max(1 - math.floor(math.log10(value)), 0) if value > 0.0 else 0


def _short(value: float) -> str:
    """Write two significant figures."""
    return words.number(value, _decimals(value))
