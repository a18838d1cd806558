"""The equations of the tent model, on bare figures: one step of water, heat and CO2 at once.

Over a step the rates are held as they are halfway through it. The balances are linear then and are
solved exactly: CO2 by one exponential, water and heat together by the two of their 2 x 2 system,
since water that evaporates cools the air and cooler air takes up less. So any step is stable, and
a minute at once comes within 1 % of sixty seconds one by one.

What evaporates or settles is booked from the solved balances: a closed chamber keeps its water
and its energy (that of temperature and of vapour) to rounding.

Everything is per m3 of air and per hour; `tent` says it in a grower's terms.
"""

import math
from dataclasses import dataclass
from typing import Final

Q10: Final = 2.5
"""Respiration grows so much in 10 K (synthesis of published figures)."""

# Evaporation of a wet surface in still air: about 8.7 g/(m2 h) into 90 % air and 74 into 50 % at
# 20 °C (natural convection form of Shah 2002, HVAC&R Res. 8(1):125, coefficients from memory).
# Between those it is close to a power of the vapour density deficit [g/m3]: 8.7 = k 1.73^n,
# 74 = k 8.64^n.
EVAPORATION_POWER: Final = 1.333
EVAPORATION_K: Final = 4.19

# Water beyond saturation settles within a second or so: far faster than anything else here.
_SETTLING_PER_H: Final = 3600.0

# Eigenvalues closer than this are taken for the same.
_SAME_PER_H: Final = 1e-12

_ROUNDS: Final = 6

# No colony breathes faster than at this temperature; it suffers there (common practice).
_HOTTEST_C: Final = 40.0

# Vapour density over water, ln(g/m3) = A + T (B + C T) / (T + D): fitted to the saturation
# pressure of psychrometrics and the gas law, within 1e-5 from 0 to 45 °C. It costs one exp, and
# its slope comes with it.
_A: Final = 1.578691
_B: Final = 17.66126
_C: Final = -5.874475e-3
_D: Final = 256.0


@dataclass(frozen=True, slots=True)
class Run:
    """What stays the same from step to step; the chamber's figures per m3 of its air and hour."""

    hours: float
    changes_per_h: float
    losses_per_h: float
    """Of heat, through cover and fresh air."""
    cooling: float
    """What evaporating cools. [K m3/g]."""
    warming: float
    """What a gram of CO2 warms. [K/g]."""
    vapour_in: float
    """That fresh air and devices bring. [g/(m3 h)]."""
    half_air_kept: float
    """Share of the air that is left after half a step."""
    half_air_gain: float
    """What comes in during half a step, for each unit an hour. [h]."""
    half_warm_kept: float
    half_warm_gain: float
    """The same of heat."""
    kelvin_in: float
    """That room and devices bring, the devices' mist counted. [K/h]."""
    co2_room: float
    co2_kept: float
    """Share of the excess that is left after a step."""
    co2_gained: float
    """Rise of a step for each gram an hour. [ppm h/g]."""
    breath: float
    """At 20 °C. [g/h]."""
    volume: float
    film_pull: float
    """Of the whole wet surface, with the deficit to the power n - 1. [1/h]."""
    fruit_pull: float
    thin: float
    film_most: float


def saturation(temperature_c: float) -> tuple[float, float]:
    """Return how much water air can hold [g/m3] and its slope [g/(m3 K)]."""
    shifted = temperature_c + _D
    held = math.exp(_A + temperature_c * (_B + _C * temperature_c) / shifted)
    rise = _B * _D + _C * temperature_c * (2.0 * _D + temperature_c)
    return held, held * rise / (shifted * shifted)


def breathing(temperature_c: float) -> float:
    """Return respiration as a share of that at 20 °C."""
    return math.exp(math.log(Q10) * (min(temperature_c, _HOTTEST_C) - 20.0) / 10.0)


