"""What is true: the room in winter, the tent in it, how its sensor errs. A step is a minute."""

import math
import random
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.tent import (
    CO2_G_PER_M3_PPM,
    RoomAir,
    TentSpec,
    TentState,
    grown,
    live,
    saturated_g_per_m3,
    state_of,
    vapour_g_per_m3,
)

DAY_MIN: Final = 1440

# ---------------------------------------------------------------- the room


@dataclass(frozen=True)
class Climate:
    """The ways of one room.

    Attributes:
        by_day_c: aimed at by the heating while somebody is up. [°C]
        setback_k: lower at night. [K]
        radiator_k: swing of the radiator's cycle, half of it. [K]
        cycle_min: its length. [min]
        humidity_pct: in the long run, at the temperature by day. [%]
        people_ppm: what people add after hours at home. [ppm]
    """

    by_day_c: float
    setback_k: float
    radiator_k: float
    cycle_min: float
    humidity_pct: float
    people_ppm: float

    @classmethod
    def drawn(cls, chance: random.Random) -> "Climate":
        return cls(
            chance.uniform(18.0, 21.0),
            chance.uniform(0.5, 3.5),
            chance.uniform(0.2, 0.8),
            chance.uniform(35.0, 80.0),
            chance.uniform(33.0, 52.0),
            chance.uniform(60.0, 300.0),
        )


class Room:
    """The room as it goes: heating by day, radiator cycles, weather of some days, people."""

    def __init__(self, climate: Climate, chance: random.Random) -> None:
        self._climate = climate
        self._chance = chance
        self._warm_c = climate.by_day_c - climate.setback_k
        self._weather = 0.0
        self._flicker_k = 0.0
        self._phase = chance.random()
        self._people_ppm = climate.people_ppm / 2
        self.shift_k = 0.0

    def pass_minute(self, *, at_home: bool, awake: bool) -> RoomAir:
        """Go on by a minute and return the air."""
        climate, gauss = self._climate, self._chance.gauss
        aim = climate.by_day_c - (0.0 if at_home and awake else climate.setback_k)
        self._warm_c += (aim - self._warm_c) / 150.0
        # Weather lasts two days or so; the flicker, draughts and doors, a quarter of an hour.
        self._weather += -self._weather / 2880.0 + gauss(0.0, 0.026)
        self._flicker_k += -self._flicker_k / 15.0 + gauss(0.0, 0.025)
        self._phase = (self._phase + 1.0 / climate.cycle_min) % 1.0
        radiator = climate.radiator_k * math.sin(2.0 * math.pi * self._phase)
        temperature = self._warm_c + radiator + self._flicker_k + self.shift_k
        vapour = vapour_g_per_m3(climate.by_day_c, climate.humidity_pct + 5.0 * self._weather)
        humidity = 100.0 * vapour / saturated_g_per_m3(temperature)
        self._people_ppm += ((climate.people_ppm if at_home else 0.0) - self._people_ppm) / 120.0
        return RoomAir(temperature, min(max(humidity, 30.0), 55.0), 440.0 + self._people_ppm)


# ---------------------------------------------------------------- the tent


@dataclass(frozen=True)
class Hidden:
    """What nobody tells the service of a tent.

    Attributes:
        spec: of the tent with pins, before they grow.
        leak_per_h: air changes, closed. [1/h]
        vent_per_h: air changes with the front open, on top. [1/h]
        flush_days: from pins to the harvest. [days]
        rest_days: from the harvest to the next pins. [days]
    """

    spec: TentSpec
    leak_per_h: float
    vent_per_h: float
    flush_days: float
    rest_days: float

    @classmethod
    def drawn(cls, chance: random.Random) -> "Hidden":
        """Draw a tent; its crop by where the CO2 of the closed tent would settle at its heaviest.

        200 to 1100 ppm above the room: in some tents that is never too much, in others for the
        last days of each flush.
        """
        volume, leak = chance.uniform(0.3, 0.8), chance.uniform(0.2, 0.6)
        area = chance.uniform(0.2, 1.0)
        heaviest_g_per_h = chance.uniform(200.0, 1100.0) * leak * volume * CO2_G_PER_M3_PPM
        # At harvest the fruit weighs a quarter of its blocks: 0.29 and 0.05 g/(kg h).
        block_kg = heaviest_g_per_h / (0.29 * 0.25 + 0.05)
        days = chance.uniform(5.0, 7.0)
        spec = TentSpec(
            volume_m3=volume,
            wet_area_m2=area,
            film_most_g=area * chance.uniform(60.0, 120.0),
            fruit_kg=0.25 * block_kg / 2.0**days,
            block_kg=block_kg,
            spray_to_air=chance.uniform(0.2, 0.6),
        )
        return cls(spec, leak, chance.uniform(8.0, 25.0), days, chance.uniform(5.0, 9.0))


