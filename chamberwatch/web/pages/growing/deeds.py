"""Takes in what the forms of a batch tell; what can't be comes back at its field, as typed."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse
from pydantic import BaseModel, Field

from chamberwatch.core.errors import RefusedError, UnknownNameError, WrongTimeError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.growing.telling import LONGEST_NOTE
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.record import GrowingRecord
from chamberwatch.service.growing.told import Telling
from chamberwatch.web.desk import Desk, desk_of, growing_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, marked
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.growing import typed
from chamberwatch.web.pages.growing.batch import Refused, shown
from chamberwatch.web.pages.growing.typed import Long, Short, Slip, field_of
from chamberwatch.web.pages.said import VIA, Once

router = APIRouter(include_in_schema=False)

_K = EntryKind
NO_NOTE: Final = marked("Write the note.")
NO_WEIGHT: Final = marked(
    "Weigh what was picked and give the weight; several with a plus between them."
)
NO_PLACE: Final = marked("Choose where it goes.")
NO_COUNT: Final = marked("Say how many are taken out.")
NO_STAGE: Final = marked("Choose the stage.")

# Where a refusal of the record belongs, if not to the time.
MAIN_FIELD: Final = {
    _K.HARVESTED: "weights",
    _K.MOVED: "place",
    _K.SPLIT: "count",
    _K.STAGED: "stage",
    _K.LOOKED: "sign",
    _K.NOTED: "note",
}


class TellIn(BaseModel):
    """A form about a batch as it is sent: everything as it was typed."""

    kind: EntryKind
    once: Once
    ago: Short = ""
    day: Short = ""
    clock: Short = ""
    note: Long = ""
    weights: Short = ""
    flush: Short = ""
    place: Annotated[str, Field(max_length=1000)] = ""
    count: Short = ""
    stage: Short = ""


@dataclass(frozen=True, slots=True)
class _Said:
    """What a form tells, read."""

    at: datetime | None
    note: str
    weights: tuple[float, ...]
    flush: int | None
    place: Place | None
    count: int | None
    stage: Stage | None


@router.post("/growing/batches/{number}/tell")
def tell(request: Request, number: Id, told: Annotated[TellIn, Form()]) -> Response:
    """Keep what happened to a batch, or show the form again with the cure at its field."""
    desk, record = desk_of(request), growing_of(request).record
    slip = Slip({name: str(value) for name, value in told.model_dump().items()})
    said = _read(told.kind, slip, desk, request)
    if slip.errors:
        return shown(request, number, refused=Refused(told.kind.name.lower(), slip))
    try:
        fresh = first_time(desk, told.once, lambda: _keep(record, number, told.kind, said))
    except (RefusedError, UnknownNameError) as exc:
        # A batch that there is none of has no page to show the refusal on.
        record.batch(number)
        return shown(request, number, refused=refusal(told.kind, slip, exc))
    return RedirectResponse(
        f"/growing/batches/{number}?said={told.kind.name.lower() if fresh else 'twice'}", 303
    )


def refusal(kind: EntryKind, slip: Slip, exc: Exception) -> Refused:
    """Return a refused form with the cure where it belongs."""
    timed = [name for name in ("day", "ago") if slip.typed.get(name, "").strip()]
    main = field_of(exc) or MAIN_FIELD.get(kind, "")
    # Where nothing but a time was typed, it is the time that does not fit.
    name = timed[0] if timed and (isinstance(exc, WrongTimeError) or not main) else main
    if not name:
        return Refused(kind.name.lower(), slip, whole=str(exc))
    slip.errors[name] = str(exc)
    return Refused(kind.name.lower(), slip)


def _read(kind: EntryKind, slip: Slip, desk: Desk, request: Request) -> _Said:
    liked = desk_of(request).shown_in.weight
    said = _Said(
        at=typed.when(slip, desk.clock.now(), desk.zone),
        note=slip.typed["note"].strip(),
        weights=slip.read("weights", lambda text: typed.weights(text, liked)) or (),
        flush=slip.read("flush", typed.count),
        place=slip.read("place", typed.place),
        count=slip.read("count", typed.count),
        stage=slip.read("stage", stage_of),
    )
    check_note(slip)
    _check_needed(kind, said, slip)
    return said


def check_note(slip: Slip) -> None:
    """Find a note that is too long."""
    over = len(slip.typed.get("note", "").strip()) - LONGEST_NOTE
    if over > 0:
        slip.errors["note"] = _(
            "The note is %(over)s characters longer than the "
            "%(longest_note)s there is room for; shorten it.",
            over=over,
            longest_note=LONGEST_NOTE,
        )


def _check_needed(kind: EntryKind, said: _Said, slip: Slip) -> None:
    needed: dict[EntryKind, tuple[str, object, str]] = {
        _K.HARVESTED: ("weights", said.weights, _(NO_WEIGHT)),
        _K.MOVED: ("place", said.place, _(NO_PLACE)),
        _K.SPLIT: ("count", said.count, _(NO_COUNT)),
        _K.STAGED: ("stage", said.stage, _(NO_STAGE)),
        _K.NOTED: ("note", said.note, _(NO_NOTE)),
    }
    if kind in needed:
        name, value, cure = needed[kind]
        if not value and value != 0:
            slip.errors.setdefault(name, cure)


def stage_of(text: str) -> Stage:
    """Return the stage that a form names.

    Raises:
        RefusedError: there is no such stage.
    """
    try:
        return Stage(text)
    except ValueError:
        raise RefusedError(_(NO_STAGE)) from None


def _keep(record: GrowingRecord, number: int, kind: EntryKind, said: _Said) -> None:
    if kind is _K.SPLIT:
        record.split(number, said.count or 0, said.place, said.at, VIA, said.note)
        return
    record.tell_all(number, _tellings(kind, said), VIA)


def _tellings(kind: EntryKind, said: _Said) -> tuple[Telling, ...]:
    plain = Telling(kind, said.at, said.note)
    if kind is _K.HARVESTED:
        # One note says something of all the weighings; it is kept with the first.
        return tuple(
            Telling(kind, said.at, "" if n else said.note, weight_g=grams, flush=said.flush)
            for n, grams in enumerate(said.weights)
        )
    if kind is _K.MOVED and said.place is not None:
        place = said.place
        return (Telling(kind, said.at, said.note, chamber=place.chamber, shelf=place.shelf),)
    if kind is _K.STAGED:
        return (Telling(kind, said.at, said.note, stage=said.stage),)
    return (plain,)


class MindedIn(BaseModel):
    """Who has seen a caution."""

    caution: Annotated[str, Field(max_length=200)]
    once: Once
    who: Short = ""


@router.post("/growing/batches/{number}/minded")
def minded(request: Request, number: Id, told: Annotated[MindedIn, Form()]) -> Response:
    """Keep who has seen a caution that stands around a batch."""
    desk, grown = desk_of(request), growing_of(request)

    def do() -> None:
        batches, house = grown.record.batches(), grown.standing.house
        grown.cautions.acknowledge(told.caution, told.who, VIA, batches, house)

    try:
        fresh = first_time(desk, told.once, do)
    except RefusedError as exc:
        slip = Slip({"who": told.who}, {"who": str(exc)})
        return shown(request, number, refused=Refused(told.caution, slip))
    return RedirectResponse(
        f"/growing/batches/{number}?said={'minded' if fresh else 'twice'}", 303
    )
