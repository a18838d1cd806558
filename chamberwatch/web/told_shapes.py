"""What the API gives of what was told of batches, and what their air must be after it."""

from collections.abc import Iterable

from pydantic import BaseModel, Field

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Entry, EntryKind
from chamberwatch.web.band_shapes import BandWordsOut
from chamberwatch.web.crop_shapes import WeightOut
from chamberwatch.web.growing_shapes import BatchOut, StartOut
from chamberwatch.web.looking_shapes import CautionOut
from chamberwatch.web.shapes import Moment


class EntryOut(BaseModel):
    """One thing that was told of a batch."""

    id: int
    batch: int
    kind: EntryKind
    at: Moment
    recorded: Moment
    via: str
    note: str
    start: StartOut | None
    chamber: str | None
    shelf: str | None
    count: int | None = Field(description="split: how many were taken out")
    other: int | None = Field(description="split: the batch that they became")
    weight: WeightOut | None
    stage: Stage | None
    flush: int | None
    sign: str
    corrects: int | None = Field(description="id of the entry that it stands in for")
    corrected_by: int | None = Field(description="id of the entry that stands in for it")

    @classmethod
    def of(cls, entry: Entry, corrected_by: int | None) -> "EntryOut":
        """Write an entry."""
        same = (
            "id", "batch", "kind", "at", "recorded", "via", "note", "chamber", "shelf", "count",
            "other", "stage", "flush", "sign", "corrects",
        )  # fmt: skip
        return cls(
            **{name: getattr(entry, name) for name in same},
            start=StartOut.of(entry.start) if entry.start is not None else None,
            weight=WeightOut.known(entry.weight_g),
            corrected_by=corrected_by,
        )


class EntriesOut(BaseModel):
    """All that was told of a batch, in the order in which it was told."""

    batch: int
    entries: list[EntryOut]

    @classmethod
    def of(cls, batch: int, entries: Iterable[Entry]) -> "EntriesOut":
        """Write the entries, each with the one that corrects it."""
        told = sorted(entries, key=lambda entry: entry.id)
        by = {entry.corrects: entry.id for entry in told if entry.corrects is not None}
        return cls(batch=batch, entries=[EntryOut.of(each, by.get(each.id)) for each in told])


class ToldOut(BaseModel):
    """What a batch is after what was told, and what its air must be now."""

    batch: BatchOut
    entry: int = Field(description="id of what was told, to correct or withdraw it")
    band_changed: bool
    bands: list[BandWordsOut] = Field(
        description="of the chambers whose band has changed, and of that in which it stands"
    )
    cautions: list[CautionOut] = Field(
        description="what is to be minded there and nobody has seen yet"
    )


class SplitOut(BaseModel):
    """Both parts of a batch that was split."""

    batch: BatchOut = Field(description="what is left")
    taken: BatchOut = Field(description="what was taken out, as a batch of its own")
    band_changed: bool
    bands: list[BandWordsOut]
    cautions: list[CautionOut] = Field(description="to be minded where they stand")
