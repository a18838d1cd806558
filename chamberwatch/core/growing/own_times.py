"""How long things take: what the sources say, and what the grower's own batches took.

A source speaks for grow rooms in general. What a batch took at this grower's, on this substrate
and in this warmth, counts more the more there is of it; how much more is worked out in `narrowed`.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from enum import StrEnum
from functools import lru_cache
from math import cos, pi, sin, sqrt, tan
from statistics import fmean
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import ENDS, Batch, Container, Passed
from chamberwatch.core.growing.species import Species, Stated, View


class Span(StrEnum):
    """A stretch of the life of a batch."""

    COLONISING = "start to what is ready to be opened"
    """White through; of kinds that brown their skin, brown."""
    WHITE = "start to white through, of kinds that brown after it"
    OPENING = "start to an opening before which nobody told that it was ready"
    CASING = "casing to fresh air"
    PINNING = "opening or soaking to pins"
    FRUITING = "pins to first picking"
    ANTLER = "antlers to caps"
    CONK = "caps to first picking"
    BETWEEN = "last picking to the next flush"
    WHOLE = "start to spent"


PRIOR_WORTH: Final = 2
"""A source counts as much as so many own batches (our choice)."""

SHARE: Final = 0.90
"""A window holds so much of what is expected."""

SINGLE_SPREAD: Final = 0.10
"""One figure in place of a range is taken as give or take so much of it (common practice)."""

NARROWEST_D: Final = 1.0
"""A crop can't be foretold closer than this. [d]"""

SLIP: Final = 4.0
"""An own figure beyond so many times the source's, or below this part of it, is a slip of the
pen: a picking that was never told, say."""

OWN_ENOUGH: Final = 3
"""Where no source says how long, so many own ones do."""

FEW: Final = 2
"""So few own figures don't yet show that the source is wrong (our choice)."""

_BISECTIONS: Final = 60

BROWNS: Final = frozenset({"shiitake"})
"""Species that brown their skin after they are white through and are opened then (common
practice); the days of their spawn run, as published, hold both."""


# Common practice: logs take half a year to one and a half, and rest 6 to 12 weeks between
# soakings. A species' own figures are for blocks and beds.
LOG_COLONISING: Final = Stated((View(183.0, 548.0, note="logs, 6 to 18 months"),))
LOG_BETWEEN: Final = Stated((View(42.0, 84.0, note="logs, soaked after 6 to 12 weeks"),))


@dataclass(frozen=True, slots=True)
class Days:
    """How long something is expected to take.

    Attributes:
        low: lower end. [d]
        high: upper end. [d]
        count: how many own batches went in.
        source: key of the source, or how the figure is known.
        left_out: how many own figures were left out as slips of the pen.
    """

    low: float
    high: float
    count: int = 0
    source: str = ""
    left_out: int = 0


BROWNING_DAYS: Final = Days(14.0, 28.0, source="common practice")
"""How long it takes from white through to brown (common practice)."""


