"""Batches: what they are, what is told of them, what they gave."""

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.crop import Crop
from chamberwatch.core.growing.lineage import ancestors
from chamberwatch.service.growing.crops import crop_tables
from chamberwatch.service.growing.growing import Growing
from chamberwatch.web import growing_given as given_shapes
from chamberwatch.web import growing_shapes as shapes
from chamberwatch.web.api.etag import tagged
from chamberwatch.web.crop_shapes import HarvestsOut, YieldsOut
from chamberwatch.web.desk import desk_of, growing_of
from chamberwatch.web.given import Given, Id
from chamberwatch.web.problems import ProblemError
from chamberwatch.web.told_shapes import EntriesOut

router = APIRouter()


class BatchesQuery(Given):
    """Which batches."""

    chamber: str | None = Field(default=None, max_length=200, description="that stand in it")
    species: str | None = Field(default=None, max_length=200)
    living: bool | None = Field(default=None, description="true: not ended; false: ended")

    def asks_for(self, batch: Batch) -> bool:
        """Tell whether a batch is among them."""
        return (
            self.chamber in (None, batch.chamber)
            and self.species in (None, batch.start.species)
            and self.living in (None, batch.ended is None)
        )


def title_of(growing: Growing, batch: Batch) -> str:
    """Return the common name of what grows."""
    return growing.table.known(batch.start.species).title


def crop_of(number: int, growing: Growing) -> Crop:
    """Return what came of one batch so far; what it was taken out of has a part in that."""
    all_ = growing.record.batches()
    family = (number, *ancestors(all_, number))
    told = (entry for each in family for entry in growing.record.entries(each))
    made = crop_tables(all_, told, growing.table).crops
    return next(crop for crop in made if crop.batch == number)


@router.get("/batches", response_model=shapes.BatchesOut)
def batches(request: Request, asked: Annotated[BatchesQuery, Query()]) -> Response:
    """List batches, ended ones too unless `living=true`."""
    growing = growing_of(request)
    if asked.chamber is not None:
        growing.standing.house.chamber(asked.chamber)
    found = [batch for _, batch in sorted(growing.record.batches().items())]
    return tagged(
        request,
        shapes.BatchesOut(
            batches=[
                shapes.BatchOut.of(batch, title_of(growing, batch))
                for batch in found
                if asked.asks_for(batch)
            ]
        ),
    )


@router.get("/batches/{number}", response_model=shapes.BatchMoreOut)
def batch(request: Request, number: Id) -> Response:
    """Tell a batch with its stages, its line, what lies ahead and what came of it."""
    growing = growing_of(request)
    found = growing.record.batch(number)
    around = shapes.Around(
        batches=growing.record.batches(),
        dues=growing.duties.dues(number),
        crop=crop_of(number, growing),
        entries=len(growing.record.entries(number)),
    )
    return tagged(request, shapes.BatchMoreOut.with_all(found, title_of(growing, found), around))


@router.get("/batches/{number}/entries", response_model=EntriesOut)
def entries(request: Request, number: Id) -> Response:
    """List all that was told of a batch; nothing is ever overwritten."""
    told = growing_of(request).record.entries(number)
    return tagged(request, EntriesOut.of(number, told))


class HarvestsQuery(Given):
    """Which weighings."""

    batch: Id | None = None
    species: str | None = Field(default=None, max_length=200)
    from_: given_shapes.When | None = Field(
        default=None, alias="from", description="a day (from its beginning) or a time with zone"
    )
    to: given_shapes.When | None = Field(default=None, description="likewise, not included")

    def asks_for(self, batch: Batch) -> bool:
        """Tell whether weighings of a batch are among them."""
        return self.batch in (None, batch.id) and self.species in (None, batch.start.species)


@router.get("/harvests", response_model=HarvestsOut)
def harvests(request: Request, asked: Annotated[HarvestsQuery, Query()]) -> Response:
    """List weighings, newest first, and their sum."""
    zone = desk_of(request).zone
    first = given_shapes.beginning(asked.from_, zone)
    last = given_shapes.beginning(asked.to, zone)
    if first is not None and last is not None and first >= last:
        raise ProblemError(422, "not-valid", "`from` must lie before `to`. Swap them.")
    found = (
        (batch, harvest)
        for batch in growing_of(request).record.batches().values()
        if asked.asks_for(batch)
        for harvest in batch.harvests
        if (first is None or first <= harvest.at) and (last is None or harvest.at < last)
    )
    return tagged(request, HarvestsOut.of(found))


@router.get("/yields", response_model=YieldsOut)
def yields(
    request: Request,
    by: Annotated[
        Literal["species", "substrate", "lineage", "shelf", "batch"],
        Query(description="what finished batches are put together by; batch: each by itself"),
    ] = "species",
) -> Response:
    """Tell what came of the batches: biological efficiency, production rate, weights."""
    growing = growing_of(request)
    all_ = growing.record.batches()
    told = (entry for number in all_ for entry in growing.record.entries(number))
    return tagged(request, YieldsOut.of(by, crop_tables(all_, told, growing.table)))
