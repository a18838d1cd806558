"""Who may open the pages: passcode, this device, the calendar's address, tokens of programs."""

from typing import Annotated, Final

from fastapi import APIRouter, Path, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.service.tokens import LONGEST_NAME
from chamberwatch.web import words
from chamberwatch.web.api.tasks import feed as whole_calendar
from chamberwatch.web.calendar_address import calendar_path, new_calendar_path, opens_calendar
from chamberwatch.web.desk import desk_of
from chamberwatch.web.gate import Came, how_came, keeper_of, refuse_token
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.entering import WHO_MAY
from chamberwatch.web.pages.phone import stated_address
from chamberwatch.web.rendering import page
from chamberwatch.web.whence import from_this_machine

router = APIRouter(include_in_schema=False)

GONE: Final = 404
SAID: Final = {
    "set": marked("The passcode is set, and you are logged in on this device."),
    "token-revoked": marked("The token opens nothing from now on."),
    "token-gone": marked("There is no such token; those there are stand below."),
    "token-twice": marked(
        "This form was sent before, and made one token. If you did not "
        "keep it, revoke it and make another: it can't be shown again."
    ),
    "address": marked(
        "The calendar has a new address. The former one leads nowhere "
        "any more; subscribe to this one instead."
    ),
}


@router.get(WHO_MAY)
def who_may(request: Request, said: str = "") -> Response:
    """Say who comes in and how, and what can be done about it."""
    return who_page(request, said=_(SAID.get(said, "")))


def who_page(
    request: Request,
    *,
    said: str = "",
    token_name: str = "",
    token_wrong: str = "",
    status: int = 200,
) -> Response:
    """Write the page; a token that could not be made stands beside its field with the reason."""
    desk, came = desk_of(request), how_came(request)
    now, books = desk.clock.now(), desk.books
    tokens = [
        (token, words.moment(token.used, now, desk.zone) if token.used else "")
        for token in keeper_of(request).tokens.all()
        if token.revoked is None
    ]
    # A token that is revoked must leave nothing behind that still opens something.
    shown = desk.growing is not None and came is not Came.TOKEN
    base = desk.address or str(request.base_url).rstrip("/")
    return page(
        "access.html",
        status,
        title=_("Who may open this"),
        said=said,
        guarded=came is not Came.NEAR,
        offered=came is Came.NEAR and from_this_machine(request.scope),
        logged_in=came is Came.SESSION,
        calendar=f"{base}{calendar_path(books)}" if shown else "",
        reachable=bool(stated_address(desk)),
        tokens=tokens,
        token_name=token_name,
        token_wrong=token_wrong,
        longest=LONGEST_NAME,
        once=mark(),
    )


@router.post(f"{WHO_MAY}/calendar")
def new_address(request: Request) -> Response:
    """Give the calendar another address."""
    refuse_token(
        request,
        _(
            "A token can't give the calendar a new address. Log in on the "
            "page and do it there, or use chamberwatch calendar "
            "--new-address on the machine."
        ),
    )
    new_calendar_path(desk_of(request).books)
    return RedirectResponse(f"{WHO_MAY}?said=address#calendar", 303)


@router.get("/calendar/{secret}.ics")
def feed(request: Request, secret: Annotated[str, Path(max_length=200)]) -> Response:
    """Give the calendar to whoever has its address."""
    desk = desk_of(request)
    if not opens_calendar(desk.books, secret):
        return page(
            "error.html",
            GONE,
            title=_("The calendar is not here"),
            detail=_(
                "Its address was changed, or a part of it was cut off. The one "
                "that holds today stands on the page %(who_may)s.",
                who_may=WHO_MAY,
            ),
        )
    return whole_calendar(request)
