"""What is known of a chamber's ways: declared, assumed, or learnt from its record.

Nobody measures how much of a spray reaches the air, or how much wall really gets wet. But how a
misting went shows it: with the air changes from the CO2, the course of the humidity afterwards
says how large a wet surface acts, and when it fell says how much of the water counted.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.holding import FILM_THIN_G_PER_M2, Balance, course
from chamberwatch.core.air.leastsquares import Column, dot

# Common practice, with the range that home chambers span: a loosely zipped cover 0.5 to 3 changes
# an hour, a lidded tub 0.5 to 2; an opened front more than 4.
LEAK_PER_H: Final = Figure.assumed(1.0, 0.5, 3.0)
VENT_PER_H: Final = Figure.assumed(12.0, 4.0, 40.0)
SPRAY_SHARE: Final = Figure.assumed(0.4, 0.2, 0.6)
"""So much of a fine spray evaporates on its way."""

_WET_AREA_OF_A_CUBE: Final = 0.8
"""m2 of wet surface for a chamber of 1 m3: floor, a tray and a part of the walls."""

_SHARED: Final = 0.1
"""No number learnt here is surer than a tenth, however well its measurements agree."""

_COUNTED: Final = 40
"""The points of a course go together; more of them than this say nothing new."""

_MODEL_OFF_PCT: Final = 0.7
"""So far the model may be off a real chamber at any one point. [%]"""

_ROUNDS: Final = 16
_SMALL_LOG: Final = 0.01

_SPREAD_LOG: Final = {"area": 1.0, "share": 0.35, "guess": 1.5}
"""How far the wet surface and the water that counts may be off, as logarithms, before learning."""


@dataclass(frozen=True, slots=True)
class Knowledge:
    """A chamber's ways.

    Attributes:
        volume_m3: free air. [m3]
        leak_per_h: air changes while closed. [1/h]
        vent_per_h: air changes while vented by hand. [1/h]
        source_g_per_h: CO2 given off inside; None while not known. [g/h]
        wet_area_m2: surface that acts as wet. [m2]
        standing_share: of the water put onto walls and trays, how much counts.
        spray_share: of the water sprayed, how much the air takes at once.
    """

    volume_m3: float
    leak_per_h: Figure
    vent_per_h: Figure
    source_g_per_h: Figure | None
    wet_area_m2: Figure
    standing_share: Figure
    spray_share: Figure


def assumed(
    volume_m3: float,
    leak_per_h: float | None = None,
    vent_per_h: float | None = None,
    wet_area_m2: float | None = None,
) -> Knowledge:
    """Return what is known before anything was learnt: what was declared, else common practice.

    Args:
        volume_m3: free air. [m3]
        leak_per_h: as stated. [1/h]
        vent_per_h: as stated. [1/h]
        wet_area_m2: as stated. [m2]
    """
    area = _WET_AREA_OF_A_CUBE * volume_m3 ** (2 / 3)
    return Knowledge(
        volume_m3,
        LEAK_PER_H if leak_per_h is None else Figure.declared(leak_per_h),
        VENT_PER_H if vent_per_h is None else Figure.declared(vent_per_h),
        None,
        Figure.assumed(area, area / 3, area * 3)
        if wet_area_m2 is None
        else Figure.declared(wet_area_m2),
        Figure.assumed(1.0, 0.5, 1.5),
        SPRAY_SHARE,
    )


def pooled(values: Sequence[float], before: Figure) -> Figure:
    """Return what several measurements of one positive number say together.

    The median of their logarithms, so that one odd misting among five changes little; the range
    is that of the middle half, widened for few.

    Args:
        values: positive, in any order.
        before: what to say while there are none.
    """
    if not values:
        return before
    logs = sorted(math.log(value) for value in values)
    middle = _quantile(logs, 0.5)
    # 0.74 times the middle half is the standard deviation of a normal spread; 0.3 where one alone
    # can't show it.
    spread = 0.3 if len(logs) < 3 else 0.74 * (_quantile(logs, 0.75) - _quantile(logs, 0.25))
    # What all of them share (a sensor's bias, the model) does not average out.
    off = max(2.0 * spread / math.sqrt(len(logs)), _SHARED)
    return Figure(
        math.exp(middle),
        math.exp(middle - off),
        math.exp(middle + off),
        Origin.MEASURED,
        len(logs),
    )


def _quantile(ordered: Sequence[float], share: float) -> float:
    at = share * (len(ordered) - 1)
    low = math.floor(at)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (ordered[high] - ordered[low]) * (at - low)


@dataclass(frozen=True, slots=True)
class Aftermath:
    """How the humidity went after one misting.

    Attributes:
        humidity_pct: at equal steps from the end of the misting on, the first at its end. [%]
        step_min: between two of them. [min]
        standing_g: water that stood then, as far as is known. [g]
        temperature_c: mean of the chamber. [°C]
        room_vapour_g_per_m3: mean of the room. [g/m3]
        devices_g_per_h: what humidifiers gave. [g/h]
        devices_per_h: air changes of fans on timers. [1/h]
        guessed: nobody said how much was put down, so `standing_g` is hardly known.
    """

    humidity_pct: tuple[float, ...]
    step_min: float
    standing_g: float
    temperature_c: float
    room_vapour_g_per_m3: float
    devices_g_per_h: float = 0.0
    devices_per_h: float = 0.0
    guessed: bool = False


@dataclass(frozen=True, slots=True)
class Taught:
    """What one misting taught.

    Attributes:
        wet_area_m2: surface that acts as wet. [m2]
        standing_share: of the water put down, how much counts.
        leak_per_h: air changes while closed. [1/h]
        rms_pct: how far the course of the model is off. [%]
        all_wet: there was water enough to wet all of the surface; else its area did not show.
        guessed: how much was put down was a guess, so the share of it says nothing.
    """

    wet_area_m2: float
    standing_share: float
    leak_per_h: float
    rms_pct: float
    all_wet: bool = True
    guessed: bool = False


def taught_by(aftermath: Aftermath, known: Knowledge, before: Taught | None = None) -> Taught:
    """Return the ways under which the model goes as the humidity went.

    Least squares over wet area, share of the water that counts and air changes, each held to
    what was known before as far as that is certain (so a short record changes little, and the
    air changes move only within the interval that the CO2 gave them).

    Args:
        aftermath: what was seen.
        known: what was known before.
        before: what a long part of the same course has taught: the way on is short from there.
    """
    leak, area = known.leak_per_h, known.wet_area_m2.value
    leak_spread = max(math.log(leak.high / leak.low) / 4.0, 0.05)
    share_spread = _SPREAD_LOG["guess" if aftermath.guessed else "share"]
    spreads = (_SPREAD_LOG["area"], share_spread, leak_spread)

    def at(logs: Column) -> tuple[float, float, float]:
        return area * math.exp(logs[0]), math.exp(logs[1]), leak.value * math.exp(logs[2])

    points = len(aftermath.humidity_pct)
    weight = math.sqrt(min(points, _COUNTED) / max(points - 1, 1)) / _MODEL_OFF_PCT

    def residuals(logs: Column) -> Column:
        off = _off_pct(aftermath, known.volume_m3, *at(logs))
        held = [log / spread for log, spread in zip(logs, spreads, strict=True)]
        return [one * weight for one in off] + held

    starts: Sequence[Column] = ([0.0, 0.0, 0.0], [-1.2, 0.0, 0.0], [1.2, 0.0, 0.0])
    if before is not None:
        ratios = before.wet_area_m2 / area, before.standing_share, before.leak_per_h / leak.value
        starts = ([math.log(ratio) for ratio in ratios],)
    best = min((_fitted(residuals, start) for start in starts), key=lambda end: end[1])[0]
    found = at(best)
    off = _off_pct(aftermath, known.volume_m3, *found)
    return Taught(
        *found,
        rms_pct=math.sqrt(dot(off, off) / max(len(off), 1)),
        all_wet=aftermath.standing_g * found[1] >= found[0] * FILM_THIN_G_PER_M2,
        guessed=aftermath.guessed,
    )


def _off_pct(
    seen: Aftermath, volume_m3: float, area_m2: float, share: float, leak_per_h: float
) -> Column:
    """Return the differences of course and record, the start left out. [%]."""
    balance = Balance(
        volume_m3,
        leak_per_h + seen.devices_per_h,
        area_m2,
        seen.temperature_c,
        seen.room_vapour_g_per_m3,
        seen.devices_g_per_h,
    )
    # What ran off does not count, and the share says so: how much a square metre can hold is only
    # assumed, and would tie the area to it.
    standing = seen.standing_g * share
    minutes = seen.step_min * (len(seen.humidity_pct) - 1)
    half = seen.step_min / 2
    going = islice(course(balance, seen.humidity_pct[0], standing, minutes, half), 1, None, 2)
    return [
        moment.humidity_pct - humidity
        for moment, humidity in zip(going, seen.humidity_pct[1:], strict=True)
    ]


def _fitted(residuals: Callable[[Column], Column], start: Column) -> tuple[Column, float]:
    """Return where the sum of squares is least, downhill from a start, and that sum.

    The unknowns pull on each other (more water, or a slower leak), in a valley far too narrow to
    walk along one at a time: Levenberg-Marquardt steps, with slopes from small differences.
    """
    at, rest = start, residuals(start)
    least, damping = dot(rest, rest), 0.01
    slopes = _slopes(residuals, at, rest)
    for _ in range(_ROUNDS):
        step = _step(slopes, rest, damping)
        tried = [a - min(max(s, -1.0), 1.0) for a, s in zip(at, step, strict=True)]
        after = residuals(tried)
        value = dot(after, after)
        if value >= least:
            damping *= 8.0
            continue
        enough = least - value < 1e-3 * least
        at, rest, least, damping = tried, after, value, damping / 8.0
        if enough:
            break
        # Where a step was refused they are still those of before: they cost most of all.
        slopes = _slopes(residuals, at, rest)
    return at, least


def _slopes(residuals: Callable[[Column], Column], at: Column, rest: Column) -> Sequence[Column]:
    """Return how the residuals follow each unknown, from small differences."""
    return [
        [(b - a) / _SMALL_LOG for a, b in zip(rest, residuals(moved), strict=True)]
        for moved in ([*at[:i], at[i] + _SMALL_LOG, *at[i + 1 :]] for i in range(len(at)))
    ]


def _step(slopes: Sequence[Column], rest: Column, damping: float) -> Column:
    """Return the step of the damped normal equations, by elimination."""
    rows = [
        [dot(one, other) * (1.0 + damping * (one is other)) for other in slopes] + [dot(one, rest)]
        for one in slopes
    ]
    # Every diagonal holds the square of what was known before, so none is nought.
    for i, row in enumerate(rows):
        for j, other in enumerate(rows):
            if i != j:
                ratio = other[i] / row[i]
                rows[j] = [b - ratio * a for a, b in zip(row, other, strict=True)]
    return [row[-1] / row[i] for i, row in enumerate(rows)]


def spray_share_of(
    gain_g_per_m3: float, sprayed_g: float, volume_m3: float, from_walls_g: float
) -> float | None:
    """Return what share of a spray the air took at once, None where nothing was sprayed.

    Args:
        gain_g_per_m3: of the water in the air. [g/m3]
        sprayed_g: into the air. [g]
        volume_m3: free air. [m3]
        from_walls_g: what wet walls gave on the way. [g]
    """
    if sprayed_g <= 0.0:
        return None
    share = (gain_g_per_m3 * volume_m3 - from_walls_g) / sprayed_g
    return min(max(share, 0.1), 1.0)


def standing_after(
    standing_g: float, put_g: float, carried_off_g: float, gained_by_air_g: float, most_g: float
) -> float:
    """Return the water that still stands after a stretch. [g].

    What fresh air carried off and what the air gained must have come from it.

    Args:
        standing_g: at the start. [g]
        put_g: put onto the walls then. [g]
        carried_off_g: by fresh air on the way. [g]
        gained_by_air_g: by the air itself, less what was sprayed into it. [g]
        most_g: more runs off. [g]
    """
    wet = min(standing_g + put_g, max(most_g, standing_g))
    return max(wet - max(carried_off_g + gained_by_air_g, 0.0), 0.0)


def contradicted(co2: Figure, taught: Sequence[Taught]) -> bool:
    """Tell whether mistings leave nothing of the interval of air changes that the CO2 gave."""
    if not taught:
        return False
    water = pooled([one.leak_per_h for one in taught], co2)
    return water.high <= co2.low or water.low >= co2.high


def _within(taught: Figure, co2: Figure) -> Figure:
    """Return the air changes that mistings teach, held to the interval that the CO2 gave.

    Where the two contradict each other the CO2 has the word: it is what the standard goes by.
    """
    if co2.origin is not Origin.MEASURED:
        return taught
    low, high = max(taught.low, co2.low), min(taught.high, co2.high)
    if low >= high:
        return co2
    value = min(max(taught.value, low), high)
    return Figure(value, low, high, Origin.MEASURED, max(taught.count, co2.count))


def learnt(
    known: Knowledge,
    *,
    leak_per_h: Figure | None,
    vents_per_h: Sequence[float],
    source_g_per_h: Figure | None,
    taught: Sequence[Taught],
    spray_shares: Sequence[float],
) -> Knowledge:
    """Return what is known once the record has spoken.

    Args:
        known: declared or assumed.
        leak_per_h: from the CO2 while closed, None where no fit held. [1/h]
        vents_per_h: from each venting. [1/h]
        source_g_per_h: from the CO2 while closed. [g/h]
        taught: by each misting whose course is known.
        spray_shares: of each misting that did not saturate the air.
    """
    leak = leak_per_h or known.leak_per_h
    leaks = [one.leak_per_h for one in taught]
    if leaks and leak.origin is not Origin.DECLARED:
        leak = _within(pooled(leaks, leak), leak)
    return replace(
        known,
        leak_per_h=leak,
        vent_per_h=pooled(vents_per_h, known.vent_per_h),
        source_g_per_h=source_g_per_h,
        wet_area_m2=pooled([one.wet_area_m2 for one in taught if one.all_wet], known.wet_area_m2),
        standing_share=pooled(
            [one.standing_share for one in taught if not one.guessed], known.standing_share
        ),
        spray_share=pooled(spray_shares, known.spray_share),
    )
