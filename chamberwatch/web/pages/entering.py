"""Logging in and out, and the first passcode of all."""

import logging
import math
import re
from dataclasses import dataclass
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse
from pydantic import BaseModel, Field

from chamberwatch.core.errors import RefusedError
from chamberwatch.service.admission import (
    LONGEST,
    SHORTEST,
    TooSoonError,
    UnreadableHashError,
    WrongPasscodeError,
    tidied,
)
from chamberwatch.service.guessing import FREE
from chamberwatch.web.desk import desk_of
from chamberwatch.web.gate import ENTER, LEAVE, Came, how_came, keeper_of, refuse_token
from chamberwatch.web.language import _, marked, ngettext
from chamberwatch.web.rendering import page
from chamberwatch.web.sessions import give, take_back
from chamberwatch.web.whence import from_this_machine, over_tls

log = logging.getLogger(__name__)

router = APIRouter(include_in_schema=False)

PASSCODE: Final = "/passcode"
WHO_MAY: Final = "/access"
WRONG, NOT_VALID, TOO_SOON, NOT_HERE, UNREADABLE = 403, 422, 429, 403, 503
LONGEST_NEXT: Final = 500
A_MINUTE_S: Final = 60

WHY: Final = {
    "lost": marked(
        "You were not logged in any more, so what you sent was not "
        "taken. Log in, look how things are, and send it again."
    ),
    "out": marked("You are logged out on this device."),
    "everywhere": marked("Everybody is logged out, on every device."),
}

# Longer than any passcode, so that one too long is told so beside its field.
Typed = Annotated[str, Field(max_length=2 * LONGEST)]


class EnterIn(BaseModel):
    """The form to log in."""

    passcode: Typed = ""
    then: Annotated[str, Field(max_length=2000)] = "/"


class FirstIn(BaseModel):
    """The form for the first passcode."""

    passcode: Typed = ""
    again: Typed = ""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why nobody was let in: status, words, and after how many seconds to try again."""

    status: int
    words: str
    wait_s: int = 0


def led_to(address: str) -> str:
    """Return where to go after logging in: a page of ours, never another site.

    Browsers read a backslash as a slash and leave out line breaks, so neither passes.
    """
    ours = re.fullmatch(r"/(?![/\\])[!-\[\]-~]*", address) is not None
    leads_round = address.partition("?")[0] in (ENTER, LEAVE)
    return address if ours and not leads_round and len(address) <= LONGEST_NEXT else "/"


# ------------------------------------------------------------------ in


@router.get(ENTER)
def enter(request: Request, then: str = "/", why: str = "") -> Response:
    """Ask for the passcode; who needs none is led on."""
    if keeper_of(request).came(request.scope) is not Came.NOBODY:
        return RedirectResponse(led_to(then), 303)
    return _asking(then, said=_(WHY.get(why, "")))


@router.post(ENTER)
def entered(request: Request, told: Annotated[EnterIn, Form()]) -> Response:
    """Let in who knows the passcode."""
    keeper, host = keeper_of(request), request.client.host if request.client else ""
    if keeper.admission.mark() is None:
        return RedirectResponse(led_to(told.then), 303)
    try:
        mark = keeper.admission.let_in(told.passcode, host)
    except TooSoonError as exc:
        return _asking(told.then, refused=_too_soon(exc))
    except WrongPasscodeError as exc:
        log.warning("A wrong passcode from %s, %d in a row.", host or "somewhere", exc.wrong)
        return _asking(told.then, refused=Refusal(WRONG, _wrong_words(exc)))
    except UnreadableHashError as exc:
        log.error("%s", exc)  # noqa: TRY400 - the words say all
        return _asking(told.then, refused=Refusal(UNREADABLE, str(exc)))
    return _welcomed(request, mark, led_to(told.then))


def _wrong_words(exc: WrongPasscodeError) -> str:
    words = _("That is not the passcode. Look at capital letters and try again.")
    return (
        _("%(words)s Each further miss takes a longer wait.", words=words)
        if exc.wrong >= FREE
        else words
    )


def _too_soon(exc: TooSoonError) -> Refusal:
    wait_s = math.ceil(exc.wait_s)
    minutes = math.ceil(wait_s / A_MINUTE_S)
    if wait_s > A_MINUTE_S:
        span = ngettext("%(num)s minute", "%(num)s minutes", minutes)
    else:
        span = ngettext("a second", "%(num)s seconds", wait_s)
    return Refusal(
        TOO_SOON,
        _(
            "Too many wrong passcodes were tried. This one was not looked "
            "at; try again in %(span)s.",
            span=span,
        ),
        wait_s,
    )


def _asking(then: str, *, said: str = "", refused: Refusal | None = None) -> Response:
    answer = page(
        "enter.html",
        refused.status if refused else 200,
        title=_("Log in"),
        then=led_to(then),
        said=said,
        wrong=refused.words if refused else "",
        most=2 * LONGEST,
    )
    if refused and refused.wait_s:
        answer.headers["Retry-After"] = str(refused.wait_s)
    return answer


def _welcomed(request: Request, mark: str, place: str) -> Response:
    desk = desk_of(request)
    answer = RedirectResponse(place, 303)
    cookie = keeper_of(request).sessions.issued(mark, desk.clock.now())
    give(answer, cookie, secure=over_tls(request.scope, desk.address))
    return answer


# ------------------------------------------------------------------ out


@router.post(LEAVE)
def leave(request: Request, everywhere: Annotated[bool, Form()] = False) -> Response:
    """Log out here, or on every device."""
    if everywhere:
        refuse_token(
            request, _("A token can't log others out. Log in on the page and do it there.")
        )
        keeper_of(request).admission.end_sessions()
    answer = RedirectResponse(f"{ENTER}?why={'everywhere' if everywhere else 'out'}", 303)
    take_back(answer)
    return answer


# ------------------------------------------------------------------ the first passcode


@router.get(PASSCODE)
def first_passcode(request: Request) -> Response:
    """Offer to set the passcode, to who sits at this machine and while there is none."""
    return _not_here(request) or _first_asked()


@router.post(PASSCODE)
def first_chosen(request: Request, told: Annotated[FirstIn, Form()]) -> Response:
    """Set the passcode, and log in who set it."""
    if refused := _not_here(request):
        return refused
    if tidied(told.passcode) != tidied(told.again):
        return _first_asked(_("The two are not the same; type both again."))
    try:
        mark = keeper_of(request).admission.choose_first(told.passcode)
    except RefusedError as exc:
        return _first_asked(str(exc))
    log.info("A passcode was set on the page.")
    return _welcomed(request, mark, f"{WHO_MAY}?said=set")


def _not_here(request: Request) -> Response | None:
    if how_came(request) is not Came.NEAR:
        return RedirectResponse(WHO_MAY, 303)
    if from_this_machine(request.scope):
        return None
    return page(
        "error.html",
        NOT_HERE,
        title=_("Not from here"),
        detail=_(
            "The first passcode is set on the machine itself: open http://localhost there, or "
            "use the command chamberwatch passcode."
        ),
    )


def _first_asked(wrong: str = "") -> Response:
    return page(
        "passcode.html",
        NOT_VALID if wrong else 200,
        title=_("Set a passcode"),
        wrong=wrong,
        least=SHORTEST,
        most=2 * LONGEST,
    )
