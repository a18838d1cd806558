"""What came of a deed: whether the air answered, by how much, how fast, and for how long.

Somebody who misted is believed, and the air is asked. “No effect” is a hard word: it is said only
of a sensor that was heard throughout, and of a change that its noise alone explains. Whatever
falls short of that is left unsaid.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from itertools import pairwise
from statistics import fmean, median
from typing import Final

from chamberwatch.core.air.accuracy import Accuracy
from chamberwatch.core.growing.patience import PATIENCE
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.advice import ASKED, GRACE
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.lasting import TOLD_LATE
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.rule import Side
from chamberwatch.core.watch.tracks import Points

KINDS: Final[Mapping[Call, Kind]] = {
    Call.MIST: Kind.MISTING,
    Call.VENT: Kind.VENTING,
    Call.DRY_OFF: Kind.VENTING,
}
"""What in the record shows how fast the air answers to a call."""

SHOWS: Final[Mapping[Deed, tuple[Call, ...]]] = {
    Deed.MISTED: (Call.MIST,),
    Deed.VENTED: (Call.VENT, Call.DRY_OFF),
}
"""By which calls a deed is looked at, the better one first: not every chamber measures CO2."""

STATED_SHARE: Final = 0.5
"""What a maker states is mostly an offset, which a change doesn't have; half of it is taken for
what the reading of one sensor may wander by itself."""

SURE: Final = 4.0
"""Standard deviations of its own noise that a change must stand out by: it is the best of many
values that is looked at."""

SATURATED_PCT: Final = 97.0
"""Air as humid as this takes up no more, and its sensor shows no more."""

_LEVEL_S: Final = 45.0
_JUST_BEFORE_S: Final = 60.0
_TREND_S: Final = 900.0
_TREND_LEAST_S: Final = 300.0
_SHARP_S: Final = 360.0
_MOST: Final = 0.9
_MAD_TO_SIGMA: Final = 1.4826

LAST: Final = 10
FEWEST: Final = 3
SHORTEST: Final = timedelta(minutes=8)
"""Many tap first and then walk to the chamber; sooner than this nobody is told that it was in
vain."""

LONGEST: Final = timedelta(minutes=30)


class Outcome(StrEnum):
    """Whether a deed had an effect."""

    CAME = "came"
    NONE = "none"
    PENDING = "too early to tell"
    UNKNOWN = "can't be told"


@dataclass(frozen=True, slots=True)
class Effect:
    """What came of a deed.

    Attributes:
        call: by what it was looked at: *mist* by a rise of the humidity, and so on.
        outcome: whether it had an effect.
        before: of the quantity, before the deed; None: not known.
        after: where that led; None: not known.
        least: a smaller change is what noise explains.
        minutes: until nine tenths of the change were there; None without an effect. [min]
        held: of a misting: how long the humidity stayed above its low limit afterwards.
    """

    call: Call
    outcome: Outcome
    before: float | None = None
    after: float | None = None
    least: float = 0.0
    minutes: float | None = None
    held: timedelta | None = None

    @property
    def quantity(self) -> Quantity:
        """What was looked at."""
        return ASKED[self.call][0]

    @property
    def change(self) -> float | None:
        """Return the change, below 0 for a fall, in the unit of the quantity."""
        return None if self.before is None or self.after is None else self.after - self.before

    @property
    def clear(self) -> bool:
        """Tell whether there was an effect beyond doubt."""
        return self.outcome is Outcome.CAME

    def undone(self, value: float) -> bool:
        """Tell whether a value read later shows the effect after all."""
        gained = None if self.before is None else _sign(self.call) * (value - self.before)
        return gained is not None and gained >= self.least


def _sign(call: Call) -> float:
    return 1.0 if ASKED[call][1] is Side.LOW else -1.0


def least_change(quantity: Quantity, accuracy: Accuracy, value: float) -> float:
    """Return the change that a sensor may show while the air stays as it is.

    Args:
        quantity: humidity, CO2 or temperature.
        accuracy: as its maker states it.
        value: about which, in the unit of the quantity.
    """
    if quantity is Quantity.HUMIDITY:
        return STATED_SHARE * accuracy.humidity_at_pct(value)
    if quantity is Quantity.CO2:
        return STATED_SHARE * accuracy.co2_at_ppm(value)
    return STATED_SHARE * accuracy.temperature_k


@dataclass(frozen=True, slots=True)
class Window:
    """The stretch of time in which an effect is looked for, in seconds since 1970.

    Attributes:
        deed_s: when it was done, as told. [s]
        until_s: end of the grace. [s]
        longest_gap_s: a sensor that is silent for longer was not heard. [s]
    """

    deed_s: float
    until_s: float
    longest_gap_s: float


def judge_effect(call: Call, points: Points, window: Window, accuracy: Accuracy) -> Effect:
    """Return what came of a deed, as one sensor shows it.

    The change from just before the deed to the best that the grace brought must exceed what noise
    explains, and where the air was already on its way before the deed, by what that way explains.
    A change shortly before is the effect of a deed that was told late.

    Args:
        call: what it answered.
        points: of the quantity, in order of time. [s]
        window: when.
        accuracy: of the sensor.
    """
    sign, deed_s = _sign(call), window.deed_s
    first_s = deed_s - TOLD_LATE.total_seconds() - _SHARP_S
    heard = [(t, sign * v) for t, v in points if first_s <= t <= window.until_s]
    levels = _levels(heard)
    before = [p for p in heard if deed_s - window.longest_gap_s <= p[0] <= deed_s]
    if not before:
        return Effect(call, Outcome.UNKNOWN)
    just = [v for t, v in before if t >= before[-1][0] - _JUST_BEFORE_S]
    start = fmean(just)
    least = max(least_change(ASKED[call][0], accuracy, sign * start), SURE * _noise(heard))
    best = max(((v, -t) for t, v in levels if t > deed_s), default=(start, -deed_s))
    drift = _drift_per_s(heard, deed_s) * (-best[1] - deed_s)
    if best[0] - start < least + drift:
        return _late_or_none(call, levels, window, (start, best[0], least))
    return _came(call, [p for p in levels if p[0] > deed_s], (deed_s, start), least)


def _late_or_none(
    call: Call,
    levels: Sequence[tuple[float, float]],
    window: Window,
    seen: tuple[float, float, float],
) -> Effect:
    """Return the effect of a deed that was told late; else that there was none, if so."""
    sign, (start, best, least) = _sign(call), seen
    early = _sharp_change(levels, window.deed_s, least)
    if early is not None:
        return _came(call, [p for p in levels if p[0] > early[0]], early, least)
    saturated = call is Call.MIST and start >= SATURATED_PCT
    sure = _heard_throughout(levels, window) and not saturated
    outcome = Outcome.NONE if sure else Outcome.UNKNOWN
    return Effect(call, outcome, sign * start, sign * best, least)


def _came(
    call: Call,
    after: Sequence[tuple[float, float]],
    start: tuple[float, float],
    least: float,
) -> Effect:
    """Return an effect that began at some time and level, from the levels after that."""
    begun_s, level = start
    best = max(v for _, v in after)
    reached_s = next(t for t, v in after if v - level >= _MOST * (best - level))
    sign, minutes = _sign(call), (reached_s - begun_s) / 60.0
    return Effect(call, Outcome.CAME, sign * level, sign * best, least, minutes)


def _levels(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return each value as the mean of those within three quarters of a minute."""
    return [(t, fmean(v for at, v in points if abs(at - t) <= _LEVEL_S)) for t, _ in points]


