"""Putting right what was told: a newer entry stands in place of the old one, which stays."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, Any, Final
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import RedirectResponse
from pydantic import BaseModel, Field

from chamberwatch.core.errors import RefusedError, UnknownNameError, WrongTimeError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import LIVING, Entry, EntryKind, Start
from chamberwatch.core.growing.life import has_stage
from chamberwatch.core.growing.sign_table import SIGNS
from chamberwatch.core.growing.species import Species
from chamberwatch.core.shown_in import ShownIn
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.told import NOT_CORRECTED, Telling
from chamberwatch.web.desk import Desk, desk_of, growing_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, marked
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.growing import told, typed
from chamberwatch.web.pages.growing.batch_state import stage_name
from chamberwatch.web.pages.growing.dates import moment_words
from chamberwatch.web.pages.growing.deeds import MAIN_FIELD, check_note, stage_of
from chamberwatch.web.pages.growing.places import spots
from chamberwatch.web.pages.growing.typed import (
    Long,
    Short,
    Slip,
    field_of,
    place_value,
    plain_weight,
)
from chamberwatch.web.pages.said import VIA, Once
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False)

_K = EntryKind

FIELDS: Final[Mapping[EntryKind, tuple[str, ...]]] = {
    _K.STARTED: ("count", "substrate", "strain", "spawn", "wet", "moisture", "dry", "place"),
    _K.HARVESTED: ("weights", "flush"),
    _K.MOVED: ("place",),
    _K.STAGED: ("stage", "flush"),
    _K.LOOKED: ("sign",),
}
"""What can be put right beside when and the note. What kind it was can't: that is withdrawn."""

LOG: Final = "log"
"""What `back` says where somebody came from the log; else they came from the batch."""

Back = Annotated[str, Query(max_length=8)]

ONE_WEIGHT: Final = marked(
    "Give one weight here; a second weighing is told as a harvest of its own."
)


class MendIn(BaseModel):
    """The form as it is sent: everything as it was typed."""

    once: Once
    day: Short = ""
    clock: Short = ""
    note: Long = ""
    weights: Short = ""
    flush: Short = ""
    place: Annotated[str, Field(max_length=1000)] = ""
    stage: Short = ""
    sign: Short = ""
    count: Short = ""
    substrate: Short = ""
    strain: Short = ""
    spawn: Short = ""
    wet: Short = ""
    moisture: Short = ""
    dry: Short = ""
    withdraw: Short = ""
    why: Long = ""


@router.get("/growing/entries/{number}")
def entry(request: Request, number: Id, back: Back = "") -> Response:
    """Show one thing that was told, as a form to put it right."""
    found = growing_of(request).record.entry(number)
    return _form(request, found, Slip(_as_told(found, figures_of(request))), back)


@router.post("/growing/entries/{number}")
def mended(
    request: Request, number: Id, given: Annotated[MendIn, Form()], back: Back = ""
) -> Response:
    """Correct an entry, or say that it did not happen."""
    desk, grown = desk_of(request), growing_of(request)
    old = grown.record.entry(number)
    slip = Slip({name: str(value) for name, value in given.model_dump().items()})
    change = None
    if given.withdraw:
        # The form to withdraw asks for a reason alone; the other one comes back as it was.
        slip = Slip({**_as_told(old, figures_of(request)), "why": given.why})
    else:
        change = _read(old, slip, desk)
        check_note(slip)
    if slip.errors:
        return _form(request, old, slip, back)

    def do() -> None:
        if change is None:
            grown.record.withdraw(number, VIA, given.why.strip())
        else:
            change.keep(grown, old)

    try:
        fresh = first_time(desk, given.once, do)
    except (RefusedError, UnknownNameError) as exc:
        slip.errors["whole" if change is None else _beside(old, exc)] = str(exc)
        return _form(request, old, slip, back)
    done = ("withdrawn" if given.withdraw else "corrected") if fresh else "twice"
    return RedirectResponse(_led_back(old, back, desk.zone, done), 303)


def _beside(old: Entry, exc: Exception) -> str:
    """Return the field beside which a refusal of the record is shown."""
    if isinstance(exc, WrongTimeError):
        return "day"
    return field_of(exc) or MAIN_FIELD.get(old.kind, "whole")


def _led_back(old: Entry, back: str, zone: ZoneInfo, said: str = "") -> str:
    """Return where somebody goes on from here: the day of the log, or the batch."""
    told = [("said", said)] if said else []
    if back == LOG:
        day = _clock_of(old, zone)[0]
        return f"/log?{urlencode([('day', day), *told])}"
    address = f"/growing/batches/{old.batch}"
    return f"{address}?{urlencode(told)}#entry-{old.id}" if told else address


@dataclass(frozen=True, slots=True)
class _Change:
    """What shall stand in place of an entry."""

    telling: Telling
    start: Start | None
    place: Place | None

    def keep(self, grown: Growing, old: Entry) -> None:
        """Record it."""
        if self.start is None:
            grown.record.correct(old.id, self.telling, VIA)
        else:
            at = self.telling.at
            grown.record.correct_start(old.batch, self.start, at, self.place, VIA)


