"""The species that can be grown, with every figure and who says so."""

from typing import Annotated

from fastapi import APIRouter, Request, Response
from fastapi import Path as InPath

from chamberwatch.web.api.etag import tagged
from chamberwatch.web.desk import growing_of
from chamberwatch.web.species_shapes import SpeciesOut, SpeciesTableOut

router = APIRouter()

SpeciesName = Annotated[str, InPath(max_length=200, description="name of the species")]


@router.get("/species", response_model=SpeciesTableOut)
def all_species(request: Request) -> Response:
    """List the species, each figure with all views of it and their sources."""
    return tagged(request, SpeciesTableOut.of(growing_of(request).table))


@router.get("/species/{name}", response_model=SpeciesOut)
def one_species(request: Request, name: SpeciesName) -> Response:
    """Tell what one species wants, stage by stage, and who says so."""
    table = growing_of(request).table
    return tagged(request, SpeciesOut.of(table.get(name), table))
