"""What is said when something can't have happened to a batch, and what would work instead."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import ENDS, Batch, Entry, EntryKind
from chamberwatch.core.growing.species import Species

_S, _K = Stage, EntryKind

# What an entry would have told, said of a batch in which it can't have happened.
CANNOT: Final[Mapping[EntryKind, str]] = {
    _K.STARTED: "it can't be started again",
    _K.MOVED: "it can't be moved",
    _K.SPLIT: "nothing can be taken out of it",
    _K.WHITE: "it can't turn white through",
    _K.CASED: "it can't be cased",
    _K.OPENED: "it can't be opened",
    _K.PINNED: "it can't set new pins",
    _K.HARVESTED: "nothing can be harvested from it",
    _K.RESTED: "it can't go to rest",
    _K.SOAKED: "it can't be soaked",
    _K.RAINED: "it can't be rained on",
    _K.STAGED: "its stage can't be set",
    _K.CONTAMINATED: "it can't end again",
    _K.SPENT: "it can't end again",
}

_OPEN_FIRST: Final = (
    "Tell first that it was opened; pins inside a sealed bag mean that it wants opening now."
)
_AIR_FIRST: Final = "Tell first that it was opened to fresh air."
_AFTER_PINS: Final = "Rest comes after pins or a flush."
_GROWING: Final = "Its flush is under way; tell the harvest or that it rests, then new pins."

# What would work, by stage and entry or else by entry alone.
CURES: Final[Mapping[tuple[Stage | None, EntryKind], str]] = {
    (None, _K.STARTED): "Correct its first start instead.",
    (None, _K.WHITE): "That is told while it colonises.",
    (None, _K.CASED): "Casing comes at the end of colonisation.",
    (None, _K.OPENED): "It is open already.",
    (_S.COLONISATION, _K.PINNED): _OPEN_FIRST,
    (_S.COLONISATION, _K.HARVESTED): _OPEN_FIRST,
    (_S.CASE_RUN, _K.PINNED): _AIR_FIRST,
    (_S.CASE_RUN, _K.HARVESTED): _AIR_FIRST,
    (None, _K.PINNED): _GROWING,
    (_S.RESTING, _K.RESTED): "It rests already.",
    (None, _K.RESTED): _AFTER_PINS,
    (None, _K.SOAKED): "It is soaked while it rests, or to bring on pins.",
}

LACKS: Final[Mapping[EntryKind, str]] = {
    _K.STARTED: "what was started",
    _K.SPLIT: "how many were taken out, and the number of the batch that they became",
    _K.HARVESTED: "the weight",
    _K.STAGED: "the stage",
    _K.LOOKED: "the sign that was seen",
}


def day(time: datetime) -> str:
    """Name a day as in a refusal."""
    return f"{time:%-d %B}"


def too_early(told: Sequence[Entry]) -> str:
    """Say that the first entry lies before the start, or that there is no start."""
    first = told[0]
    starts = [entry.at for entry in told if entry.kind is _K.STARTED]
    if not starts:
        return f"Batch {first.batch} was never started. Start it first."
    return (
        f"Batch {first.batch} was started on {day(starts[0])}, so “{first.kind}” can't have "
        f"been on {day(first.at)}. Correct the time of the one or the other."
    )


def no_stage(batch: Batch, wanted: Sequence[Stage], species: Species, cannot: str) -> str:
    """Say that the species has none of the stages that this would lead to."""
    missing = " or ".join(wanted)
    has = ", ".join(species.stages)
    return (
        f"{species.title} has no {missing}, so {cannot} (batch {batch.id}). "
        f"Its stages are {has}; tell which of them began instead."
    )


def out_of_place(batch: Batch, entry: Entry) -> str:
    """Say that this can't follow what was told before."""
    cannot = CANNOT[entry.kind]
    if batch.stage in ENDS:
        ended = "spent" if batch.stage is _S.SPENT else "told to be contaminated"
        return (
            f"Batch {batch.id} was {ended} on {day(batch.since)}; {cannot}. "
            "Correct that entry first if it was wrong."
        )
    cure = CURES.get((batch.stage, entry.kind)) or CURES[None, entry.kind]
    return (
        f"Batch {batch.id} was in {batch.stage} on {day(entry.at)}; {cannot} then. {cure} "
        "If it was in another stage, correct the entries before or set the stage by hand first."
    )
