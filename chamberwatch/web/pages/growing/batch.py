"""The page of one batch: what it is, what comes next, what came of it, and the deeds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from fastapi import APIRouter, Request, Response

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Entry, EntryKind
from chamberwatch.core.growing.crop import Crop
from chamberwatch.core.growing.due import Due
from chamberwatch.core.growing.due_words import basis_words, due_title
from chamberwatch.core.growing.lineage import generation, old_line
from chamberwatch.core.growing.may_follow import stages_to_set
from chamberwatch.core.growing.photo import Photo, Size
from chamberwatch.core.growing.species import Species, SpeciesTable
from chamberwatch.core.growing.spores import Caution
from chamberwatch.core.sentence import begun
from chamberwatch.service.growing.crops import crop_of
from chamberwatch.service.growing.duties import DueNow
from chamberwatch.service.growing.growing import Growing
from chamberwatch.web.desk import Desk, desk_of, growing_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, marked, ngettext
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.growing import told
from chamberwatch.web.pages.growing.batch_state import stage_name, state_for
from chamberwatch.web.pages.growing.dates import date_words, moment_words, window_words
from chamberwatch.web.pages.growing.family import line_of
from chamberwatch.web.pages.growing.figure import containers, figure
from chamberwatch.web.pages.growing.offered import LABELS, offers
from chamberwatch.web.pages.growing.places import spots
from chamberwatch.web.pages.growing.plan import TWICE
from chamberwatch.web.pages.growing.typed import Slip
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False)

SAID: Final[Mapping[str, str]] = {
    "twice": TWICE,
    "started": marked("Recorded: the batch has begun. Write its number on it."),
    "split": marked("Recorded: the split. Both parts have pages of their own."),
    "minded": marked("Thank you. The caution is put away with your name."),
    "corrected": marked("Corrected. What was told before stays to be seen below."),
    "withdrawn": marked("Withdrawn: it did not happen. It stays to be seen below."),
    "removed": marked("The photo is gone for good."),
    "noted": marked("Recorded: the note."),
    "moved": marked("Recorded: where it stands now."),
    "staged": marked("Recorded: its stage."),
}
RECORDED: Final = {kind.name.lower(): label for kind, (label, _hint) in LABELS.items()}
"""What else is told in a word."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """What lies ahead: what, when, and how that is known."""

    what: str
    span: str
    why: str
    late: bool


@dataclass(frozen=True, slots=True)
class FlushBar:
    """One flush: `width` in per cent of the largest."""

    flush: int
    weight: str
    share: str
    width: float


@dataclass(frozen=True, slots=True)
class Shot:
    """A photo, as it stands on the page."""

    id: int
    mark: str
    small: Size
    day: str
    note: str


@dataclass(frozen=True, slots=True)
class Yield:
    """What came of it so far."""

    total: str
    flushes: tuple[FlushBar, ...]
    efficiency: str
    on: str
    dried: str
    missing: str


@router.get("/growing/batches/{number}")
def batch(request: Request, number: Id, said: str = "") -> Response:
    """Show one batch."""
    return shown(request, number, said=_said(said))


@dataclass(frozen=True, slots=True)
class Refused:
    """A form that was not taken: which one, and what was typed in it."""

    kind: str
    slip: Slip
    whole: str = ""
    """What is wrong with all of it rather than with one field."""


def shown(
    request: Request, number: int, said: str = "", refused: Refused | None = None
) -> Response:
    """Render the page; with a form that was refused, what was typed comes back."""
    desk, grown, figures = desk_of(request), growing_of(request), figures_of(request)
    found = grown.record.batch(number)
    return page(
        "growing_batch.html",
        NOT_VALID if refused else 200,
        title=_(
            "Batch %(number)s: %(species)s",
            number=number,
            species=grown.table.known(found.start.species).title,
        ),
        said=said,
        mark=mark,
        blank=Slip({}),
        refused=refused or Refused("", Slip({})),
        lost=_lost(refused, found, grown),
        photos_kept=desk.photos is not None,
        **_about(found, desk, grown, figures),
        **_deeds(found, grown),
        **_past(found, desk, grown, figures),
        zone=desk.zone.key,
        liked=figures.shown_in.weight.value,
    )


def _lost(refused: Refused | None, found: Batch, grown: Growing) -> str:
    """Return why a form was not taken that is not offered any more, such as one sent late."""
    if refused is None:
        return ""
    offered = offers(found, grown.table.known(found.start.species)).slugs
    if refused.kind in {*offered, *(caution.id for caution in _cautions(found, grown))}:
        return ""
    return " ".join([refused.whole, *refused.slip.errors.values()]).strip()


def _about(found: Batch, desk: Desk, grown: Growing, figures: Figures) -> dict[str, Any]:
    now, species = desk.clock.now(), grown.table.known(found.start.species)
    batches, house = grown.record.batches(), grown.standing.house
    return {
        "batch": found,
        "species": species,
        "figure": figure(found),
        "what": containers(found.start.container, found.count),
        "stage": begun(state_for(found, now, desk.zone)),
        "where": told.where_words(found.chamber, found.shelf, house),
        "facts": _facts(found, now, desk, figures, generation(batches, found.id)),
        "ahead": [_ahead(due, now, desk, grown) for due in grown.duties.dues(found.id)],
        "cautions": _cautions(found, grown),
        "old_line": old_line(generation(batches, found.id)),
    }


def _said(what: str) -> str:
    if what in RECORDED and what not in SAID:
        return _("Recorded: %(what)s.", what=_(RECORDED[what]).lower())
    return _(SAID.get(what, ""))


def _facts(
    found: Batch, now: datetime, desk: Desk, figures: Figures, nth: int
) -> list[tuple[str, str]]:
    start = found.start
    dry = start.substrate_dry_g
    rows = [
        (_("started"), f"{date_words(found.started, now, desk.zone)} ({_age(found, now)})"),
        (_("substrate"), start.substrate),
        (_("filled"), figures.weight(start.wet_g) if start.wet_g is not None else ""),
        (_("dry substrate"), figures.weight(dry) if dry is not None else ""),
        (
            _("moisture"),
            f"{figures.number(start.moisture_pct, 0)}\N{NO-BREAK SPACE}%"
            if start.moisture_pct is not None
            else "",
        ),
        (_("strain"), start.strain),
        (_("spawn"), start.spawn),
        (_("generation"), str(nth) if nth > 1 else ""),
    ]
    return [(name, value) for name, value in rows if value]


def _age(found: Batch, now: datetime) -> str:
    days = ((found.ended or now) - found.started).days
    lived = ngettext("%(num)s day", "%(num)s days", days)
    return (
        _("it lived %(lived)s", lived=lived)
        if found.ended
        else _("%(lived)s ago", lived=lived)
        if days
        else _("today")
    )


def _ahead(shown: DueNow, now: datetime, desk: Desk, grown: Growing) -> Ahead:
    due = shown.due
    return Ahead(
        what=begun(due_title(due)),
        span=window_words(due.window, now, desk.zone),
        why=why(due, grown.table),
        late=now > due.window.high,
    )


def why(due: Due, table: SpeciesTable) -> str:
    """Say on whose figures a window rests, and which sources those are."""
    titles = [table.sources[key] for key in due.source.split(", ") if key in table.sources]
    named = f" ({'; '.join(titles)})" if titles else ""
    return f"{begun(basis_words(due))}{named}."


def _cautions(found: Batch, grown: Growing) -> tuple[Caution, ...]:
    house, batches = grown.standing.house, grown.record.batches()
    if found.ended is not None and found.stage is not Stage.CONTAMINATED:
        return ()
    return grown.cautions.around([found], batches, house)


def _deeds(found: Batch, grown: Growing) -> dict[str, Any]:
    species: Species = grown.table.known(found.start.species)
    house, batches = grown.standing.house, grown.record.batches()
    return {
        "offers": offers(found, species),
        "kinds": EntryKind,
        "spots": spots(house, batches.values(), found),
        "stages": [(each, stage_name(each)) for each in stages_to_set(found, species)],
    }


def _past(found: Batch, desk: Desk, grown: Growing, figures: Figures) -> dict[str, Any]:
    record, batches = grown.record, grown.record.batches()
    entries = record.entries(found.id)
    now, house = desk.clock.now(), grown.standing.house
    photos = desk.photos.of(found.id) if desk.photos is not None else {}
    how = told.Telling(found, house, figures, now)
    crop = crop_of(found.id, batches, record.entries, grown.table)
    return {
        "lines": told.lines(entries, how),
        "crop": yields(crop, figures) if found.harvests or crop.flushes else None,
        "gallery": _gallery(photos, entries, now, desk),
        "line": line_of(batches, found.id, grown.table),
    }


def _gallery(
    photos: Mapping[int, Sequence[Photo]], entries: Sequence[Entry], now: datetime, desk: Desk
) -> list[Shot]:
    """Return the photos, the newest first."""
    told_by = {entry.id: entry for entry in entries}
    shots = [
        (told_by[entry].at, photo, told_by[entry].note)
        for entry, each in photos.items()
        for photo in each
    ]
    shots.sort(key=lambda shot: (shot[0], shot[1].id), reverse=True)
    return [
        Shot(photo.id, photo.mark, photo.small, moment_words(at, now, desk.zone), note)
        for at, photo, note in shots
    ]


def yields(crop: Crop, figures: Figures) -> Yield:
    """Return what came of a batch so far."""
    most = max((flush.fresh_g for flush in crop.flushes), default=1.0)
    efficiency = crop.efficiency_pct
    return Yield(
        total=figures.weight(crop.fresh_g),
        flushes=tuple(
            FlushBar(
                flush.flush,
                figures.weight(flush.fresh_g),
                f"{figures.number(flush.share_pct, 0)}\N{NO-BREAK SPACE}%",
                round(100.0 * flush.fresh_g / most, 1),
            )
            for flush in crop.flushes
        ),
        efficiency=per_cent(efficiency, figures),
        on=figures.weight(crop.dry_g) if crop.dry_g is not None else "",
        dried=_dried(crop, figures),
        missing=crop.missing,
    )


def per_cent(value: float | None, figures: Figures, decimals: int = 0) -> str:
    """Write a share; empty where it is not known."""
    return "" if value is None else f"{figures.number(value, decimals)}\N{NO-BREAK SPACE}%"


def _dried(crop: Crop, figures: Figures) -> str:
    least, most = figures.weight(crop.dried_least_g), figures.weight(crop.dried_most_g)
    return least if least == most else _("%(least)s to %(most)s", least=least, most=most)
