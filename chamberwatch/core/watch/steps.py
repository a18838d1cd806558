"""Mistings and ventings as steps in the air of a chamber.

A misting shows as a sharp rise of the water in the air, a venting as a sharp fall of it towards
the room's together with a fall of the CO2 towards the inlet's. Sharp means: much faster than
just before and just after, so that the smooth recovery from wet walls after a venting, the slow
decay after a misting and the swing of a radiator are none.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median
from typing import Final

from chamberwatch.core.watch.found import Kind
from chamberwatch.core.watch.tracks import Record, Run, least_sure, runs

# Lengths are in steps of 30 s.
AROUND: Final = 8
"""Calm that must be known on both sides of a step: 4 min."""

APART: Final = 6
"""Two steps of one kind within 3 min are one."""

TOGETHER_S: Final = 240.0
"""Squeezes with less than 4 min between them are one misting. [s]"""

LEAST_RISE_G_PER_M3: Final = 0.3
"""About 1.7 %RH at 20 °C. A cheap sensor's wander and its rounding of the temperature to 0.1 K
(0.1 g/m3 at 90 %) stay below."""

REBOUND_SHARE: Final = 0.18
"""After a fall, wet walls bring the water back as an exponential. Its first two minutes exceed
the next two by (1 - e^(-2/tau))^2 of the fall: 0.11 with tau = 5 min, usual for wet walls of
a tent. A misting must stand out by more ..."""

REBOUND_BELOW_SHARE: Final = 0.3
"""... and by this much if it doesn't even reach the level from before the fall: 0.29 is what
tau = 2.6 min gives, a small tub with water all over."""

REBOUND: Final = 40
"""So long, 20 min, a fall is remembered for that."""

LASTS_SHARE: Final = 0.3
"""So much of a rise must still be there 3 to 6 min later; a breath at the sensor is gone."""

LEAST_FALL_G_PER_M3: Final = 0.5
"""About 3 %RH at 20 °C; a fall is taken at its lowest minute, which noise deepens a little."""

FALL_SHARE: Final = 0.25
"""Of the way to the room's air within 3 min, that is 6 air changes an hour. A loosely zipped
cover has 0.5 to 3, an open front above 4 (common practice)."""

FALL_SHARE_UNKNOWN: Final = 0.1
"""The same of all water in the air where the room isn't known; a room in winter holds about
half of what a misted chamber does."""

DRIER_G_PER_M3: Final = 1.5
"""A room less than so much drier (about 9 %RH at 20 °C) would not show a venting in the water."""

LEAST_CO2_FALL_PPM: Final = 25.0
"""Noise of a CO2 sensor is 5 to 10 ppm a report (common practice)."""

VISIBLE: Final = 3.0
"""Where the CO2 lies above the inlet's by so many times the least fall, a venting must show
in it: two minutes at 30 changes an hour take off 60 %."""

CO2_FALL_SHARE: Final = 0.25
CO2_FALL_SHARE_UNKNOWN: Final = 0.1

CO2_WITHIN: Final = 16
"""A CO2 sensor with a lag of 120 s has shown 98 % of a step after 8 min."""

CO2_ALONE: Final = 1.5
"""A venting that only the CO2 shows must stand out by so much more."""

CO2_LATE: Final = 3
"""The lowest CO2 is seen about 90 s, the usual lag, after the true one."""


@dataclass(frozen=True, slots=True)
class Step:
    """One misting or venting as the air shows it.

    Attributes:
        kind: which of the two.
        start_s: when the air began to change. [s]
        end_s: when that change was over. [s]
        humidity_before_pct: at the start. [%]
        humidity_after_pct: at the end. [%]
        vapour_gain_g_per_m3: from start to end; below 0 for a loss. [g/m3]
        co2_before_ppm: None where it was not read. [ppm]
        co2_after_ppm: at the end of a misting; the lowest shown after a venting. [ppm]
    """

    kind: Kind
    start_s: float
    end_s: float
    humidity_before_pct: float
    humidity_after_pct: float
    vapour_gain_g_per_m3: float
    co2_before_ppm: float | None
    co2_after_ppm: float | None


def steps(record: Record) -> tuple[Step, ...]:
    """Return the mistings and ventings of a record, in order of their start.

    What happened within 4 min of the record's end, or of a gap, is not seen.
    """
    found: list[Step] = []
    for run in runs(record):
        falls = _co2_falls(run)
        least_co2 = least_sure(_known(falls), LEAST_CO2_FALL_PPM)
        ventings = _ventings(run, falls, least_co2)
        found += ventings
        found += _mistings(run, ventings, least_co2)
    return tuple(sorted(found, key=lambda step: step.start_s))


# ------------------------------------------------------------------ mistings


def _mean(values: Sequence[float], start: int, stop: int) -> float:
    return sum(values[start:stop]) / (stop - start)


def _means(values: Sequence[float], over: int) -> list[float]:
    """Return the means over so many steps, from each step on: every look needs each many times."""
    return [_mean(values, start, start + over) for start in range(len(values) - over + 1)]


def _sharp_rise(threes: Sequence[float], i: int) -> float:
    """Return the rise over 2 min from step i, beyond that of the 2 min on either side.

    Args:
        threes: means over three steps.
        i: the step.
    """
    before, after = threes[i - 2], threes[i + 2]
    earlier = before - threes[i - 6]
    later = threes[i + 6] - after
    return after - before - max(0.0, earlier, later)


def _peaks(statistic: Sequence[float], first: int, least: float) -> list[int]:
    """Return the steps at which a statistic is above `least` and highest all around."""
    return [
        first + k
        for k, value in enumerate(statistic)
        if value >= least and value == max(statistic[max(0, k - APART) : k + APART + 1])
    ]


def _mistings(run: Run, ventings: Sequence[Step], least_co2: float) -> list[Step]:
    v = run.vapour
    threes = _means(v, 3)
    sharp = [_sharp_rise(threes, i) for i in range(AROUND, len(v) - AROUND)]
    least = least_sure(sharp, LEAST_RISE_G_PER_M3)
    found: list[Step] = []
    for i in _peaks(sharp, AROUND, least):
        before = _mean(v, i - 2, i + 1)
        fall = max(v[max(0, i - REBOUND) : i + 1]) - before
        lasting = median(v[i + 6 : i + 13]) - before
        rise = _mean(v, i + 2, i + 5) - before
        share = REBOUND_BELOW_SHARE if lasting < fall else REBOUND_SHARE
        if sharp[i - AROUND] < share * fall or lasting < LASTS_SHARE * rise:
            continue
        step = _misting(run, i, before, rise)
        if found and step.start_s < found[-1].end_s + TOGETHER_S:
            found[-1] = _joined(found[-1], step)
        elif not _is_venting(run, i, ventings, least_co2):
            found.append(step)
    return found


def _misting(run: Run, i: int, before: float, rise: float) -> Step:
    """Return the misting around step i."""
    v = run.vapour
    start = max(j for j in range(i - 2, i + 2) if v[j] <= before + 0.15 * rise)
    end = next(j for j in range(start + 1, i + 5) if v[j] >= before + 0.9 * rise)
    return Step(
        Kind.MISTING,
        run.time_s(_crossing(v, start, before + 0.15 * rise)),
        run.time_s(_crossing(v, end - 1, before + 0.9 * rise)),
        run.humidity[start],
        max(run.humidity[end : end + 3]),
        v[end] - v[start],
        run.co2[start],
        run.co2[end],
    )


def _joined(first: Step, second: Step) -> Step:
    """Return two squeezes within a few minutes as one misting."""
    return replace(
        first,
        end_s=max(first.end_s, second.end_s),
        humidity_after_pct=max(first.humidity_after_pct, second.humidity_after_pct),
        vapour_gain_g_per_m3=first.vapour_gain_g_per_m3 + second.vapour_gain_g_per_m3,
        co2_after_ppm=second.co2_after_ppm,
    )


def _crossing(v: Sequence[float], i: int, level: float) -> float:
    """Return where between step i and the next a rise passes a level, in steps."""
    low, high = v[i], v[i + 1]
    return i + min(max((level - low) / (high - low), 0.0), 1.0) if high > low else float(i)


def _is_venting(run: Run, i: int, ventings: Sequence[Step], least_co2: float) -> bool:
    """Tell whether moist air from outside explains a rise at step i.

    Where the room is drier it can't. Else a fall of the CO2 at the same time says so, unless
    a venting just before still shows in a slow sensor.
    """
    room = run.room_vapour[i]
    if room is not None and room < run.vapour[i + 4]:
        return False
    now_s = run.time_s(i)
    if any(w.start_s < now_s - 60.0 and now_s <= w.end_s + 300.0 for w in ventings):
        return False
    fall = _co2_fall(run.co2, i)
    return fall is not None and fall >= least_co2


# ------------------------------------------------------------------ ventings


def _deep_fall(threes: Sequence[float], twos: Sequence[float], i: int) -> float:
    """Return the fall to the lowest minute of the next 3, beyond that of the 3 min before.

    Args:
        threes: means over three steps.
        twos: means over two.
        i: the step.
    """
    before, lowest = threes[i - 2], min(twos[i + 2 : i + 7])
    return before - lowest - max(0.0, threes[i - 8] - before)


def _co2_fall(co2: Sequence[float | None], i: int) -> float | None:
    """Return the fall to the lowest minute of the next 8, beyond what the 4 min before foretell.

    None where too little is known.
    """
    earlier = _known(co2[max(0, i - 12) : max(0, i - 8)])
    before = _known(co2[max(0, i - 4) : i + 1])
    after = _known(co2[i + 4 : i + CO2_WITHIN + 2])
    if not earlier or not before or len(after) < 2:
        return None
    level = _mean(before, 0, len(before))
    lowest = min(one + next_ for one, next_ in pairwise(after)) / 2.0
    return level - lowest - 2.0 * max(0.0, _mean(earlier, 0, len(earlier)) - level)


def _known(values: Sequence[float | None]) -> list[float]:
    return [value for value in values if value is not None]


def _co2_falls(run: Run) -> list[float | None]:
    return [_co2_fall(run.co2, i) for i in range(AROUND, len(run.vapour) - AROUND)]


def _ventings(run: Run, co2: Sequence[float | None], least_co2: float) -> list[Step]:
    v = run.vapour
    threes, twos = _means(v, 3), _means(v, 2)
    deep = [_deep_fall(threes, twos, i) for i in range(AROUND, len(v) - AROUND)]
    least = least_sure(deep, LEAST_FALL_G_PER_M3)
    starts = {
        i: _venting(run, i, run.vapour, late=0)
        for i in _peaks(deep, AROUND, least)
        if _towards_room(run, i, deep[i - AROUND])
        and _borne_out(run, i, co2[i - AROUND], least_co2)
    }
    only_co2 = [-1.0 if fall is None else fall for fall in co2]
    alone = CO2_ALONE * least_co2
    for i in _peaks(only_co2, AROUND, alone):
        if _hidden(run, i) and _towards_inlet(run, i, only_co2[i - AROUND], alone):
            level = tuple(value if value is not None else 1e9 for value in run.co2)
            starts.setdefault(i, _venting(run, i, level, late=CO2_LATE))
    return _apart([starts[i] for i in sorted(starts)])


def _apart(found: Sequence[Step]) -> list[Step]:
    """Leave out what begins before the one before it has ended."""
    kept: list[Step] = []
    for step in found:
        if not kept or step.start_s >= kept[-1].end_s:
            kept.append(step)
    return kept


def _towards_room(run: Run, i: int, fall: float) -> bool:
    before, room = _mean(run.vapour, i - 2, i + 1), run.room_vapour[i]
    if room is None:
        return fall >= FALL_SHARE_UNKNOWN * before
    return before - room >= DRIER_G_PER_M3 and fall >= FALL_SHARE * (before - room)


def _borne_out(run: Run, i: int, fall: float | None, least: float) -> bool:
    """Tell whether the CO2 agrees, where it can say anything."""
    level, inlet = run.co2[i], run.room_co2[i]
    if fall is None or level is None or inlet is None or level - inlet < VISIBLE * least:
        return True
    return fall >= least


def _hidden(run: Run, i: int) -> bool:
    """Tell whether a venting would not show in the water of the air, so that the CO2 must do."""
    room = run.room_vapour[i]
    return room is None or run.vapour[i] - room < DRIER_G_PER_M3


def _towards_inlet(run: Run, i: int, fall: float, least: float) -> bool:
    level = median(_known(run.co2[max(0, i - 24) : i + 1]))
    after = _known(run.co2[i + 4 : i + CO2_WITHIN + 2])
    inlet = run.room_co2[i]
    share = CO2_FALL_SHARE_UNKNOWN * level if inlet is None else CO2_FALL_SHARE * (level - inlet)
    # Below what was usual before: a breath that has blown away is no venting.
    return fall >= share and level - min(after) >= least


def _venting(run: Run, i: int, level: Sequence[float], *, late: int) -> Step:
    """Return the venting around step i, as `level` shows it (`late` steps behind the truth)."""
    within = CO2_WITHIN if late else APART
    before = _mean(level, i - 2, i + 1)
    lowest = min(range(i + 1, min(i + within + 1, len(level))), key=level.__getitem__)
    j = lowest
    while j < len(level) and j - lowest <= APART:
        # Within a fiftieth of the depth it is the noise of a plateau, not a further fall.
        if level[j] < level[lowest] - 0.02 * max(before - level[lowest], 0.0):
            lowest = j
        j += 1
    depth = before - level[lowest]
    start = max(
        (k for k in range(i - 2, lowest) if level[k] >= before - 0.1 * depth), default=i - 2
    )
    end = max(start + 1, lowest - late)
    after = _known(run.co2[start : end + CO2_WITHIN // 2])
    return Step(
        Kind.VENTING,
        run.time_s(start),
        run.time_s(end),
        run.humidity[start],
        run.humidity[end],
        run.vapour[end] - run.vapour[start],
        run.co2[start],
        min(after) if after else None,
    )
