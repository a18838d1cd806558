"""What the API gives of weights: harvests, and what came of batches."""

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from pydantic import BaseModel, Field

from chamberwatch.core.growing.batch import Batch, Harvest
from chamberwatch.core.growing.crop import Crop, Picked
from chamberwatch.core.growing.crop_rows import By, Row, Spread
from chamberwatch.core.growing.weights import weight_words
from chamberwatch.service.growing.crops import CropTables
from chamberwatch.web.shapes import Moment, significant, tenths


class WeightOut(BaseModel):
    """A weight."""

    g: float
    words: str

    @classmethod
    def of(cls, weight_g: float) -> "WeightOut":
        """Write a weight."""
        return cls(g=round(weight_g, 1), words=weight_words(weight_g))

    @classmethod
    def known(cls, weight_g: float | None) -> "WeightOut | None":
        """Write a weight, null where it is not known."""
        return None if weight_g is None else cls.of(weight_g)


class FlushYieldOut(BaseModel):
    """What one flush gave."""

    flush: int
    fresh: WeightOut
    share_pct: float | None = Field(description="of all that was picked")
    efficiency_pct: float | None = Field(description="fresh / dry substrate")

    @classmethod
    def of(cls, picked: Picked) -> "FlushYieldOut":
        """Write a flush."""
        return cls(
            flush=picked.flush,
            fresh=WeightOut.of(picked.fresh_g),
            share_pct=tenths(picked.share_pct),
            efficiency_pct=tenths(picked.efficiency_pct),
        )


class DriedWeightOut(BaseModel):
    """What drying would leave, at least and at most."""

    least: WeightOut
    most: WeightOut


class CropOut(BaseModel):
    """What came of a batch so far."""

    batch: int
    species: str
    substrate: str
    line: int = Field(description="the first batch of its line")
    shelf: str = Field(description="where it fruited or stood last; empty: in no chamber")
    started: Moment = Field(description="when the spawn went in, before any split")
    last_picked: Moment | None
    finished: bool
    lost: bool = Field(description="it ended contaminated")
    weighed: WeightOut = Field(description="all that was weighed under its number")
    fresh: WeightOut = Field(
        description="the same where it was never split; else its part of what was picked before"
    )
    dry_substrate: WeightOut | None
    wet_substrate: WeightOut | None
    dried: DriedWeightOut
    efficiency_pct: float | None = Field(description="biological efficiency over all flushes")
    wet_yield_pct: float | None = Field(description="fresh weight on the filled substrate")
    days: float | None = Field(description="from spawning to the last picking")
    per_day_pct: float | None = Field(description="production rate: efficiency / days")
    flushes: list[FlushYieldOut]
    missing: str = Field(description="what to record so that the efficiency can be told, or empty")

    @classmethod
    def of(cls, crop: Crop) -> "CropOut":
        """Write a crop."""
        return cls(
            batch=crop.batch,
            species=crop.species,
            substrate=crop.substrate,
            line=crop.line,
            shelf=crop.shelf,
            started=crop.started,
            last_picked=crop.last_picked,
            finished=crop.finished,
            lost=crop.lost,
            weighed=WeightOut.of(crop.weighed_g),
            fresh=WeightOut.of(crop.fresh_g),
            dry_substrate=WeightOut.known(crop.dry_g),
            wet_substrate=WeightOut.known(crop.wet_g),
            dried=DriedWeightOut(
                least=WeightOut.of(crop.dried_least_g), most=WeightOut.of(crop.dried_most_g)
            ),
            efficiency_pct=tenths(crop.efficiency_pct),
            wet_yield_pct=tenths(crop.wet_yield_pct),
            days=tenths(crop.days),
            per_day_pct=significant(crop.per_day_pct),
            flushes=[FlushYieldOut.of(picked) for picked in crop.flushes],
            missing=crop.missing,
        )


class YieldSpreadOut(BaseModel):
    """Figures of several batches."""

    n: int
    mean: float
    least: float
    most: float
    standard_error: float | None = Field(description="of the mean; null for fewer than three")

    @classmethod
    def of(cls, spread: Spread | None) -> "YieldSpreadOut | None":
        """Write a spread, null where there is none."""
        if spread is None:
            return None
        error = spread.standard_error
        return cls(
            n=spread.count,
            mean=round(spread.mean, 2),
            least=round(spread.least, 2),
            most=round(spread.most, 2),
            standard_error=None if error is None else round(error, 2),
        )


