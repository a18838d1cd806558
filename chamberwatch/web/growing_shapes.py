"""What the API gives of batches: what each is today, what was told of it, what lies ahead."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, Field

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import (
    Batch,
    Container,
    Harvest,
    Passed,
    Start,
    harvested_g,
)
from chamberwatch.core.growing.crop import Crop
from chamberwatch.core.growing.due import DueKind
from chamberwatch.core.growing.lineage import generation, old_line
from chamberwatch.service.growing.duties import DueNow
from chamberwatch.web.crop_shapes import CropOut, WeightOut
from chamberwatch.web.shapes import Moment, tenths


class StartOut(BaseModel):
    """What was started."""

    species: str
    container: Container
    count: int
    substrate: str
    strain: str
    spawn: str
    wet: WeightOut | None
    dry: WeightOut | None = Field(description="dry substrate, as weighed or from the moisture")
    moisture_pct: float | None
    parent: int | None = Field(description="batch that the spawn was taken from")
    split_from: int | None = Field(description="batch that these were taken out of")

    @classmethod
    def of(cls, start: Start) -> "StartOut":
        """Write a start."""
        return cls(
            species=start.species,
            container=start.container,
            count=start.count,
            substrate=start.substrate,
            strain=start.strain,
            spawn=start.spawn,
            wet=WeightOut.known(start.wet_g),
            dry=WeightOut.known(start.substrate_dry_g),
            moisture_pct=tenths(start.moisture_pct),
            parent=start.parent,
            split_from=start.split_from,
        )


class PassedOut(BaseModel):
    """A stage that a batch went through, or is in."""

    stage: Stage
    flush: int = Field(description="0 before the first pins")
    since: Moment
    until: Moment | None

    @classmethod
    def of(cls, passed: Passed) -> "PassedOut":
        """Write a stage."""
        return cls(stage=passed.stage, flush=passed.flush, since=passed.since, until=passed.until)


class PickedOut(BaseModel):
    """One weighing of a batch."""

    entry: int
    at: Moment
    flush: int
    weight: WeightOut

    @classmethod
    def of(cls, harvest: Harvest) -> "PickedOut":
        """Write a weighing."""
        return cls(
            entry=harvest.entry,
            at=harvest.at,
            flush=harvest.flush,
            weight=WeightOut.of(harvest.weight_g),
        )


class BatchOut(BaseModel):
    """What a batch is today."""

    id: int
    title: str = Field(description="common name of what grows")
    start: StartOut
    started: Moment
    stage: Stage
    since: Moment = Field(description="since when it is in that stage")
    flush: int = Field(description="under way or last; 0 before the first pins")
    living: bool
    sealed: bool = Field(description="it keeps its own air")
    ended: Moment | None
    count: int = Field(description="left in it after splits")
    chamber: str | None = Field(description="null: in none, outdoors or ended")
    shelf: str | None
    placed: Moment = Field(description="since when it stands there")
    white_at: Moment | None
    opened_at: Moment | None
    soaked_at: Moment | None
    wetted_at: Moment | None
    stages: list[PassedOut] = Field(description="oldest first")
    harvests: list[PickedOut] = Field(description="oldest first")
    harvested: WeightOut

    @classmethod
    def fields_of(cls, batch: Batch, title: str) -> dict[str, Any]:
        """Return its fields, for this shape and the one below."""
        same = (
            "id", "started", "stage", "since", "flush", "sealed", "ended", "count", "chamber",
            "shelf", "placed", "white_at", "opened_at", "soaked_at", "wetted_at",
        )  # fmt: skip
        return {
            **{name: getattr(batch, name) for name in same},
            "title": title,
            "start": StartOut.of(batch.start),
            "living": batch.ended is None,
            "stages": [PassedOut.of(passed) for passed in batch.stages],
            "harvests": [PickedOut.of(harvest) for harvest in batch.harvests],
            "harvested": WeightOut.of(harvested_g(batch)),
        }

    @classmethod
    def of(cls, batch: Batch, title: str) -> "BatchOut":
        """Write a batch."""
        return cls(**cls.fields_of(batch, title))


class BatchesOut(BaseModel):
    """Batches by number."""

    batches: list[BatchOut]
    next: int | None = Field(description="give it as `after` for the rest; null: that was all")


class DueOut(BaseModel):
    """Something that lies ahead of a batch: a window, never a single day."""

    kind: DueKind
    low: Moment
    high: Moment
    flush: int
    own_batches: int = Field(description="so many finished batches of yours are in it")
    source: str
    words: str

    @classmethod
    def of(cls, shown: DueNow) -> "DueOut":
        """Write a window with its words."""
        due = shown.due
        return cls(
            kind=due.kind,
            low=due.window.low,
            high=due.window.high,
            flush=due.flush,
            own_batches=due.count,
            source=due.source,
            words=shown.words,
        )


class LineageOut(BaseModel):
    """Where a batch comes from, and what came of it."""

    generation: int = Field(description="1: from a kit or bought spawn")
    parent: int | None
    split_from: int | None
    children: list[int] = Field(description="from its spawn, or taken out of it")
    note: str = Field(description="what to know of a line that gets old, or empty")

    @classmethod
    def of(cls, batch: Batch, batches: Mapping[int, Batch]) -> "LineageOut":
        """Write the lineage of a batch."""
        start, which = batch.start, generation(batches, batch.id)
        return cls(
            generation=which,
            parent=start.parent,
            split_from=start.split_from,
            children=[
                number
                for number, other in sorted(batches.items())
                if batch.id in (other.start.parent, other.start.split_from)
            ],
            note=old_line(which),
        )


@dataclass(frozen=True, slots=True)
class Around:
    """What is known around a batch.

    Attributes:
        batches: all there are.
        dues: what lies ahead of it.
        crop: what came of it so far.
        entries: how many were told of it.
    """

    batches: Mapping[int, Batch]
    dues: Sequence[DueNow]
    crop: Crop
    entries: int


class BatchMoreOut(BatchOut):
    """A batch with its line, what lies ahead and what came of it."""

    dues: list[DueOut] = Field(description="what comes first at first")
    lineage: LineageOut
    crop: CropOut
    entries: int = Field(description="how many were told, withdrawn ones too")

    @classmethod
    def with_all(cls, batch: Batch, title: str, around: Around) -> "BatchMoreOut":
        """Write a batch with what is known around it."""
        return cls(
            **cls.fields_of(batch, title),
            dues=[DueOut.of(due) for due in around.dues],
            lineage=LineageOut.of(batch, around.batches),
            crop=CropOut.of(around.crop),
            entries=around.entries,
        )
