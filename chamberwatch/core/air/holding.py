"""How long air stays humid: fresh air carries water off, wet surfaces give it back.

One balance of water, at the temperature the chamber has now:

    V dv/dt = N V (v_room - v) + A k d^1.33 + devices,   d = v_sat - v

It is the water balance of the tent model with what a grower's chamber lets one learn: N from the
CO2, A (and how much of the water really stands) from how past mistings went.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from chamberwatch.core.air.tent import evaporation_g_per_m2_h, saturated_g_per_m3

FILM_MOST_G_PER_M2: Final = 120.0
"""More water than this runs off a wall (common practice: a film of about a tenth of a mm)."""

FILM_THIN_G_PER_M2: Final = 24.0
"""With less than this only a part of the surface is still wet."""

_STEP_MIN: Final = 1.0

_HARDLY_ANY: Final = 1e-9
_HAIR_G_PER_M3: Final = 0.01
_LONG_MIN: Final = 120.0

_SURELY_PART: Final = 0.7
"""Giving less than this share of what the whole surface gives, it can't be wet all over."""


@dataclass(frozen=True, slots=True)
class Balance:
    """What decides how the water in the air goes on.

    Attributes:
        volume_m3: free air. [m3]
        air_changes_per_h: leakage and fans. [1/h]
        wet_area_m2: surface that is wet while water stands on it. [m2]
        temperature_c: of the chamber, taken as steady. [°C]
        room_vapour_g_per_m3: water in the air that comes in. [g/m3]
        devices_g_per_h: what humidifiers give. [g/h]
    """

    volume_m3: float
    air_changes_per_h: float
    wet_area_m2: float
    temperature_c: float
    room_vapour_g_per_m3: float
    devices_g_per_h: float = 0.0

    @property
    def saturated_g_per_m3(self) -> float:
        """Water in saturated air. [g/m3]."""
        return saturated_g_per_m3(self.temperature_c)

    @property
    def film_most_g(self) -> float:
        """Water that stands before it runs off. [g]."""
        return self.wet_area_m2 * FILM_MOST_G_PER_M2

    def vapour_at(self, humidity_pct: float) -> float:
        """Return the water in air of a humidity. [g/m3]."""
        return self.saturated_g_per_m3 * humidity_pct / 100.0

    def humidity_of(self, vapour_g_per_m3: float) -> float:
        """Return the humidity of air with so much water. [%]."""
        return 100.0 * vapour_g_per_m3 / self.saturated_g_per_m3

    def carried_off_g_per_h(self, humidity_pct: float) -> float:
        """Return what fresh air takes, less what devices give; negative: it brings. [g/h]."""
        gap = self.vapour_at(humidity_pct) - self.room_vapour_g_per_m3
        return self.air_changes_per_h * self.volume_m3 * gap - self.devices_g_per_h

    def given_g_per_h(self, humidity_pct: float) -> float:
        """Return what the whole wet surface gives at a humidity. [g/h]."""
        deficit = self.saturated_g_per_m3 - self.vapour_at(humidity_pct)
        return self.wet_area_m2 * evaporation_g_per_m2_h(deficit)

    def settles_pct(self, *, wet: bool) -> float:
        """Return the humidity at which it stays, with wet surfaces or dry ones. [%]."""

        def surplus(humidity_pct: float) -> float:
            given = self.given_g_per_h(humidity_pct) if wet else 0.0
            return given - self.carried_off_g_per_h(humidity_pct)

        low, high = 0.0, 100.0
        if surplus(high) >= 0.0:
            return high
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if surplus(middle) > 0.0 else (low, middle)
        return (low + high) / 2


class Moment(NamedTuple):
    """One point of a course; a tuple, for a fit makes a hundred thousand of them.

    Attributes:
        minutes: since the start. [min]
        humidity_pct: of the air. [%]
        film_g: water still standing. [g]
    """

    minutes: float
    humidity_pct: float
    film_g: float


