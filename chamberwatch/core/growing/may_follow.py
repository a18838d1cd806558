"""What can be told of a batch next, so that nothing else need be offered."""

from collections.abc import Mapping
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import (
    BEFORE_PINS,
    ENDS,
    GROWS,
    MOVES,
    Batch,
    Container,
    EntryKind,
    Step,
)
from chamberwatch.core.growing.life import has_stage
from chamberwatch.core.growing.species import Species

_K = EntryKind


def may_follow(batch: Batch, species: Species) -> frozenset[EntryKind]:
    """Return what may be told of a batch as it is today, by the table `MOVES`."""
    return frozenset(
        kind
        for (stage, kind), step in MOVES.items()
        if stage is batch.stage and _fits(kind, step, batch, species)
    )


def _fits(kind: EntryKind, step: Step, batch: Batch, species: Species) -> bool:
    if step.only is not None and batch.start.container not in step.only:
        return False
    if kind is _K.SPLIT:
        return batch.count > 1
    if kind is _K.RAINED:
        return batch.chamber is None or batch.start.container is Container.LOG
    return not step.to or any(has_stage(species, stage) for stage in step.to)


def stages_to_set(batch: Batch, species: Species) -> tuple[Stage, ...]:
    """Return the stages that a living batch can be set to by hand, in the order of its life."""
    if batch.ended is not None:
        return ()
    return tuple(
        stage
        for stage in Stage
        if stage not in ENDS
        and stage is not batch.stage
        and has_stage(species, stage)
        and not (batch.harvests and stage in BEFORE_PINS)
    )


_LIKELY: Final[Mapping[Stage, tuple[EntryKind, ...]]] = {
    Stage.CASE_RUN: (_K.OPENED,),
    Stage.PINNING: (_K.PINNED,),
    Stage.RESTING: (_K.PINNED, _K.SOAKED),
}


def likely_next(batch: Batch, may: frozenset[EntryKind]) -> EntryKind | None:
    """Return what most likely is told of a batch next; None: nothing stands out.

    Args:
        batch: as it is today.
        may: what may be told of it.
    """
    if batch.stage in GROWS:
        return _K.HARVESTED
    likely = _LIKELY.get(batch.stage, ())
    if batch.stage is Stage.COLONISATION:
        likely = (_K.WHITE,) if batch.white_at is None else (_K.OPENED,)
    return next((kind for kind in likely if kind in may), None)
