"""What a person tells of a batch, and the entry that it becomes."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, tzinfo
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Entry, EntryKind
from chamberwatch.service.growing.places import Place

NOON: Final = time(12, 0)


@dataclass(frozen=True, slots=True)
class Telling:
    """What a person says of a batch; see `Entry` for the fields."""

    kind: EntryKind
    at: datetime | None = None
    note: str = ""
    chamber: str | None = None
    shelf: str | None = None
    weight_g: float | None = None
    stage: Stage | None = None
    flush: int | None = None
    sign: str = ""


NOT_TOLD: Final[Mapping[EntryKind, str]] = {
    EntryKind.STARTED: "A batch is started once; start a new one.",
    EntryKind.SPLIT: "Say how many are taken out, and where they go: split the batch.",
    EntryKind.WITHDRAWN: "Say which entry did not happen: withdraw that entry.",
}

NOT_CORRECTED: Final[Mapping[EntryKind, str]] = {
    EntryKind.STARTED: "That is the start of the batch; correct its start.",
    EntryKind.SPLIT: "A batch came of that split, so it stays. Record what became of the new one.",
}


def on_day(day: date, now: datetime, zone: tzinfo) -> datetime:
    """Return the time that a day stands for: its noon, and today now until then.

    Raises:
        OverflowError: it is no day that can be reckoned with.
    """
    noon = datetime.combine(day, NOON, zone).astimezone(UTC)
    return now if noon > now and now.astimezone(zone).date() == day else noon


def entry_of(kind: EntryKind, at: datetime, now: datetime, via: str, note: str) -> Entry:
    """Return an entry of a batch that is yet to be named."""
    return Entry(0, 0, kind, at, now, via, note.strip())


def said(telling: Telling, batch: int, now: datetime, via: str) -> Entry:
    """Return what was told as an entry."""
    return Entry(
        id=0,
        batch=batch,
        kind=telling.kind,
        at=telling.at or now,
        recorded=now,
        via=via,
        note=telling.note.strip(),
        chamber=telling.chamber,
        shelf=telling.shelf,
        weight_g=telling.weight_g,
        stage=telling.stage,
        flush=telling.flush,
        sign=telling.sign,
    )


def put(entry: Entry, place: Place | None) -> Entry:
    """Return an entry with its place; None: in no chamber."""
    there = place or Place(None)
    return replace(entry, chamber=there.chamber, shelf=there.shelf)
