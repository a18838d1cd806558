"""The plan of starts that keeps a harvest coming: what it is made from, and what it says.

Windows stay windows: a plan books shelves for the longest that a batch may need them, and says
what to expect as low to high. Little's law tells how many slots a rate of starts fills.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final, NamedTuple

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.due import Window
from chamberwatch.core.growing.own_times import SPAN_OF, Days, OwnTimes, Pace, Span
from chamberwatch.core.growing.species import Species

# Common practice: the first flush brings 50 to 60 % of a crop, the second 25 to 30, the third 10
# to 20; a later one about half of the one before. Their middles, made to add up to all of it.
_FLUSH_PARTS: Final = (55.0, 27.5, 15.0)

WEEK_D: Final = 7
"""Days in a week. [d]"""

WEEKS: Final = 12
"""How far a plan looks ahead unless it is asked otherwise (our choice). [weeks]"""

MOST_WEEKS: Final = 26
"""Further than half a year nobody knows what will stand where (our choice). [weeks]"""

LEAST_KG: Final = 0.01
"""Less than this is no harvest to plan for in a week (our choice). [kg]"""

MOST_KG: Final = 100.0
"""More than this in a week is no longer a home's (our choice)."""

MOST_STARTS: Final = 100
"""A wish that takes more batches a week is refused: it is a slip of the pen, or of the batch."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is wanted of one species.

    Attributes:
        species: its name.
        kg_per_week: fresh weight, least and most. [kg]
        batch_dry_g: dry substrate in one batch as this grower makes it. [g]
    """

    species: str
    kg_per_week: tuple[float, float]
    batch_dry_g: float


@dataclass(frozen=True, slots=True)
class Space:
    """Where batches can stand.

    Attributes:
        chamber: its name.
        shelves: their names.
        holds: how many batches one shelf takes.
        open_at_most: open batches at once in this chamber; None: as many as the shelves take.
        temperature_c: what its air can be held at; None: whatever those in it agree on. [°C]
        takes_open: not so with a dark store for sealed bags.
    """

    chamber: str
    shelves: tuple[str, ...]
    holds: int = 1
    open_at_most: int | None = None
    temperature_c: tuple[float, float] | None = None
    takes_open: bool = True


class Awaited(NamedTuple):
    """A flush that is expected. A time counts as its day, in the zone that it carries."""

    low: date
    high: date
    kg_low: float
    kg_high: float


@dataclass(frozen=True, slots=True)
class UnderWay:
    """A batch that was started already.

    Attributes:
        batch: its number.
        species: its name.
        chamber: where it stands; None: in none, so it takes no slot.
        shelf: the shelf there.
        open: it shares the air of the chamber.
        opens: when a sealed one is ready to be opened; None: nobody can say.
        leaves: when it is cleared out.
        harvests: what is still to come of it.
    """

    batch: int
    species: str
    chamber: str | None
    shelf: str | None
    open: bool
    opens: Window | None
    leaves: Window
    harvests: tuple[Awaited, ...] = ()


@dataclass(frozen=True, slots=True)
class FlushAt:
    """One flush, counted from opening.

    Attributes:
        low: first day. [d]
        high: last day. [d]
        share: of the whole crop, 0 to 1.
    """

    low: float
    high: float
    share: float


@dataclass(frozen=True, slots=True)
class Timing:
    """How long a batch of a species takes.

    Attributes:
        colonise_days: from the start to white through, low and high. [d]
        stay_days: from opening to clearing out, low and high. [d]
        flushes: in order.
    """

    colonise_days: tuple[float, float]
    stay_days: tuple[float, float]
    flushes: tuple[FlushAt, ...]


