"""Species with the days that sources give, to reckon windows from."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from types import MappingProxyType

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.due import Due, DueKind, dues
from chamberwatch.core.growing.own_times import OwnTimes
from chamberwatch.core.growing.species import Mark, Species, SpeciesTable, Stated, View, Wants
from tests.core.growing.lives import DAY_0

S = Stage
NOTHING_OWN = OwnTimes()
NO_STAGES: Mapping[Stage, tuple[float, float]] = MappingProxyType({})


def stated(low: float | None, high: float | None, source: str = "S00") -> Stated:
    return Stated((View(low, high, source, Mark.READ if source else Mark.COMMON),))


def species(
    title: str,
    days: Mapping[Stage, tuple[float, float]],
    flushes: tuple[float, float] | None = None,
    between: tuple[float, float] | None = None,
    soaked: bool = False,
) -> Species:
    return Species(
        name=title.lower().replace(" ", "-"),
        title=title,
        latin="",
        stages={stage: Wants(stage, days=stated(*range_)) for stage, range_ in days.items()},
        flushes=stated(*flushes) if flushes else None,
        days_between=stated(*between) if between else None,
        soaked=soaked,
        pick_when="before the cap edge turns up",
    )


# Stamets, Growing Gourmet and Medicinal Mushrooms, 3rd ed. (2000), chapter 21.
OYSTER = species(
    "Grey oyster",
    {S.COLONISATION: (12, 21), S.PINNING: (3, 5), S.FRUITING: (4, 7)},
    (3, 4),
    (7, 14),
)
SHIITAKE = species(
    "Shiitake",
    {S.COLONISATION: (35, 70), S.PINNING: (5, 7), S.FRUITING: (5, 8)},
    (4, 6),
    (14, 21),
    soaked=True,
)
ENOKI = species(
    "Enoki",
    {S.COLONISATION: (14, 18), S.PINNING: (3, 5), S.FRUITING: (5, 8)},
    (2, 2),
    (10, 12),
)
REISHI = species(
    "Reishi",
    {S.COLONISATION: (10, 20), S.ANTLER: (14, 28), S.CONK: (60, 60)},
    (2, 2),
    (45, 60),
)
# The interval is a trade note.
KING_OYSTER = species(
    "King oyster",
    {S.COLONISATION: (12, 16), S.PINNING: (3, 5), S.FRUITING: (4, 7)},
    (2, 2),
    (13, 15),
)
# Stamets & Chilton, The Mushroom Cultivator (1983), p. 161; pins count from casing.
BUTTON = species(
    "Button",
    {S.COLONISATION: (14, 14), S.CASE_RUN: (8, 12), S.PINNING: (12, 15), S.FRUITING: (7, 10)},
    (3, 3),
    (7, 10),
)
TABLE = SpeciesTable(
    {s.name: s for s in (OYSTER, SHIITAKE, ENOKI, REISHI, KING_OYSTER, BUTTON)}, {}
)


def days_from_0(time: datetime) -> float:
    return round((time - DAY_0) / timedelta(days=1), 2)


def ahead(
    batch: Batch, of: Species, day: float, own: OwnTimes = NOTHING_OWN
) -> dict[tuple[DueKind, int], tuple[float, float]]:
    """Return the windows of a batch in days from its start, by kind and flush."""
    found: tuple[Due, ...] = dues(batch, of, own, DAY_0 + timedelta(days=day))
    return {
        (due.kind, due.flush): (days_from_0(due.window.low), days_from_0(due.window.high))
        for due in found
    }
