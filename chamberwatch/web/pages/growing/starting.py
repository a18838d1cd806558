"""Starting a batch: the form, and what follows from it before it is recorded."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, Any, Final

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import RedirectResponse
from pydantic import BaseModel, Field

from chamberwatch.core.errors import RefusedError, UnknownNameError, WrongTimeError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, Entry, EntryKind, Start
from chamberwatch.core.growing.due_words import due_title
from chamberwatch.core.growing.species import Species, SpeciesTable
from chamberwatch.core.growing.telling import check_next
from chamberwatch.core.sentence import begun
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.places import Place
from chamberwatch.web.desk import Desk, desk_of, growing_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, marked
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.growing import typed
from chamberwatch.web.pages.growing.batch import why
from chamberwatch.web.pages.growing.dates import date_words, window_words
from chamberwatch.web.pages.growing.deeds import check_note
from chamberwatch.web.pages.growing.places import Spots, first_free, spots
from chamberwatch.web.pages.growing.typed import Long, Short, Slip, field_of, plain_weight
from chamberwatch.web.pages.said import VIA, Once
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False)

MOST_PARENTS: Final = 60
COOL_C, MILD_C = 15.0, 20.0
"""Between these the middle of what a species fruits at counts as mild (our choice). [°C]"""

CONTAINER_WORDS: Final = {
    Container.BAG: marked("bag (sealed)"),
    Container.JAR: marked("jar"),
    Container.BUCKET: marked("bucket with holes"),
    Container.TRAY: marked("tray or bed"),
    Container.LOG: marked("log"),
}


class StartIn(BaseModel):
    """The form as it is sent: everything as it was typed."""

    once: Once
    species: Short = ""
    container: Short = ""
    count: Short = ""
    substrate: Short = ""
    strain: Short = ""
    spawn: Short = ""
    parent: Short = ""
    wet: Short = ""
    dry: Short = ""
    moisture: Short = ""
    place: Annotated[str, Field(max_length=1000)] = ""
    ago: Short = ""
    day: Short = ""
    clock: Short = ""
    note: Long = ""
    look: Short = ""


class StartQuery(BaseModel):
    """What the form is filled with beforehand."""

    species: Short = ""
    place: Annotated[str, Field(max_length=1000)] = ""
    like: Id | None = None
    parent: Id | None = None


@dataclass(frozen=True, slots=True)
class Kinds:
    """Species that are listed together."""

    title: str
    species: tuple[Species, ...]


@dataclass(frozen=True, slots=True)
class Follows:
    """What follows from a start that is not recorded yet."""

    dry: str
    expected: str
    ahead: tuple[tuple[str, str, str], ...]


@router.get("/growing/start")
def start(request: Request, asked: Annotated[StartQuery, Query()]) -> Response:
    """Show the form, filled with what is likely."""
    grown = growing_of(request)
    batches = grown.record.batches()
    given = _beforehand(asked, batches, grown, figures_of(request))
    return _form(request, Slip(given))


@router.post("/growing/start")
def started(request: Request, told: Annotated[StartIn, Form()]) -> Response:
    """Record a start, or show what follows from it, or what is wrong."""
    desk, grown = desk_of(request), growing_of(request)
    slip = Slip({name: str(value) for name, value in told.model_dump().items()})
    begun_ = _read(slip, desk, grown)
    if slip.errors or begun_ is None:
        return _form(request, slip)
    try:
        if told.look:
            return _form(request, slip, _follows(begun_, desk, grown, figures_of(request)))
        number, fresh = _record(desk, grown, told.once, begun_)
    except (RefusedError, UnknownNameError) as exc:
        _refuse(slip, begun_, exc)
        return _form(request, slip)
    where = f"/growing/batches/{number}" if number else "/growing"
    return RedirectResponse(f"{where}?said={'started' if fresh else 'twice'}", 303)


@dataclass(frozen=True, slots=True)
class _Begun:
    """A start as it was read."""

    start: Start
    place: Place
    at: datetime | None
    note: str

    def entry(self, now: datetime) -> Entry:
        """Return it as the first entry of a batch that is not there yet."""
        told = Entry(0, 0, EntryKind.STARTED, self.at or now, now, VIA, self.note)
        place = self.place
        return replace(told, start=self.start, chamber=place.chamber, shelf=place.shelf)


def _record(desk: Desk, grown: Growing, once: str, told: _Begun) -> tuple[int, bool]:
    made: list[Batch] = []

    def do() -> None:
        made.append(grown.record.start(told.start, told.place, told.at, told.note, VIA))

    fresh = first_time(desk, once, do)
    return (made[0].id if made else 0), fresh


# ------------------------------------------------------------------ reading it


def _read(slip: Slip, desk: Desk, grown: Growing) -> _Begun | None:
    liked = desk.shown_in.weight
    species = slip.read("species", lambda text: grown.table.get(text).name)
    container = slip.read("container", _container)
    count = slip.read("count", typed.count)
    made = Start(
        species=species or "",
        container=container or Container.BAG,
        count=1 if count is None else count,
        substrate=slip.typed["substrate"].strip(),
        strain=slip.typed["strain"].strip(),
        spawn=slip.typed["spawn"].strip(),
        wet_g=slip.read("wet", lambda text: typed.weight(text, liked)),
        dry_g=slip.read("dry", lambda text: typed.weight(text, liked)),
        moisture_pct=slip.read("moisture", typed.share),
        parent=slip.read("parent", typed.count),
    )
    at = typed.when(slip, desk.clock.now(), desk.zone)
    place = slip.read("place", typed.place) or Place(None)
    check_note(slip)
    if not slip.typed["species"].strip():
        slip.errors["species"] = _("Choose what grows in it.")
    return None if slip.errors else _Begun(made, place, at, slip.typed["note"].strip())


def _container(text: str) -> Container:
    try:
        return Container(text)
    except ValueError:
        raise RefusedError(_("Choose what it grows in.")) from None


def _refuse(slip: Slip, told: _Begun, exc: RefusedError | UnknownNameError) -> None:
    """Put a refusal of the record beside the field that it is about."""
    beside = "place" if told.start.parent is None else "parent"
    if isinstance(exc, WrongTimeError):
        beside = "ago" if slip.typed["ago"].strip() else "day"
    slip.errors[field_of(exc) or beside] = str(exc)


# ------------------------------------------------------------------ what follows


def _follows(told: _Begun, desk: Desk, grown: Growing, figures: Figures) -> Follows:
    """Return what would follow.

    Raises:
        RefusedError: it can't be started so.
        UnknownNameError: there is no such place.
    """
    now = desk.clock.now()
    species = grown.table.get(told.start.species)
    batch = check_next([], told.entry(now), species, now)
    dry = told.start.substrate_dry_g
    return Follows(
        dry=figures.weight(dry) if dry is not None else "",
        expected=_expected(dry, species, figures),
        ahead=tuple(
            (
                begun(due_title(shown.due)),
                window_words(shown.due.window, now, desk.zone),
                why(shown.due, grown.table),
            )
            for shown in grown.duties.ahead_of(batch)
        ),
    )


def _expected(dry_g: float | None, species: Species, figures: Figures) -> str:
    stated = species.efficiency_pct
    if dry_g is None or stated is None or stated.low is None or stated.high is None:
        return ""
    least, most = dry_g * stated.low / 100.0, dry_g * stated.high / 100.0
    return _(
        "%(least)s to %(most)s, at a biological efficiency of %(low)s "
        "to %(high)s\N{NO-BREAK SPACE}%%",
        least=figures.weight(least),
        most=figures.weight(most),
        low=figures.number(stated.low, 0),
        high=figures.number(stated.high, 0),
    )


# ------------------------------------------------------------------ the form


def _form(request: Request, slip: Slip, follows: Follows | None = None) -> Response:
    desk, grown, figures = desk_of(request), growing_of(request), figures_of(request)
    batches = grown.record.batches()
    return page(
        "growing_start.html",
        NOT_VALID if slip.errors else 200,
        title=_("Start a batch"),
        slip=slip,
        once=slip.typed.get("once") if follows else mark(),
        follows=follows,
        kinds=kinds(grown.table, batches.values(), figures),
        containers={kind: _(said) for kind, said in CONTAINER_WORDS.items()},
        spots=spots(grown.standing.house, batches.values()),
        parents=_parents(batches, grown, desk),
        used=_used(batches.values()),
        liked=figures.shown_in.weight.value,
        zone=desk.zone.key,
    )


def kinds(table: SpeciesTable, batches: Iterable[Batch], figures: Figures) -> tuple[Kinds, ...]:
    """Return the species as they are offered: those grown before, the rest by their warmth."""
    grown = {batch.start.species for batch in batches}
    before = tuple(each for name, each in table.species.items() if name in grown)
    rest = [each for name, each in table.species.items() if name not in grown]
    cool, mild = figures.temperature(COOL_C, 0), figures.temperature(MILD_C, 0)
    groups = [
        Kinds(_("Grown here before"), before),
        Kinds(_("Fruits cool, below %(cool)s", cool=cool), _warm(rest, -273.0, COOL_C)),
        Kinds(
            _("Fruits at %(cool)s to %(mild)s", cool=cool, mild=mild), _warm(rest, COOL_C, MILD_C)
        ),
        Kinds(_("Fruits warm, above %(mild)s", mild=mild), _warm(rest, MILD_C, 100.0)),
        Kinds(_("Others"), tuple(each for each in rest if each.fruits_at_c is None)),
    ]
    return tuple(group for group in groups if group.species)


def _warm(some: Iterable[Species], low: float, high: float) -> tuple[Species, ...]:
    known = ((each, each.fruits_at_c) for each in some)
    return tuple(each for each, middle in known if middle is not None and low <= middle < high)


def _parents(
    batches: Mapping[int, Batch], grown: Growing, desk: Desk
) -> tuple[tuple[int, str], ...]:
    now = desk.clock.now()
    newest = sorted(batches.values(), key=lambda batch: -batch.id)[:MOST_PARENTS]
    return tuple(
        (
            batch.id,
            (
                _(
                    "batch %(batch)s: %(species)s, started %(started)s",
                    batch=batch.id,
                    species=grown.table.known(batch.start.species).title,
                    started=date_words(batch.started, now, desk.zone),
                )
            ),
        )
        for batch in newest
    )


def _used(batches: Iterable[Batch]) -> dict[str, list[str]]:
    """Return what was typed before, to be typed no more."""
    newest = sorted(batches, key=lambda batch: -batch.id)
    return {
        name: list(dict.fromkeys(v for b in newest if (v := getattr(b.start, name))))[:20]
        for name in ("substrate", "spawn", "strain")
    }


def _beforehand(
    asked: StartQuery, batches: Mapping[int, Batch], grown: Growing, figures: Figures
) -> dict[str, str]:
    """Return what the form is filled with: as the last time, where it still fits."""
    last = max(batches.values(), key=lambda batch: batch.id, default=None)
    like = batches.get(asked.like) if asked.like else None
    found = spots(grown.standing.house, batches.values())
    given = {"container": Container.BAG.value, "count": "1", **_like(like, figures)}
    if like is None and last is not None:
        given["species"] = last.start.species
        given["container"] = last.start.container.value
    given["place"] = _place(asked.place, grown, found)
    given["species"] = asked.species or given.get("species", "")
    given["parent"] = str(asked.parent) if asked.parent in batches else given.get("parent", "")
    return given


def _like(batch: Batch | None, figures: Figures) -> dict[str, str]:
    """Return the fields of a start like that of another batch."""
    if batch is None:
        return {}
    start = batch.start
    given: dict[str, Any] = {
        "species": start.species,
        "container": start.container.value,
        "count": start.count,
        "substrate": start.substrate,
        "strain": start.strain,
        "spawn": start.spawn,
        "parent": start.parent,
        "wet": plain_weight(start.wet_g, figures.shown_in),
        "dry": plain_weight(start.dry_g, figures.shown_in),
        "moisture": None if start.moisture_pct is None else f"{start.moisture_pct:g}",
    }
    return {name: str(value) for name, value in given.items() if value not in (None, "")}


def _place(asked: str, grown: Growing, found: Iterable[Spots]) -> str:
    """Return the place asked for; where only its chamber is said, a shelf there with room."""
    place = typed.place(asked)
    if place.shelf is not None:
        return asked
    known = grown.standing.house.chambers.get(place.chamber or "")
    return first_free(found, known.title if known is not None else _colonising(grown, found))


def _colonising(grown: Growing, found: Iterable[Spots]) -> str:
    """Return the title of the chamber that is stated to hold what colonises, if there is one."""
    house = grown.standing.house.chambers.values()
    stated = [c.title for c in house if c.stage is Stage.COLONISATION]
    return next((title for title in stated if any(g.title == title for g in found)), "")
