"""A chamber as it stands, ready to be reckoned with."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from enum import StrEnum
from typing import Final

from chamberwatch.core.air import vent
from chamberwatch.core.air.figure import Figure
from chamberwatch.core.air.holding import Balance
from chamberwatch.core.air.knowledge import Knowledge
from chamberwatch.core.air.psychrometrics import AirState
from chamberwatch.core.air.vent import co2_end_ppm, rise_ppm_per_h
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.device import Supply

OUTDOOR_PPM: Final = Figure.assumed(vent.OUTDOOR_PPM, 420.0, 500.0)
"""Of air that nothing measures. [ppm]"""

SOONEST_VISIT: Final = timedelta(minutes=90)
"""A visit sooner than this is the one the grower is about to make."""

FURTHEST: Final = timedelta(hours=48)


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


def ended_by(balance: Balance, low_pct: float) -> Limit:
    """Tell whether more water would help."""
    short = balance.given_g_per_h(low_pct) < balance.carried_off_g_per_h(low_pct)
    return Limit.SURFACE if short else Limit.WATER


def limit_again(
    situation: Situation, start_ppm: float, after: timedelta = timedelta()
) -> datetime | None:
    """Return when the CO2 of the chamber, closed some time from now, will be at its limit."""
    limit, rise = situation.co2_limit_ppm, situation.rise_ppm_per_h
    if limit is not None and start_ppm >= limit:
        return situation.now + after
    if limit is None or rise is None:
        return None
    hours = _climb_h(start_ppm, limit, situation.inlet_ppm.value, rise, situation.changes_per_h)
    if hours is None or hours > FURTHEST / timedelta(hours=1):
        return None
    return situation.now + after + timedelta(hours=hours)


def _climb_h(
    start_ppm: float, limit_ppm: float, inlet_ppm: float, rise_ppm_per_h: float, per_h: float
) -> float | None:
    """Return how long the CO2 takes up to a limit above, None where it settles below. [h]."""
    end = co2_end_ppm(inlet_ppm, rise_ppm_per_h, per_h)
    if end <= limit_ppm:
        return None
    if math.isinf(end):
        return (limit_ppm - start_ppm) / rise_ppm_per_h
    return math.log((end - start_ppm) / (end - limit_ppm)) / per_h
