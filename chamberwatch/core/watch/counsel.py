"""What to do, how much, and what will happen: from the air now to amounts a person can follow.

A misting has two parts. What the air is short of is a squeeze or two, and gone in minutes. What
fresh air carries off until the next visit must stand as water on walls and in trays, and can be
given off no faster than that surface evaporates. Both are said, and when no amount is enough,
that is said.
"""

import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.holding import Balance, course, held, standing_needed_g
from chamberwatch.core.air.mist import air_dose, likely_dose_g
from chamberwatch.core.air.mixing import after_volumes
from chamberwatch.core.air.psychrometrics import AirState, air_state
from chamberwatch.core.air.tent import saturated_g_per_m3
from chamberwatch.core.air.vent import changes_needed_per_h, co2_after_ppm, co2_end_ppm, purge_min
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.situation import Limit, Situation, ended_by, limit_again

SEE_AFTER_MIN: Final = 15.0
"""So long after a misting the humidity is foretold: the mist has gone, the walls give."""

_LEEWAY_MIN: Final = 60.0
"""Water is put down for so much longer: nobody comes to the minute (common practice)."""

_VENT_AT_MOST_MIN: Final = 30
_LASTS_LEAST: Final = timedelta(minutes=60)
"""Who must vent more often than this needs a larger opening, not a reminder."""

_ROOM_BELOW_LIMIT: Final = 0.75
"""Venting aims at this share of the limit, so that it need not be done again at once."""

_LITTLE_ABOVE: Final = 1.25
"""Up to so many times its limit CO2 costs a longer stem; a home sensor is off by a tenth itself
(common practice)."""

_NEARLY_DRY_PCT: Final = 5.0
"""Humidity less than so far above its low limit has nothing to spare. [%]"""

_HARDLY_COSTS_PCT: Final = 1.0
"""A venting that takes away less, or into a damp room, is not what dries the air. [%]"""

_HARM_BELOW_PCT: Final = 10.0
"""So far below the low limit pins suffer where no harm limit is known. [%]"""


@dataclass(frozen=True, slots=True)
class MistAdvice:
    """What to mist, and what will come of it.

    Attributes:
        into_air_g: to spray into the air. [g]
        squeezes: of the grower's bottle.
        standing_g: to put onto walls and into trays. [g]
        stands_g: what stands there already. [g]
        carried_off_g_per_h: what fresh air takes at the middle of the band. [g/h]
        reach_pct: humidity a quarter of an hour later. [%]
        settles_pct: where it stays while the surfaces are wet. [%]
        wanted_until: until when it should hold: the next visit.
        holds_until: until when it will, at most `wanted_until`.
        limit: what ends it sooner; None: it holds.
        first_pct: humidity from which that is reckoned: right after the misting, and the low
            limit at least. [%]
        film_g: what stands then on walls and in trays. [g]
    """

    into_air_g: float
    squeezes: int
    standing_g: float
    stands_g: float
    carried_off_g_per_h: float
    reach_pct: float
    settles_pct: float
    wanted_until: datetime
    holds_until: datetime
    limit: Limit | None
    first_pct: float = 0.0
    film_g: float = 0.0

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
    balance = situation.balance(start.temperature_c)
    spray = _spray(situation, balance, start, (low + high) / 2)
    first, minutes = spray.first_pct, (until - situation.now) / timedelta(minutes=1)
    wanted = _to_put_g(situation, balance, max(first, low), minutes + _LEEWAY_MIN)
    standing = max(wanted - spray.onto_walls_g, 0.0)
    film = _film_g(situation, balance, standing + spray.onto_walls_g)
    hold = held(balance, max(first, low), film, low, minutes)
    soon = list(course(balance, first, film, SEE_AFTER_MIN, 1.0))
    return MistAdvice(
        into_air_g=spray.grams,
        squeezes=spray.squeezes,
        standing_g=standing,
        stands_g=situation.standing_g,
        carried_off_g_per_h=balance.carried_off_g_per_h((low + high) / 2),
        reach_pct=soon[-1].humidity_pct,
        settles_pct=balance.settles_pct(wet=True),
        wanted_until=until,
        holds_until=situation.now + timedelta(minutes=hold.minutes),
        limit=None if hold.holds else ended_by(balance, low),
        first_pct=max(first, low),
        film_g=film,
    )


@dataclass(frozen=True, slots=True)
class _Spray:
    """A spray into the air: its amount, the humidity right after it, what ends on the walls."""

    squeezes: int
    grams: float
    first_pct: float
    onto_walls_g: float


