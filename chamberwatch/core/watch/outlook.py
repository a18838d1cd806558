"""“Will it hold till morning, till I'm back?”: until when, and what would make it hold."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from chamberwatch.core.air.holding import Balance, course, held
from chamberwatch.core.air.vent import co2_after_ppm
from chamberwatch.core.watch.counsel import MistAdvice, mist_advice
from chamberwatch.core.watch.situation import Limit, Situation, ended_by, limit_again

_WORTH_CLOSING: Final = 0.9
"""Nobody makes an opening smaller by a few per cent."""

_POINTS: Final = 120
_STEP_MOST_MIN: Final = 5.0


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
        mist: what to mist now so that the humidity holds, or holds longest; None: it holds as it
            is.
        changes_per_h: air changes at which the humidity would hold with the most water that
            stands; None: it holds at the present ones. [1/h]
        load_share: part of the crop whose CO2 would stay below the limit; None: all of it, or
            not known.
        openings_share: part of the present air changes that `changes_per_h` is; None with it.
        co2_left_out: CO2 is judged, and what the crop gives off is not known yet, so that
            nothing is said of it beyond this moment.
        co2_high: the CO2 is at its limit or above it already.
        room_stale: the air that comes in is above the limit of the CO2 itself.
        too_wet: the humidity holds, and lies above its band at `until`.
    """

    asked_until: datetime
    holds: bool
    until: datetime
    limit: Limit | None
    humidity_pct: float
    co2_ppm: float | None
    mist: MistAdvice | None
    changes_per_h: float | None
    load_share: float | None
    openings_share: float | None = None
    co2_left_out: bool = False
    co2_high: bool = False
    room_stale: bool = False
    too_wet: bool = False


def hold_answer(situation: Situation, until: datetime) -> HoldAnswer | None:
    """Answer “will it hold until then?”, None where humidity isn't judged.

    Args:
        situation: of the chamber.
        until: the time in question, up to two days ahead.
    """
    if situation.humidity is None:
        return None
    (low, high), balance = situation.humidity, situation.balance()
    minutes = (until - situation.now) / timedelta(minutes=1)
    hold = held(balance, situation.air.humidity_pct, situation.standing_g, low, minutes)
    dry = None if hold.holds else situation.now + timedelta(minutes=hold.minutes)
    stale = _stale_at(situation, until)
    ends, limit = _first_end(until, dry, ended_by(balance, low), stale)
    mist = None if hold.holds else mist_advice(situation, until)
    beyond = mist is not None and mist.limit is not None
    changes = _smaller_openings(situation, balance, minutes) if beyond else None
    humidity = hold.end_pct if ends == (dry or until) else _humidity_at(situation, balance, ends)
    return HoldAnswer(
        asked_until=until,
        holds=limit is None,
        until=ends,
        limit=limit,
        humidity_pct=humidity,
        co2_ppm=_co2_at(situation, ends),
        mist=mist,
        changes_per_h=changes,
        load_share=_load_share(situation) if stale is not None else None,
        openings_share=changes / balance.air_changes_per_h if changes is not None else None,
        co2_left_out=_left_out(situation),
        co2_high=stale is not None and stale <= situation.now,
        room_stale=_room_stale(situation),
        # Air that dries out before that is not made drier as well.
        too_wet=hold.holds and humidity > high,
    )


class Foreseen(NamedTuple):
    """The humidity at one moment of a forecast. [%]."""

    at: datetime
    humidity_pct: float


def as_it_is(situation: Situation, until: datetime) -> tuple[Foreseen, ...]:
    """Return how the humidity goes on till then if nobody does anything: what the answer follows.

    Args:
        situation: of the chamber.
        until: the time in question, up to two days ahead.
    """
    return _foreseen(situation, until, situation.air.humidity_pct, situation.standing_g)


def once_misted(situation: Situation, until: datetime, advice: MistAdvice) -> tuple[Foreseen, ...]:
    """Return how it goes on once it was misted as advised.

    Args:
        situation: of the chamber.
        until: the time in question.
        advice: what was misted.
    """
    return _foreseen(situation, until, advice.first_pct, advice.film_g)


def _foreseen(
    situation: Situation, until: datetime, start_pct: float, film_g: float
) -> tuple[Foreseen, ...]:
    minutes = (until - situation.now) / timedelta(minutes=1)
    step = min(max(minutes / _POINTS, 1.0), _STEP_MOST_MIN)
    going = course(situation.balance(), start_pct, film_g, minutes, step)
    moments = (
        Foreseen(situation.now + timedelta(minutes=each.minutes), each.humidity_pct)
        for each in going
    )
    return (Foreseen(situation.now, start_pct), *moments)


def _first_end(
    until: datetime, dry: datetime | None, by: Limit, stale: datetime | None
) -> tuple[datetime, Limit | None]:
    """Return what ends first, and when: the humidity, by some limit, or the CO2, or nothing."""
    if dry is not None and (stale is None or dry <= stale):
        return dry, by
    return (until, None) if stale is None else (stale, Limit.CO2)


def _room_stale(situation: Situation) -> bool:
    limit = situation.co2_limit_ppm
    return limit is not None and situation.inlet_ppm.value >= limit


def _left_out(situation: Situation) -> bool:
    """Tell whether CO2 is measured and judged, and yet nothing can be said of how it goes on."""
    judged = situation.co2_ppm is not None and situation.co2_limit_ppm is not None
    return judged and situation.rise_ppm_per_h is None


def _stale_at(situation: Situation, until: datetime) -> datetime | None:
    """Return when the CO2 reaches its limit, None if not before `until` and not now."""
    if situation.co2_ppm is None:
        return None
    again = limit_again(situation, situation.co2_ppm)
    if again is None:
        return None
    return again if again < until or again <= situation.now else None


def _smaller_openings(situation: Situation, balance: Balance, minutes: float) -> float | None:
    """Return the air changes at which all surfaces wet would hold it, None: at hardly fewer."""
    low, high = situation.humidity or (0.0, 0.0)
    # Whoever wets the walls mists the air into its band first.
    start = max(situation.air.humidity_pct, (low + high) / 2)
    least, most = 0.0, balance.air_changes_per_h
    for _ in range(12):
        middle = (least + most) / 2
        tried = replace(balance, air_changes_per_h=middle)
        if held(tried, start, tried.film_most_g, low, minutes).holds:
            least = middle
        else:
            most = middle
    return least if least < _WORTH_CLOSING * balance.air_changes_per_h else None


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