@dataclass(frozen=True, slots=True)
class OwnTimes:
    """How long the stretches of the grower's own batches took.

    Attributes:
        known: by species, stretch, and whether on logs. [d]
        batches: how many batches these are of, likewise: one has pins with every flush.
    """

    known: Mapping[tuple[str, Span, bool], tuple[float, ...]] = field(default_factory=dict)
    batches: Mapping[tuple[str, Span, bool], int] = field(default_factory=dict)

    def of(self, species: str, span: Span, on_logs: bool = False) -> tuple[float, ...]:
        """Return the stretches of one kind, in no order. [d]."""
        return self.known.get((species, span, on_logs), ())


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast one species grows with this grower, on logs or on anything else."""

    species: Species
    own: OwnTimes
    on_logs: bool = False

    def days(self, span: Span) -> Days | None:
        """Return how long a stretch takes; None where nobody can say."""
        stated, key = self.stated(span), (self.species.name, span, self.on_logs)
        own = self.own.of(*key)
        batches = self.own.batches.get(key, len(own))
        if span is Span.COLONISING:
            opened = self._opened(stated)
            own, batches = (*own, *opened), batches + len(opened)
        days = narrowed(stated, own)
        return None if days is None else replace(days, count=min(days.count, batches))

    @property
    def browns(self) -> bool:
        """Tell whether it browns before it is opened; logs are never opened."""
        return self.species.name in BROWNS and not self.on_logs

    def _opened(self, stated: Stated | None) -> tuple[float, ...]:
        """Return openings that may count for what was ready unseen. [d].

        A late one says that nobody came by, not that it grew slowly, so only those within the
        range of the source do; a source with an open end lets none in.
        """
        ends = _ends(stated)
        if ends is None:
            return ()
        opened = self.own.of(self.species.name, Span.OPENING, self.on_logs)
        return tuple(days for days in opened if ends[0] <= days <= ends[1])

    def stated(self, span: Span) -> Stated | None:
        """Return what is published of a stretch, or common practice; None: nothing is."""
        if self.on_logs and span in _ON_LOGS:
            return _ON_LOGS[span]
        if span is Span.WHITE:
            return _before_browning(self.stated(Span.COLONISING))
        if span is Span.BETWEEN:
            return self.species.days_between
        stage = _STAGE_OF.get(span)
        wants = self.species.stages.get(stage) if stage is not None else None
        return wants.days if wants is not None else None


def _before_browning(spawn_run: Stated | None) -> Stated | None:
    """Return the days to white through: the spawn run less the browning in it."""
    ends = _ends(spawn_run)
    if ends is None:
        return None
    low, high = ends[0] - BROWNING_DAYS.low, ends[1] - BROWNING_DAYS.high
    return Stated((View(max(low, 0.0), max(high, low, 0.0), note="less its browning"),))


_ON_LOGS: Final[Mapping[Span, Stated]] = {
    Span.COLONISING: LOG_COLONISING,
    Span.BETWEEN: LOG_BETWEEN,
}

SPAN_OF: Final[Mapping[Stage, Span]] = {
    Stage.COLONISATION: Span.COLONISING,
    Stage.CASE_RUN: Span.CASING,
    Stage.PINNING: Span.PINNING,
    Stage.FRUITING: Span.FRUITING,
    Stage.ANTLER: Span.ANTLER,
    Stage.CONK: Span.CONK,
}
_STAGE_OF: Final[Mapping[Span, Stage]] = {span: stage for stage, span in SPAN_OF.items()}


# ------------------------------------------------------------------ what sources and own say


def narrowed(stated: Stated | None, own: Sequence[float]) -> Days | None:
    """Return the window in which the next one is expected to fall, central 90 %.

    The estimator: the days are taken as normal, with mean and variance unknown. The range [a, b]
    of the source is the prior (conjugate: normal-inverse-chi-squared): its mean c = (a + b) / 2
    and its variance s0² are worth 2 batches, and s0 is such that without own figures the
    prediction holds [a, b] as its central 90 %. With n own figures of mean y and sum of squares
    SS about it:

        k = 2 + n    m = (2 c + n y) / k
        k s² = 2 s0² + SS + (2 n / k) (y - c)²
        window = m ± t(0.95; k) s √(1 + 1 / k)

    So without own figures it is [a, b], and with many the grower's own 5 % to 95 %. Without a
    source the same with a flat prior, from three own figures on.

    One or two own figures widen it by no more than they are apart: the window is cut, about m, to
    b - a and the difference of the own two. So a single one moves it, and never widens it.

    It holds 90 % over growers as the prior has them, at one or two 87 to 89 %. Of one who is as
    uneven as the whole range of the source it holds about 80 % of the next at n = 2, and 88 % at
    n = 20; of an even one more.

    Source: Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), section 3.3 (from memory).

    Args:
        stated: what sources say, in days; one that is open on a side says nothing.
        own: the grower's. [d]

    Returns:
        Never below nothing, never narrower than a day; None where there is too little to go by.
    """
    ends = _ends(stated)
    if stated is None or ends is None:
        return _flat(own)
    low, high = ends
    kept = [days for days in own if low / SLIP <= days <= high * SLIP]
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    least, most = _predicted(middle, half, kept) if kept else (low, high)
    source = stated.used.source or stated.used.mark.value
    return _days(least, most, Days(0.0, 0.0, len(kept), source, len(own) - len(kept)))


def _ends(stated: Stated | None) -> tuple[float, float] | None:
    if stated is None or stated.low is None or stated.high is None:
        return None
    if stated.low == stated.high:
        return stated.low * (1.0 - SINGLE_SPREAD), stated.high * (1.0 + SINGLE_SPREAD)
    return stated.low, stated.high


def _predicted(middle: float, half: float, own: Sequence[float]) -> tuple[float, float]:
    prior, n = PRIOR_WORTH, len(own)
    k = prior + n
    mean = fmean(own)
    variance_0 = (half / _reach(prior, prior)) ** 2
    squares = sum((days - mean) ** 2 for days in own)
    pull = prior * n / k * (mean - middle) ** 2
    spread = sqrt((prior * variance_0 + squares + pull) / k)
    centre = (prior * middle + n * mean) / k
    out = _reach(k, k) * spread
    if n <= FEW:
        out = min(out, half + (max(own) - min(own)) / 2.0)
    return centre - out, centre + out


def _flat(own: Sequence[float]) -> Days | None:
    n = len(own)
    if n < OWN_ENOUGH:
        return None
    mean = fmean(own)
    spread = sqrt(sum((days - mean) ** 2 for days in own) / (n - 1))
    out = _reach(n - 1, n) * spread
    return _days(mean - out, mean + out, Days(0.0, 0.0, n, OWN))


OWN: Final = "own batches"
"""The source where no other says how long."""


def _reach(freedom: int, worth: int) -> float:
    """Return how many spreads the next one may lie from the mean of so many."""
    return t_quantile((1.0 + SHARE) / 2.0, freedom) * sqrt(1.0 + 1.0 / worth)


def _days(low: float, high: float, known: Days) -> Days:
    short = max(NARROWEST_D - (high - low), 0.0) / 2.0
    low = max(low - short, 0.0)
    return Days(
        low, max(high + short, low + NARROWEST_D), known.count, known.source, known.left_out
    )


@lru_cache(maxsize=512)
def t_quantile(probability: float, freedom: int) -> float:
    """Return the quantile of Student's t, by bisection on its exact distribution.

    Source: Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 26.7.3 and 26.7.4.

    Args:
        probability: at least 0.5, below 1.
        freedom: degrees of freedom, from 1.
    """
    inside = 2.0 * probability - 1.0
    low, high = 0.0, pi / 2.0
    for _ in range(_BISECTIONS):
        angle = (low + high) / 2.0
        low, high = (angle, high) if _inside(angle, freedom) < inside else (low, angle)
    return sqrt(freedom) * tan((low + high) / 2.0)


def _inside(angle: float, freedom: int) -> float:
    """Return the probability of |t| below √freedom tan(angle)."""
    odd = freedom % 2
    term = cos(angle) if odd else 1.0
    total = 0.0
    for factor in range(2 + odd, freedom + 1, 2):
        total += term
        term *= (factor - 1) / factor * cos(angle) ** 2
    total *= sin(angle)
    return 2.0 / pi * (angle + total) if odd else total


# ------------------------------------------------------------------ what the own batches took


def learnt(batches: Iterable[Batch]) -> OwnTimes:
    """Return how long the stretches took that are over.

    What ended a stretch must have been told: a batch thrown out counts for what came before.
    What was split off counts from then on; what began with the split began earlier in truth.

    It has colonised when it was told to be white through. Where nobody told that, its opening is
    kept as one, and `Pace` takes it for the same only within the range of the source. Of kinds
    that brown their skin the opening is all there is to tell that they were brown.
    """
    found: dict[tuple[str, Span, bool], list[float]] = {}
    batch_counts: Counter[tuple[str, Span, bool]] = Counter()
    for batch in batches:
        on_logs, of_this = batch.start.container is Container.LOG, set()
        for span, since, until in _stretches(batch):
            if batch.start.split_from is None or since > batch.started:
                key = (batch.start.species, span, on_logs)
                found.setdefault(key, []).append((until - since) / timedelta(days=1))
                of_this.add(key)
        batch_counts.update(of_this)
    return OwnTimes({key: tuple(days) for key, days in found.items()}, batch_counts)


Stretch = tuple[Span, datetime, datetime]


def _stretches(batch: Batch) -> Iterator[Stretch]:
    browns = batch.start.species in BROWNS and batch.start.container is not Container.LOG
    if batch.white_at is not None:
        yield Span.WHITE if browns else Span.COLONISING, batch.started, batch.white_at
    if batch.opened_at is not None and (browns or batch.white_at is None):
        yield Span.OPENING, batch.started, batch.opened_at
    for passed, then in zip(batch.stages, batch.stages[1:], strict=False):
        if then.stage not in ENDS:
            yield from _passed(batch, passed, then)
    yield from _between(batch)
    if batch.stage is Stage.SPENT:
        yield Span.WHOLE, batch.started, batch.since


def _passed(batch: Batch, passed: Passed, then: Passed) -> Iterator[Stretch]:
    """Return the stretch that a stage was, if it ended as stages do."""
    if passed.stage in (Stage.CASE_RUN, Stage.ANTLER):
        yield SPAN_OF[passed.stage], passed.since, then.since
    elif passed.stage is Stage.PINNING and then.stage is not Stage.RESTING:
        yield Span.PINNING, pinning_since(batch, passed), then.since
    elif passed.stage in (Stage.FRUITING, Stage.CONK):
        picked = first_picked(batch, passed.flush)
        if picked is not None and picked >= passed.since:
            yield SPAN_OF[passed.stage], passed.since, picked


def pinning_since(batch: Batch, pinning: Passed) -> datetime:
    """Return from when pins are counted: opening, a soaking since then, or else casing.

    Where there is a case run the source counts pins from casing.
    """
    soaked, until = batch.soaked_at, pinning.until
    if soaked and soaked > pinning.since and (until is None or soaked <= until):
        return soaked
    if pinning.flush:
        return pinning.since
    cased = [passed.since for passed in batch.stages if passed.stage is Stage.CASE_RUN]
    return cased[-1] if cased else pinning.since


def first_picked(batch: Batch, flush: int) -> datetime | None:
    """Return when a flush was first picked."""
    return min((h.at for h in batch.harvests if h.flush == flush), default=None)


def last_picked(batch: Batch, flush: int) -> datetime | None:
    """Return when a flush was last picked."""
    return max((h.at for h in batch.harvests if h.flush == flush), default=None)


def _between(batch: Batch) -> Iterator[Stretch]:
    for flush in sorted({harvest.flush for harvest in batch.harvests}):
        last, following = last_picked(batch, flush), first_picked(batch, flush + 1)
        if last is not None and following is not None and last < following:
            yield Span.BETWEEN, last, following
