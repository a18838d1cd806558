"""What the record of a chamber teaches: its ways, from mistings, ventings and calm stretches."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

from chamberwatch.core.air.knowledge import (
    Aftermath,
    Knowledge,
    Taught,
    contradicted,
    learnt,
    spray_share_of,
    taught_by,
)
from chamberwatch.core.air.tent import evaporation_g_per_m2_h, saturated_g_per_m3
from chamberwatch.core.air.vent import rise_ppm_per_h
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.fresh_air import closed_leak, source, vents_per_h
from chamberwatch.core.watch.ledger import Minute
from chamberwatch.core.watch.record import Record, Stood, during

MISTINGS: Final = 6
"""So many of the last mistings say how the chamber is now; older ones knew another crop."""

_SHORTEST: Final = timedelta(minutes=8)
_FEWEST: Final = 5
_BROKEN: Final = timedelta(minutes=12)
"""A record silent for longer does not tell how the humidity went."""

_LONGEST: Final = timedelta(hours=10)
_SETTLED: Final = timedelta(minutes=2)
"""So long after a misting the air is still uneven."""

_AFTER_FALL: Final = timedelta(minutes=20)
_COARSE_FROM: Final = timedelta(minutes=40)
_CONTINUED_FROM: Final = timedelta(hours=2)
_SATURATED_PCT: Final = 97.0
_FITS_WITHIN_PCT: Final = 2.5
"""A course that the model follows no better was no calm drying: a front left open, a draught."""

_BEYOND: Final = 3.0
"""Nor does one teach that asks for so many times more or less leakage than its range has, or than
the range of the wet area: then the water that was put down is not where it is thought to be."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """What one misting taught, and how much of its course that was drawn from."""

    taught: Taught
    extent: tuple[int, bool]


def course_after(record: Record, misting: Found, now: datetime) -> Sequence[Stood]:
    """Return the minutes after a misting that nothing else disturbed."""
    end = min(now, misting.end + _LONGEST)
    if misting.held is not None:
        end = min(end, misting.end + misting.held + _AFTER_FALL)
    later = [f.start for f in record.found if f.start > misting.start]
    end = min([end, *later])
    start = misting.end + _SETTLED
    course = during(record.minutes, start, end)
    breaks = (
        number
        for number, (one, after) in enumerate(pairwise(course), start=1)
        if after.minute.time - one.minute.time > _BROKEN
    )
    return course[: next(breaks, len(course))]


def lesson_of(
    record: Record, misting: Found, known: Knowledge, now: datetime, before: Lesson | None
) -> Lesson | None:
    """Return what a misting taught; the one from before where there is hardly more to see.

    None while its course is too short.
    """
    course = course_after(record, misting, now)
    if len(course) < _FEWEST:
        return before
    span = course[-1].minute.time - course[0].minute.time
    if span < _SHORTEST:
        return before
    grain = 60 if span >= timedelta(hours=1) else 10
    extent = (int(span / timedelta(minutes=grain)), misting.held is not None)
    if before is not None and before.extent == extent:
        return before
    step = 5 if span >= _COARSE_FROM else 1
    aftermath = replace(_aftermath(course, step), guessed=_guessed(record, misting))
    # A short course may have led astray; a long one is only continued.
    continued = before.taught if before is not None and span >= _CONTINUED_FROM else None
    return Lesson(taught_by(aftermath, known, continued), extent)


def _guessed(record: Record, misting: Found) -> bool:
    """Tell whether nobody said how much was put down."""
    action = record.actions.get(misting.action) if misting.action is not None else None
    return action is None or (action.amount is None and action.standing_g is None)


def _aftermath(course: Sequence[Stood], step_min: int) -> Aftermath:
    minutes = [s.minute for s in course]
    return Aftermath(
        humidity_pct=tuple(_at_equal_steps(minutes, step_min)),
        step_min=float(step_min),
        standing_g=course[0].standing_g,
        temperature_c=sum(m.temperature_c for m in minutes) / len(minutes),
        room_vapour_g_per_m3=sum(m.room_vapour_g_per_m3 for m in minutes) / len(minutes),
        devices_g_per_h=sum(m.supply.water_g_per_h for m in minutes) / len(minutes),
        devices_per_h=sum(m.supply.air_changes_per_h for m in minutes) / len(minutes),
    )


def _at_equal_steps(minutes: Sequence[Minute], step_min: int) -> list[float]:
    """Return the mean humidity of each step, on a line between neighbours where none is known.

    A last step that is not full is left out. [%]
    """
    first, step = minutes[0].time, timedelta(minutes=step_min)
    count = (minutes[-1].time - first + timedelta(minutes=1)) // step
    groups: list[list[float]] = [[] for _ in range(count)]
    for minute in minutes:
        number = (minute.time - first) // step
        if number < count:
            groups[number].append(minute.humidity_pct)
    known = {k: sum(group) / len(group) for k, group in enumerate(groups) if group}
    filled = [known[0]]
    for (left, low), (right, high) in pairwise(known.items()):
        span = right - left
        filled += [low + (high - low) * k / span for k in range(1, span + 1)]
    return filled


def spray_shares(record: Record, known: Knowledge) -> list[float]:
    """Return the share of each spray that the air took, where it did not saturate."""
    shares: list[float] = []
    for misting in record.found:
        action = record.actions.get(misting.action) if misting.action is not None else None
        if misting.kind is not Kind.MISTING or action is None or not action.amount:
            continue
        gain, after = misting.vapour_gain_g_per_m3, misting.humidity_after_pct
        if gain is None or after is None or after >= _SATURATED_PCT:
            continue
        walls = _from_walls_g(record, misting, known)
        share = spray_share_of(gain, action.amount, known.volume_m3, walls)
        if share is not None:
            shares.append(share)
    return shares[-MISTINGS:]


def _from_walls_g(record: Record, misting: Found, known: Knowledge) -> float:
    """Return what wet walls gave, less what was carried off, while the mist spread. [g]."""
    spreading = during(record.minutes, misting.start, misting.end + timedelta.resolution)
    if not spreading:
        return 0.0
    hours = (misting.end - misting.start) / timedelta(hours=1)
    given = 0.0
    for stood in spreading:
        minute = stood.minute
        deficit = saturated_g_per_m3(minute.temperature_c) - minute.vapour_g_per_m3
        walls = known.wet_area_m2.value * evaporation_g_per_m2_h(max(deficit, 0.0))
        gap = minute.vapour_g_per_m3 - minute.room_vapour_g_per_m3
        leaked = known.leak_per_h.value * known.volume_m3 * gap
        given += (walls if stood.standing_g > 0.0 else 0.0) - leaked
    return given / len(spreading) * hours


def _plausible(taught: Taught, declared: Knowledge) -> bool:
    """Tell whether the model went as the humidity did, with ways that a chamber can have."""
    asked = [(taught.leak_per_h, declared.leak_per_h)]
    if taught.all_wet:
        asked.append((taught.wet_area_m2, declared.wet_area_m2))
    within = all(f.low / _BEYOND <= value <= f.high * _BEYOND for value, f in asked)
    return within and taught.rms_pct <= _FITS_WITHIN_PCT


def knowledge_from(record: Record, declared: Knowledge, taught: Sequence[Taught]) -> Knowledge:
    """Return a chamber's ways as its record tells them.

    Where the CO2 of the room was only assumed and the water in the air contradicts what the CO2
    said, the water has the word: what it says of the room is steadier than people are.

    Args:
        record: what there is.
        declared: what was declared or assumed.
        taught: by its mistings, oldest first.
    """
    leak = closed_leak(record, declared.leak_per_h)
    calm = [one for one in taught if _plausible(one, declared)][-MISTINGS:]
    inlet_measured = any(e.inlet_measured for e in record.exchanges if not e.vented)
    if leak is not None and not inlet_measured and contradicted(leak, calm):
        leak = None
    known = learnt(
        declared,
        leak_per_h=leak,
        vents_per_h=(),
        source_g_per_h=None,
        taught=calm,
        spray_shares=(),
    )
    given = source(record, known)
    rise = rise_ppm_per_h(given.value, known.volume_m3) if given else 0.0
    return learnt(
        known,
        leak_per_h=known.leak_per_h,
        vents_per_h=vents_per_h(record, known.leak_per_h.value, rise),
        source_g_per_h=given,
        taught=(),
        spray_shares=spray_shares(record, known),
    )
