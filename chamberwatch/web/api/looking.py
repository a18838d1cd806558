"""What do you see? And what is to be minded."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from fastapi import Path as InPath

from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.growing.sign_table import SIGNS
from chamberwatch.service.growing.told import Telling
from chamberwatch.web import looking_shapes as shapes
from chamberwatch.web.api.etag import tagged
from chamberwatch.web.api.writing import VIA
from chamberwatch.web.desk import desk_of, growing_of
from chamberwatch.web.given import Id
from chamberwatch.web.growing_given import CautionSeenIn, SignIn, moment
from chamberwatch.web.once import Key, once
from chamberwatch.web.shapes import json_of

router = APIRouter()

CautionId = Annotated[str, InPath(max_length=240, description="of a caution that stands")]


@router.get("/signs", response_model=shapes.SignsOut)
def signs(
    request: Request,
    batch: Annotated[Id | None, Query(description="only what may be seen on this one")] = None,
) -> Response:
    """List what may be seen on a crop, and what each likely comes from."""
    looking = growing_of(request).looking
    found = tuple(SIGNS.values()) if batch is None else looking.signs(batch)
    return tagged(request, shapes.SignsOut.of(found))


@router.post("/batches/{number}/signs", status_code=201, response_model=shapes.SeenOut)
def see(request: Request, number: Id, given: SignIn, key: Key = None) -> Response:
    """Tell what was seen: likely causes, those first that the air of the days before speaks for.

    It is kept in the record of the batch.
    """
    desk, growing = desk_of(request), growing_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        now = desk.clock.now()
        seen = growing.looking.look(number, given.sign, moment(given.at, now, desk.zone) or now)
        kept = " ".join(
            part for part in (given.note.strip(), growing.looking.note_of(seen)) if part
        )
        told = Telling(EntryKind.LOOKED, seen.at, kept, sign=seen.sign.name)
        growing.record.tell(number, told, VIA)
        entry = max(each.id for each in growing.record.entries(number))
        return 201, json_of(shapes.SeenOut.of(seen, entry, kept))

    return once(desk, request, key, do)


@router.get("/cautions", response_model=shapes.CautionsOut)
def cautions(request: Request) -> Response:
    """List what is to be minded and nobody has seen yet."""
    growing = growing_of(request)
    found = growing.cautions.everywhere(growing.record.batches(), growing.standing.house)
    return tagged(
        request,
        shapes.CautionsOut(cautions=[shapes.CautionOut.of(caution) for caution in found]),
    )


@router.post("/cautions/{caution}/acknowledge", response_model=shapes.CautionSeenOut)
def acknowledge(
    request: Request, caution: CautionId, given: CautionSeenIn, key: Key = None
) -> Response:
    """Say who has seen a caution that stands; it is shown again when there is more to mind."""
    desk, growing = desk_of(request), growing_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        batches, house = growing.record.batches(), growing.standing.house
        growing.cautions.acknowledge(caution, given.who, VIA, batches, house)
        return 200, json_of(shapes.CautionSeenOut(id=caution, who=" ".join(given.who.split())))

    return once(desk, request, key, do)
