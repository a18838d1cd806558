"""Cautions that follow the record, on the page until somebody has seen them and given a name."""

from dataclasses import dataclass
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request, Response

from chamberwatch.service.growing.cautions import WHO_CHARS
from chamberwatch.web.desk import Desk, desk_of, growing_of
from chamberwatch.web.pages.buttons import leads_back, once_field
from chamberwatch.web.pages.said import VIA, Back, Once, answered

router = APIRouter(include_in_schema=False)

SAID: Final = "minded"


@dataclass(frozen=True, slots=True)
class Minded:
    """One caution with the fields of its form."""

    id: str
    title: str
    body: str
    sources: tuple[str, ...]
    fields: tuple[tuple[str, str], ...]


def cautions(desk: Desk, chamber: str, *, whole: bool) -> tuple[Minded, ...]:
    """Return what is to be minded in a chamber and nobody has seen yet."""
    growing = desk.growing
    if growing is None:
        return ()
    house = growing.standing.house
    standing = growing.cautions.standing(chamber, growing.record.batches(), house)
    return tuple(
        Minded(
            each.id,
            each.title,
            each.body,
            each.sources,
            (("caution", each.id), leads_back(chamber, whole=whole), once_field()),
        )
        for each in standing
    )


@router.post("/minded")
def minded(
    request: Request,
    caution: Annotated[str, Form(max_length=200)],
    who: Annotated[str, Form(max_length=WHO_CHARS)],
    once: Once,
    back: Back = "",
) -> Response:
    """Keep who has seen a caution."""
    growing = growing_of(request)
    return answered(
        desk_of(request), once, back, SAID, lambda: growing.cautions.acknowledge(caution, who, VIA)
    )
