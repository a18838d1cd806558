"""What came of finished batches, put together by species, substrate, line or shelf."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import fmean, stdev
from typing import Final

from chamberwatch.core.growing.crop import Crop, percent

SPREAD_FROM: Final = 3
"""A standard error needs so many: of two it says next to nothing."""

NOT_SAID: Final = "not said"


class By(StrEnum):
    """What finished batches are put together by."""

    SPECIES = "species"
    SUBSTRATE = "substrate"
    LINE = "line"
    SHELF = "shelf"


@dataclass(frozen=True, slots=True)
class Spread:
    """Figures of several batches.

    Attributes:
        count: how many.
        mean: of them.
        least: of them.
        most: of them.
        standard_error: of the mean; None for fewer than three.
    """

    count: int
    mean: float
    least: float
    most: float
    standard_error: float | None


@dataclass(frozen=True, slots=True)
class Row:
    """Finished batches that have something in common. Lost ones count with what they gave.

    Attributes:
        by: what.
        key: the name, number or words that they share.
        species: names of what grew, in order.
        count: how many batches.
        lost: how many of them ended contaminated.
        fresh_g: all that was picked. [g]
        dry_g: all dry substrate that is known. [g]
        efficiency_pct: of those whose dry substrate is known; None: of none. [%]
        per_day_pct: production rate of those that were picked as well. [%/d]
        together_pct: all their fresh weight on all their dry substrate. [%]
    """

    by: By
    key: str
    species: tuple[str, ...]
    count: int
    lost: int
    fresh_g: float
    dry_g: float
    efficiency_pct: Spread | None
    per_day_pct: Spread | None
    together_pct: float | None

    @property
    def lost_pct(self) -> float:
        """Return the share that was lost. [%]."""
        return self.lost / self.count * 100.0


_KEYS: Final[Mapping[By, Callable[[Crop], str]]] = {
    By.SPECIES: lambda crop: crop.species,
    By.SUBSTRATE: lambda crop: " ".join(crop.substrate.split()).casefold() or NOT_SAID,
    By.LINE: lambda crop: str(crop.line),
    By.SHELF: lambda crop: crop.shelf or "in no chamber",
}


def rows(grown: Iterable[Crop], by: By) -> tuple[Row, ...]:
    """Return finished batches put together, those with most of them first.

    Args:
        grown: all batches; those still under way are left out.
        by: what they are put together by.
    """
    groups: dict[str, list[Crop]] = {}
    for crop in grown:
        if crop.finished:
            groups.setdefault(_KEYS[by](crop), []).append(crop)
    made = (_row(by, key, group) for key, group in groups.items())
    return tuple(sorted(made, key=lambda row: (-row.count, row.key)))


def _row(by: By, key: str, group: Sequence[Crop]) -> Row:
    known = [crop for crop in group if crop.dry_g]
    dry = math.fsum(crop.dry_g or 0.0 for crop in known)
    return Row(
        by=by,
        key=key,
        species=tuple(dict.fromkeys(crop.species for crop in group)),
        count=len(group),
        lost=sum(crop.lost for crop in group),
        fresh_g=math.fsum(crop.fresh_g for crop in group),
        dry_g=dry,
        efficiency_pct=_spread(crop.efficiency_pct for crop in known),
        per_day_pct=_spread(crop.per_day_pct for crop in known),
        together_pct=percent(math.fsum(crop.fresh_g for crop in known), dry),
    )


def _spread(values: Iterable[float | None]) -> Spread | None:
    known = [value for value in values if value is not None]
    if not known:
        return None
    n = len(known)
    error = stdev(known) / math.sqrt(n) if n >= SPREAD_FROM else None
    return Spread(n, fmean(known), min(known), max(known), error)
