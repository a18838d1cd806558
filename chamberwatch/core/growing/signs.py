"""What do you see? Signs on a crop, what they likely come from, and what the air has to say to it.

The air speaks for a cause when it was beyond a limit for long enough, against it when it was not;
where nothing was measured, or no sensor could tell, it says nothing. The signs themselves are the
table of `sign_table`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.species import Mark, Stated

SPEAKS_FROM: Final = 0.1
"""Beyond the limit for such a share of the hours, the air speaks for a cause (common practice)."""

AT_LEAST_H: Final = 6
"""Hours that must have been measured before anything is said of them (common practice)."""


class Gauge(StrEnum):
    """What a clue is read from. The first three are values of core.watch.reading.Quantity."""

    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    CO2 = "co2"
    VPD = "vpd"
    """Vapour-pressure deficit, from temperature and humidity. [Pa]"""
    WAIT = "wait"
    """Days since its stage began, against the days that the stage takes."""


class Side(StrEnum):
    """On which side of the limit it tells."""

    ABOVE = "above"
    BELOW = "below"


class Limit(StrEnum):
    """A limit of the batch's own band, or of what is published of its species."""

    LOW = "low"
    HIGH = "high"
    HARM_LOW = "harm low"
    HARM_HIGH = "harm high"
    PUBLISHED = "published"
    """Upper end of the published temperature: a band at home may reach beyond it."""


@dataclass(frozen=True, slots=True)
class Clue:
    """What in the record would speak for a cause.

    Attributes:
        gauge: what is looked at.
        side: on which side of the limit it tells.
        limit: of the batch's own band, or a value in the unit of the gauge.
        days: how far back it is looked at. [d]
        stage: the band of this stage counts; None: of the batch's own.
        otherwise: the limit where the band has none; None: nothing can be said then.
        speaks_from: share of the hours beyond the limit from which on it speaks for the cause.
    """

    gauge: Gauge
    side: Side
    limit: Limit | float
    days: float = 5.0
    stage: Stage | None = None
    otherwise: float | None = None
    speaks_from: float = SPEAKS_FROM


@dataclass(frozen=True, slots=True)
class Cause:
    """What a sign may come from.

    Attributes:
        title: in a few words.
        why: how it comes to that, a sentence or two.
        do: what to do about it.
        clue: what would speak for it; None: no sensor could tell.
        source: who says so; empty with common practice.
        mark: how that was read.
        only: names of the species in which it is a cause; empty: in all.
    """

    title: str
    why: str
    do: str
    clue: Clue | None = None
    source: str = ""
    mark: Mark = Mark.COMMON
    only: frozenset[str] = field(default_factory=frozenset)


@dataclass(frozen=True, slots=True)
class Sign:
    """Something one can see on a crop.

    Attributes:
        name: short, as in commands and addresses.
        title: what a person calls it.
        causes: likely ones first.
        only: names of the species that can show it; empty: all.
        never: names of those that can't.
        contamination: it looks like a growth that was not spawned.
    """

    name: str
    title: str
    causes: tuple[Cause, ...]
    only: frozenset[str] = field(default_factory=frozenset)
    contamination: bool = False
    never: frozenset[str] = field(default_factory=frozenset)

    def shown_by(self, species: str) -> bool:
        """Tell whether a species can show it."""
        return (not self.only or species in self.only) and species not in self.never

    def causes_in(self, species: str) -> tuple[Cause, ...]:
        """Return what it may come from in a species, likely causes first."""
        return tuple(cause for cause in self.causes if not cause.only or species in cause.only)


