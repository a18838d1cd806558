"""Batches: what they are, what is told of them, what they gave."""

from typing import Annotated, Final, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from chamberwatch.core.growing.batch import Batch
from chamberwatch.service.growing.crops import crop_of, crop_tables
from chamberwatch.service.growing.growing import Growing
from chamberwatch.web import growing_given as given_shapes
from chamberwatch.web import growing_shapes as shapes
from chamberwatch.web.api.etag import tagged
from chamberwatch.web.crop_shapes import HarvestsOut, YieldsOut
from chamberwatch.web.desk import desk_of, growing_of
from chamberwatch.web.given import BIGGEST_ID, Given, Id
from chamberwatch.web.problems import ProblemError
from chamberwatch.web.told_shapes import EntriesOut

router = APIRouter()

LIMIT: Final = 200
MOST: Final = 5000

Limit = Annotated[int, Field(ge=1, le=MOST, description="at most so many; `next` has the rest")]


class BatchesQuery(Given):
    """Which batches."""

    after: int = Field(default=0, ge=0, le=BIGGEST_ID, description="those with higher numbers")
    limit: Limit = LIMIT
    chamber: str | None = Field(default=None, max_length=200, description="that stand in it")
    species: str | None = Field(default=None, max_length=200)
    living: bool | None = Field(default=None, description="true: not ended; false: ended")

    def asks_for(self, batch: Batch) -> bool:
        """Tell whether a batch is among them."""
        return (
            batch.id > self.after
            and self.chamber in (None, batch.chamber)
            and self.species in (None, batch.start.species)
            and self.living in (None, batch.ended is None)
        )


def title_of(growing: Growing, batch: Batch) -> str:
    """Return the common name of what grows."""
    return growing.table.known(batch.start.species).title


@router.get("/batches", response_model=shapes.BatchesOut)
def batches(request: Request, asked: Annotated[BatchesQuery, Query()]) -> Response:
    """List batches by number, ended ones too unless `living=true`."""
    growing = growing_of(request)
    if asked.chamber is not None:
        growing.standing.house.chamber(asked.chamber)
    all_ = growing.record.batches()
    found = [all_[number] for number in sorted(all_) if asked.asks_for(all_[number])]
    page = [shapes.BatchOut.of(batch, title_of(growing, batch)) for batch in found[: asked.limit]]
    more = page[-1].id if len(found) > asked.limit else None
    return tagged(request, shapes.BatchesOut(batches=page, next=more))


@router.get("/batches/{number}", response_model=shapes.BatchMoreOut)
def batch(request: Request, number: Id) -> Response:
    """Tell a batch with its stages, its line, what lies ahead and what came of it."""
    growing = growing_of(request)
    found = growing.record.batch(number)
    all_, entries = growing.record.batches(), growing.record.entries
    around = shapes.Around(
        batches=all_,
        dues=growing.duties.dues(number),
        crop=crop_of(number, all_, entries, growing.table),
        entries=len(entries(number)),
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
    after: Id | None = Field(
        default=None, description="those that lie before this weighing; `next` of an answer"
    )
    limit: Limit = LIMIT

    def asks_for(self, batch: Batch) -> bool:
        """Tell whether weighings of a batch are among them."""
        return self.batch in (None, batch.id) and self.species in (None, batch.start.species)


@router.get("/harvests", response_model=HarvestsOut)
def harvests(request: Request, asked: Annotated[HarvestsQuery, Query()]) -> Response:
    """List weighings, newest first, and the sum of all that are asked for."""
    zone = desk_of(request).zone
    first = given_shapes.beginning(asked.from_, zone)
    last = given_shapes.beginning(asked.to, zone)
    if first is not None and last is not None and first >= last:
        raise ProblemError(422, "not-valid", "`from` must lie before `to`. Swap them.")
    record = growing_of(request).record
    # An entry keeps its time for good, even one that was corrected since.
    behind = record.entry(asked.after) if asked.after is not None else None
    found = (
        (batch, harvest)
        for batch in record.batches().values()
        if asked.asks_for(batch)
        for harvest in batch.harvests
        if (first is None or first <= harvest.at) and (last is None or harvest.at < last)
    )
    after = (behind.at, behind.id) if behind is not None else None
    return tagged(request, HarvestsOut.of(found, after, asked.limit))


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
    batches, told = growing.record.batches(), growing.record.all_entries()
    return tagged(request, YieldsOut.of(by, crop_tables(batches, told, growing.table)))
