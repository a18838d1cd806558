"""What was foretold of a limit, what came of it, and whether such forecasts can be relied on."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from typing import Final

from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import LONGEST_GAP, Side


class Outcome(StrEnum):
    """What came of a forecast."""

    OPEN = "open"
    CAME = "came"
    DID_NOT = "did not"
    ACTED = "acted"
    UNKNOWN = "unknown"


COUNTED: Final = frozenset({Outcome.CAME, Outcome.DID_NOT})
"""Where somebody misted before, nobody knows what the air would have done."""


@dataclass(frozen=True, slots=True)
class Foretold:
    """A forecast of when a limit is reached.

    Attributes:
        id: given by the book; 0 before it is stored.
        chamber: name of the chamber.
        sensor: whose readings it was made from, and is held against.
        quantity: of the limit.
        side: which limit.
        limit: its value.
        at: when it was made.
        earliest: sooner with a probability of 10 %.
        likely: as likely sooner as later.
        latest: later with a probability of 10 %; None: perhaps never.
        told: a person was told.
        came: when the limit was reached.
        outcome: what came of it.
    """

    id: int
    chamber: str
    sensor: str
    quantity: Quantity
    side: Side
    limit: float
    at: datetime
    earliest: datetime
    likely: datetime
    latest: datetime | None = None
    told: bool = False
    came: datetime | None = None
    outcome: Outcome = Outcome.OPEN

    @property
    def open(self) -> bool:
        """Tell whether it is not known yet what came of it."""
        return self.outcome is Outcome.OPEN


# ------------------------------------------------------------------ what came of it

STAYS: Final = timedelta(minutes=3)
"""Noise crosses a limit to and fro; it is reached when the mean of so long lies beyond."""

SURE_AFTER: Final = timedelta(minutes=15)
"""A venting that nobody told of is found in the record by then, and would explain it."""

MARGIN: Final = timedelta(minutes=15)
"""So long after the latest time the limit may still be reached before it counts as missed."""


@dataclass(frozen=True, slots=True)
class Since:
    """What happened since a forecast was made.

    Attributes:
        values: time and value of its sensor from then on, in order.
        disturbed: when first somebody acted, or a misting or venting began that nobody told of.
        void: the limit is another one now, or the sensor is in doubt.
        now: the time.
        gap: for a longer one nobody knows what happened.
    """

    values: Sequence[tuple[datetime, float]]
    disturbed: datetime | None
    void: bool
    now: datetime
    gap: timedelta = LONGEST_GAP


def ends(foretold: Foretold, since: Since) -> tuple[Outcome, datetime | None]:
    """Return what came of a forecast by now, and when the limit was reached."""
    came = reached(foretold, since.values)
    until = since.now if came is None else came
    if since.disturbed is not None and since.disturbed <= until:
        return Outcome.ACTED, None
    if not _unbroken(foretold, since, until):
        return Outcome.UNKNOWN, None
    if came is not None and came + SURE_AFTER <= since.now:
        return Outcome.CAME, came
    if since.void:
        return Outcome.UNKNOWN, None
    missed = came is None and since.now >= _last_chance(foretold) + SURE_AFTER
    return (Outcome.DID_NOT if missed else Outcome.OPEN), None


def _last_chance(foretold: Foretold) -> datetime:
    """Return until when the limit may be reached before the forecast counts as missed."""
    if foretold.latest is not None:
        return foretold.latest + MARGIN
    return foretold.likely + (foretold.likely - foretold.at) + MARGIN


def reached(foretold: Foretold, values: Sequence[tuple[datetime, float]]) -> datetime | None:
    """Return when a value went beyond the limit and stayed there, None if it didn't (yet)."""
    sign = 1.0 if foretold.side is Side.LOW else -1.0
    for i, (time, value) in enumerate(values):
        if sign * (value - foretold.limit) >= 0.0:
            continue
        next_ones = [v for t, v in values[i:] if t - time <= STAYS]
        whole = values[-1][0] - time >= STAYS
        if whole and sign * (sum(next_ones) / len(next_ones) - foretold.limit) < 0.0:
            return time
    return None


def _unbroken(foretold: Foretold, since: Since, until: datetime) -> bool:
    """Tell whether the sensor was heard all the time up to a moment."""
    times = [foretold.at, *(t for t, _ in since.values if t <= until), until]
    return all(after - before <= since.gap for before, after in pairwise(times))


# ------------------------------------------------------------------ when one is made

SOONEST: Final = timedelta(minutes=5)
"""What comes sooner is as good as there, and its reminder is about to speak."""

WIDEST: Final = timedelta(minutes=30)
"""From the earliest to the latest time: with more between them nobody can plan a visit by it. As
the limit comes nearer they close in. On simulated tents that made six in ten of four in ten."""

APART: Final = timedelta(minutes=30)
"""Humidity that hovers at its limit is not foretold again and again."""


@dataclass(frozen=True, slots=True)
class Foreseen:
    """When a limit will be reached as it looks now.

    Attributes:
        foretold: the same as a forecast that could be kept.
        value: of this moment, freed of noise.
        slope_per_h: of this moment.
    """

    foretold: Foretold
    value: float
    slope_per_h: float


def timely(foretold: Foretold, early: timedelta, now: datetime) -> bool:
    """Tell whether the limit is near enough to speak of it, not too near, and sure enough."""
    if foretold.latest is None or foretold.latest - foretold.earliest > WIDEST:
        return False
    return min(SOONEST, early / 2) <= foretold.likely - now <= early


def news(last: Foretold | None, disturbed: datetime | None, now: datetime) -> bool:
    """Tell whether a forecast would be the first of this dry-out (or of this rise).

    Args:
        last: forecast of the same limit; None: there was none.
        disturbed: when the air was last disturbed; None: not lately.
        now: the time.
    """
    if last is None:
        return True
    if last.open:
        return False
    fresh = disturbed is not None and disturbed > last.at
    return fresh or now >= max(last.likely, last.came or last.likely) + APART


# ------------------------------------------------------------------ the record

RIGHT_WITHIN: Final = timedelta(minutes=10)
LAST: Final = 20
LEAST: Final = 5
SINCE_DAYS: Final = timedelta(days=30)
GOOD_SHARE: Final = 0.7


@dataclass(frozen=True, slots=True)
class TrackRecord:
    """How forecasts of one quantity went in one chamber.

    Attributes:
        counted: how many of the last `LAST` in 30 days nobody intervened in.
        right: how many of them were right within 10 min.
        inside: in how many the limit was reached within the interval that was told.
    """

    counted: int
    right: int
    inside: int

    @property
    def good(self) -> bool:
        """Tell whether a person may be told: 5 at least, 70 % of them right (our choice)."""
        return self.counted >= LEAST and self.right >= GOOD_SHARE * self.counted


def track_record(foretold: Iterable[Foretold], now: datetime) -> TrackRecord:
    """Return how the last forecasts went. They are of one chamber and quantity, in any order."""
    lately = [f for f in foretold if f.outcome in COUNTED and f.at >= now - SINCE_DAYS]
    counted = sorted(lately, key=lambda f: f.at)[-LAST:]
    return TrackRecord(len(counted), sum(map(right, counted)), sum(map(inside, counted)))


def right(foretold: Foretold) -> bool:
    """Tell whether the limit was reached within 10 min of the likely time."""
    return foretold.came is not None and abs(foretold.came - foretold.likely) <= RIGHT_WITHIN


def inside(foretold: Foretold) -> bool:
    """Tell whether the limit was reached within the interval."""
    came, latest = foretold.came, foretold.latest
    return came is not None and came >= foretold.earliest and (latest is None or came <= latest)
