"""What a batch is, in a few words."""

from typing import TYPE_CHECKING, Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import NEVER_SEALED
from chamberwatch.core.sentence import within

if TYPE_CHECKING:
    from chamberwatch.cli.growing.opening import Bench
    from chamberwatch.core.growing.batch import Batch, Start
    from chamberwatch.core.growing.species import SpeciesTable

_DOING: Final = {
    Stage.COLONISATION: "colonisation",
    Stage.CASE_RUN: "growing through its casing",
    Stage.PINNING: "setting pins",
    Stage.FRUITING: "fruiting",
    Stage.ANTLER: "growing antlers",
    Stage.CONK: "growing its conk",
    Stage.RESTING: "resting",
    Stage.SPENT: "spent",
    Stage.CONTAMINATED: "contaminated",
}

# A flush counts from its pins on; what sets them has only those before.
_OF_FLUSH: Final = {
    Stage.FRUITING: ", flush {}",
    Stage.ANTLER: ", flush {}",
    Stage.CONK: ", flush {}",
    Stage.RESTING: " after flush {}",
}


def batch_words(batch: "Batch", table: "SpeciesTable") -> str:
    """Say in one line what a batch is now and where it stands."""
    name = within(table.known(batch.start.species).title)
    left = f", {batch.count} of them" if batch.start.count > 1 else ""
    at = "" if batch.ended is not None else f", {place_words(batch.chamber, batch.shelf)}"
    return f"Batch {batch.id} ({name}{left}): {doing(batch)}{at}."


def doing(batch: "Batch") -> str:
    """Say what it is doing, such as “resting after flush 1”."""
    sealed = ", sealed" if batch.sealed and batch.start.container not in NEVER_SEALED else ""
    flush = _OF_FLUSH.get(batch.stage, "") if batch.flush else ""
    return f"{_DOING[batch.stage]}{flush.format(batch.flush)}{sealed}"


def stage_words(stage: Stage, flush: int) -> str:
    """Name a stage and its flush as in a table, such as “fruiting 2”."""
    return f"{stage} {flush}" if flush and stage in _OF_FLUSH else str(stage)


def place_words(chamber: str | None, shelf: str | None) -> str:
    """Say where it stands."""
    if chamber is None:
        return "outside of any chamber"
    return f"in “{chamber}”" + (f", shelf “{shelf}”" if shelf else "")


def short_place(chamber: str | None, shelf: str | None) -> str:
    """Say where it stands, as in a table."""
    if chamber is None:
        return "outside"
    return f"{chamber}, {shelf}" if shelf else chamber


def odd_place_words(batch: "Batch", bench: "Bench") -> str:
    """Say what is odd, though allowed, about where a batch was put or opened just now."""
    chamber = bench.house.chambers.get(batch.chamber or "")
    batches = bench.growing.record.batches().values()
    if chamber is None or batch.ended is not None:
        return ""
    opened = sum(other.open and other.chamber == chamber.name for other in batches)
    if batch.open and chamber.open_at_most is not None and opened > chamber.open_at_most:
        return (
            f"{opened} batches are open in “{chamber.title}” now, where at most "
            f"{chamber.open_at_most} may be at once (open_at_most)."
        )
    if chamber.shelf_holds is not None and batch.shelf is None:
        return (
            f"No shelf of “{chamber.title}” is named, so it counts on none; "
            f"`chamberwatch batch moved {batch.id} --shelf SHELF` names one."
        )
    return ""


def counted(start: "Start", count: int) -> str:
    """Say how many of what, such as “4 sealed bags”."""
    one = start.container.value
    return f"{count} {one}" if count == 1 else f"{count} {one}s"
