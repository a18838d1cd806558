"""What is taken out of a batch becomes one of its own, with the same past."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from math import isclose
from typing import Any, Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Entry, EntryKind, Start, check_split
from chamberwatch.core.growing.life import lived
from chamberwatch.core.growing.species import Species

_K = EntryKind

# Happened to every part alike, and leads each to the same stage.
_ALIKE: Final = frozenset(
    {_K.WHITE, _K.CASED, _K.OPENED, _K.PINNED, _K.RESTED, _K.SOAKED, _K.RAINED}
)

# Where these lead depends on what was weighed, which stays with the whole.
_BY_WEIGHINGS: Final = frozenset({_K.HARVESTED, _K.STAGED})

# Of a start: shared out by the count, or the same in every part.
_SHARED: Final = ("wet_g", "dry_g")
_SAME: Final = (
    "species", "container", "substrate", "strain", "spawn", "moisture_pct", "parent",
)  # fmt: skip


def split_start(batch: Batch, count: int) -> Start:
    """Return how the batch starts that so many out of this one become.

    Weights go by the count; parent and strain stay, so it is of the same generation.

    Args:
        batch: before the split.
        count: how many are taken out.

    Raises:
        RefusedError: none, or none left behind.
    """
    check_split(batch, count)
    shares: dict[str, Any] = {name: _share(batch.start, name, count) for name in _SHARED}
    return replace(batch.start, count=count, split_from=batch.id, **shares)


def split_past(entries: Sequence[Entry], species: Species) -> Iterator[Entry]:
    """Yield what is to be told of a part after its start, so that it has the past of the whole.

    Each at its own time. What stays with the whole: where it stood, what else was split off,
    words and signs, and weights; of a picking the part has the stage and flush that it led to.

    Args:
        entries: what held of the whole when it was split.
        species: of the whole.

    Raises:
        RefusedError: this can't have happened.
    """
    for (_, before), (entry, after) in pairwise(lived(entries, species)):
        bare = replace(entry, note="", weight_g=None, corrects=None)
        if entry.kind in _ALIKE:
            yield bare
        elif entry.kind in _BY_WEIGHINGS and _come_so_far(after) != _come_so_far(before):
            # The flush that is told with pinning is the one to come.
            flush = after.flush + (after.stage is Stage.PINNING)
            yield replace(bare, kind=_K.STAGED, stage=after.stage, flush=flush or None)


def _come_so_far(batch: Batch) -> object:
    return batch.stages, batch.rested_at


def carried(part: Start, old: Start, new: Start) -> Start:
    """Return the start of what was split off, after the start of the whole was corrected.

    What was said otherwise of the part stays.

    Args:
        part: how the part started so far.
        old: how the whole started, as it was told.
        new: the same, corrected.
    """
    changes: dict[str, Any] = {
        name: getattr(new, name) for name in _SAME if getattr(part, name) == getattr(old, name)
    }
    for name in _SHARED:
        if _alike(getattr(part, name), _share(old, name, part.count)):
            changes[name] = _share(new, name, part.count)
    return replace(part, **changes)


def _share(whole: Start, name: str, count: int) -> float | None:
    weight_g: float | None = getattr(whole, name)
    return None if weight_g is None else weight_g * count / whole.count


def _alike(one: float | None, other: float | None) -> bool:
    return one == other if one is None or other is None else isclose(one, other)
