"""The life of a batch, told in entries. What may follow what is the table `MOVES` in this file.

Nothing is ever overwritten: an entry that was wrong is corrected by a newer one that names it,
and both are kept. What a batch is today follows from its entries, in the order in which things
happened; a sequence that can't have happened is refused, and then nothing is kept.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import product
from typing import Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.band import Stage


class EntryKind(StrEnum):
    """What can be told of a batch."""

    STARTED = "started"
    MOVED = "moved"
    SPLIT = "split"
    WHITE = "white through"
    CASED = "cased"
    OPENED = "opened"
    PINNED = "pinned"
    HARVESTED = "harvested"
    RESTED = "rested"
    SOAKED = "soaked"
    RAINED = "rained on"
    STAGED = "stage set"
    LOOKED = "looked at"
    NOTED = "noted"
    CONTAMINATED = "contaminated"
    SPENT = "spent"
    WITHDRAWN = "withdrawn"


class Container(StrEnum):
    """What a batch grows in."""

    BAG = "sealed bag"
    JAR = "jar"
    BUCKET = "bucket"
    TRAY = "tray"
    LOG = "log"


@dataclass(frozen=True, slots=True)
class Start:
    """What was started.

    Attributes:
        species: its name in the species table.
        container: what it grows in.
        count: how many bags, jars, buckets, trays or logs.
        substrate: what on, such as wheat straw; empty: not said.
        strain: empty: not said.
        spawn: where the spawn came from, such as a kit or grain spawn; empty: not said.
        wet_g: of all of them together, when they were filled. [g]
        dry_g: of the dry substrate in all of them, if it was weighed. [g]
        moisture_pct: of the filled substrate. [%]
        parent: id of the batch that the spawn was taken from (a generation on).
        split_from: id of the batch that these were taken out of (the same generation).
    """

    species: str
    container: Container
    count: int = 1
    substrate: str = ""
    strain: str = ""
    spawn: str = ""
    wet_g: float | None = None
    dry_g: float | None = None
    moisture_pct: float | None = None
    parent: int | None = None
    split_from: int | None = None

    @property
    def substrate_dry_g(self) -> float | None:
        """Return the dry substrate: as weighed, else from wet weight and moisture. [g]."""
        if self.dry_g is not None:
            return self.dry_g
        if self.wet_g is None or self.moisture_pct is None:
            return None
        return self.wet_g * (1.0 - self.moisture_pct / 100.0)


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that was told of one batch.

    Attributes:
        id: given by the book; 0 before it is stored. Later entries have higher ids.
        batch: id of the batch.
        kind: what happened.
        at: when it happened, aware UTC.
        recorded: when it was told to us, aware UTC.
        via: page, api or command line.
        note: free words.
        start: with STARTED: what was started.
        chamber: with STARTED and MOVED: where it stands; None: in no chamber (outdoors).
        shelf: the shelf there; None: none named.
        count: with SPLIT: how many were taken out.
        other: with SPLIT: id of the batch that they became.
        weight_g: with HARVESTED: fresh weight. [g]
        stage: with STAGED: which from then on.
        flush: with HARVESTED and STAGED: of which flush, where it was said.
        sign: with LOOKED: name of the sign that was seen.
        corrects: id of the entry that this one stands in for; WITHDRAWN stands for “that did not
            happen”.
    """

    id: int
    batch: int
    kind: EntryKind
    at: datetime
    recorded: datetime
    via: str
    note: str = ""
    start: Start | None = None
    chamber: str | None = None
    shelf: str | None = None
    count: int | None = None
    other: int | None = None
    weight_g: float | None = None
    stage: Stage | None = None
    flush: int | None = None
    sign: str = ""
    corrects: int | None = None


@dataclass(frozen=True, slots=True)
class Harvest:
    """One weighing.

    Attributes:
        entry: id of its entry.
        at: when.
        flush: of which, from 1.
        weight_g: fresh. [g]
    """

    entry: int
    at: datetime
    flush: int
    weight_g: float


@dataclass(frozen=True, slots=True)
class Passed:
    """One stage that a batch went through or is in.

    Attributes:
        stage: which.
        flush: number of the flush that it belongs to, 0 before the first pins.
        since: from when.
        until: to when; None: it is in it.
    """

    stage: Stage
    flush: int
    since: datetime
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class Batch:
    """What a batch is today.

    Attributes:
        id: its number.
        start: what was started.
        started: when.
        stages: all it went through, oldest first; the last is today's.
        count: how many are left in it after splits.
        chamber: where it stands; None: in no chamber.
        shelf: the shelf there, None: none named.
        placed: since when it stands there.
        white_at: when it was seen to be white through.
        opened_at: when it was opened or cased.
        harvests: all weighings, oldest first.
        rested_at: when it was last picked, or told to rest.
        soaked_at: when it was last soaked.
        wetted_at: when it was last soaked or rained on.
        chambers: every chamber that it has stood in, in order, without repeats.
    """

    id: int
    start: Start
    started: datetime
    stages: tuple[Passed, ...]
    count: int
    chamber: str | None
    shelf: str | None
    placed: datetime
    white_at: datetime | None = None
    opened_at: datetime | None = None
    harvests: tuple[Harvest, ...] = ()
    rested_at: datetime | None = None
    soaked_at: datetime | None = None
    wetted_at: datetime | None = None
    chambers: tuple[str, ...] = ()

    @property
    def stage(self) -> Stage:
        """Return today's stage."""
        return self.stages[-1].stage

    @property
    def since(self) -> datetime:
        """Return since when it is in it."""
        return self.stages[-1].since

    @property
    def flush(self) -> int:
        """Return the number of the flush under way or last, 0 before the first pins."""
        return self.stages[-1].flush

    @property
    def ended(self) -> datetime | None:
        """Return when it was spent or thrown out, None while it lives."""
        return self.since if self.stage in ENDS else None

    @property
    def sealed(self) -> bool:
        """Tell whether it still keeps its own air."""
        return self.opened_at is None and self.stage is Stage.COLONISATION

    @property
    def open(self) -> bool:
        """Tell whether it shares the air of the chamber, and lives."""
        return not self.sealed and self.ended is None


