"""What can be told of batches: starts, entries, splits, harvests, and what was wrong in them.

Each answer says what the air of the chamber must be from now on, and what is to be minded there:
whoever opens a bag stands in front of it.
"""

from typing import Annotated, Any

from fastapi import APIRouter, Body, Request, Response

from chamberwatch.core.growing.batch import Batch
from chamberwatch.service.growing.growing import Growing
from chamberwatch.web import growing_given as given_shapes
from chamberwatch.web import told_shapes as shapes
from chamberwatch.web.api.growing import title_of
from chamberwatch.web.api.writing import VIA
from chamberwatch.web.band_shapes import BandWordsOut
from chamberwatch.web.correcting_given import CorrectIn
from chamberwatch.web.desk import Desk, desk_of, growing_of
from chamberwatch.web.given import Id
from chamberwatch.web.growing_given import moment
from chamberwatch.web.growing_shapes import BatchOut
from chamberwatch.web.looking_shapes import CautionOut
from chamberwatch.web.once import Key, once
from chamberwatch.web.shapes import json_of

router = APIRouter()


class Bands:
    """The bands as they were before something was told, to say what has become of them."""

    def __init__(self, growing: Growing) -> None:
        """Remember them."""
        self._growing = growing
        self._before = dict(growing.standing.house.chambers)

    def changed(self) -> list[str]:
        """Return the chambers in which another air is wanted than before."""
        after = self._growing.standing.house.chambers
        was = {name: chamber.judged_by() for name, chamber in self._before.items()}
        return [name for name, chamber in after.items() if chamber.judged_by() != was[name]]

    def told(self, *batches: Batch) -> dict[str, Any]:
        """Return what to say of the chambers where the batches stand: their air, and cautions."""
        changed = self.changed()
        house, record = self._growing.standing.house, self._growing.record
        after = house.chambers
        minded = self._growing.cautions.around(batches, record.batches(), house)
        named = [*changed, *(b.chamber for b in batches if b.chamber in after)]
        return {
            "band_changed": bool(changed),
            "bands": [BandWordsOut.of(after[name]) for name in dict.fromkeys(named) if name],
            "cautions": [CautionOut.of(caution) for caution in minded],
        }


def written(growing: Growing, batch: Batch, bands: Bands) -> dict[str, Any]:
    """Write what a batch is after the newest of its entries."""
    newest = max(entry.id for entry in growing.record.entries(batch.id))
    told = shapes.ToldOut(
        batch=BatchOut.of(batch, title_of(growing, batch)),
        entry=newest,
        **bands.told(batch),
    )
    return json_of(told)


@router.post("/batches", status_code=201, response_model=shapes.ToldOut)
def start(request: Request, given: given_shapes.StartIn, key: Key = None) -> Response:
    """Start a batch."""
    desk, growing = desk_of(request), growing_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        bands = Bands(growing)
        begun = growing.record.start(
            given.start(),
            given.place(),
            moment(given.at, desk.clock.now(), desk.zone),
            given.note.strip(),
            VIA,
        )
        return 201, written(growing, begun, bands)

    return once(desk, request, key, do)


def tell(
    desk: Desk, growing: Growing, number: int, given: given_shapes.TellIn
) -> tuple[int, dict[str, Any]]:
    """Keep what happened to a batch."""
    bands = Bands(growing)
    told = given.telling(moment(given.at, desk.clock.now(), desk.zone))
    return 201, written(growing, growing.record.tell(number, told, VIA), bands)


@router.post("/batches/{number}/entries", status_code=201, response_model=shapes.ToldOut)
def tell_entry(
    request: Request, number: Id, given: given_shapes.TellIn, key: Key = None
) -> Response:
    """Tell what happened to a batch: moved, opened, pinned, harvested, rested, soaked, ..."""
    desk, growing = desk_of(request), growing_of(request)
    return once(desk, request, key, lambda: tell(desk, growing, number, given))


@router.post("/harvests", status_code=201, response_model=shapes.ToldOut)
def harvest(request: Request, given: given_shapes.HarvestIn, key: Key = None) -> Response:
    """Tell a weighing; the same as an entry “harvested” of its batch."""
    desk, growing = desk_of(request), growing_of(request)
    return once(desk, request, key, lambda: tell(desk, growing, given.batch, given.told()))


@router.post("/batches/{number}/split", status_code=201, response_model=shapes.SplitOut)
def split(request: Request, number: Id, given: given_shapes.SplitIn, key: Key = None) -> Response:
    """Take some out of a batch: they go on as a batch of their own, of the same generation."""
    desk, growing = desk_of(request), growing_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        bands = Bands(growing)
        left, taken = growing.record.split(
            number,
            given.count,
            given.place(),
            moment(given.at, desk.clock.now(), desk.zone),
            VIA,
            note=given.note.strip(),
        )
        said = shapes.SplitOut(
            batch=BatchOut.of(left, title_of(growing, left)),
            taken=BatchOut.of(taken, title_of(growing, taken)),
            **bands.told(left, taken),
        )
        return 201, json_of(said)

    return once(desk, request, key, do)


@router.post("/entries/{number}/correct", status_code=201, response_model=shapes.ToldOut)
def correct(request: Request, number: Id, given: CorrectIn, key: Key = None) -> Response:
    """Put right what was told; what is not given stays. The old entry is kept as well."""
    desk, growing = desk_of(request), growing_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        bands, record = Bands(growing), growing.record
        old = record.entry(number)
        at = moment(given.at, desk.clock.now(), desk.zone)
        if old.start is None:
            batch = record.correct(number, given.telling(old, at), VIA)
        else:
            batch = record.correct_start(
                old.batch, given.start(old.start), at, given.place(old), VIA
            )
        return 201, written(growing, batch, bands)

    return once(desk, request, key, do)


@router.post("/entries/{number}/withdraw", status_code=201, response_model=shapes.ToldOut)
def withdraw(
    request: Request,
    number: Id,
    given: Annotated[given_shapes.WithdrawIn | None, Body()] = None,
    key: Key = None,
) -> Response:
    """Say that what was told did not happen. It is kept as well."""
    desk, growing = desk_of(request), growing_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        bands = Bands(growing)
        note = given.note.strip() if given else ""
        return 201, written(growing, growing.record.withdraw(number, VIA, note), bands)

    return once(desk, request, key, do)