def _read(old: Entry, slip: Slip, desk: Desk) -> _Change:
    at = _when(old, slip, desk)
    place = slip.read("place", typed.place)
    telling = Telling(
        kind=old.kind,
        at=at,
        note=slip.typed["note"].strip(),
        chamber=place.chamber if place and old.kind is _K.MOVED else None,
        shelf=place.shelf if place and old.kind is _K.MOVED else None,
        weight_g=_weight(slip, "weights", old.weight_g, desk.shown_in),
        stage=slip.read("stage", stage_of) or old.stage,
        flush=slip.read("flush", typed.count),
        sign=slip.typed["sign"].strip() if old.kind is _K.LOOKED else "",
    )
    start = None if old.start is None else _start(old.start, slip, desk)
    return _Change(telling, start, place)


def _when(old: Entry, slip: Slip, desk: Desk) -> datetime:
    """Return when it happened: as it was told, to the second, unless another time was typed."""
    if _clock_of(old, desk.zone) == (slip.typed["day"].strip(), slip.typed["clock"].strip()):
        return old.at
    return typed.when(slip, desk.clock.now(), desk.zone) or old.at


def _weight(slip: Slip, name: str, was_g: float | None, shown_in: ShownIn) -> float | None:
    """Return one weight; what stands as it was shown is what it was, to the last gram. [g]."""
    if was_g is not None and slip.typed[name].strip() == plain_weight(was_g, shown_in):
        return was_g

    def one(text: str) -> float:
        weights = typed.weights(text, shown_in.weight)
        if len(weights) > 1:
            raise RefusedError(_(ONE_WEIGHT))
        return weights[0]

    return slip.read(name, one)


def _start(was: Start, slip: Slip, desk: Desk) -> Start:
    count = slip.read("count", typed.count)
    return replace(
        was,
        count=was.count if count is None else count,
        substrate=slip.typed["substrate"].strip(),
        strain=slip.typed["strain"].strip(),
        spawn=slip.typed["spawn"].strip(),
        wet_g=_weight(slip, "wet", was.wet_g, desk.shown_in),
        dry_g=_weight(slip, "dry", was.dry_g, desk.shown_in),
        moisture_pct=slip.read("moisture", typed.share),
    )


def _as_told(old: Entry, figures: Figures) -> dict[str, str]:
    """Return the fields of the form as the entry was told."""
    day, clock = _clock_of(old, figures.zone)
    start = old.start
    given: dict[str, Any] = {
        "day": day,
        "clock": clock,
        "note": old.note,
        "weights": plain_weight(old.weight_g, figures.shown_in),
        "flush": old.flush,
        "stage": old.stage,
        "sign": old.sign,
    }
    if old.kind in (_K.MOVED, _K.STARTED):
        given["place"] = place_value(Place(old.chamber, old.shelf))
    if start is not None:
        given |= {
            "count": start.count,
            "substrate": start.substrate,
            "strain": start.strain,
            "spawn": start.spawn,
            "wet": plain_weight(start.wet_g, figures.shown_in),
            "dry": plain_weight(start.dry_g, figures.shown_in),
            "moisture": None if start.moisture_pct is None else f"{start.moisture_pct:g}",
        }
    return {name: str(value) for name, value in given.items() if value is not None}


def _clock_of(old: Entry, zone: ZoneInfo) -> tuple[str, str]:
    local = old.at.astimezone(zone)
    return f"{local:%Y-%m-%d}", f"{local:%H:%M}"


def _form(request: Request, old: Entry, slip: Slip, back: str) -> Response:
    desk, grown, figures = desk_of(request), growing_of(request), figures_of(request)
    batch, now = grown.record.batch(old.batch), desk.clock.now()
    house = grown.standing.house
    how = told.Telling(batch, house, figures, now)
    species = grown.table.known(batch.start.species)
    return page(
        "growing_entry.html",
        NOT_VALID if slip.errors else 200,
        title=_("Put right what was recorded of batch %(batch)s", batch=old.batch),
        entry=old,
        words=told.entry_words(old, how),
        day=moment_words(old.at, now, desk.zone),
        recorded=moment_words(old.recorded, now, desk.zone),
        slip=slip,
        once=mark(),
        fields=FIELDS.get(old.kind, ()),
        fixed=NOT_CORRECTED.get(old.kind, "") if old.kind is not _K.STARTED else "",
        starts=old.kind is _K.STARTED,
        spots=spots(house, grown.record.batches().values()),
        stages=[(stage, stage_name(stage)) for stage in _stages(old, species)],
        signs=_signs(old),
        from_log=back == LOG,
        back=_led_back(old, back, desk.zone),
        liked=figures.shown_in.weight.value,
        zone=desk.zone.key,
    )


def _stages(old: Entry, species: Species) -> list[Stage]:
    """Return the stages that it may have been in by then, in the order of its life."""
    return [stage for stage in LIVING if stage is old.stage or has_stage(species, stage)]


def _signs(old: Entry) -> list[tuple[str, str]]:
    """Return the signs by name and title; one of another version stays what it was."""
    known = [(each.name, each.title) for each in SIGNS.values()]
    return known if old.sign in SIGNS else [(old.sign, old.sign), *known]
