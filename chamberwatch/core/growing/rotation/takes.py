"""What a wish takes: how long a batch stays, how many to start, how many places they fill.

Little's law tells how many slots a rate of starts fills.
"""

import math
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.own_times import SPAN_OF, Days, OwnTimes, Pace, Span
from chamberwatch.core.growing.rotation.plan import (
    LEAST_KG,
    MOST_KG,
    WEEK_D,
    FlushAt,
    Slots,
    Timing,
    Wanted,
)
from chamberwatch.core.growing.species import Species

# Common practice: the first flush brings 50 to 60 % of a crop, the second 25 to 30, the third 10
# to 20; a later one about half of the one before. Their middles, made to add up to all of it.
_FLUSH_PARTS: Final = (55.0, 27.5, 15.0)

MOST_STARTS: Final = 100
"""A wish that takes more batches a week is refused: it is a slip of the pen, or of the batch."""


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
