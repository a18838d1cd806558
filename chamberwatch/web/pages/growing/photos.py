"""Photos beside notes: taken in with the note, shown, and taken away."""

from datetime import datetime
from typing import Annotated, Final

from fastapi import APIRouter, Depends, File, Form, Query, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.service.growing.photos import MOST_BYTES, Developed
from chamberwatch.service.growing.told import Telling
from chamberwatch.web.desk import Desk, desk_of, growing_of, photos_of
from chamberwatch.web.gate import refuse_token
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, marked
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.growing import typed
from chamberwatch.web.pages.growing.batch import Refused, shown
from chamberwatch.web.pages.growing.dates import moment_words
from chamberwatch.web.pages.growing.deeds import check_note, refusal
from chamberwatch.web.pages.growing.typed import Long, Short, Slip
from chamberwatch.web.pages.said import VIA, Once
from chamberwatch.web.rendering import page

router = APIRouter(include_in_schema=False)

NEITHER: Final = marked("Write a note, or choose a photo, or both.")
AGAIN: Final = marked("Choose the photo again, too: a browser does not send it twice.")
A_YEAR: Final = "private, max-age=31536000, immutable"
ASK_AGAIN: Final = "private, no-cache"

Mark = Annotated[str, Query(max_length=64)]


@router.post("/growing/batches/{number}/note")
def note(  # noqa: PLR0913, PLR0917 - one argument for each field of the form
    request: Request,
    number: Id,
    once: Once,
    note: Annotated[Long, Form()] = "",
    ago: Annotated[Short, Form()] = "",
    day: Annotated[Short, Form()] = "",
    clock: Annotated[Short, Form()] = "",
    photo: Annotated[UploadFile | None, File()] = None,
) -> Response:
    """Keep a note, a photo, or both."""
    desk = desk_of(request)
    growing_of(request).record.batch(number)
    slip = Slip({"note": note, "ago": ago, "day": day, "clock": clock})
    at = typed.when(slip, desk.clock.now(), desk.zone)
    check_note(slip)
    upload = photo.file.read(MOST_BYTES + 1) if photo is not None else b""
    developed = _developed(request, upload, slip)
    if not note.strip() and not upload:
        slip.errors["note"] = _(NEITHER)
    if slip.errors:
        return _again(request, number, slip, developed)
    try:
        fresh = first_time(
            desk, once, lambda: _keep(request, number, (note.strip(), at), developed)
        )
    except (RefusedError, UnknownNameError) as exc:
        refused = refusal(EntryKind.NOTED, slip, exc)
        return _again(request, number, refused.slip, developed)
    return RedirectResponse(f"/growing/batches/{number}?said={'noted' if fresh else 'twice'}", 303)


def _developed(request: Request, upload: bytes, slip: Slip) -> Developed | None:
    """Make a picture of an upload before the forms of others have to wait for it."""
    if not upload:
        return None
    try:
        return photos_of(request).develop(upload)
    except RefusedError as exc:
        slip.errors["photo"] = str(exc)
        return None


def _keep(
    request: Request, number: int, said: tuple[str, datetime | None], developed: Developed | None
) -> None:
    words, at = said
    telling = Telling(EntryKind.NOTED, at, words)
    if developed is None:
        growing_of(request).record.tell(number, telling, VIA)
    else:
        photos_of(request).add(number, telling, developed, VIA)


def _again(request: Request, number: int, slip: Slip, developed: Developed | None) -> Response:
    if developed is not None:
        slip.errors.setdefault("photo", _(AGAIN))
    return shown(request, number, refused=Refused(EntryKind.NOTED.name.lower(), slip))


# ------------------------------------------------------------------ shown


@router.get("/growing/photos/{number}")
def photo(request: Request, number: Id, v: Mark = "") -> Response:
    """Send a photo."""
    return _jpeg(request, number, v, small=False)


@router.get("/growing/photos/{number}/small")
def small_photo(request: Request, number: Id, v: Mark = "") -> Response:
    """Send the small picture of a photo."""
    return _jpeg(request, number, v, small=True)


def _jpeg(request: Request, number: int, mark: str, *, small: bool) -> Response:
    photos = photos_of(request)
    data = photos.picture(number, small=small)
    # After a database was put back, a number may be of another picture; its mark never is.
    kept = A_YEAR if mark == photos.get(number).mark else ASK_AGAIN
    return Response(data, media_type="image/jpeg", headers={"Cache-Control": kept})


@router.get("/growing/photos/{number}/page")
def photo_page(request: Request, number: Id) -> Response:
    """Show a photo with its note, and offer to take it away."""
    desk, grown = desk_of(request), growing_of(request)
    found = photos_of(request).get(number)
    entry = grown.record.entry(found.entry)
    return page(
        "growing_photo.html",
        title=_("Photo of batch %(batch)s", batch=entry.batch),
        photo=found,
        batch=entry.batch,
        day=_day(entry.at, desk),
        note=entry.note,
        zone=desk.zone.key,
    )


def _day(at: datetime, desk: Desk) -> str:
    return moment_words(at, desk.clock.now(), desk.zone)


def _by_people(request: Request) -> None:
    """Let no token take away what nobody can bring back.

    Raises:
        ProblemError: it came with a token.
    """
    words = _("A token can't take a photo away for good. Log in on the page and do it there.")
    refuse_token(request, words)


@router.post("/growing/photos/{number}/remove", dependencies=[Depends(_by_people)])
def remove(request: Request, number: Id) -> Response:
    """Take a photo away for good; its note stays."""
    entry = photos_of(request).remove(number)
    batch = growing_of(request).record.entry(entry).batch
    return RedirectResponse(f"/growing/batches/{batch}?said=removed", 303)
