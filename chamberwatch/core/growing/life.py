"""What a batch is today, folded from its entries along the table `MOVES`.

Entries may come in any order: they are put in the order in which things happened. A correction
stands in the place of what it corrects. What can't have happened is refused, with the reason and
what would work; then nothing has changed.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import accumulate
from typing import Final, TypeVar

from chamberwatch.core.errors import RefusedError, WrongTimeError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import (
    BEFORE_PINS,
    ENDS,
    GROWS,
    MOVES,
    Batch,
    Container,
    Entry,
    EntryKind,
    Harvest,
    Passed,
    Step,
    check_split,
)
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.life_words import (
    CANNOT,
    LACKS,
    day,
    no_stage,
    out_of_place,
    too_early,
)
from chamberwatch.core.growing.species import Species

T = TypeVar("T")

# A flush ripens over a few days; what is picked later, with no pins told in between, is the next
# flush (common practice).
SAME_FLUSH_WITHIN: Final = timedelta(days=4)
MOST_FLUSHES: Final = 20

_S, _K = Stage, EntryKind


def fold(entries: Sequence[Entry], species: Species) -> Batch:
    """Return what a batch is after its entries.

    Args:
        entries: all that was told of one batch, in any order.
        species: of its start.

    Raises:
        RefusedError: this can't have happened; the text says why and what would work.
    """
    return lived(entries, species)[-1][1]


def lived(entries: Sequence[Entry], species: Species) -> Sequence[tuple[Entry, Batch]]:
    """Return what holds of a batch, oldest first, each with what the batch was after it.

    Args:
        entries: all that was told of one batch, in any order.
        species: of its start.

    Raises:
        RefusedError: this can't have happened; the text says why and what would work.
    """
    told = effective(entries)
    if not told:
        raise RefusedError("Nothing is told of this batch. Start it first.")
    lives = accumulate(
        told[1:], lambda batch, entry: _after(batch, entry, species), initial=_begun(told)
    )
    return list(zip(told, lives, strict=True))


def _begun(told: Sequence[Entry]) -> Batch:
    first = told[0]
    if any(entry.batch != first.batch for entry in told):
        raise RefusedError("These entries are of more than one batch. Give those of one.")
    if first.kind is not _K.STARTED:
        raise WrongTimeError(too_early(told))
    start = _need(first.start, first)
    return Batch(
        id=first.batch,
        start=start,
        started=first.at,
        stages=(Passed(_S.COLONISATION, 0, first.at),),
        count=start.count,
        chamber=first.chamber,
        shelf=first.shelf,
        placed=first.at,
        chambers=_stood((), first.chamber),
    )


def _after(batch: Batch, entry: Entry, species: Species) -> Batch:
    """Return the batch after one more entry."""
    step = MOVES.get((batch.stage, entry.kind))
    if step is None or (step.only is not None and batch.start.container not in step.only):
        raise RefusedError(out_of_place(batch, entry))
    stage, flush = _next(batch, entry, step, species)
    facts = FACTS.get(entry.kind)
    changed = batch if facts is None else facts(batch, entry)
    return _enter(changed, stage, flush, entry.at)


def _next(batch: Batch, entry: Entry, step: Step, species: Species) -> tuple[Stage, int]:
    """Return stage and flush after an entry."""
    if entry.kind is _K.HARVESTED:
        return _after_picking(batch, _flush_of(batch, entry))
    if entry.kind is _K.STAGED:
        return _by_hand(batch, entry, step, species)
    if not step.to:
        return batch.stage, batch.flush
    for stage in step.to:
        if has_stage(species, stage):
            return stage, _reckoned(batch, stage)
    raise RefusedError(no_stage(batch, step.to, species, CANNOT[entry.kind]))


def _after_picking(batch: Batch, flush: int) -> tuple[Stage, int]:
    """Rest after a picking, unless it was a late one of a flush that is over."""
    standing = batch.stage in GROWS and flush == batch.flush
    return (_S.RESTING, flush) if flush > batch.flush or standing else (batch.stage, batch.flush)


def _flush_of(batch: Batch, entry: Entry) -> int:
    """Return of which flush a picking is."""
    if entry.flush is not None:
        return _in_range(entry.flush)
    if batch.stage in GROWS:
        return batch.flush
    last = batch.rested_at or batch.since
    late = batch.stage is _S.RESTING and entry.at - last <= SAME_FLUSH_WITHIN
    return batch.flush if batch.flush and late else batch.flush + 1


def _by_hand(batch: Batch, entry: Entry, step: Step, species: Species) -> tuple[Stage, int]:
    """Return stage and flush as told."""
    stage = _need(entry.stage, entry)
    if stage not in step.to:
        raise RefusedError(f"A batch ends by being told “{stage}”, not by its stage. Tell that.")
    if not has_stage(species, stage):
        raise RefusedError(no_stage(batch, (stage,), species, "it can't be in that"))
    if stage in BEFORE_PINS:
        return stage, _none_yet(batch, entry, stage)
    if entry.flush is None:
        return stage, _reckoned(batch, stage)
    # With pinning the grower means the flush to come; ours is the last until pins are seen.
    flush = _in_range(entry.flush) - (stage is _S.PINNING)
    if flush < _last_weighed(batch):
        raise RefusedError(
            f"Flush {_last_weighed(batch)} of batch {batch.id} was weighed already. "
            "Give a later flush, or correct the weighing first."
        )
    return stage, flush


def _none_yet(batch: Batch, entry: Entry, stage: Stage) -> int:
    if batch.harvests or entry.flush is not None:
        raise RefusedError(
            f"There is no flush before the end of {stage}, but one was told of batch {batch.id}. "
            "Leave out the flush, and withdraw harvests that were not."
        )
    return 0


def _reckoned(batch: Batch, stage: Stage) -> int:
    """Return the flush that a stage belongs to where none was told."""
    if stage in GROWS:
        return batch.flush + (batch.stage not in GROWS)
    # Set back by hand: what was taken for fruiting is still pins.
    unpicked = batch.stage in GROWS and batch.flush > _last_weighed(batch)
    return batch.flush - (stage is _S.PINNING and unpicked)


def _last_weighed(batch: Batch) -> int:
    return max((harvest.flush for harvest in batch.harvests), default=0)


def _enter(batch: Batch, stage: Stage, flush: int, at: datetime) -> Batch:
    """Begin a stage, if it is another or of another flush."""
    if (stage, flush) == (batch.stage, batch.flush):
        return batch
    left = replace(batch.stages[-1], until=at)
    stages = (*batch.stages[:-1], left, Passed(stage, flush, at))
    if stage in ENDS:
        # It stands nowhere any more; where it stood stays in `chambers`.
        return replace(batch, stages=stages, chamber=None, shelf=None, placed=at)
    opened = None if stage is _S.COLONISATION else batch.opened_at or at
    return replace(batch, stages=stages, opened_at=opened)


def _moved(batch: Batch, entry: Entry) -> Batch:
    stood = _stood(batch.chambers, entry.chamber)
    return replace(
        batch, chamber=entry.chamber, shelf=entry.shelf, placed=entry.at, chambers=stood
    )


def _stood(chambers: tuple[str, ...], chamber: str | None) -> tuple[str, ...]:
    return chambers if chamber is None or chamber in chambers else (*chambers, chamber)


def _split(batch: Batch, entry: Entry) -> Batch:
    count = _need(entry.count, entry)
    if _need(entry.other, entry) == batch.id:
        raise RefusedError(f"Batch {batch.id} can't be split into itself. Give a new number.")
    check_split(batch, count)
    return replace(batch, count=batch.count - count)


def _white(batch: Batch, entry: Entry) -> Batch:
    return replace(batch, white_at=batch.white_at or entry.at)


def _harvested(batch: Batch, entry: Entry) -> Batch:
    weight_g = _need(entry.weight_g, entry)
    if not weight_g > 0.0:
        raise RefusedError(
            f"A harvest weighs more than nothing, not {weight_g:g} g. Weigh again, "
            "or tell that it rests where nothing was picked."
        )
    harvest = Harvest(entry.id, entry.at, _flush_of(batch, entry), weight_g)
    # What is picked of a flush before says nothing of this one.
    rested = entry.at if harvest.flush >= batch.flush else batch.rested_at
    return replace(batch, harvests=(*batch.harvests, harvest), rested_at=rested)


def _rested(batch: Batch, entry: Entry) -> Batch:
    return replace(batch, rested_at=entry.at)


def _staged(batch: Batch, entry: Entry) -> Batch:
    return _rested(batch, entry) if entry.stage is _S.RESTING else batch


def _soaked(batch: Batch, entry: Entry) -> Batch:
    return replace(batch, soaked_at=entry.at, wetted_at=entry.at)


def _rained(batch: Batch, entry: Entry) -> Batch:
    if batch.chamber is not None and batch.start.container is not Container.LOG:
        raise RefusedError(
            f"Batch {batch.id} stood in {batch.chamber} on {day(entry.at)}, where no rain comes. "
            "Tell first that it was moved outdoors."
        )
    return replace(batch, wetted_at=entry.at)


def _looked(batch: Batch, entry: Entry) -> Batch:
    _need(entry.sign or None, entry)
    return batch


# What an entry changes besides the stage.
FACTS: Final[Mapping[EntryKind, Callable[[Batch, Entry], Batch]]] = {
    _K.MOVED: _moved,
    _K.SPLIT: _split,
    _K.WHITE: _white,
    _K.HARVESTED: _harvested,
    _K.RESTED: _rested,
    _K.STAGED: _staged,
    _K.SOAKED: _soaked,
    _K.RAINED: _rained,
    _K.LOOKED: _looked,
}


def has_stage(species: Species, stage: Stage) -> bool:
    """Tell whether a species can be in a stage; all rest, and all end."""
    return stage in species.stages or stage is _S.RESTING or stage in ENDS


def _need(value: T | None, entry: Entry) -> T:
    if value is None:
        raise RefusedError(f"“{entry.kind}” needs {LACKS[entry.kind]}. Tell that too.")
    return value


def _in_range(flush: int) -> int:
    if not 1 <= flush <= MOST_FLUSHES:
        raise RefusedError(
            f"A flush is numbered 1 to {MOST_FLUSHES}, not {flush}. Mend it.", "flush"
        )
    return flush
