"""Cautions that follow the record: spores where people live, what was not spawned, stale air.

Each is said until somebody has seen it and given a name. That of spores holds for the number of
batches that it was seen with: it comes back when there are more, and when the number had fallen to
what is borne since then. That of stale air holds for the limit that it was seen with likewise.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final

from chamberwatch.core.growing.band import Band, Stage
from chamberwatch.core.growing.batch import BEFORE_PINS, ENDS, Batch, Entry, EntryKind
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.sign_table import BAG_IT
from chamberwatch.core.sentence import within

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

ROOM_PPM: Final = 5000.0
"""More carbon dioxide than people work in for a day; see `AIR_SOURCES`. [ppm]"""

AIR_SOURCES: Final = (
    "5000 ppm over a working day: OSHA, NIOSH, ACGIH, EU and UK limits, in tables that quote them",
    "40 000 ppm is immediately dangerous to life or health: NIOSH",
    "common practice (what to do)",
)

AIR_BODY: Final = (
    "What grows there bears that, people don't: 40 000 ppm is immediately dangerous to life, and "
    "above 5000 ppm in a room nobody should stay. Keep such air inside the bag or the chamber. "
    "Air the room before you open it and while it is open, step back until it has aired out, and "
    "don't lean in or put your head inside. Don't open it in a small closed room. Headache, "
    "dizziness or short breath: go out into fresh air at once, and air the room from outside."
)


class Hazard(StrEnum):
    """What a caution is about. The values are part of the ids of cautions and don't change."""

    SPORES = "spores"
    CONTAMINATED = "contaminated"
    CO2 = "co2"


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to be minded.

    Attributes:
        id: stays the same while it says the same: what it is about, of what, of how many.
        title: first line.
        body: what it means and what to do.
        sources: who says so.
        since: since when it holds.
        chamber: name of the chamber that it is about; None: it is about what stands in none.
        batch: number of the batch that it is about; None: it is about a chamber.
    """

    id: str
    title: str
    body: str
    sources: tuple[str, ...]
    since: datetime
    chamber: str | None = None
    batch: int | None = None


@dataclass(frozen=True, slots=True)
class Seeing:
    """Somebody has seen a caution.

    Attributes:
        who: the name that was given.
        at: when.
        via: page, api or command line.
        count: of how many batches it spoke; of stale air: of how much of it. [ppm]
    """

    who: str
    at: datetime
    via: str
    count: int


@dataclass(frozen=True, slots=True)
class Stay:
    """A stretch of time that a batch stood in one place.

    Attributes:
        chamber: where; None: in no chamber.
        since: from when.
        until: to when; None: it was not moved since.
    """

    chamber: str | None
    since: datetime
    until: datetime | None = None


Shed = tuple[datetime, datetime | None]
"""From when to when a batch sheds into the air of a chamber; None: it still does."""


def stays(entries: Iterable[Entry]) -> tuple[Stay, ...]:
    """Return where a batch stood, oldest first.

    Args:
        entries: all that was told of it.
    """
    put = (EntryKind.STARTED, EntryKind.MOVED)
    moves = [entry for entry in effective(tuple(entries)) if entry.kind in put]
    ends = [*(entry.at for entry in moves[1:]), None]
    return tuple(Stay(e.chamber, e.at, until) for e, until in zip(moves, ends, strict=True))


def sheddings(batch: Batch, chamber: str, stood: Iterable[Stay]) -> Iterator[Shed]:
    """Yield when a batch shed spores into the air of a chamber.

    Args:
        batch: which.
        chamber: name of the chamber.
        stood: where the batch stood, as `stays` tells it.
    """
    here = [stay for stay in stood if stay.chamber == chamber]
    for passed in batch.stages:
        if passed.stage in BEFORE_PINS or passed.stage in ENDS:
            continue
        for stay in here:
            since = max(passed.since, stay.since)
            until = min((t for t in (passed.until, stay.until) if t is not None), default=None)
            if until is None or since < until:
                yield since, until


def many_since(shed: Iterable[Shed]) -> datetime | None:
    """Return since when, without a break, more batches shed than are borne; None: they don't."""
    change: Counter[datetime] = Counter()
    for since, until in shed:
        change[since] += 1
        if until is not None:
            change[until] -= 1
    number, rose = 0, None
    for moment in sorted(change):
        number += change[moment]
        rose = (rose or moment) if number > MOST_OPEN else None
    return rose


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
        seen: who has seen this caution of this chamber since there are too many, as `many_since`
            tells it: what was seen before that is forgotten.
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
        chamber,
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
    # Who has cleared it out needs no caution any more, and nobody can have seen it beforehand.
    over = batch.stage is Stage.SPENT
    if since is None or over or any(seeing.at >= since for seeing in seen):
        return None
    looks = "is contaminated" if told else "looks contaminated"
    return Caution(
        caution_id(Hazard.CONTAMINATED, str(batch.id)),
        f"Batch {batch.id} ({within(title)}) {looks}: bag it",
        BAG_IT,
        CONTAMINATED_SOURCES,
        since,
        last_stood(batch),
        batch.id,
    )


def about_stale_air(
    chamber: str, title: str, band: Band | None, batches: Iterable[Batch], seen: Iterable[Seeing]
) -> Caution | None:
    """Return the caution about carbon dioxide that only the crop bears, None where there is none.

    Args:
        chamber: name of the chamber.
        title: what a person calls it.
        band: of carbon dioxide, that follows from what stands there; None: it is not judged. [ppm]
        batches: what stands in it.
        seen: who has seen this caution of this chamber so far.
    """
    since = min((max(b.since, b.placed) for b in batches if _asks_for_air(b)), default=None)
    if since is None or band is None or band.high is None or band.high <= ROOM_PPM:
        return None
    if any(seeing.at >= since and seeing.count >= round(band.high) for seeing in seen):
        return None
    high = f"{band.high:,.0f}".replace(",", " ")
    return Caution(
        caution_id(Hazard.CO2, chamber, round(band.high)),
        f"{title}: its band lets carbon dioxide go up to {high} ppm: that is no air for people",
        AIR_BODY,
        AIR_SOURCES,
        since,
        chamber,
    )


def _asks_for_air(batch: Batch) -> bool:
    """Tell whether a batch has a say in carbon dioxide: one that is sealed or rests has none."""
    return batch.open and batch.stage is not Stage.RESTING


def last_stood(batch: Batch) -> str | None:
    """Return where a batch stands, or stood before it ended; None: in no chamber."""
    return batch.chamber if batch.ended is None else next(reversed(batch.chambers), None)


def caution_id(hazard: Hazard, of: str, count: int = 1) -> str:
    """Return the id of a caution: what it is about, of which chamber or batch, and how many."""
    return f"{hazard.value}-{of}-{count}"


def read_id(text: str) -> tuple[Hazard, str, int] | None:
    """Return what a caution of that id is about, of what and of how many; None: it is no id."""
    kind, _, rest = text.partition("-")
    of, _, count = rest.rpartition("-")
    if kind not in set(Hazard) or not of or not (count.isascii() and count.isdigit()):
        return None
    return Hazard(kind), of, int(count)
