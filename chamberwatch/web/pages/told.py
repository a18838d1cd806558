"""Who is told, on the health page: how each address can be reached, and a test message."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import quote

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.watch.reminder import Priority
from chamberwatch.service.views import AddressNow
from chamberwatch.web import words
from chamberwatch.web.desk import Desk, addresses_of, desk_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.said import Once

router = APIRouter(include_in_schema=False)

PRINTED: Final = "terminal"
"""The address that is a line of print where chamberwatch runs, and no phone."""
ON_PAPER: Final = marked("It is printed where chamberwatch runs; no phone hears it. ")


@dataclass(frozen=True, slots=True)
class Line:
    """One address as the page shows it. `once` is the mark of its form."""

    name: str
    standing: str
    failure: str
    failing: bool
    carries: str
    once: str


def lines(desk: Desk) -> list[Line]:
    """Return every address."""
    if desk.addresses is None:
        return []
    return [_line(desk, address) for address in desk.addresses.all()]


def _line(desk: Desk, address: AddressNow) -> Line:
    now = desk.clock.now()
    went = (
        _("last message %(went)s", went=words.moment(address.went, now, desk.zone))
        if address.went
        else ""
    )
    failing = address.failing_since is not None
    return Line(
        name=address.name,
        standing=_("not reached") if failing else went or _("nothing sent yet"),
        failure=_failure(desk, address),
        failing=failing,
        carries=f"{_(ON_PAPER) if address.name == PRINTED else ''}{_carries(address)}"
        f"{_hears(desk, address)}",
        once=mark(),
    )


def _failure(desk: Desk, address: AddressNow) -> str:
    now = desk.clock.now()
    if address.failed is None:
        return ""
    reason = f"{address.reason[:1].upper()}{address.reason[1:]}."
    if address.failing_since is None:
        return _(
            "It last failed %(failed)s. %(reason)s",
            failed=words.moment(address.failed, now, desk.zone),
            reason=reason,
        )
    since = words.moment(address.failing_since, now, desk.zone)
    waiting = _(" %(waiting)s waiting.", waiting=address.waiting) if address.waiting else ""
    last = words.moment(address.failed, now, desk.zone)
    tries = (
        _("Since %(since)s", since=since)
        if since == last
        else _("Since %(since)s, last tried %(last)s", since=since, last=last)
    )
    return f"{tries}. {reason}{waiting}"


def _hears(desk: Desk, address: AddressNow) -> str:
    """Say what doesn't go there, so that nobody wonders why nothing has come."""
    said = {
        Priority.LOW: "",
        Priority.MEDIUM: _(" Nothing of low priority goes there."),
        Priority.HIGH: _(" Only high priority goes there."),
    }[address.least]
    if address.away_until is not None:
        back = words.moment(address.away_until, desk.clock.now(), desk.zone)
        said += _(" Away until %(back)s: nothing goes there, unless everybody is away.", back=back)
    return said


def _carries(address: AddressNow) -> str:
    match address.links, address.pictures:
        case True, True:
            return _("Messages carry links and pictures.")
        case True, False:
            return _("Messages carry links, and no pictures.")
        case False, True:
            return _(
                "Messages carry pictures, but no links: no address is stated under which a phone "
                "comes here."
            )
        case _:
            return _(
                "Messages carry neither pictures nor links: no address is stated under which a "
                "phone comes here."
            )


@router.post("/tried")
def tried(
    request: Request,
    address: Annotated[str, Form(max_length=200)],
    once: Once,
    back: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Send a test message, and lead back to how it went."""
    desk = desk_of(request)
    # Only the mark is kept under the lock of all forms: a service may take its time.
    if first_time(desk, once, lambda: None):
        addresses_of(desk).send(address)
    place = "/set-up/telling" if back == "telling" else "/health"
    return RedirectResponse(f"{place}?tried={quote(address, safe='')}", status_code=303)


def answer(desk: Desk, query: Mapping[str, str]) -> str:
    """Say how the test message went that was just sent; empty where none was."""
    name = query.get("tried")
    known = desk.addresses.all() if name and desk.addresses is not None else ()
    for address in known:
        if address.name == name:
            return _how(address)
    return ""


def _how(address: AddressNow) -> str:
    if address.failing_since is None:
        return _(
            "The test message to %(address)s went out. Look whether it came.", address=address.name
        )
    return _(
        "The test message to %(address)s did not go out: %(reason)s.",
        address=address.name,
        reason=address.reason,
    )
