"""Finished batches: what each gave, and what those that have something in common gave."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Final

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, Field

from chamberwatch.core.growing.crop import Crop
from chamberwatch.core.growing.crop_rows import By, Row, Spread
from chamberwatch.core.sentence import listed, within
from chamberwatch.service.growing.crops import crop_tables
from chamberwatch.service.growing.growing import Growing
from chamberwatch.web.desk import desk_of, growing_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.growing.batch import per_cent
from chamberwatch.web.pages.growing.dates import date_words
from chamberwatch.web.rendering import page

router = APIRouter(include_in_schema=False)

_Key = Callable[[Crop], float]


def _known(value: float | None) -> float:
    """Put what is not known behind everything else."""
    return float("-inf") if value is None else value


SORTS: Final[Mapping[str, tuple[str, _Key]]] = {
    "newest": (marked("newest first"), lambda crop: crop.batch),
    "weight": (marked("most weight"), lambda crop: crop.fresh_g),
    "efficiency": (marked("best efficiency"), lambda crop: _known(crop.efficiency_pct)),
    "pace": (marked("most per day"), lambda crop: _known(crop.per_day_pct)),
    "quick": (
        marked("fewest days"),
        lambda crop: _known(None if crop.days is None else -crop.days),
    ),
}

BYS: Final[Mapping[str, str]] = {
    By.SPECIES: marked("species"),
    By.SUBSTRATE: marked("substrate"),
    By.LINE: marked("line"),
    By.SHELF: marked("shelf"),
}

MOST: Final = 200


class FinishedQuery(BaseModel):
    """How they are sorted and put together."""

    by: By = By.SPECIES
    sort: Annotated[str, Field(max_length=20)] = "newest"


@dataclass(frozen=True, slots=True)
class Ended:
    """One finished batch."""

    number: int
    name: str
    substrate: str
    started: str
    days: str
    weight: str
    flushes: str
    efficiency: str
    per_day: str
    lost: bool


@dataclass(frozen=True, slots=True)
class Together:
    """Finished batches that have something in common."""

    name: str
    count: int
    lost: int
    weight: str
    efficiency: str
    spread: str
    per_day: str


@router.get("/growing/finished")
def finished(request: Request, asked: Annotated[FinishedQuery, Query()]) -> Response:
    """Show what finished batches gave."""
    desk, grown, figures = desk_of(request), growing_of(request), figures_of(request)
    tables = crop_tables(grown.record.batches(), grown.record.all_entries(), grown.table)
    sort = asked.sort if asked.sort in SORTS else "newest"
    over = [crop for crop in tables.crops if crop.finished]
    over.sort(key=SORTS[sort][1], reverse=True)
    now = desk.clock.now()
    return page(
        "growing_finished.html",
        title=_("Finished batches"),
        ended=[
            _ended(crop, grown, figures, date_words(crop.started, now, desk.zone))
            for crop in over[:MOST]
        ],
        left_out=max(0, len(over) - MOST),
        groups=[_together(row, grown, figures) for row in tables.rows[asked.by]],
        by=asked.by.value,
        bys={by: _(words) for by, words in BYS.items()},
        sort=sort,
        sorts={name: _(words) for name, (words, __) in SORTS.items()},
        reckoned_on=tables.reckoned_on,
        zone=desk.zone.key,
    )


def _ended(crop: Crop, grown: Growing, figures: Figures, started: str) -> Ended:
    return Ended(
        number=crop.batch,
        name=grown.table.known(crop.species).title,
        substrate=crop.substrate,
        started=started,
        days="" if crop.days is None else figures.number(crop.days, 0),
        weight=figures.weight(crop.fresh_g) if crop.flushes else _("nothing"),
        flushes=str(len(crop.flushes)) if crop.flushes else "",
        efficiency=per_cent(crop.efficiency_pct, figures),
        per_day=per_cent(crop.per_day_pct, figures, 1),
        lost=crop.lost,
    )


def _together(row: Row, grown: Growing, figures: Figures) -> Together:
    return Together(
        name=_name(row, grown),
        count=row.count,
        lost=row.lost,
        weight=figures.weight(row.fresh_g),
        efficiency=per_cent(row.efficiency_pct.mean if row.efficiency_pct else None, figures),
        spread=_spread(row.efficiency_pct, figures),
        per_day=per_cent(row.per_day_pct.mean if row.per_day_pct else None, figures, 1),
    )


def _name(row: Row, grown: Growing) -> str:
    titles = [grown.table.known(name).title for name in row.species]
    if row.by is By.SPECIES:
        return titles[0]
    of = listed([within(title) for title in titles])
    return (
        _("line of batch %(key)s (%(of)s)", key=row.key, of=of)
        if row.by is By.LINE
        else f"{row.key} ({of})"
    )


def _spread(spread: Spread | None, figures: Figures) -> str:
    """Say between which the efficiencies lie, and how well their mean is known."""
    if spread is None or spread.count == 1:
        return ""
    low, high = figures.number(spread.least, 0), figures.number(spread.most, 0)
    error = spread.standard_error
    plus = f"±{figures.number(error, 0)}, " if error is not None else ""
    return _("%(plus)s%(low)s to %(high)s", plus=plus, low=low, high=high)