def _noise(points: Sequence[tuple[float, float]]) -> float:
    """Return the standard deviation of the noise, from how neighbours differ."""
    steps = [abs(b[1] - a[1]) for a, b in pairwise(points)]
    return _MAD_TO_SIGMA * median(steps) / math.sqrt(2.0) if steps else 0.0


def _drift_per_s(points: Sequence[tuple[float, float]], deed_s: float) -> float:
    """Return how fast the air was getting better by itself before the deed; 0 if it wasn't."""
    earlier = [(t, v) for t, v in points if deed_s - _TREND_S <= t <= deed_s]
    if len(earlier) < 3 or earlier[-1][0] - earlier[0][0] < _TREND_LEAST_S:
        return 0.0
    mean_t, mean_v = fmean(t for t, _ in earlier), fmean(v for _, v in earlier)
    spread = sum((t - mean_t) ** 2 for t, _ in earlier)
    return max(sum((t - mean_t) * (v - mean_v) for t, v in earlier) / spread, 0.0)


def _sharp_change(
    levels: Sequence[tuple[float, float]], deed_s: float, least: float
) -> tuple[float, float] | None:
    """Return when and where a sharp change shortly before a deed began, None without one.

    Sharp: within six minutes, and by more than the six minutes before it had brought.
    """
    found, sharpest = None, least
    for begun_s, level in levels:
        if not deed_s - TOLD_LATE.total_seconds() <= begun_s < deed_s:
            continue
        later = [(t, v) for t, v in levels if begun_s <= t <= min(begun_s + _SHARP_S, deed_s)]
        earlier = [v for t, v in levels if begun_s - _SHARP_S <= t <= begun_s]
        most, peak_s = max((v, t) for t, v in later)
        sharp = most - level - (level - min(earlier))
        if sharp >= sharpest:
            sharpest = sharp
            foot = level + (1.0 - _MOST) * (most - level)
            found = max(t for t, v in later if t <= peak_s and v <= foot), level
    return found


