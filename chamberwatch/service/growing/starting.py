"""Whether a start makes sense beyond what the core checks, and what parts of a batch carry on."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import isclose
from typing import Any, Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Batch, Container, Entry, EntryKind, Start, split_stage
from chamberwatch.core.growing.lineage import ancestors

MOST_CONTAINERS: Final = 1000
WETTEST_PCT: Final = 90.0
"""Substrate that holds more water than this drips; 60 to 75 % is usual (common practice). [%]"""

# From a small jar to a long bed (common practice). Beyond, the unit was mistaken. [g]
LIGHTEST_G: Final = 10.0
HEAVIEST_G: Final = 200_000.0

# What a part takes over from the whole where it was never said otherwise of the part.
_CARRIED: Final = (
    "species", "container", "substrate", "strain", "spawn", "moisture_pct", "parent",
)  # fmt: skip
_SHARED: Final = ("wet_g", "dry_g")


def check_sense(start: Start) -> None:
    """Refuse a start that nobody can mean.

    Raises:
        RefusedError: the text says what to look at.
    """
    if start.count > MOST_CONTAINERS:
        raise RefusedError(
            f"A batch of {start.count} is too many; count those that move together, at most "
            f"{MOST_CONTAINERS}."
        )
    if start.moisture_pct is not None and start.moisture_pct > WETTEST_PCT:
        raise RefusedError(
            f"Substrate with {start.moisture_pct:g} % water would drip; 60 to 75 % is usual. "
            f"Give the water as a share of the filled weight."
        )
    for weight_g in (start.wet_g, start.dry_g):
        each_g = weight_g / max(start.count, 1) if weight_g is not None else LIGHTEST_G
        if 0.0 < each_g < LIGHTEST_G or each_g > HEAVIEST_G:
            raise RefusedError(
                f"{each_g:g} g of substrate in one {start.container} can't be. Give the weight "
                "of all of them together, and check the unit (g, kg, oz, lb)."
            )


def check_circle(batches: Mapping[int, Batch], number: int, start: Start) -> None:
    """Refuse a batch that comes from itself.

    Raises:
        RefusedError: the text names the batches.
    """
    parent = start.parent
    if parent is not None and number in (parent, *ancestors(batches, parent)):
        raise RefusedError(
            f"Batch {number} can't come from batch {parent}: that would make it come from itself. "
            "Name another batch, or none."
        )


def check_offspring(batches: Mapping[int, Batch], number: int) -> None:
    """Refuse a batch that is younger than what came from it.

    Raises:
        RefusedError: the text names the first of those.
    """
    whole = batches[number]
    for batch in batches.values():
        from_it = number in (batch.start.parent, batch.start.split_from)
        if from_it and batch.started < whole.started:
            raise RefusedError(
                f"Batch {batch.id} came from batch {number} and was started earlier, on "
                f"{batch.started:%-d %B}. Correct the start of batch {batch.id} first."
            )


def history(whole: Batch, told: Entry) -> Iterator[Entry]:
    """Yield, in order, what to tell of a part so that it has come as far as the whole.

    Each at its own time: what is expected of the part is reckoned from there.

    Args:
        whole: as it was when the part was taken out.
        told: how, by whom and when that was told.
    """
    bare = replace(told, start=None, chamber=None, shelf=None, note="")
    if whole.white_at is not None:
        yield replace(bare, kind=EntryKind.WHITE, at=whole.white_at)
    # Of logs it is watched how long they have been dry.
    if whole.wetted_at is not None and whole.start.container is Container.LOG:
        soaked = whole.wetted_at == whole.soaked_at
        kind = EntryKind.SOAKED if soaked else EntryKind.RAINED
        yield replace(bare, kind=kind, at=whole.wetted_at)
    if (staged := split_stage(whole)) is not None:
        stage, flush = staged
        yield replace(bare, kind=EntryKind.STAGED, at=whole.since, stage=stage, flush=flush)


def carried(part: Start, old: Start, new: Start) -> Start:
    """Return the start of what was split off, after the start of the whole was corrected.

    Args:
        part: how the part started so far.
        old: how the whole started, as it was told.
        new: the same, corrected.
    """
    changes: dict[str, Any] = {
        name: getattr(new, name) for name in _CARRIED if getattr(part, name) == getattr(old, name)
    }
    for name in _SHARED:
        if _same(getattr(part, name), _part_of(old, name, part.count)):
            changes[name] = _part_of(new, name, part.count)
    return replace(part, **changes)


def _part_of(whole: Start, name: str, count: int) -> float | None:
    weight_g: float | None = getattr(whole, name)
    return None if weight_g is None else weight_g * count / whole.count


def _same(one: float | None, other: float | None) -> bool:
    return one == other if one is None or other is None else isclose(one, other)
