"""Looks like a misting, was it? Two buttons, and what comes of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated, Final, Literal

from fastapi import APIRouter, Form, Request, Response

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.service.books import Span
from chamberwatch.service.lookback import Shown
from chamberwatch.web import words
from chamberwatch.web.desk import Desk, desk_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _
from chamberwatch.web.pages.buttons import Button, leads_back, once_field
from chamberwatch.web.pages.said import Back, Once, answered

router = APIRouter(include_in_schema=False)

ASKED_FROM: Final = timedelta(hours=24)
"""Nobody remembers what is longer ago."""

TOLD_FROM: Final = timedelta(days=2)
"""An answer about yesterday evening still stands among what was done."""

AT_MOST: Final = 3


@dataclass(frozen=True, slots=True)
class Question:
    """One event in the record that nobody noted."""

    id: str
    text: str
    buttons: tuple[Button, ...]


def questions(desk: Desk, chamber: str, *, whole: bool) -> tuple[Question, ...]:
    """Return what to ask about a chamber's last day, newest first."""
    if desk.lookback is None:
        return ()
    now = desk.clock.now()
    span = Span(now - ASKED_FROM, now)
    asked = desk.lookback.questions(chamber, span, AT_MOST)
    return tuple(_question(desk, each, whole=whole) for each in asked)


def answered_yes(desk: Desk, chamber: str) -> Sequence[Found]:
    """Return what a chamber's grower said yes to lately, newest first."""
    if desk.lookback is None:
        return ()
    now = desk.clock.now()
    return desk.lookback.confirmed(chamber, Span(now - TOLD_FROM, now), AT_MOST)


def _question(desk: Desk, shown: Shown, *, whole: bool) -> Question:
    found = shown.found
    when = words.moment(found.start, desk.clock.now(), desk.zone)
    name = f"was-it-{found.chamber}-{found.kind}-{found.id}"
    what = _(
        "a %(kind)s at %(when)s, in %(chamber)s", kind=found.kind, when=when, chamber=found.chamber
    )

    def button(was: str, label: str, says: str) -> Button:
        fields = (
            ("chamber", found.chamber),
            ("kind", found.kind.value),
            ("number", str(found.id)),
            ("was", was),
            leads_back(found.chamber, whole=whole),
            once_field(),
        )
        return Button(f"{name}-{was}", label, says, "/was-it", fields, main=False)

    return Question(
        name,
        shown.question,
        (
            button("yes", _("Yes"), _("Yes, it was %(what)s", what=what)),
            button("no", _("No"), _("No, it was not %(what)s", what=what)),
        ),
    )


@router.post("/was-it")
def was_it(  # noqa: PLR0913, PLR0917 - one argument for each field of the form
    request: Request,
    chamber: Annotated[str, Form(max_length=200)],
    kind: Annotated[Kind, Form()],
    number: Annotated[Id, Form()],
    was: Annotated[Literal["yes", "no"], Form()],
    once: Once,
    back: Back = "",
) -> Response:
    """Keep the answer to “was it?”."""
    desk = desk_of(request)
    lookback = desk.lookback
    if lookback is None:
        raise RefusedError(_("Nobody looks back here. Ask the daemon that takes readings."))
    said = "it-was" if was == "yes" else "it-was-not"
    return answered(
        desk, once, back, said, lambda: lookback.answer(chamber, kind, number, was_it=was == "yes")
    )
