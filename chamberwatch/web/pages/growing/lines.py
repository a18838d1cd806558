"""The lines: which batch came from which, over all that was ever grown."""

from fastapi import APIRouter, Request, Response

from chamberwatch.web.desk import growing_of
from chamberwatch.web.language import _
from chamberwatch.web.pages.growing.family import forest
from chamberwatch.web.rendering import page

router = APIRouter(include_in_schema=False)


@router.get("/growing/lineage")
def lineage(request: Request) -> Response:
    """Show every line with more than one batch."""
    grown = growing_of(request)
    batches = grown.record.batches()
    return page(
        "growing_lineage.html",
        title=_("Lines"),
        trees=forest(batches, grown.table),
        any=bool(batches),
    )
