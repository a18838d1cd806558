"""The band of a chamber, and whose wish each limit is."""

from fastapi import APIRouter, Request, Response

from chamberwatch.web.api.etag import tagged
from chamberwatch.web.api.reading import ChamberName
from chamberwatch.web.band_shapes import BandOut
from chamberwatch.web.desk import desk_of, growing_of

router = APIRouter()


@router.get("/chambers/{name}/band", response_model=BandOut)
def band(request: Request, name: ChamberName) -> Response:
    """Tell the band as it holds now, with the reason of each limit, and who is not suited."""
    standing, now = growing_of(request).standing, desk_of(request).clock.now()
    chamber = standing.house.chamber(name)
    return tagged(request, BandOut.of(chamber, standing.settles_until(name, now)))
