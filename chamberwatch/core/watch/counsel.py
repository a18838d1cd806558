"""What to do, how much, and what will happen: from the air now to amounts a person can follow.

A misting has two parts. What the air is short of is a squeeze or two, and gone in minutes. What
fresh air carries off until the next visit must stand as water on walls and in trays, and can be
given off no faster than that surface evaporates. Both are said, and when no amount is enough,
that is said.
"""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo
from enum import StrEnum
from typing import Final

from chamberwatch.core.air.figure import Figure
from chamberwatch.core.air.holding import Balance, course, held, standing_needed_g
from chamberwatch.core.air.knowledge import Knowledge
from chamberwatch.core.air.mist import air_dose, likely_dose_g
from chamberwatch.core.air.mixing import after_volumes
from chamberwatch.core.air.psychrometrics import AirState, air_state
from chamberwatch.core.air.vent import (
    co2_after_ppm,
    co2_end_ppm,
    purge_min,
    rise_ppm_per_h,
)
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.device import Supply

OUTDOOR_PPM: Final = Figure.assumed(430.0, 420.0, 500.0)
"""Mauna Loa, monthly mean of May 2025: 430.2 to 430.5 ppm; cities up to 500 (common practice)."""

SEE_AFTER_MIN: Final = 15.0
"""So long after a misting the humidity is foretold: the mist has gone, the walls give."""

SOONEST_VISIT: Final = timedelta(minutes=90)
"""A visit sooner than this is the one the grower is about to make."""

FURTHEST: Final = timedelta(hours=48)
_VENT_AT_MOST_MIN: Final = 30
_ROOM_BELOW_LIMIT: Final = 0.75
"""Venting aims at this share of the limit, so that it need not be done again at once."""


class Limit(StrEnum):
    """What ends a hold."""

    WATER = "the water is used up"
    SURFACE = "fresh air carries off more than the wet surface gives"
    CO2 = "the CO2 rises to its limit"


@dataclass(frozen=True, slots=True)
class Situation:
    """A chamber as it stands, ready to be reckoned with.

    Attributes:
        chamber: which.
        known: its ways.
        air: of the chamber, now.
        room: of what surrounds it.
        room_measured: by a sensor; else assumed.
        co2_ppm: of the chamber, None where nothing measures it. [ppm]
        inlet_ppm: of the air that comes in. [ppm]
        standing_g: water that stands on its walls and in trays, as far as is known. [g]
        supply: what devices on timers give.
        humidity: low and high limit of the band; None where it isn't judged. [%]
        co2_limit_ppm: upper limit of the band; None where it isn't judged. [ppm]
        now: the time.
    """

    chamber: Chamber
    known: Knowledge
    air: AirState
    room: AirState
    room_measured: bool
    co2_ppm: float | None
    inlet_ppm: Figure
    standing_g: float
    supply: Supply
    humidity: tuple[float, float] | None
    co2_limit_ppm: float | None
    now: datetime

    @property
    def changes_per_h(self) -> float:
        """Air changes while nobody vents: leakage and fans. [1/h]."""
        return self.known.leak_per_h.value + self.supply.air_changes_per_h

    @property
    def rise_ppm_per_h(self) -> float | None:
        """How fast the CO2 would rise with no fresh air; None while not known. [ppm/h]."""
        source = self.known.source_g_per_h
        if source is None:
            return None
        return rise_ppm_per_h(
            source.value, self.known.volume_m3, self.air.temperature_c, self.air.pressure_pa
        )

    def balance(self, temperature_c: float | None = None) -> Balance:
        """Return the balance of its water."""
        return Balance(
            self.known.volume_m3,
            self.changes_per_h,
            self.known.wet_area_m2.value,
            self.air.temperature_c if temperature_c is None else temperature_c,
            self.room.absolute_humidity_g_per_m3,
            self.supply.water_g_per_h,
        )


