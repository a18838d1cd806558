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
    """Return what is to be minded in a chamber and nobody has seen yet.

    What stands in no chamber has no place of its own: it is shown beside the first one that
    something grows in, where the page shows all of them.
    """
    growing = desk.growing
    if growing is None:
        return ()
    house, batches = growing.standing.house, growing.record.batches()
    standing = growing.cautions.standing(chamber, batches, house)
    grow = (name for name, each in house.chambers.items() if each.stage is not None)
    if whole and chamber == next(grow, None):
        standing += growing.cautions.standing(None, batches, house)
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

    def do() -> None:
        batches, house = growing.record.batches(), growing.standing.house
        growing.cautions.acknowledge(caution, who, VIA, batches, house)

    return answered(desk_of(request), once, back, SAID, do)