def advance(
    run: Run, warm: float, vapour: float, co2: float, film: float
) -> tuple[float, float, float, float]:
    """Return temperature, vapour, CO2 and film after a step."""
    mid_warm, deficit, mid_film = _halfway(run, warm, vapour, film)
    saturated, slope = saturation(mid_warm)
    breath = run.breath * breathing(mid_warm)
    kelvin_in = run.kelvin_in + breath * run.warming
    # Saturation as a line over the step: offset + slope T.
    line = (saturated - slope * mid_warm, slope, kelvin_in)
    if deficit >= 0.0:
        warm, vapour, film = _dried(run, (warm, vapour, film), line, deficit, mid_film)
    else:
        warm, vapour, film = _settled(run, (warm, vapour, film), line)
    if vapour > saturation(warm)[0]:
        excess = excess_g_per_m3(warm, vapour, run.cooling)
        warm, vapour = warm + excess * run.cooling, vapour - excess
        film += excess * run.volume
    co2 = run.co2_room + (co2 - run.co2_room) * run.co2_kept + breath * run.co2_gained
    return warm, vapour, co2, min(film, run.film_most)


def _pulls(run: Run, deficit: float, film: float) -> tuple[float, float]:
    """Return how fast film and fruit pull the air towards saturation. [1/h]."""
    if deficit <= 0.0:
        return 0.0, 0.0
    steeper = math.pow(deficit, EVAPORATION_POWER - 1.0)
    wetted = film / run.thin if film < run.thin else 1.0
    return run.film_pull * wetted * steeper, run.fruit_pull * steeper


def _halfway(run: Run, warm: float, vapour: float, film: float) -> tuple[float, float, float]:
    """Return temperature, deficit and film in the middle of the step, each possibly below 0.

    What comes from outside is exact; what surfaces give follows from the deficit left at the end
    (implicit), so it can't overshoot. Only rates are taken from here.
    """
    saturated, slope = saturation(warm)
    kelvin_in = run.kelvin_in + run.breath * breathing(warm) * run.warming
    # As if nothing evaporated or settled.
    after_warm = warm * run.half_warm_kept + kelvin_in * run.half_warm_gain
    after_vapour = vapour * run.half_air_kept + run.vapour_in * run.half_air_gain
    deficit = saturated + slope * (after_warm - warm) - after_vapour
    if deficit < 0.0:
        from_film, from_fruit = _SETTLING_PER_H, 0.0
    else:
        from_film, from_fruit = _pulls(run, saturated - vapour, film)
    pull = from_film + from_fruit
    chills = run.cooling * run.half_warm_gain
    deficit /= 1.0 + pull * (slope * chills + run.half_air_gain)
    return (
        after_warm - pull * deficit * chills,
        deficit,
        film - from_film * deficit * run.volume * run.hours / 2,
    )


def _dried(
    run: Run,
    start: tuple[float, float, float],
    line: tuple[float, float, float],
    deficit: float,
    mid_film: float,
) -> tuple[float, float, float]:
    """Return temperature, vapour and film where surfaces evaporate."""
    warm, vapour, film = start
    # What is used up by the middle was wet until then.
    from_film, from_fruit = _pulls(run, deficit, max(mid_film, film / 2))
    pull = from_film + from_fruit
    after_warm, after_vapour, gained = _solved(run, warm, vapour, (*line, pull, 0.0))
    if not pull:  # nothing wet: what seems gained is rounding
        return after_warm, after_vapour, film
    if gained <= 0.0:  # no drying after all: it settles, on whatever there is
        return after_warm, after_vapour, film - gained * run.volume
    left = film - gained * run.volume * (from_film / pull)
    if left < 0.0 or mid_film < 0.0:
        # The last of the film is gone within the step: spread it evenly over the time.
        spread = film / (run.hours * run.volume)
        after_warm, after_vapour, gained = _solved(run, warm, vapour, (*line, from_fruit, spread))
        left = -min(gained, 0.0) * run.volume
    return after_warm, after_vapour, left


def _settled(
    run: Run, start: tuple[float, float, float], line: tuple[float, float, float]
) -> tuple[float, float, float]:
    """Return temperature, vapour and film where the air holds all it can."""
    warm, vapour, film = start
    after_warm, after_vapour, gained = _solved(run, warm, vapour, (*line, _SETTLING_PER_H, 0.0))
    if gained > 0.0:  # it would draw water from nowhere: the air is drying
        after_warm, after_vapour, _ = _solved(run, warm, vapour, (*line, 0.0, 0.0))
        return after_warm, after_vapour, film
    return after_warm, after_vapour, film - gained * run.volume


