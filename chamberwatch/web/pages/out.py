"""Taking a reminder out of service from the page, with who, why and until when."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Annotated, Final
from urllib.parse import quote
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Query, Request, Response

from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.watch.reminder import Reminder, State
from chamberwatch.service.out_of_service import WHO_CHARS, WHY_CHARS, Reason
from chamberwatch.web import words
from chamberwatch.web.desk import desk_of, serving_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, chosen_from, marked
from chamberwatch.web.pages.buttons import once_field
from chamberwatch.web.pages.said import VIA, Back, Once, answered
from chamberwatch.web.rendering import page

router = APIRouter(include_in_schema=False)

FOR_DAYS: Final = (
    ("1", marked("for a day")),
    ("7", marked("for a week")),
    ("30", marked("for 30 days")),
)
"""How long, as the form offers it; empty: until somebody puts it back."""

TILL_PUT_BACK: Final = ("", marked("until somebody puts it back"))


@dataclass(frozen=True, slots=True)
class Serving:
    """Where a reminder is taken out of service, or put back: a page of its own."""

    label: str
    says: str
    address: str


def serving(reminder: Reminder, title: str, *, whole: bool) -> Serving:
    """Return where to take a reminder out of service, or to put it back."""
    out = reminder.state is State.OUT_OF_SERVICE
    label = _("Put back in service") if out else _("Take out of service")
    back = "" if whole else f"?back={quote(reminder.chamber, safe='')}"
    return Serving(label, f"{label}: {title}", f"/reminders/{reminder.id}/service{back}")


def out_words(reminder: Reminder, now: datetime, zone: ZoneInfo) -> str:
    """Say that a reminder is out of service: until when, by whom, why."""
    until = (
        _(" until %(when)s", when=words.moment(reminder.out_until, now, zone))
        if reminder.out_until
        else ""
    )
    by = f", {reminder.out_by}" if reminder.out_by else ""
    why = f": {reminder.out_why}" if reminder.out_why else ""
    return _("out of service%(until)s%(by)s%(why)s", until=until, by=by, why=why)


@router.get("/reminders/{number}/service")
def form(
    request: Request, number: Id, back: Annotated[str, Query(max_length=200)] = ""
) -> Response:
    """Show the form."""
    desk = desk_of(request)
    serving_of(request)
    shown = next((r for r in desk.history.reminders(None) if r.reminder.id == number), None)
    if shown is None:
        raise UnknownNameError(_("There is no reminder %(number)s.", number=number))
    out = shown.reminder.state is State.OUT_OF_SERVICE
    return page(
        "service.html",
        title=(_("Put back in service") if out else _("Take out of service")),
        shown=shown,
        out=out_words(shown.reminder, desk.clock.now(), desk.zone) if out else "",
        target="/in-service" if out else "/out-of-service",
        lengths=chosen_from((*FOR_DAYS, TILL_PUT_BACK)),
        fields=(("number", str(number)), ("back", back), once_field()),
        leads=f"/chamber/{quote(back, safe='')}" if back else "/",
    )


@router.post("/out-of-service")
def take_out(  # noqa: PLR0913, PLR0917 - one argument for each field of the form
    request: Request,
    number: Annotated[Id, Form()],
    why: Annotated[str, Form(max_length=WHY_CHARS)],
    who: Annotated[str, Form(max_length=WHO_CHARS)],
    once: Once,
    back: Back = "",
    days: Annotated[str, Form(max_length=4)] = "",
) -> Response:
    """Take a reminder out of service."""
    desk, out = desk_of(request), serving_of(request)
    known = {length for length, __ in FOR_DAYS}
    until = desk.clock.now() + timedelta(days=int(days)) if days in known else None
    reason = Reason(why, who, until)
    return answered(desk, once, back, "out", lambda: out.take_out(number, reason, VIA))


@router.post("/in-service")
def put_back(
    request: Request,
    number: Annotated[Id, Form()],
    who: Annotated[str, Form(max_length=WHO_CHARS)],
    once: Once,
    back: Back = "",
) -> Response:
    """Put a reminder back in service."""
    out = serving_of(request)
    return answered(desk_of(request), once, back, "in", lambda: out.put_back(number, who, VIA))