class Air:
    """The true air of the tent."""

    def __init__(self, hidden: Hidden, chance: random.Random) -> None:
        self.hidden = hidden
        self._growing_from = -round(chance.uniform(0.0, hidden.flush_days) * DAY_MIN)
        self.spec = hidden.spec
        self.state: TentState = state_of(18.0, 88.0, 700.0, 0.3 * hidden.spec.film_most_g)
        self.open_until = -1
        self.slot_per_h = 0.0

    def pass_minute(self, minute: int, room: RoomAir) -> TentState:
        """Go on by a minute; return the air at its end."""
        if minute % 60 == 0:
            self._grow(minute)
        opened = minute <= self.open_until
        changes = self.hidden.leak_per_h + self.slot_per_h
        changes += self.hidden.vent_per_h if opened else 0.0
        dt_s, steps = (10.0, 6) if opened else (30.0, 2)
        self.state = live(self.state, self.spec, room, changes, dt_s, steps)
        return self.state

    def dries_in(self, room: RoomAir, minutes: int, low_pct: float, for_min: int) -> int | None:
        """Return when the air would be too dry for so long if nobody did anything; None: not.

        The room stays as it is, and what stands open is closed. [min]
        """
        state, below = self.state, 0
        changes = self.hidden.leak_per_h + self.slot_per_h
        for minute in range(minutes):
            state = live(state, self.spec, room, changes, 30.0, 2)
            below = below + 1 if state.humidity_pct < low_pct else 0
            if below > for_min:
                return minute - for_min
        return None

    def _grow(self, minute: int) -> None:
        hidden, days = self.hidden, (minute - self._growing_from) / DAY_MIN
        if days >= hidden.flush_days + hidden.rest_days:
            self._growing_from = minute
        if days < hidden.flush_days:
            self.spec = grown(hidden.spec, max(days, 0.0))
        elif self.spec.fruit_kg > hidden.spec.fruit_kg:
            # Harvested: a slot that was left open for the crop is closed with it.
            self.spec, self.slot_per_h = hidden.spec, 0.0


# ---------------------------------------------------------------- the sensor


@dataclass(frozen=True, slots=True)
class Told:
    """What a sensor sends in one minute. [°C], [%], [ppm]; CO2 None where it has none."""

    temperature_c: float
    humidity_pct: float
    co2_ppm: float | None


class Fault:
    """Why a sensor can't be believed: kept as a small number a minute."""

    NONE: Final = 0
    SILENT: Final = 1
    WET: Final = 2


ERROR_MOST_PCT: Final = 2.0
WET_SHARE: Final = 0.04
"""Mistings that hit the sensor."""


class Sensing:
    """A sensor in the tent: bias, correlated noise, spells in which it is wet, radio silence."""

    def __init__(self, chance: random.Random, state: TentState) -> None:
        self._chance = chance
        self.bias_pct = chance.uniform(-1.5, 1.5)
        self._bias_k = chance.uniform(-0.15, 0.15)
        self._bias_ppm = chance.uniform(-30.0, 30.0)
        self._gain_co2 = chance.uniform(0.97, 1.03)
        self._keeps_co2 = math.exp(-60.0 / chance.uniform(60.0, 120.0))
        self._ppm = state.co2_ppm
        self._noise_pct = self._noise_k = self._noise_ppm = 0.0
        self.wet_until = self.silent_until = -1

    def misted(self, minute: int) -> None:
        """Let a misting hit the sensor, now and then."""
        if self._chance.random() < WET_SHARE:
            self.wet_until = minute + round(self._chance.uniform(60.0, 360.0))

    def mended(self, minute: int) -> None:
        """Let somebody see to it: a quarter of an hour later it is well."""
        self.wet_until = min(self.wet_until, minute + 15)
        self.silent_until = min(self.silent_until, minute + 15)

    def fault(self, minute: int) -> int:
        """Return what is wrong with it."""
        if minute <= self.silent_until:
            return Fault.SILENT
        return Fault.WET if minute <= self.wet_until else Fault.NONE

    def pass_minute(self, minute: int, state: TentState) -> Told | None:
        """Return what it sends, None while nothing is heard of it."""
        chance = self._chance
        gauss = chance.gauss
        # An hour's memory: what drifts within a day is more than what flickers.
        self._noise_pct += -self._noise_pct / 60.0 + gauss(0.0, 0.09)
        self._noise_k += -self._noise_k / 60.0 + gauss(0.0, 0.008)
        self._noise_ppm += -self._noise_ppm / 30.0 + gauss(0.0, 2.5)
        self._ppm = state.co2_ppm + (self._ppm - state.co2_ppm) * self._keeps_co2
        if minute > self.silent_until:
            drawn = chance.random()
            if drawn < 0.04 / DAY_MIN:
                self.silent_until = minute + round(chance.uniform(30.0, 360.0))
            elif drawn < 0.54 / DAY_MIN:
                self.silent_until = minute + round(chance.uniform(1.0, 12.0))
        if minute <= self.silent_until:
            return None
        error = self.bias_pct + self._noise_pct + gauss(0.0, 0.15)
        error = min(max(error, -ERROR_MOST_PCT), ERROR_MOST_PCT)
        humidity = min(max(state.humidity_pct + error, 0.0), 100.0)
        if minute <= self.wet_until:
            humidity = min(99.6 + gauss(0.0, 0.15), 100.0)
        warm = state.temperature_c + self._bias_k + min(max(self._noise_k, -0.05), 0.05)
        ppm = self._gain_co2 * self._ppm + self._bias_ppm + self._noise_ppm + gauss(0.0, 4.0)
        return Told(round(warm, 2), round(humidity, 1), float(round(ppm)))


class RoomSensing:
    """A sensor in the room, or none."""

    def __init__(self, chance: random.Random) -> None:
        self.there = chance.random() < 0.5
        self._chance = chance
        self._bias_pct, self._bias_k = chance.uniform(-1.5, 1.5), chance.uniform(-0.15, 0.15)

    def pass_minute(self, room: RoomAir) -> Told | None:
        """Return what it sends."""
        if not self.there:
            return None
        return Told(
            round(room.temperature_c + self._bias_k + self._chance.gauss(0.0, 0.03), 2),
            round(room.humidity_pct + self._bias_pct + self._chance.gauss(0.0, 0.2), 1),
            None,
        )