ENDS: Final = frozenset({Stage.SPENT, Stage.CONTAMINATED})
LIVING: Final = tuple(stage for stage in Stage if stage not in ENDS)

# A crop stands on the batch. Coming into one of these from outside of them begins a flush; the
# antlers of reishi are its pins, and the caps that follow belong to the same flush.
GROWS: Final = frozenset({Stage.FRUITING, Stage.ANTLER, Stage.CONK})

# A flush can't have begun before the end of these.
BEFORE_PINS: Final = frozenset({Stage.COLONISATION, Stage.CASE_RUN})

# Pins come out of these by themselves; a bag or jar has to be opened first.
NEVER_SEALED: Final = frozenset({Container.BUCKET, Container.TRAY, Container.LOG})


@dataclass(frozen=True, slots=True)
class Step:
    """Where an entry leads.

    Attributes:
        to: the first of these that the species has; empty: the stage stays.
        only: in which containers; None: in all.
    """

    to: tuple[Stage, ...] = ()
    only: frozenset[Container] | None = None


_S, _K = Stage, EntryKind
_STAYS: Final = Step()
_TO_PINS: Final = Step((_S.PINNING, _S.ANTLER, _S.FRUITING, _S.CONK))
_PINS: Final = (_S.FRUITING, _S.ANTLER, _S.CONK)
_RESTS: Final = Step((_S.RESTING,))
_LOG: Final = Step(only=frozenset({Container.LOG}))

# (stage, what was told) -> where that leads. What is missing can't have happened.
MOVES: Final[Mapping[tuple[Stage, EntryKind], Step]] = {
    **dict.fromkeys(product(LIVING, (_K.MOVED, _K.SPLIT, _K.RAINED)), _STAYS),
    **dict.fromkeys(product(Stage, (_K.LOOKED, _K.NOTED)), _STAYS),
    **{(stage, _K.CONTAMINATED): Step((_S.CONTAMINATED,)) for stage in LIVING},
    **{(stage, _K.SPENT): Step((_S.SPENT,)) for stage in LIVING},
    # The one of these that the entry names.
    **{(stage, _K.STAGED): Step(LIVING) for stage in LIVING},
    (_S.COLONISATION, _K.WHITE): _STAYS,
    (_S.COLONISATION, _K.CASED): Step((_S.CASE_RUN,)),
    (_S.COLONISATION, _K.OPENED): _TO_PINS,
    (_S.COLONISATION, _K.PINNED): Step(_PINS, NEVER_SEALED),
    (_S.COLONISATION, _K.HARVESTED): Step((_S.RESTING,), NEVER_SEALED),
    (_S.COLONISATION, _K.SOAKED): _LOG,
    (_S.CASE_RUN, _K.OPENED): _TO_PINS,
    (_S.PINNING, _K.PINNED): Step(_PINS),
    (_S.PINNING, _K.HARVESTED): _RESTS,
    (_S.PINNING, _K.RESTED): _RESTS,
    (_S.PINNING, _K.SOAKED): _STAYS,
    (_S.FRUITING, _K.HARVESTED): _RESTS,
    (_S.FRUITING, _K.RESTED): _RESTS,
    (_S.FRUITING, _K.SOAKED): _LOG,
    (_S.ANTLER, _K.PINNED): _STAYS,
    (_S.ANTLER, _K.OPENED): Step((_S.CONK,)),
    (_S.ANTLER, _K.HARVESTED): _RESTS,
    (_S.ANTLER, _K.RESTED): _RESTS,
    (_S.ANTLER, _K.SOAKED): _LOG,
    (_S.CONK, _K.HARVESTED): _RESTS,
    (_S.CONK, _K.RESTED): _RESTS,
    (_S.CONK, _K.SOAKED): _LOG,
    (_S.RESTING, _K.PINNED): Step(_PINS),
    (_S.RESTING, _K.HARVESTED): _RESTS,
    (_S.RESTING, _K.SOAKED): _TO_PINS,
}


def by_batch(entries: Iterable[Entry]) -> dict[int, list[Entry]]:
    """Return what was told of each batch, by its number, in the order of the entries."""
    told: dict[int, list[Entry]] = {}
    for entry in entries:
        told.setdefault(entry.batch, []).append(entry)
    return told


def harvested_g(batch: Batch) -> float:
    """Return the fresh weight of all that was picked. [g]."""
    return sum(harvest.weight_g for harvest in batch.harvests)


def dry_g(batch: Batch) -> float | None:
    """Return the dry substrate of what is left in it after splits. [g]."""
    whole_g = batch.start.substrate_dry_g
    return None if whole_g is None else whole_g * batch.count / batch.start.count


def check_split(batch: Batch, count: int) -> None:
    """Refuse to take out none, or all.

    Raises:
        RefusedError: the text says how many there are.
    """
    if 0 < count < batch.count:
        return
    cure = (
        "Nothing can be taken out of one; move it instead."
        if batch.count == 1
        else f"Take out {_fewer(batch.count)}, or move all of it."
    )
    raise RefusedError(f"Batch {batch.id} had {batch.count} left, so {count} can't go. {cure}")


def _fewer(count: int) -> str:
    return "1" if count == 2 else f"1 to {count - 1}"
