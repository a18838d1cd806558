"""Invented species and short ways to tell the life of batch 14."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TypedDict, Unpack

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, Entry, EntryKind, Start
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.species import Species, Wants

DAY_0 = datetime(2026, 11, 1, 9, 0, tzinfo=UTC)
K, S = EntryKind, Stage


class Told(TypedDict, total=False):
    batch: int
    note: str
    start: Start | None
    chamber: str | None
    shelf: str | None
    count: int | None
    other: int | None
    weight_g: float | None
    stage: Stage | None
    flush: int | None
    sign: str
    corrects: int | None


class Facts(TypedDict, total=False):
    count: int
    strain: str
    wet_g: float | None
    dry_g: float | None
    moisture_pct: float | None
    parent: int | None
    split_from: int | None


def species(title: str, *stages: Stage) -> Species:
    return Species(title.lower(), title, "", {stage: Wants(stage) for stage in stages})


OYSTER = species("Oyster", S.COLONISATION, S.PINNING, S.FRUITING)
BUTTON = species("Button", S.COLONISATION, S.CASE_RUN, S.PINNING, S.FRUITING)
REISHI = species("Reishi", S.COLONISATION, S.ANTLER, S.CONK)
SPAWN = species("Spawn", S.COLONISATION)
EVERY = species(
    "Every", S.COLONISATION, S.CASE_RUN, S.PINNING, S.FRUITING, S.ANTLER, S.CONK
)  # fmt: skip
ALL: Mapping[str, Species] = {s.name: s for s in (OYSTER, BUTTON, REISHI, SPAWN, EVERY)}


def on(day: float) -> datetime:
    return DAY_0 + timedelta(days=day)


def tell(kind: EntryKind, day: float, number: int = 0, /, **told: Unpack[Told]) -> Entry:
    told.setdefault("batch", 14)
    return Entry(id=number, kind=kind, at=on(day), recorded=on(day), via="page", **told)


def start(container: Container = Container.BAG, **told: Unpack[Facts]) -> Start:
    return Start("any", container, **told)


def begin(
    container: Container = Container.BAG, chamber: str | None = "tent", **told: Unpack[Facts]
) -> Entry:
    return tell(K.STARTED, 0, start=start(container, **told), chamber=chamber)


def numbered(*entries: Entry) -> tuple[Entry, ...]:
    """Number entries in the order they are given."""
    return tuple(replace(entry, id=number) for number, entry in enumerate(entries, 1))


def live(of: Species, *entries: Entry) -> Batch:
    return fold(numbered(*entries), of)


def path(batch: Batch) -> list[tuple[Stage, int]]:
    return [(passed.stage, passed.flush) for passed in batch.stages]


def flush_weights_g(batch: Batch) -> dict[int, float]:
    """Return the fresh weight of each flush that was weighed, first flush first. [g]."""
    sums: dict[int, float] = {}
    for harvest in batch.harvests:
        sums[harvest.flush] = sums.get(harvest.flush, 0.0) + harvest.weight_g
    return dict(sorted(sums.items()))
