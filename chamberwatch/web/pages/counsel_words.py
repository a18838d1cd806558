"""What a misting or venting would do, and what a forecast was reckoned from, in words."""

import math
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.watch.situation import Situation
from chamberwatch.service.views import CounselNow
from chamberwatch.web.pages import words
from chamberwatch.web.pages.words import GAP

DECLARED: Final = "as you stated it in the settings"


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
        said.append(WhatIf("a misting", "If you mist now:", counsel.mist_words))
    if counsel.vent is not None and counsel.vent_words:
        said.append(WhatIf("a venting", "If you vent now:", counsel.vent_words))
    return tuple(said)


def grounds(situation: Situation) -> tuple[Ground, ...]:
    """Return what a forecast was reckoned from, what weighs most first."""
    known = situation.known
    made = [
        Ground("air inside", _air(situation), "measured"),
        _ground(
            "air changes, closed",
            known.leak_per_h,
            "an hour",
            ("from how CO₂ and humidity went", "a usual cover; noted ventings show it"),
        ),
    ]
    fans = situation.supply.air_changes_per_h
    if fans > 0.0:
        made.append(Ground("air changes by fans", f"{_short(fans)} an hour", "from their timers"))
    if situation.supply.water_g_per_h > 0.0:
        water = f"{_short(situation.supply.water_g_per_h)}{GAP}g an hour"
        made.append(Ground("water by humidifiers", water, "from their timers"))
    made += [_standing(situation), _wet(known.wet_area_m2), _room(situation)]
    return (*made, *_co2(situation))


def _air(situation: Situation) -> str:
    air = situation.air
    said = f"{words.number(air.temperature_c, 1)}{GAP}°C, {air.humidity_pct:.0f}{GAP}%"
    ppm = situation.co2_ppm
    return said if ppm is None else f"{said}, {ppm:.0f}{GAP}ppm"


def _standing(situation: Situation) -> Ground:
    standing = situation.standing_g
    value = "none known of" if standing < 0.5 else f"about {_short(standing)}{GAP}g"
    origin = "reckoned from the mistings noted and what fresh air carried off since"
    return Ground("water on walls and in trays", value, origin)


def _wet(area_m2: Figure) -> Ground:
    origins = "from how mistings went", "from the volume; every misting you note teaches it"
    return _ground("surface that gets wet", area_m2, "m²", origins)


def _room(situation: Situation) -> Ground:
    room = situation.room
    value = f"{words.number(room.temperature_c, 1)}{GAP}°C, {room.humidity_pct:.0f}{GAP}%"
    origin = (
        "measured"
        if situation.room_measured
        else "assumed: as warm as inside, dry as in winter; a sensor in the room would tell"
    )
    return Ground("air of the room", value, origin)


def _co2(situation: Situation) -> tuple[Ground, ...]:
    """Return what decides the CO2; nothing where it isn't measured."""
    if situation.co2_ppm is None:
        return ()
    source, inlet = situation.known.source_g_per_h, situation.inlet_ppm
    comes_in = Ground(
        "CO₂ of the air that comes in",
        f"{inlet.value:.0f}{GAP}ppm",
        _origin(inlet, "in the room", "outdoor air"),
    )
    if source is None:
        origin = "left out of the answer until its rise between two ventings was seen"
        return comes_in, Ground("CO₂ the crop gives off", "not known yet", origin)
    origins = "from its rise while closed", "a usual crop"
    return comes_in, _ground("CO₂ the crop gives off", source, "g an hour", origins)


def _ground(what: str, known: Figure, unit: str, origins: tuple[str, str]) -> Ground:
    """Write a figure with its range; `origins` where it was measured, and where assumed."""
    decimals = _decimals(known.value)
    low, high = (words.number(limit, decimals) for limit in (known.low, known.high))
    return Ground(
        what,
        f"{_short(known.value)}{GAP}{unit}",
        _origin(known, *origins),
        f"({low} to {high})" if low != high else "",
    )


def _origin(known: Figure, measured: str, assumed: str) -> str:
    match known.origin:
        case Origin.MEASURED:
            times = f", {known.count} times" if known.count > 1 else ""
            return f"measured {measured}{times}"
        case Origin.DECLARED:
            return DECLARED
        case Origin.ASSUMED:
            return f"assumed: {assumed}"


def _decimals(value: float) -> int:
    """Return the decimals of two significant figures."""
    return max(1 - math.floor(math.log10(value)), 0) if value > 0.0 else 0


def _short(value: float) -> str:
    """Write two significant figures."""
    return words.number(value, _decimals(value))
