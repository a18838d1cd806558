"""“Will it hold till morning, till I'm back?”: until when, and what would make it hold."""

import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from chamberwatch.core.air.holding import Balance, course, held, standing_needed_g
from chamberwatch.core.air.vent import co2_after_ppm
from chamberwatch.core.watch.situation import Limit, Situation, ended_by, limit_again


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
        limit = ended_by(balance, low)
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
    again = limit_again(situation, situation.co2_ppm)
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
