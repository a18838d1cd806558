"""What came of a batch: fresh weight against dry substrate, per flush and per day.

Biological efficiency is the fresh weight of all flushes divided by the dry substrate; the dry
substrate is without added water, spawn and casing. What was picked before a split is shared out
among the parts by their count, so that each part has its own weight against its own substrate and
no gram is lost or counted twice.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Entry, EntryKind, Harvest, dry_g
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.lineage import ancestors
from chamberwatch.core.growing.species import Species, Stated, View

RECKONED_ON: Final = (
    "fresh weight of all flushes / dry substrate, without added water, spawn and casing"
)

DRY_UNKNOWN: Final = (
    "Record the weight of the filled substrate and its moisture, or the dry weight; correct its "
    "start with them."
)

# A dried crop weighs about a tenth of the fresh one where a species says nothing of its own.
USUAL_WATER: Final = Stated((View(90.0, 90.0),))


@dataclass(frozen=True, slots=True)
class Picked:
    """One flush.

    Attributes:
        flush: its number.
        fresh_g: picked, as far as it counts for this batch. [g]
        share_pct: of all that was picked. [%]
        efficiency_pct: fresh / dry substrate; None without its dry weight. [%]
    """

    flush: int
    fresh_g: float
    share_pct: float
    efficiency_pct: float | None


@dataclass(frozen=True, slots=True)
class Crop:
    """What came of one batch so far.

    Attributes:
        batch: its number.
        species: its name in the species table.
        substrate: as it was said; empty: not said.
        line: number of the first batch of its line.
        shelf: where it fruited, or stood last, such as “tent, top”; empty: in no chamber.
        started: when the spawn went in, before any split.
        last_picked: when it was last picked; None: not yet.
        finished: it was spent or lost, so nothing more will come.
        lost: it ended contaminated.
        weighed_g: all that was weighed under its number. [g]
        fresh_g: the same where it was never split; else its part of what was picked before. [g]
        dry_g: dry substrate; None: not known. [g]
        wet_g: filled substrate; None: not known. [g]
        dried_least_g: what drying leaves at least. [g]
        dried_most_g: what drying leaves at most. [g]
        flushes: in order.
        missing: what to record so that the efficiency can be told; empty where it is.
    """

    batch: int
    species: str
    substrate: str
    line: int
    shelf: str
    started: datetime
    last_picked: datetime | None
    finished: bool
    lost: bool
    weighed_g: float
    fresh_g: float
    dry_g: float | None
    wet_g: float | None
    dried_least_g: float
    dried_most_g: float
    flushes: tuple[Picked, ...]
    missing: str = ""

    @property
    def efficiency_pct(self) -> float | None:
        """Return the biological efficiency over all flushes. [%]."""
        return percent(self.fresh_g, self.dry_g)

    @property
    def wet_yield_pct(self) -> float | None:
        """Return the fresh weight on the filled substrate. [%]."""
        return percent(self.fresh_g, self.wet_g)

    @property
    def days(self) -> float | None:
        """Return the days from spawning to the last picking; None before the first. [d]."""
        if self.last_picked is None:
            return None
        return (self.last_picked - self.started) / timedelta(days=1)

    @property
    def per_day_pct(self) -> float | None:
        """Return the production rate: efficiency / days from spawning. [%/d].

        None within the first day: what was told in one go has no rate.
        """
        efficiency, days = self.efficiency_pct, self.days
        return efficiency / days if efficiency is not None and days and days >= 1 else None


def crops(
    batches: Mapping[int, Batch],
    species: Callable[[str], Species],
    shelves: Mapping[int, str] | None = None,
    splits: Mapping[int, datetime] | None = None,
) -> tuple[Crop, ...]:
    """Return what came of every batch, in the order of their numbers.

    Args:
        batches: all there are, by number, ended ones too.
        species: gives a species by its name.
        shelves: where each one fruited, as `fruited_on` tells it; of a batch that is missing
            there the chamber counts in which it stood last.
        splits: when each part was taken out, as `split_times` tells it; one that is missing there
            gets nothing of what was picked before.
    """
    family = _Family(batches, _parts(batches, splits or {}))
    return tuple(
        _crop(batches[number], family, species, shelves or {}) for number in sorted(batches)
    )


@dataclass(frozen=True, slots=True)
class _Part:
    """A batch that was taken out of another, and when."""

    batch: Batch
    at: datetime


@dataclass(frozen=True, slots=True)
class _Family:
    """All batches, and the parts that were taken out of each."""

    batches: Mapping[int, Batch]
    parts: Mapping[int, Sequence[_Part]]


def _crop(
    batch: Batch,
    family: _Family,
    species: Callable[[str], Species],
    shelves: Mapping[int, str],
) -> Crop:
    counted = _counted(batch, family)
    fresh = math.fsum(harvest.weight_g for harvest in counted)
    dry = dry_g(batch)
    least, most = dried_g(fresh, species(batch.start.species))
    return Crop(
        batch=batch.id,
        species=batch.start.species,
        substrate=batch.start.substrate,
        line=(batch.id, *ancestors(family.batches, batch.id))[-1],
        shelf=shelves.get(batch.id, ", ".join(batch.chambers[-1:])),
        started=_spawned(batch, family.batches),
        last_picked=max((harvest.at for harvest in counted), default=None),
        finished=batch.ended is not None,
        lost=batch.stage is Stage.CONTAMINATED,
        weighed_g=math.fsum(harvest.weight_g for harvest in batch.harvests),
        fresh_g=fresh,
        dry_g=dry,
        wet_g=_wet_g(batch),
        dried_least_g=least,
        dried_most_g=most,
        flushes=_flushes(counted, dry),
        missing=DRY_UNKNOWN if dry is None else "",
    )


def dried_g(fresh_g: float, species: Species) -> tuple[float, float]:
    """Return what drying leaves of a fresh weight, at least and at most. [g]."""
    water = species.water_pct or USUAL_WATER
    usual = USUAL_WATER.views[0].high or 0.0
    wettest = usual if water.high is None else water.high
    driest = wettest if water.low is None else water.low
    return fresh_g * (1.0 - wettest / 100.0), fresh_g * (1.0 - driest / 100.0)


def _wet_g(batch: Batch) -> float | None:
    """Return the filled substrate of what is left in it after splits. [g]."""
    wet = batch.start.wet_g
    return None if wet is None else wet * batch.count / batch.start.count


def percent(part: float, whole: float | None) -> float | None:
    """Return a share; None of nothing or of what is not known. [%]."""
    return part / whole * 100.0 if whole else None


def _flushes(counted: Iterable[Harvest], dry: float | None) -> tuple[Picked, ...]:
    weights: dict[int, list[float]] = {}
    for harvest in counted:
        weights.setdefault(harvest.flush, []).append(harvest.weight_g)
    sums = {flush: math.fsum(each) for flush, each in sorted(weights.items())}
    total = math.fsum(sums.values())
    return tuple(
        Picked(flush, fresh, fresh / total * 100.0, percent(fresh, dry))
        for flush, fresh in sums.items()
    )


# ------------------------------------------------------------------ splits and lines


def split_times(entries: Iterable[Entry]) -> Mapping[int, datetime]:
    """Return when each part was taken out of its whole, by the number of the part.

    Args:
        entries: all that was told of all batches: it is told of the whole, not of the part.
    """
    return {
        entry.other: entry.at
        for entry in entries
        if entry.kind is EntryKind.SPLIT and entry.other is not None
    }


def _parts(
    batches: Mapping[int, Batch], splits: Mapping[int, datetime]
) -> Mapping[int, Sequence[_Part]]:
    """Return what was taken out of each batch."""
    parts: dict[int, list[_Part]] = {}
    for batch in batches.values():
        if batch.start.split_from is not None:
            part = _Part(batch, splits.get(batch.id, batch.started))
            parts.setdefault(batch.start.split_from, []).append(part)
    return parts


def _counted(batch: Batch, family: _Family) -> list[Harvest]:
    """Return what counts for a batch: its part of what was picked from it, or before it split.

    Goes down the line once and hands each picking on, so that a part of a part is right as well.
    """
    line = [batch, *_wholes(batch, family.batches)]
    handed: list[Harvest] = []
    for one, below in zip(reversed(line), [*reversed(line[:-1]), None], strict=True):
        parts = family.parts.get(one.id, ())
        handed = [
            _scaled(harvest, share)
            for harvest in (*handed, *one.harvests)
            if (share := _share(one, below, harvest.at, parts))
        ]
    return handed


def _share(one: Batch, below: Batch | None, at: datetime, parts: Sequence[_Part]) -> float:
    """Return which share of a picking stays in a batch, or goes to the part `below` of it."""
    later = [part.batch for part in parts if part.at >= at]
    then = one.count + sum(part.start.count for part in later)
    if below is None:
        return one.count / then
    return below.start.count / then if below in later else 0.0


def _scaled(harvest: Harvest, share: float) -> Harvest:
    return Harvest(harvest.entry, harvest.at, harvest.flush, harvest.weight_g * share)


def _wholes(batch: Batch, batches: Mapping[int, Batch]) -> list[Batch]:
    """Return what a batch was taken out of, and that in turn, nearest first."""
    found: list[Batch] = []
    above = batches.get(batch.start.split_from or 0)
    # A whole is older than its part, so no circle can come up; one all the same would never end.
    while above is not None and above not in (batch, *found):
        found.append(above)
        above = batches.get(above.start.split_from or 0)
    return found


def _spawned(batch: Batch, batches: Mapping[int, Batch]) -> datetime:
    """Return when the spawn went in: a part is as old as what it was taken out of."""
    return min(each.started for each in (batch, *_wholes(batch, batches)))


def fruited_on(entries: Iterable[Entry]) -> str:
    """Return where a batch stood when it was last picked, else where it stood last.

    Args:
        entries: all that was told of one batch, in any order.
    """
    fruited, stood = None, ""
    for entry in effective(tuple(entries)):
        if entry.kind in (EntryKind.STARTED, EntryKind.MOVED):
            stood = ", ".join(part for part in (entry.chamber, entry.shelf) if part)
        if entry.kind is EntryKind.HARVESTED:
            fruited = stood
    return stood if fruited is None else fruited