def next_visit(chamber: Chamber, now: datetime, zone: tzinfo) -> datetime:
    """Return when the grower is likely to come by next, and be at leisure for it."""
    # In UTC: times of one zone are compared as the clock on the wall shows them, which is wrong
    # on the night that it jumps.
    earliest = now.astimezone(UTC) + SOONEST_VISIT
    today = now.astimezone(zone).date()
    planned = (
        datetime.combine(today + timedelta(days=day), at, zone).astimezone(UTC)
        for day in range(3)
        for at in sorted(chamber.visits)
    )
    later = now.astimezone(UTC) + timedelta(hours=12)
    return next((at for at in planned if at >= earliest), later).astimezone(now.tzinfo)


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
        limit=None if hold.holds else _ended_by(balance, low),
    )


def _to_put_g(situation: Situation, balance: Balance, start_pct: float, minutes: float) -> float:
    """Return the water to put down: what is needed, or what the surface can hold. [g]."""
    low, _ = situation.humidity or (0.0, 0.0)
    needed = standing_needed_g(balance, start_pct, low, minutes)
    wanted = min(needed, balance.film_most_g) - situation.standing_g
    share = situation.known.standing_share.value
    return max(wanted, 0.0) / share


def _ended_by(balance: Balance, low_pct: float) -> Limit:
    """Tell whether more water would help."""
    short = balance.given_g_per_h(low_pct) < balance.carried_off_g_per_h(low_pct)
    return Limit.SURFACE if short else Limit.WATER


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
        back_until=_limit_again(situation, reach, timedelta(minutes=minutes)),
        mist=_mist_after(situation, until, after),
    )


def _mist_after(situation: Situation, until: datetime, after: AirState) -> MistAdvice | None:
    if situation.humidity is None or after.humidity_pct >= situation.humidity[0]:
        return None
    return mist_advice(situation, until, after)


def _limit_again(
    situation: Situation, start_ppm: float, after: timedelta = timedelta()
) -> datetime | None:
    """Return when the CO2 of the chamber, closed some time from now, will be at its limit."""
    limit, rise = situation.co2_limit_ppm, situation.rise_ppm_per_h
    if limit is None or rise is None:
        return None
    hours = _climb_h(start_ppm, limit, situation.inlet_ppm.value, rise, situation.changes_per_h)
    if hours is None or hours > FURTHEST / timedelta(hours=1):
        return None
    return situation.now + after + timedelta(hours=hours)


def _climb_h(
    start_ppm: float, limit_ppm: float, inlet_ppm: float, rise_ppm_per_h: float, per_h: float
) -> float | None:
    """Return how long the CO2 takes up to a limit, None where it settles below. [h]."""
    if start_ppm >= limit_ppm:
        return 0.0
    end = co2_end_ppm(inlet_ppm, rise_ppm_per_h, per_h)
    if end <= limit_ppm:
        return None
    if math.isinf(end):
        return (limit_ppm - start_ppm) / rise_ppm_per_h
    return math.log((end - start_ppm) / (end - limit_ppm)) / per_h


@dataclass(frozen=True, slots=True)
class HoldAnswer:
    """Whether the air holds until a time, and what would make it.

    Attributes:
        asked_until: the time in question.
        holds: humidity and CO2 both hold.
        until: until when they do, at most `asked_until`.
        limit: what ends it; None: it holds.
        humidity_pct: at `until`. [%]
        co2_ppm: at `until`; None: not known. [ppm]
        add_water_g: to put onto walls and trays so that the humidity holds; 0: none is needed;
            None: no amount would do. [g]
        changes_per_h: air changes at which the humidity would hold with the most water that
            stands; None: it holds at the present ones. [1/h]
        load_share: part of the crop whose CO2 would stay below the limit; None: all of it, or
            not known.
        openings_share: part of the present air changes that `changes_per_h` is; None with it.
    """

    asked_until: datetime
    holds: bool
    until: datetime
    limit: Limit | None
    humidity_pct: float
    co2_ppm: float | None
    add_water_g: float | None
    changes_per_h: float | None
    load_share: float | None
    openings_share: float | None = None