@dataclass(frozen=True, slots=True)
class PlannedStart:
    """A batch to start.

    Attributes:
        species: its name.
        on: the day.
        colonise_at: chamber and shelf where it colonises; None: that place is still taken.
        opens_on: the day to open it, when it is most likely white through, or later.
        fruit_at: chamber and shelf where it fruits.
        leaves_on: the day by which its place is free again.
        harvests: what to expect of it.
        turn: it is the so-manieth of its species that was ever started; 0: not counted.
    """

    species: str
    on: date
    colonise_at: tuple[str, str] | None
    opens_on: date
    fruit_at: tuple[str, str]
    leaves_on: date
    harvests: tuple[Awaited, ...]
    turn: int = 0


@dataclass(frozen=True, slots=True)
class WeekExpectation:
    """What to expect in a week, of batches under way and planned.

    Attributes:
        monday: its first day.
        kg_low: least, fresh. [kg]
        kg_high: most, fresh. [kg]
        by_species: the same for each of them. [kg]
    """

    monday: date
    kg_low: float
    kg_high: float
    by_species: Mapping[str, tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Gives:
    """A week in which less comes than is wanted.

    Attributes:
        week: its Monday.
        chamber: where there was no room for more; empty where that is not the reason.
        shelf: the one there that is free again first; empty where shelves are not the reason.
        species: of which too little comes.
        missing_kg: to the least that is wanted. [kg]
        why: and what would help, in words.
    """

    week: date
    chamber: str
    shelf: str
    species: str
    missing_kg: float
    why: str


@dataclass(frozen=True, slots=True)
class Slots:
    """Places that a rate of starts fills.

    Attributes:
        store: of sealed batches, for the low and the high rate.
        fruiting: of open ones.
    """

    store: tuple[float, float]
    fruiting: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Plan:
    """What to start when, and what comes of it.

    Attributes:
        starts: by day.
        weeks: what to expect in each.
        gives: weeks in which less comes than is wanted.
        starts_per_week: how many the wish takes, by species, low and high.
        slots: how many places that fills, by species.
        meets: nothing gives.
        helps: what would help where something gives, the cheapest first, in words.
        stuck: batches under way that find no room to be opened in time, by number.
    """

    starts: tuple[PlannedStart, ...]
    weeks: tuple[WeekExpectation, ...]
    gives: tuple[Gives, ...]
    starts_per_week: Mapping[str, tuple[float, float]]
    slots: Mapping[str, Slots]
    meets: bool
    helps: tuple[str, ...] = ()
    stuck: tuple[int, ...] = ()


# ------------------------------------------------------------------ how long it takes


def timing(species: Species, own: OwnTimes | None = None) -> Timing | None:
    """Return how long a batch takes, with as many flushes as every crop brings.

    Args:
        species: whose figures count.
        own: what the grower's own batches took; they narrow the figures.

    Returns:
        None where the figures don't say; `lacking` says which.
    """
    pace = Pace(species, own or OwnTimes())
    colonise = pace.days(Span.COLONISING)
    first = _first_flush(pace)
    if colonise is None or first is None:
        return None
    windows = [first]
    for _ in range(_flush_count(species) - 1):
        between = pace.days(Span.BETWEEN)
        if between is None:
            return None
        low, high = windows[-1]
        windows.append((low + between.low, high + between.high))
    shares = flush_shares(len(windows))
    flushes = tuple(FlushAt(*window, share) for window, share in zip(windows, shares, strict=True))
    return Timing((colonise.low, colonise.high), windows[-1], flushes)


def _first_flush(pace: Pace) -> tuple[float, float] | None:
    """Return from when to when the first flush is picked, counted from opening or casing. [d]."""
    has = pace.species.stages
    fruits = (Stage.FRUITING,) if Stage.FRUITING in has else (Stage.ANTLER, Stage.CONK)
    # Pins of a cased crop are counted from casing, so its case run lies within them.
    path = [stage for stage in (Stage.PINNING, *fruits) if stage in has]
    took: list[Days | None] = [pace.days(SPAN_OF[stage]) for stage in path]
    known = [days for days in took if days is not None]
    if not path or path[-1] is Stage.ANTLER or len(known) < len(took):
        return None
    return sum(days.low for days in known), sum(days.high for days in known)


def _flush_count(species: Species) -> int:
    low = species.flushes.low if species.flushes is not None else None
    return max(int(low or 1), 1)


def flush_shares(count: int) -> tuple[float, ...]:
    """Return what part of a crop each flush brings; together 1.

    Args:
        count: how many flushes there are.
    """
    parts = list(_FLUSH_PARTS[:count])
    while len(parts) < count:
        parts.append(parts[-1] / 2.0)
    return tuple(part / sum(parts) for part in parts)


def lacking(species: Species) -> str:
    """Say what has to be added to a species before it can be planned; empty: nothing."""
    missing = []
    if timing(species) is None:
        missing.append(
            "the days of colonisation, pinning and fruiting, low and high, and days_between "
            "where there is more than one flush"
        )
    if _efficiency(species) is None:
        missing.append("efficiency_pct, low and high, more than nothing")
    if not missing:
        return ""
    return (
        f"No rotation can be planned for {species.title}: its figures lack "
        f"{', and '.join(missing)}. Add them in your own species file."
    )


# ------------------------------------------------------------------ how many starts and slots


def _efficiency(species: Species) -> tuple[float, float] | None:
    stated = species.efficiency_pct
    if stated is None or not stated.low or not stated.high:
        return None
    return stated.low, stated.high


def batch_kg(species: Species, batch_dry_g: float) -> tuple[float, float]:
    """Return what one batch brings over all flushes, least and most; nothing if not known. [kg].

    Biological efficiency is fresh weight / dry substrate.

    Args:
        species: whose efficiency counts.
        batch_dry_g: dry substrate. [g]
    """
    low, high = _efficiency(species) or (0.0, 0.0)
    return batch_dry_g / 1000.0 * low / 100.0, batch_dry_g / 1000.0 * high / 100.0


def starts_per_week(wanted: Wanted, species: Species) -> tuple[float, float]:
    """Return how many batches a week a wish takes: little from good ones to much from poor ones.

    Args:
        wanted: of this species.
        species: one that `lacking` has nothing to say of.
    """
    poor, good = batch_kg(species, wanted.batch_dry_g)
    low, high = wanted.kg_per_week
    return low / good, high / poor


def unfit(wanted: Wanted, species: Species) -> str:
    """Say why a wish is too small or too large to be planned, and the cure; empty: it is not.

    Args:
        wanted: of this species.
        species: one that `lacking` has nothing to say of.
    """
    low, high = wanted.kg_per_week
    if not LEAST_KG <= low <= high <= MOST_KG:
        return (
            f"{species.title}: wish for {LEAST_KG:g} to {MOST_KG:g} kg a week, the lower figure "
            "first."
        )
    fewest = starts_per_week(wanted, species)[0]
    if fewest > MOST_STARTS:
        return (
            f"{species.title}: that takes {fewest:.0f} batches a week or more, and a plan takes "
            f"{MOST_STARTS}. Wish for less, or make larger batches."
        )
    return ""


def slots(per_week: float, days: float) -> float:
    """Return how many places are taken on average: Little's law, rate x mean stay.

    Source: Little, A Proof for the Queuing Formula L = λW, Oper. Res. 9:383 (1961).

    Args:
        per_week: starts a week.
        days: mean stay. [d]
    """
    return per_week * days / WEEK_D


def whole_slots(mean: float) -> int:
    """Return how many places have to be there where so many are taken on average."""
    return math.ceil(mean - 1e-9)


def slots_for(per_week: tuple[float, float], time: Timing) -> Slots:
    """Return the places that a range of rates fills, sealed and open.

    Args:
        per_week: starts a week, low and high.
        time: of the species; the law asks for the mean stay, so its windows count by the middle.
    """
    low, high = per_week
    store, stay = (sum(days) / 2.0 for days in (time.colonise_days, time.stay_days))
    return Slots((slots(low, store), slots(high, store)), (slots(low, stay), slots(high, stay)))