def _spray(situation: Situation, balance: Balance, start: AirState, target_pct: float) -> _Spray:
    """Return what to spray for a humidity. The air takes its share, and no more than it can hold.

    What it doesn't take ends on the walls.
    """
    squeezes = _squeezes(situation, start, target_pct)
    grams = squeezes * situation.chamber.squeeze_g
    vapour = balance.vapour_at(start.humidity_pct)
    room_g = (balance.saturated_g_per_m3 - vapour) * balance.volume_m3
    taken_g = min(grams * situation.known.spray_share.value, room_g)
    first = balance.humidity_of(vapour + taken_g / balance.volume_m3)
    return _Spray(squeezes, grams, min(first, 100.0), grams - taken_g)


def _squeezes(situation: Situation, start: AirState, target_pct: float) -> int:
    """Return how often to squeeze for the air; once at least where it is below its band."""
    low_pct, _ = situation.humidity or (0.0, 0.0)
    dose_g = likely_dose_g(air_dose(start, target_pct, situation.known.volume_m3))
    into_air_g = dose_g / situation.known.spray_share.value
    # A quarter of a squeeze too little is better than three quarters too much.
    count = math.ceil(into_air_g / situation.chamber.squeeze_g - 0.25) if into_air_g > 0.0 else 0
    return max(count, 1) if start.humidity_pct < low_pct else count


def _film_g(situation: Situation, balance: Balance, put_g: float) -> float:
    """Return the water that stands once some more was put down. [g]."""
    counts = situation.standing_g + put_g * situation.known.standing_share.value
    return max(min(counts, balance.film_most_g), situation.standing_g)


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
        from_ppm: CO2 now. [ppm]
        reach_ppm: CO2 at the end. [ppm]
        aim_ppm: what was aimed at. [ppm]
        reachable: whether the limit can be met at all.
        floor_ppm: lowest CO2 that venting can reach. [ppm]
        temperature_c: after it. [°C]
        humidity_pct: after it. [%]
        back_until: when the CO2 will be at its limit again; None: not within two days, or not
            known.
        mist: what must follow; None: nothing.
        guess: how fast it airs is only assumed.
        has_per_h: air changes while nobody vents. [1/h]
        needs_per_h: air changes at which it would last; None: it lasts a while as it is, or that
            isn't known. [1/h]
        costs_pct: humidity that it takes away. [%]
        full_minutes: how long it would be opened if humidity were no matter; None: that is what
            is advised. [min]
        enough: CO2 comes down to where the reminder ends.
        harm_pct: below this the crop is harmed, and it comes to that; None: it doesn't. [%]
    """

    minutes: int
    from_ppm: float
    reach_ppm: float
    aim_ppm: float
    reachable: bool
    floor_ppm: float
    temperature_c: float
    humidity_pct: float
    back_until: datetime | None
    mist: MistAdvice | None
    guess: bool = False
    has_per_h: float = 0.0
    needs_per_h: float | None = None
    costs_pct: float = 0.0
    full_minutes: int | None = None
    enough: bool = True
    harm_pct: float | None = None

    @property
    def by_hand(self) -> bool:
        """Whether venting by hand now and then can keep the CO2 down at all."""
        return self.reachable and self.needs_per_h is None


def vent_advice(situation: Situation, until: datetime, deadband_ppm: float) -> VentAdvice | None:
    """Return how long to vent, None where CO2 isn't measured or judged.

    Fresh air in winter is dry air: where CO2 is only a little above its limit and the humidity has
    nothing to spare, it is opened no longer than the humidity bears.

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
    full = min(math.ceil(exact or 0.0), _VENT_AT_MOST_MIN)
    needed = purge_min(situation.co2_ppm, enough, inlet, rise, n) if reachable else None
    spared = None if needed is None else _spared(situation, until, (math.ceil(needed), full), n)
    minutes = full if spared is None else spared
    reach = co2_after_ppm(situation.co2_ppm, inlet, rise, n, minutes / 60.0)
    after = _aired(situation, n, minutes)
    back = limit_again(situation, reach, timedelta(minutes=minutes))
    # Opened for less than usual it is at its limit sooner; that calls for no larger opening.
    usual_ppm = co2_after_ppm(situation.co2_ppm, inlet, rise, n, full / 60.0)
    usual = limit_again(situation, usual_ppm, timedelta(minutes=full))
    return VentAdvice(
        minutes=minutes,
        from_ppm=situation.co2_ppm,
        reach_ppm=reach,
        aim_ppm=aim,
        reachable=reachable,
        floor_ppm=floor,
        temperature_c=after.temperature_c,
        humidity_pct=after.humidity_pct,
        back_until=back,
        mist=_mist_after(situation, until, after),
        guess=situation.known.vent_per_h.origin is Origin.ASSUMED,
        has_per_h=situation.changes_per_h,
        needs_per_h=changes_needed_per_h(enough, inlet, rise)
        if _soon(usual, situation.now, full)
        else None,
        costs_pct=situation.air.humidity_pct - after.humidity_pct,
        full_minutes=full if minutes != full else None,
        enough=reach <= enough,
        harm_pct=_harm_low(situation) if _harms(situation, after) else None,
    )