class YieldRowOut(BaseModel):
    """Finished batches that have something in common; lost ones count with what they gave."""

    key: str
    species: list[str]
    n: int = Field(description="how many batches")
    lost: int = Field(description="how many of them ended contaminated")
    lost_pct: float
    fresh: WeightOut
    dry_substrate: WeightOut = Field(description="as far as it is known")
    efficiency_pct: YieldSpreadOut | None
    per_day_pct: YieldSpreadOut | None
    together_pct: float | None = Field(
        description="all their fresh weight on all their dry substrate"
    )

    @classmethod
    def of(cls, row: Row) -> "YieldRowOut":
        """Write a row."""
        return cls(
            key=row.key,
            species=list(row.species),
            n=row.count,
            lost=row.lost,
            lost_pct=round(row.lost_pct, 1),
            fresh=WeightOut.of(row.fresh_g),
            dry_substrate=WeightOut.of(row.dry_g),
            efficiency_pct=YieldSpreadOut.of(row.efficiency_pct),
            per_day_pct=YieldSpreadOut.of(row.per_day_pct),
            together_pct=tenths(row.together_pct),
        )


BY_BATCH: Final = "batch"
LINEAGE: Final = "lineage"
ASKED_BY: Final = {
    "species": By.SPECIES,
    "substrate": By.SUBSTRATE,
    LINEAGE: By.LINE,
    "shelf": By.SHELF,
}


class YieldsOut(BaseModel):
    """What came of batches: put together in rows, or each by itself."""

    by: str
    reckoned_on: str = Field(description="what the efficiency is of")
    rows: list[YieldRowOut] = Field(
        description="finished batches put together, most of them first"
    )
    crops: list[CropOut] = Field(description="with by=batch: each one, finished or not")

    @classmethod
    def of(cls, by: str, tables: CropTables) -> "YieldsOut":
        """Write what came of batches."""
        rows = tables.rows[ASKED_BY[by]] if by in ASKED_BY else ()
        crops = tables.crops if by == BY_BATCH else ()
        return cls(
            by=by,
            reckoned_on=tables.reckoned_on,
            rows=[YieldRowOut.of(row) for row in rows],
            crops=[CropOut.of(crop) for crop in crops],
        )


class HarvestOut(BaseModel):
    """One weighing, and whose."""

    entry: int
    batch: int
    species: str
    at: Moment
    flush: int
    weight: WeightOut

    @classmethod
    def of(cls, batch: Batch, harvest: Harvest) -> "HarvestOut":
        """Write a weighing of a batch."""
        return cls(
            entry=harvest.entry,
            batch=batch.id,
            species=batch.start.species,
            at=harvest.at,
            flush=harvest.flush,
            weight=WeightOut.of(harvest.weight_g),
        )


class HarvestsOut(BaseModel):
    """Weighings, newest first."""

    total: WeightOut = Field(description="of all that are asked for, on whichever page")
    harvests: list[HarvestOut]
    next: int | None = Field(description="give it as `after` for the rest; null: that was all")

    @classmethod
    def of(
        cls,
        found: Iterable[tuple[Batch, Harvest]],
        after: tuple[datetime, int] | None,
        limit: int,
    ) -> "HarvestsOut":
        """Write weighings in order of time, newest first.

        Args:
            found: all that are asked for.
            after: time and entry of the one before which those of this page lie; None: the first.
            limit: at most so many.
        """
        listed = sorted(found, key=_place, reverse=True)
        rest = [each for each in listed if after is None or _place(each) < after]
        page = [HarvestOut.of(batch, harvest) for batch, harvest in rest[:limit]]
        return cls(
            total=WeightOut.of(sum(harvest.weight_g for _, harvest in listed)),
            harvests=page,
            next=page[-1].entry if len(rest) > limit else None,
        )


def _place(found: tuple[Batch, Harvest]) -> tuple[datetime, int]:
    return found[1].at, found[1].entry
