"""Tokens as pages: made, shown once, revoked. For who is logged in alone."""

import logging
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.service.tokens import LONGEST_NAME
from chamberwatch.web.desk import desk_of
from chamberwatch.web.gate import Came, how_came, keeper_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, marked
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.entering import WHO_MAY
from chamberwatch.web.pages.said import Once
from chamberwatch.web.pages.who_may import who_page
from chamberwatch.web.problems import ProblemError
from chamberwatch.web.rendering import NOT_VALID, page

log = logging.getLogger(__name__)

router = APIRouter(include_in_schema=False)

ONLY_LOGGED_IN: Final = marked(
    "Only who is logged in makes and revokes tokens on the page. On "
    "the machine itself chamberwatch token does the same."
)


def _logged_in(request: Request) -> None:
    """Let nobody else pass: while no passcode is set no token is needed, and none makes another.

    Raises:
        ProblemError: somebody else asks.
    """
    if how_came(request) is not Came.SESSION:
        raise ProblemError(403, "refused", _(ONLY_LOGGED_IN))


@router.post(f"{WHO_MAY}/tokens")
def made(
    request: Request,
    once: Once,
    name: Annotated[str, Form(max_length=4 * LONGEST_NAME)] = "",
) -> Response:
    """Make a token and show it this once: it stands in no address and is kept nowhere."""
    _logged_in(request)
    tokens, found = keeper_of(request).tokens, []
    try:
        fresh = first_time(desk_of(request), once, lambda: found.append(tokens.make(name)))
    except RefusedError as error:
        return who_page(request, token_name=name, token_wrong=str(error), status=NOT_VALID)
    if not fresh:
        return RedirectResponse(f"{WHO_MAY}?said=token-twice#programs", 303)
    token, secret = found[0]
    log.info("The token %d (%s) was made on the page.", token.id, token.name)
    return page("token.html", title=_("A new token"), token=token, secret=secret)


@router.post(f"{WHO_MAY}/tokens/{{number}}/revoke")
def revoked(request: Request, number: Id) -> Response:
    """Let a token open nothing from now on."""
    _logged_in(request)
    try:
        token = keeper_of(request).tokens.revoke(number)
    except UnknownNameError:
        return RedirectResponse(f"{WHO_MAY}?said=token-gone#programs", 303)
    log.info("The token %d (%s) was revoked on the page.", token.id, token.name)
    return RedirectResponse(f"{WHO_MAY}?said=token-revoked#programs", 303)