def _spared(
    situation: Situation, until: datetime, minutes: tuple[int, int], per_h: float
) -> int | None:
    """Return for how much shorter to open it, for the humidity's sake; None: there is no need.

    The longest that isn't too dear, if that brings the CO2 inside its limit; else what the CO2
    needs, if a misting brings the humidity back; else the best compromise.

    Args:
        situation: of the chamber.
        until: when the grower comes by again.
        minutes: what brings the CO2 inside its limit, and what would be advised. [min]
        per_h: air changes while it is open. [1/h]
    """
    needed, full = minutes
    if not _nothing_to_spare(situation) or not _too_dear(situation, until, full, per_h):
        return None
    if needed == 0:
        return 0
    borne = (m for m in range(full - 1, 0, -1) if not _too_dear(situation, until, m, per_h))
    longest = next(borne, 0)
    if longest >= needed or _given_back(situation, until, _aired(situation, per_h, needed)):
        return min(max(longest, needed), full)
    return max(longest, 1)


def _nothing_to_spare(situation: Situation) -> bool:
    """Tell whether the CO2 is hardly too high, and the air is all but too dry."""
    co2, limit, humidity = situation.co2_ppm, situation.co2_limit_ppm, situation.humidity
    if co2 is None or limit is None or humidity is None:
        return False
    dry = situation.air.humidity_pct < humidity[0] + _NEARLY_DRY_PCT
    return dry and co2 <= _LITTLE_ABOVE * limit


def _harm_low(situation: Situation) -> float:
    """Return the humidity below which the crop is harmed. [%]."""
    low, _ = situation.humidity or (0.0, 0.0)
    band = situation.chamber.band(Quantity.HUMIDITY, Place.AIR)
    harm = band.harm_low if band is not None else None
    return low - _HARM_BELOW_PCT if harm is None else harm


def _harms(situation: Situation, after: AirState) -> bool:
    """Tell whether airing dries it to where it harms, and it wasn't as dry before."""
    return after.humidity_pct < _harm_low(situation) <= situation.air.humidity_pct


def _too_dear(situation: Situation, until: datetime, minutes: int, per_h: float) -> bool:
    """Tell whether opening it for so long dries it to where it harms, or beyond a misting."""
    after = _aired(situation, per_h, minutes)
    if situation.air.humidity_pct - after.humidity_pct < _HARDLY_COSTS_PCT:
        return False
    return after.humidity_pct < _harm_low(situation) or not _given_back(situation, until, after)


def _given_back(situation: Situation, until: datetime, after: AirState) -> bool:
    """Tell whether the misting advised after a venting brings the humidity back into its band."""
    mist = _mist_after(situation, until, after)
    return mist is None or (situation.humidity or (0.0, 0.0))[0] <= mist.reach_pct


def _soon(back: datetime | None, now: datetime, minutes: int) -> bool:
    """Tell whether the CO2 that a venting brought below its limit is at it again at once."""
    return back is not None and timedelta(minutes=minutes) < back - now < _LASTS_LEAST


def _aired(situation: Situation, per_h: float, minutes: int) -> AirState:
    """Return the air after venting: mixed with the room's, while wet walls go on giving."""
    if minutes == 0:
        return situation.air
    mixed = after_volumes(situation.air, situation.room, per_h * minutes / 60.0)
    halfway_c = (situation.air.temperature_c + mixed.temperature_c) / 2
    balance = replace(situation.balance(halfway_c), air_changes_per_h=per_h)
    start = min(balance.humidity_of(situation.air.absolute_humidity_g_per_m3), 100.0)
    going = list(course(balance, start, situation.standing_g, minutes, 0.5))
    vapour = balance.vapour_at(going[-1].humidity_pct)
    humidity = 100.0 * vapour / saturated_g_per_m3(mixed.temperature_c)
    return air_state(mixed.temperature_c, humidity, situation.air.pressure_pa)


def _mist_after(situation: Situation, until: datetime, after: AirState) -> MistAdvice | None:
    if situation.humidity is None or after.humidity_pct >= situation.humidity[0]:
        return None
    return mist_advice(situation, until, after)
