"""What to do, how much, and what will happen: from the air now to amounts a person can follow.

A misting has two parts. What the air is short of is a squeeze or two, and gone in minutes. What
fresh air carries off until the next visit must stand as water on walls and in trays, and can be
given off no faster than that surface evaporates. Both are said, and when no amount is enough,
that is said.
"""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.air.holding import Balance, course, held, standing_needed_g
from chamberwatch.core.air.mist import air_dose, likely_dose_g
from chamberwatch.core.air.mixing import after_volumes
from chamberwatch.core.air.psychrometrics import AirState, air_state
from chamberwatch.core.air.vent import co2_after_ppm, co2_end_ppm, purge_min
from chamberwatch.core.watch.situation import Limit, Situation, ended_by, limit_again

SEE_AFTER_MIN: Final = 15.0
"""So long after a misting the humidity is foretold: the mist has gone, the walls give."""

_VENT_AT_MOST_MIN: Final = 30
_ROOM_BELOW_LIMIT: Final = 0.75
"""Venting aims at this share of the limit, so that it need not be done again at once."""


@dataclass(frozen=True, slots=True)
class MistAdvice:
    """What to mist, and what will come of it.

    Attributes:
        into_air_g: to spray into the air. [g]
        squeezes: of the grower's bottle.
        standing_g: to put onto walls and into trays. [g]
        carried_off_g_per_h: what fresh air takes at the middle of the band. [g/h]
        reach_pct: humidity a quarter of an hour later. [%]
        settles_pct: where it stays while the surfaces are wet. [%]
        wanted_until: until when it should hold: the next visit.
        holds_until: until when it will, at most `wanted_until`.
        limit: what ends it sooner; None: it holds.
    """

    into_air_g: float
    squeezes: int
    standing_g: float
    carried_off_g_per_h: float
    reach_pct: float
    settles_pct: float
    wanted_until: datetime
    holds_until: datetime
    limit: Limit | None

    @property
    def by_hand(self) -> bool:
        """Whether wet surfaces can hold the air at all."""
        return self.limit is not Limit.SURFACE


def mist_advice(
    situation: Situation, until: datetime, air: AirState | None = None
) -> MistAdvice | None:
    """Return how much to mist so that the humidity holds, None where it isn't judged.

    Args:
        situation: of the chamber.
        until: when the grower comes by again.
        air: to start from, where that isn't the air now (after a venting).
    """
    if situation.humidity is None:
        return None
    start = air or situation.air
    low, high = situation.humidity
    target = (low + high) / 2
    known, balance = situation.known, situation.balance(start.temperature_c)
    into_air = likely_dose_g(air_dose(start, target, known.volume_m3)) / known.spray_share.value
    squeezes = math.ceil(into_air / situation.chamber.squeeze_g - 0.25) if into_air > 0.0 else 0
    sprayed = squeezes * situation.chamber.squeeze_g
    reached = balance.vapour_at(start.humidity_pct) + (
        sprayed * known.spray_share.value / known.volume_m3
    )
    first = min(balance.humidity_of(reached), 100.0)
    minutes = (until - situation.now) / timedelta(minutes=1)
    # What the air doesn't take of a spray ends on the walls.
    lost = sprayed * (1.0 - known.spray_share.value)
    standing = max(_to_put_g(situation, balance, max(first, low), minutes) - lost, 0.0)
    film = max(
        min(
            situation.standing_g + (standing + lost) * known.standing_share.value,
            balance.film_most_g,
        ),
        situation.standing_g,
    )
    hold = held(balance, max(first, low), film, low, minutes)
    soon = list(course(balance, first, film, SEE_AFTER_MIN, 1.0))
    return MistAdvice(
        into_air_g=sprayed,
        squeezes=squeezes,
        standing_g=standing,
        carried_off_g_per_h=balance.carried_off_g_per_h(target),
        reach_pct=soon[-1].humidity_pct,
        settles_pct=balance.settles_pct(wet=True),
        wanted_until=until,
        holds_until=situation.now + timedelta(minutes=hold.minutes),
        limit=None if hold.holds else ended_by(balance, low),
    )


def _to_put_g(situation: Situation, balance: Balance, start_pct: float, minutes: float) -> float:
    """Return the water to put down: what is needed, or what the surface can hold. [g]."""
    low, _ = situation.humidity or (0.0, 0.0)
    needed = standing_needed_g(balance, start_pct, low, minutes)
    wanted = min(needed, balance.film_most_g) - situation.standing_g
    share = situation.known.standing_share.value
    return max(wanted, 0.0) / share


@dataclass(frozen=True, slots=True)
class VentAdvice:
    """How long to vent, and what will come of it.

    Attributes:
        minutes: with the front open; 0: it need not be opened. [min]
        reach_ppm: CO2 at the end. [ppm]
        aim_ppm: what was aimed at. [ppm]
        reachable: whether the limit can be met at all.
        floor_ppm: lowest CO2 that venting can reach. [ppm]
        temperature_c: after it. [°C]
        humidity_pct: after it. [%]
        back_until: when the CO2 will be at its limit again; None: not within two days, or not
            known.
        mist: what must follow; None: nothing.
    """

    minutes: int
    reach_ppm: float
    aim_ppm: float
    reachable: bool
    floor_ppm: float
    temperature_c: float
    humidity_pct: float
    back_until: datetime | None
    mist: MistAdvice | None


def vent_advice(situation: Situation, until: datetime, deadband_ppm: float) -> VentAdvice | None:
    """Return how long to vent, None where CO2 isn't measured or judged.

    Args:
        situation: of the chamber.
        until: when the grower comes by again.
        deadband_ppm: so far below its limit the CO2 must be for the reminder to end. [ppm]
    """
    if situation.co2_ppm is None or situation.co2_limit_ppm is None:
        return None
    inlet, rise = situation.inlet_ppm.value, situation.rise_ppm_per_h or 0.0
    n = situation.known.vent_per_h.value + situation.changes_per_h
    floor = co2_end_ppm(inlet, rise, n)
    enough = situation.co2_limit_ppm - deadband_ppm
    aim = max(situation.co2_limit_ppm * _ROOM_BELOW_LIMIT, floor + 0.1 * (enough - floor))
    reachable = floor < enough
    # Air that is fresh already needs no venting; where venting can't do it, a minute shows that.
    exact = purge_min(situation.co2_ppm, aim, inlet, rise, n) if reachable else 1.0
    minutes = min(math.ceil(exact or 0.0), _VENT_AT_MOST_MIN)
    reach = co2_after_ppm(situation.co2_ppm, inlet, rise, n, minutes / 60.0)
    mixed = after_volumes(situation.air, situation.room, n * minutes / 60.0)
    after = air_state(
        mixed.temperature_c, min(mixed.humidity_pct, 100.0), situation.air.pressure_pa
    )
    return VentAdvice(
        minutes=minutes,
        reach_ppm=reach,
        aim_ppm=aim,
        reachable=reachable,
        floor_ppm=floor,
        temperature_c=after.temperature_c,
        humidity_pct=after.humidity_pct,
        back_until=limit_again(situation, reach, timedelta(minutes=minutes)),
        mist=_mist_after(situation, until, after),
    )


def _mist_after(situation: Situation, until: datetime, after: AirState) -> MistAdvice | None:
    if situation.humidity is None or after.humidity_pct >= situation.humidity[0]:
        return None
    return mist_advice(situation, until, after)