def _heard_throughout(points: Sequence[tuple[float, float]], window: Window) -> bool:
    times = [t for t, _ in points if window.deed_s < t <= window.until_s]
    edges = [window.deed_s, *times, window.until_s]
    return all(b - a <= window.longest_gap_s for a, b in pairwise(edges))


def clearest(effects: Iterable[Effect]) -> Effect | None:
    """Return what several sensors show together: the clearest of the effects that came.

    None only where all of them were heard and show none.
    """
    seen = list(effects)
    came = [e for e in seen if e.clear]
    if came:
        return max(came, key=lambda e: abs(e.change or 0.0) / e.least if e.least else math.inf)
    unknown = next((e for e in seen if e.outcome is Outcome.UNKNOWN), None)
    return unknown or next(iter(seen), None)


def effect_found(found: Found) -> Effect | None:
    """Return the effect of a deed that was found in the record; None where it wasn't measured."""
    minutes = (found.end - found.start) / timedelta(minutes=1)
    humid = found.humidity_before_pct, found.humidity_after_pct
    if found.kind is Kind.MISTING:
        call, (before, after) = Call.MIST, humid
    elif found.co2_before_ppm is not None and found.co2_after_ppm is not None:
        call, (before, after) = Call.VENT, (found.co2_before_ppm, found.co2_after_ppm)
    else:
        call, (before, after) = Call.DRY_OFF, humid
    if before is None or after is None or _sign(call) * (after - before) <= 0.0:
        return None
    return Effect(call, Outcome.CAME, before, after, 0.0, minutes, found.held)


# ------------------------------------------------------------------ the grace


def answer_time(found: Found, action: Action | None) -> timedelta:
    """Return how long after a deed its effect was there; told late, from where it began."""
    begun = found.start if action is None else min(action.at, found.start)
    return found.end - begun


def grace_from(times: Sequence[timedelta], call: Call, lag: timedelta) -> timedelta:
    """Return how long after a deed it isn't asked for again, from how this chamber answers.

    The median of the last times until the effect was there and, since half of them are longer
    than that, twice their spread; then what the sensor lags behind, and the off-delay that the
    reminder needs to be over.

    Args:
        times: from deed to effect, oldest first.
        call: what is asked for.
        lag: of the sensor, beyond what the times have in them.
    """
    last = [each / timedelta(seconds=1) for each in times[-LAST:]]
    if len(last) < FEWEST:
        return GRACE
    middle = median(last)
    spread = _MAD_TO_SIGMA * median(abs(each - middle) for each in last)
    answers = timedelta(seconds=middle + 2.0 * spread)
    grace = answers + lag + PATIENCE[ASKED[call][0]].off_delay
    return min(max(grace, SHORTEST), LONGEST)
