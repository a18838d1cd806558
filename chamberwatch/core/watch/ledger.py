"""How much water stands in a chamber, kept like a ledger: put down, carried off, given back.

Nobody can weigh the water on a wall. But what fresh air carries off and what the air gains must
have come from it, and once the surfaces give less than their area could, only a part of them is
still wet. A minute at a time.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.holding import FILM_THIN_G_PER_M2, Balance, standing_seen_g
from chamberwatch.core.air.knowledge import Knowledge, standing_after
from chamberwatch.core.watch.device import NO_DEVICES, Supply

SLOPE_OVER: Final = 6
"""Minutes behind the slope of the water in the air: noise of a home sensor needs so many."""

_SMOOTHED_OVER: Final = 5
_OPENED_OVER: Final = 3
_HOUR: Final = timedelta(hours=1)
_GAP: Final = timedelta(minutes=6)
"""Longer than a sensor that reports every five minutes is silent."""

_STEADY_MIN: Final = 60
"""Air that was humid for so long, with nothing done, has wet surfaces behind it."""

_SURELY_THERE: Final = 0.5
"""Sensors are off, and fruit gives water too: half of what the air speaks for is there."""

_VENTED: Final = -0.5
"""Losing so many times more than leakage explains, the chamber is open."""


@dataclass(frozen=True, slots=True)
class Minute:
    """The air of one minute.

    Attributes:
        time: start of the minute.
        humidity_pct: of the chamber. [%]
        temperature_c: of the chamber. [°C]
        vapour_g_per_m3: water in its air. [g/m3]
        room_vapour_g_per_m3: water in the air of the room. [g/m3]
        room_co2_ppm: CO2 of the room; None where nothing measures it. [ppm]
        co2_ppm: CO2 of the chamber; None where nothing measures it. [ppm]
        supply: what devices on timers gave.
    """

    time: datetime
    humidity_pct: float
    temperature_c: float
    vapour_g_per_m3: float
    room_vapour_g_per_m3: float
    room_co2_ppm: float | None = None
    co2_ppm: float | None = None
    supply: Supply = NO_DEVICES


@dataclass(frozen=True, slots=True)
class Ledger:
    """Where the water stands.

    Attributes:
        standing_g: on walls and in trays. [g]
        recent: the last minutes without a deed or a gap, oldest first.
        given: what the surfaces gave lately, and what all of them wet would have given. [g/h]
        steady: the same as means of the last hour or so. [g/h]
        steady_min: how many minutes are in those means. [min]
    """

    standing_g: float = 0.0
    recent: tuple[Minute, ...] = ()
    given: tuple[tuple[float, float], ...] = ()
    steady: tuple[float, float] = (0.0, 0.0)
    steady_min: int = 0

    @property
    def overstated(self) -> float:
        """Return how many times more water would go than all surfaces can give; 1 where it fits.

        Air that has been humid for an hour with nothing done loses no more than they give: what
        the leakage is taken for is too much by so many times.
        """
        given, whole = self.steady
        if self.steady_min < _STEADY_MIN or whole <= 0.0:
            return 1.0
        return max(given / whole, 1.0)


def put(ledger: Ledger, grams: float, known: Knowledge, balance: Balance) -> Ledger:
    """Book water that was put down; the minutes around it tell nothing of leakage. [g]."""
    standing = standing_after(
        ledger.standing_g,
        grams * known.standing_share.value,
        0.0,
        0.0,
        balance.film_most_g,
    )
    return Ledger(standing)


def balance_of(minute: Minute, known: Knowledge) -> Balance:
    """Return the balance that holds in a minute."""
    supply = minute.supply
    return Balance(
        known.volume_m3,
        known.leak_per_h.value + supply.air_changes_per_h,
        known.wet_area_m2.value,
        minute.temperature_c,
        minute.room_vapour_g_per_m3,
        supply.water_g_per_h,
    )


def passed(ledger: Ledger, minute: Minute, known: Knowledge, low_pct: float | None) -> Ledger:
    """Book one more minute.

    Args:
        ledger: as it stood.
        minute: newer than the last one booked.
        known: the chamber's ways.
        low_pct: low limit of the humidity; below it even an assumed area is held to what is
            seen. [%]
    """
    before = ledger.recent[-1] if ledger.recent else None
    if before is None:
        return replace(ledger, recent=(minute,), given=())
    balance = balance_of(minute, known)
    hours = (minute.time - before.time) / _HOUR
    carried = balance.carried_off_g_per_h(minute.humidity_pct) * hours / ledger.overstated
    standing = standing_after(ledger.standing_g, 0.0, carried, 0.0, balance.film_most_g)
    if minute.time - before.time > _GAP:
        # Fresh air went on while nobody looked, but there is no slope across a gap.
        return Ledger(standing, (minute,))
    recent = (*ledger.recent, minute)[-SLOPE_OVER:]
    going = replace(ledger, standing_g=standing, recent=recent)
    if len(recent) < SLOPE_OVER:
        return going
    return _held_to_what_is_seen(going, balance, known, low_pct)


def _held_to_what_is_seen(
    ledger: Ledger, balance: Balance, known: Knowledge, low_pct: float | None
) -> Ledger:
    humidity = math.fsum(m.humidity_pct for m in ledger.recent) / len(ledger.recent)
    carried = balance.carried_off_g_per_h(humidity)
    given_now = carried + slope_per_h(ledger.recent) * known.volume_m3
    # The last minutes show an opened front before the slope of all of them does.
    given_last = carried + slope_per_h(ledger.recent[-_OPENED_OVER:]) * known.volume_m3
    if min(given_now, given_last) < _VENTED * abs(carried):
        return Ledger(ledger.standing_g, ledger.recent[-1:])
    both = given_now, balance.given_g_per_h(humidity)
    given = (*ledger.given, both)[-_SMOOTHED_OVER:]
    ledger = _at_least_what_is_seen(replace(ledger, given=given), balance, both)
    # An area that was only assumed may be too large by far; it is held to the record only where
    # the air is too dry for it.
    certain = known.wet_area_m2.origin is not Origin.ASSUMED
    if len(given) < _SMOOTHED_OVER or not (certain or (low_pct or 0.0) > humidity):
        return ledger
    seen = math.fsum(one for one, _ in given)
    whole = math.fsum(one for _, one in given)
    if whole <= 0.0:
        return ledger
    # The balance's own humidity is of now; the share of the last minutes is what counts.
    share_given = seen / whole * balance.given_g_per_h(humidity)
    most = standing_seen_g(balance, humidity, share_given)
    return replace(ledger, standing_g=min(ledger.standing_g, most))


def _at_least_what_is_seen(ledger: Ledger, balance: Balance, given: tuple[float, float]) -> Ledger:
    """Hold the ledger to no less than what keeps the air as it has been for an hour.

    Water that nobody told of, and leakage that was assumed too large, would else leave it at
    nothing in air that is humid all night. A surface that gives a share of what the whole would
    give is wet in that share at least, and so much of it holds some water. That needs no long
    record of the area: the smaller the area, the larger the share.
    """
    minutes = min(ledger.steady_min + 1, _STEADY_MIN)
    weight = 1.0 / minutes
    mean = tuple(
        before + (now - before) * weight for before, now in zip(ledger.steady, given, strict=True)
    )
    ledger = replace(ledger, steady=(mean[0], mean[1]), steady_min=minutes)
    if minutes < _STEADY_MIN or mean[1] <= 0.0:
        return ledger
    lately = math.fsum(one for one, _ in ledger.given), math.fsum(one for _, one in ledger.given)
    # Air that has begun to dry out shows it in the last minutes before the mean of the hour.
    share = min(mean[0] / mean[1], lately[0] / lately[1] if lately[1] > 0.0 else 0.0, 1.0)
    least = _SURELY_THERE * max(share, 0.0) * balance.wet_area_m2 * FILM_THIN_G_PER_M2
    return replace(ledger, standing_g=max(ledger.standing_g, least))


def standing_now_g(
    standing_g: float,
    balance: Balance,
    known: Knowledge,
    humidity: tuple[float, float],
    low_pct: float,
) -> float:
    """Return the water that can stand by what the air does this moment. [g].

    The ledger is some minutes behind; air that falls below its band has run out of water since.

    Args:
        standing_g: as the ledger has it. [g]
        balance: of the water, now.
        known: the chamber's ways.
        humidity: of the air, and its change in an hour over some minutes without a deed.
            [%], [%/h]
        low_pct: low limit of the band. [%]
    """
    now_pct, per_h = humidity
    carried = balance.carried_off_g_per_h(now_pct)
    given = carried + balance.vapour_at(per_h) * known.volume_m3
    certain = known.wet_area_m2.origin is not Origin.ASSUMED
    if given < _VENTED * abs(carried) or not (certain or now_pct < low_pct):
        return standing_g
    return min(standing_g, standing_seen_g(balance, now_pct, given))


def slope_per_h(minutes: Sequence[Minute]) -> float:
    """Return the slope of a least-squares line through the water in the air. [g/(m3 h)]."""
    first = minutes[0].time
    hours = [(m.time - first) / _HOUR for m in minutes]
    values = [m.vapour_g_per_m3 for m in minutes]
    mean_h, mean_v = math.fsum(hours) / len(hours), math.fsum(values) / len(values)
    spread = math.fsum((h - mean_h) ** 2 for h in hours)
    return (
        math.fsum((h - mean_h) * (v - mean_v) for h, v in zip(hours, values, strict=True)) / spread
    )