def hold_answer(situation: Situation, until: datetime) -> HoldAnswer | None:
    """Answer “will it hold until then?”, None where humidity isn't judged.

    Args:
        situation: of the chamber.
        until: the time in question, up to two days ahead.
    """
    if situation.humidity is None:
        return None
    low, balance = situation.humidity[0], situation.balance()
    minutes = (until - situation.now) / timedelta(minutes=1)
    hold = held(balance, situation.air.humidity_pct, situation.standing_g, low, minutes)
    dry = situation.now + timedelta(minutes=hold.minutes)
    stale = _stale_at(situation, until)
    ends = min(dry, stale or until)
    limit: Limit | None = None
    if not hold.holds and ends == dry:
        limit = _ended_by(balance, low)
    elif stale is not None:
        limit = Limit.CO2
    water, changes = (0.0, None) if hold.holds else _remedy(situation, balance, minutes)
    return HoldAnswer(
        asked_until=until,
        holds=limit is None,
        until=ends,
        limit=limit,
        humidity_pct=hold.end_pct if ends == dry else _humidity_at(situation, balance, ends),
        co2_ppm=_co2_at(situation, ends),
        add_water_g=water,
        changes_per_h=changes,
        load_share=_load_share(situation) if stale is not None else None,
        openings_share=changes / balance.air_changes_per_h if changes is not None else None,
    )


def _stale_at(situation: Situation, until: datetime) -> datetime | None:
    """Return when the CO2 reaches its limit, None if not before `until`."""
    if situation.co2_ppm is None:
        return None
    again = _limit_again(situation, situation.co2_ppm)
    return again if again is not None and again < until else None


def _remedy(
    situation: Situation, balance: Balance, minutes: float
) -> tuple[float | None, float | None]:
    """Return water that would make it hold, or else the air changes at which water can."""
    low, high = situation.humidity or (0.0, 0.0)
    # Whoever adds water mists the air into its band first.
    start = max(situation.air.humidity_pct, (low + high) / 2)
    needed = standing_needed_g(balance, start, low, minutes)
    if math.isfinite(needed):
        share = situation.known.standing_share.value
        return max(needed - situation.standing_g, 0.0) / share, None
    least, most = 0.0, balance.air_changes_per_h
    for _ in range(12):
        middle = (least + most) / 2
        tried = replace(balance, air_changes_per_h=middle)
        if held(tried, start, tried.film_most_g, low, minutes).holds:
            least = middle
        else:
            most = middle
    return None, least


def _load_share(situation: Situation) -> float | None:
    """Return the part of the crop that the leakage alone keeps below the limit."""
    rise, limit = situation.rise_ppm_per_h, situation.co2_limit_ppm
    if not rise or limit is None:
        return None
    allowed = (limit - situation.inlet_ppm.value) * situation.changes_per_h
    return min(max(allowed / rise, 0.0), 1.0)


def _humidity_at(situation: Situation, balance: Balance, at: datetime) -> float:
    minutes = (at - situation.now) / timedelta(minutes=1)
    if minutes < 1.0:
        return situation.air.humidity_pct
    last = situation.air.humidity_pct
    for moment in course(balance, last, situation.standing_g, minutes, 1.0):
        last = moment.humidity_pct
    return last


def _co2_at(situation: Situation, at: datetime) -> float | None:
    if situation.co2_ppm is None or situation.rise_ppm_per_h is None:
        return None
    hours = (at - situation.now) / timedelta(hours=1)
    return co2_after_ppm(
        situation.co2_ppm,
        situation.inlet_ppm.value,
        situation.rise_ppm_per_h,
        situation.changes_per_h,
        hours,
    )
