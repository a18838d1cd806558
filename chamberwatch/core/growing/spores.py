"""Cautions that follow the record: spores where people live, and growth that was not spawned.

Each is said until somebody has seen it and given a name. That of spores holds for the number of
batches that it was seen with: it comes back when there are more, not when there are as many again.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import BEFORE_PINS, Batch
from chamberwatch.core.growing.sign_table import BAG_IT

MOST_OPEN: Final = 2
"""What people fruit at a time in a living space without a duct (common practice)."""

SPORE_SOURCES: Final = (
    "Bekçi et al. 2018, Respiratory Case Reports 7(1):1 (oyster)",
    "Satoh & Yamada 2022, Journal of Postgraduate Medicine 68:243 (king oyster and shimeji)",
    "Lenhart & Cole 1993, Applied Occupational and Environmental Hygiene 8:112 (shiitake)",
    "Ficociello et al. 2019, Italian Journal of Mycology (review)",
    "common practice (what to do, and how many are few); respirators also Lenhart & Cole 1993",
)

SPORE_BODY: Final = (
    "Breathing many spores over weeks can inflame the lungs (hypersensitivity pneumonitis): "
    "cough, short breath and fever some hours after being near the crop, better away from it and "
    "worse on return. Pick oysters before the cap edge flattens. Don't air the chamber into a "
    "room where people live or sleep: lead its air outdoors, or filter it. Wear a close-fitting "
    "particle respirator (FFP2, N95 or better) when you open it full of ripe caps. If a cough or "
    "a fever stays, stop, see a doctor and say that you grow mushrooms."
)

CONTAMINATED_SOURCES: Final = ("common practice",)


class Hazard(StrEnum):
    """What a caution is about. The values are part of the ids of cautions and don't change."""

    SPORES = "spores"
    CONTAMINATED = "contaminated"


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to be minded.

    Attributes:
        id: stays the same while it says the same: what it is about, of what, of how many.
        title: first line.
        body: what it means and what to do.
        sources: who says so.
        since: since when it holds.
    """

    id: str
    title: str
    body: str
    sources: tuple[str, ...]
    since: datetime


@dataclass(frozen=True, slots=True)
class Seeing:
    """Somebody has seen a caution.

    Attributes:
        who: the name that was given.
        at: when.
        via: page, api or command line.
        count: of how many batches it spoke.
    """

    who: str
    at: datetime
    via: str
    count: int


def sheds(batch: Batch) -> bool:
    """Tell whether a batch can shed spores into the air: open, alive, and past its mycelium."""
    return batch.open and batch.stage not in BEFORE_PINS


def about_spores(
    chamber: str, title: str, batches: Iterable[Batch], seen: Iterable[Seeing]
) -> Caution | None:
    """Return the caution about spores, None where there is none or it was seen.

    Args:
        chamber: name of a chamber in a living space.
        title: what a person calls it.
        batches: what stands in it.
        seen: who has seen this caution of this chamber so far.
    """
    since = sorted(_fruits_since(batch) for batch in batches if sheds(batch))
    count = len(since)
    most = max((seeing.count for seeing in seen), default=MOST_OPEN)
    if count <= max(most, MOST_OPEN):
        return None
    return Caution(
        caution_id(Hazard.SPORES, chamber, count),
        f"{title}: {count} open batches where people live: mind the spores",
        SPORE_BODY,
        SPORE_SOURCES,
        # It holds since there was one more than was borne so far.
        since[max(most, MOST_OPEN)],
    )


def _fruits_since(batch: Batch) -> datetime:
    """Return since when a batch sheds into the air of the chamber where it stands."""
    grown = [passed.since for passed in batch.stages if passed.stage not in BEFORE_PINS]
    return max(batch.placed, *grown[:1])


def about_contamination(
    batch: Batch, title: str, suspected: datetime | None, seen: Iterable[Seeing]
) -> Caution | None:
    """Return the caution about a batch that looks contaminated, None where it doesn't, or is seen.

    Args:
        batch: which.
        title: common name of what grows.
        suspected: when green or black patches were first told of it; None: never.
        seen: who has seen this caution so far.
    """
    told = batch.stage is Stage.CONTAMINATED
    since = batch.since if told and suspected is None else suspected
    # Who has cleared it out needs no caution any more.
    if since is None or batch.stage is Stage.SPENT or any(True for _ in seen):
        return None
    looks = "is contaminated" if told else "looks contaminated"
    return Caution(
        caution_id(Hazard.CONTAMINATED, str(batch.id)),
        f"Batch {batch.id} ({title[:1].lower()}{title[1:]}) {looks}: bag it",
        BAG_IT,
        CONTAMINATED_SOURCES,
        since,
    )


def caution_id(hazard: Hazard, of: str, count: int = 1) -> str:
    """Return the id of a caution."""
    return f"{hazard.value}-{of}-{count}"


def read_id(text: str) -> tuple[Hazard, str, int] | None:
    """Return what a caution of that id is about, of what and of how many; None: it is no id."""
    kind, _, rest = text.partition("-")
    of, _, count = rest.rpartition("-")
    if kind not in set(Hazard) or not of or not (count.isascii() and count.isdigit()):
        return None
    return Hazard(kind), of, int(count)