@dataclass(frozen=True, slots=True)
class Hour:
    """One measured hour, in the unit of its gauge.

    Attributes:
        start: when it began.
        mean: of all air sensors in it.
        least: of all readings in it.
        most: of all readings in it.
    """

    start: datetime
    mean: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Heard:
    """What the record has to say to a clue.

    Attributes:
        clue: which.
        limit: what was compared with, in the unit of the gauge; None: there is none.
        since: the stretch that was looked at began.
        until: it ended.
        hours: that were measured in it.
        beyond: of these, on the far side of the limit by their mean.
        extreme: the most extreme reading on that side; None: nothing was measured.
        extreme_at: the hour in which it was.
        silence: why nothing was measured, in words; empty where something was.
        waited_days: with WAIT: since the stage began. [d]
        window: with WAIT: the days that it takes. [d]
        ended: that was before the batch ended, not before the sign was seen.
    """

    clue: Clue
    limit: float | None
    since: datetime
    until: datetime
    hours: int = 0
    beyond: int = 0
    extreme: float | None = None
    extreme_at: datetime | None = None
    silence: str = ""
    waited_days: float | None = None
    window: Stated | None = None
    ended: bool = False

    @property
    def share(self) -> float:
        """Return the share of the measured hours beyond the limit."""
        return self.beyond / self.hours if self.hours else 0.0


class Speaks(StrEnum):
    """What the air has to say to a cause, in the order in which causes are shown."""

    FOR = "speaks for it"
    AGAINST = "speaks against it"
    UNHEARD = "nothing was measured for it"


@dataclass(frozen=True, slots=True)
class Finding:
    """A cause, and what the air has to say to it.

    Attributes:
        cause: which.
        speaks: for it, against it, or nothing.
        heard: the figures; None where no sensor could tell.
        words: the figures in a sentence, once they are said.
    """

    cause: Cause
    speaks: Speaks
    heard: Heard | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """A sign that was seen on a batch, with its causes.

    Attributes:
        batch: its number.
        species: common name of what grows.
        sign: which.
        at: when it was seen.
        findings: those first that the air speaks for, then those that it speaks against, then
            those that nothing was measured for; likely ones first within each.
    """

    batch: int
    species: str
    sign: Sign
    at: datetime
    findings: tuple[Finding, ...]


def hear(
    clue: Clue, limit: float | None, hours: Sequence[Hour], span: tuple[datetime, datetime]
) -> Heard:
    """Return what measured hours have to say to a clue.

    Args:
        clue: of any gauge but WAIT.
        limit: what it comes to, in the unit of the gauge; None: there is none.
        hours: what was measured, in the same unit.
        span: from when to when it was looked at.
    """
    if limit is None or not hours:
        return Heard(clue, limit, *span)
    if clue.side is Side.ABOVE:
        top = max(hours, key=lambda hour: hour.most)
        beyond, extreme = sum(hour.mean > limit for hour in hours), top.most
    else:
        top = min(hours, key=lambda hour: hour.least)
        beyond, extreme = sum(hour.mean < limit for hour in hours), top.least
    return Heard(clue, limit, *span, len(hours), beyond, extreme, top.start)


def verdict(heard: Heard) -> Speaks:
    """Return what is to be made of what was heard."""
    if heard.clue.gauge is Gauge.WAIT:
        return _of_waiting(heard)
    if heard.limit is None or heard.hours < AT_LEAST_H:
        return Speaks.UNHEARD
    return Speaks.FOR if heard.share >= heard.clue.speaks_from else Speaks.AGAINST


def _of_waiting(heard: Heard) -> Speaks:
    """It is too early until the longest usual wait is over."""
    longest = heard.window.high if heard.window is not None else None
    if longest is None or heard.waited_days is None:
        return Speaks.UNHEARD
    return Speaks.FOR if heard.waited_days < longest else Speaks.AGAINST


def rank(causes: Sequence[Cause], heard: Mapping[Clue, Heard]) -> tuple[Finding, ...]:
    """Return causes with what the air has to say to them, in the order of `Seen.findings`.

    Args:
        causes: likely ones first.
        heard: to every clue of theirs.
    """
    found = [
        Finding(cause, Speaks.UNHEARD)
        if cause.clue is None
        else Finding(cause, verdict(heard[cause.clue]), heard[cause.clue])
        for cause in causes
    ]
    order = list(Speaks)
    return tuple(sorted(found, key=lambda finding: order.index(finding.speaks)))