def _solved(
    run: Run, warm: float, vapour: float, held: tuple[float, float, float, float, float]
) -> tuple[float, float, float]:
    """Solve water and heat exactly with held rates.

        v' = in - n v + pull (offset + slope T - v) + spread
        T' = kelvin_in - losses T - cooling (pull (offset + slope T - v) + spread)

    The eigenvalues of that system are real and never positive. With f(m) = (e^(m h) - 1) / m the
    change is f of the matrix, times the rates at the start: f at the slow eigenvalue, and the
    divided difference of f for the rest (Newton's form), which needs no inverse.

    Args:
        run: what stays the same.
        warm: temperature at the start. [°C]
        vapour: at the start. [g/m3]
        held: offset and slope of the line of saturation [g/m3], [g/(m3 K)]; heat that comes in
            [K/h]; pull of the surfaces [1/h]; film that evaporates besides [g/(m3 h)].

    Returns:
        Temperature, vapour, and what the pull gave to the air. [°C], [g/m3], [g/m3].
    """
    offset, slope, kelvin_in, pull, spread = held
    hours, n = run.hours, run.changes_per_h
    v_v, v_t = -(n + pull), pull * slope
    t_v, t_t = run.cooling * pull, -(run.losses_per_h + run.cooling * v_t)
    evaporating = pull * offset + spread
    v_rate = v_v * vapour + v_t * warm + run.vapour_in + evaporating
    t_rate = t_v * vapour + t_t * warm + kelvin_in - run.cooling * evaporating
    half_apart = math.sqrt((0.5 * (v_v - t_t)) ** 2 + v_t * t_v)
    fast = 0.5 * (v_v + t_t) - half_apart
    # Their product is the determinant; written so that nothing cancels.
    slow = ((n + pull) * run.losses_per_h + n * run.cooling * v_t) / fast if fast < 0.0 else 0.0
    f_slow = gain(slow, hours)
    # Where both are the same the matrix is a number, and there is no rest.
    wide = slow - fast > _SAME_PER_H
    apart = (f_slow - gain(fast, hours)) / (slow - fast) if wide else 0.0
    v_more, t_more = (v_v - slow) * v_rate + v_t * t_rate, t_v * v_rate + (t_t - slow) * t_rate
    v_gain = f_slow * v_rate + apart * v_more
    gained = v_gain - (run.vapour_in + spread) * hours
    if n > 0.0:
        g_slow = _gain_of_gain(slow, hours)
        g_apart = (g_slow - _gain_of_gain(fast, hours)) / (slow - fast) if wide else 0.0
        gained += n * (vapour * hours + g_slow * v_rate + g_apart * v_more)
    return warm + f_slow * t_rate + apart * t_more, vapour + v_gain, gained


def gain(m: float, hours: float) -> float:
    """Return the integral of e^(m t) over the time. [h]."""
    x = m * hours
    return math.expm1(x) / m if x < -1e-9 else hours * (1.0 + x / 2.0)


def _gain_of_gain(m: float, hours: float) -> float:
    """Return the integral of `gain` over the time. [h2]."""
    x = m * hours
    if x > -0.01:  # the closed form cancels here
        return hours * hours * (0.5 + x / 6.0 + x * x / 24.0 + x * x * x / 120.0)
    return (math.expm1(x) / m - hours) / m


def excess_g_per_m3(warm: float, vapour: float, cooling: float) -> float:
    """Return the water that has to settle to leave saturated air; below 0: what it still takes up.

    Newton's method, as settling warms the air; from any humidity it has converged long before
    the last round. [g/m3].
    """
    excess = 0.0
    for _ in range(_ROUNDS):
        saturated, slope = saturation(warm + excess * cooling)
        excess += (vapour - excess - saturated) / (1.0 + cooling * slope)
    return excess