def course(
    balance: Balance, humidity_pct: float, film_g: float, minutes: float, step_min: float
) -> Iterator[Moment]:
    """Yield how humidity and standing water go on, a point for each step, the start left out.

    Each step is solved exactly with the pull of the surface as it is at the start of the step.

    Args:
        balance: what decides.
        humidity_pct: at the start. [%]
        film_g: water that stands at the start. [g]
        minutes: how far. [min]
        step_min: of the points, up to 5. [min]
    """
    n, volume = balance.air_changes_per_h, balance.volume_m3
    saturated, hours = balance.saturated_g_per_m3, step_min / 60.0
    area, thin = balance.wet_area_m2, balance.wet_area_m2 * FILM_THIN_G_PER_M2
    vapour, film = balance.vapour_at(min(humidity_pct, 100.0)), film_g
    most = max(balance.film_most_g, film_g)
    constant = n * balance.room_vapour_g_per_m3 + balance.devices_g_per_h / volume
    # What is learnt of a misting takes thousands of courses, so nothing is called twice here.
    for number in range(1, int(minutes / step_min) + 1):
        pull = 0.0
        if film > 0.0 and thin > 0.0:
            # At saturation the surface gives nothing; a hair below it keeps the slope finite.
            deficit = saturated - vapour
            deficit = max(_HAIR_G_PER_M3, deficit)
            wetted = area if film >= thin else area * (film / thin)
            pull = wetted * evaporation_g_per_m2_h(deficit) / deficit / volume
        after, mean = _relaxed(vapour, constant + pull * saturated, n + pull, hours)
        evaporated = pull * (saturated - mean) * hours * volume
        if evaporated > film:
            after -= (evaporated - film) / volume
            evaporated = film
        film -= evaporated
        if after > saturated:
            film += (after - saturated) * volume
            after = saturated
        vapour, film = after, min(most, film)
        yield Moment(number * step_min, 100.0 * vapour / saturated, film)


def _relaxed(start: float, gain_per_h: float, per_h: float, hours: float) -> tuple[float, float]:
    """Solve dx/dt = gain - per_h x exactly; return x at the end, and its mean on the way."""
    if per_h < _HARDLY_ANY:
        # Nothing pulls: a straight line, where the exponential would divide by nought.
        after = start + gain_per_h * hours
        return after, (start + after) / 2
    end = gain_per_h / per_h
    # Written from the start, so that it holds where hardly anything pulls as well.
    after = start - (end - start) * math.expm1(-per_h * hours)
    return after, end + (start - after) / (per_h * hours)


def standing_seen_g(balance: Balance, humidity_pct: float, given_g_per_h: float) -> float:
    """Return the most water that can stand where so little is given off; infinite if all is wet.

    A surface that still has enough water gives what its area gives. Where the record shows less,
    only a part is wet, and so little water is left as leaves only that part wet.

    Args:
        balance: what decides, with the area as it was learnt.
        humidity_pct: mean of the stretch. [%]
        given_g_per_h: what the record says they gave: carried off, and gained by the air. [g/h]
    """
    whole = balance.given_g_per_h(humidity_pct)
    if whole <= 0.0:
        return math.inf
    share = max(given_g_per_h, 0.0) / whole
    if share > _SURELY_PART:
        return math.inf
    return share * balance.wet_area_m2 * FILM_THIN_G_PER_M2


@dataclass(frozen=True, slots=True)
class Hold:
    """How long the humidity holds.

    Attributes:
        minutes: until it falls below the limit, at most the time that was asked for. [min]
        holds: it holds for the whole time that was asked for.
        end_pct: humidity at that end. [%]
        film_g: water still standing then. [g]
    """

    minutes: float
    holds: bool
    end_pct: float
    film_g: float


def held(
    balance: Balance, humidity_pct: float, film_g: float, low_pct: float, minutes: float
) -> Hold:
    """Return how long the air stays at or above a limit. [%], [g], [%], [min]."""
    if humidity_pct < low_pct:
        return Hold(0.0, holds=False, end_pct=humidity_pct, film_g=film_g)
    last = Moment(0.0, humidity_pct, film_g)
    # A night in steps of three minutes is as good, and a third of the work.
    step_min = _STEP_MIN if minutes <= _LONG_MIN else 3.0 * _STEP_MIN
    for moment in course(balance, humidity_pct, film_g, minutes, step_min):
        if moment.humidity_pct < low_pct:
            return _crossed(last, moment, low_pct)
        last = moment
    return Hold(minutes, True, last.humidity_pct, last.film_g)


def _crossed(last: Moment, beyond: Moment, low_pct: float) -> Hold:
    """Return when the air fell below a limit between two points of a course."""
    share = (last.humidity_pct - low_pct) / (last.humidity_pct - beyond.humidity_pct)
    return Hold(
        minutes=last.minutes + share * (beyond.minutes - last.minutes),
        holds=False,
        end_pct=low_pct,
        film_g=last.film_g + share * (beyond.film_g - last.film_g),
    )


def standing_needed_g(
    balance: Balance, humidity_pct: float, low_pct: float, minutes: float
) -> float:
    """Return the water that must stand for the air to hold so long; infinite where none does. [g].

    Args:
        balance: what decides.
        humidity_pct: at the start. [%]
        low_pct: the limit. [%]
        minutes: how long. [min]
    """
    most = balance.film_most_g
    if held(balance, humidity_pct, 0.0, low_pct, minutes).holds:
        return 0.0
    if not held(balance, humidity_pct, most, low_pct, minutes).holds:
        return math.inf
    low, high = 0.0, most
    while high - low > max(0.5, 0.01 * most):
        middle = (low + high) / 2
        if held(balance, humidity_pct, middle, low_pct, minutes).holds:
            high = middle
        else:
            low = middle
    return high
