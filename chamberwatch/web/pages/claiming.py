"""Whose is it? The form that makes a sensor of a topic that nobody claims."""

import logging
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Form, Query, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.errors import RefusedError, SettingsError
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.guess import Guess, hangs_in, named_after
from chamberwatch.service.claiming import Claiming, Unclaimed, Wish
from chamberwatch.service.listening import Heard
from chamberwatch.web.desk import claiming_of, desk_of
from chamberwatch.web.figures import figures_of
from chamberwatch.web.gate import by_people
from chamberwatch.web.language import _
from chamberwatch.web.once import first_time
from chamberwatch.web.pages import claim_form as form
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.claim_form import Checked, ClaimIn
from chamberwatch.web.pages.faults import WHOLE, cures
from chamberwatch.web.pages.sensors import CLAIM, SENSORS, shown_payload
from chamberwatch.web.rendering import NOT_VALID, page

log = logging.getLogger(__name__)

router = APIRouter(include_in_schema=False, dependencies=[Depends(by_people)])

FIELDS: Final = {"name": "name", "chamber": "where", "place": "where", "accuracy": "accuracy"}
"""The field of the form in which a key of the settings is asked for."""

Topic = Annotated[str, Query(min_length=1, max_length=450)]


@router.get(CLAIM)
def ask(request: Request, topic: Topic) -> Response:
    """Ask whose a topic is, with what its newest message says."""
    claiming = claiming_of(request)
    found = claiming.find(topic)
    if (owner := claiming.claimed_by(topic)) is not None:
        return _not_asked(
            topic, _("The sensor “%(owner)s” reads this topic already.", owner=owner)
        )
    if found is None:
        return _not_asked(topic, "", waiting=True)
    if found.guess.why:
        why = _("Nothing of its newest message can be used: %(why)s", why=found.guess.why)
        return _not_asked(topic, why, payload=shown_payload(found.heard))
    return _asking(request, _begun(request, found), Checked(), found.guess, found.heard)


def _begun(request: Request, found: Unclaimed) -> ClaimIn:
    """Return the form with what the message and its topic propose."""
    chambers = list(desk_of(request).history.chambers())
    hangs = hangs_in(found.heard.topic, chambers)
    if hangs is None and len(chambers) == 1:
        hangs = chambers[0].name, "air"
    return ClaimIn(
        once=mark(),
        topic=found.heard.topic,
        message=found.heard.payload.decode("utf-8-sig"),
        name=named_after(found.heard.topic, claiming_of(request).topics()),
        where="/".join(hangs) if hangs else "",
        time="own" if found.guess.time_at else "",
    )


@router.post(CLAIM)
def told(request: Request, told: Annotated[ClaimIn, Form()]) -> Response:
    """Make the sensor, or show what it would read and what is to be mended."""
    claiming, heard = claiming_of(request), _as_heard(request, told)
    guess, checked = claiming.guess(heard), Checked()

    def take() -> None:
        nonlocal checked
        # Within its turn: of two taps the second would else find its own name and topic taken.
        checked = form.check(told, guess, _chambers(request), claiming)
        if checked.wish is not None and not checked.errors:
            checked.errors = _claimed(claiming, checked.wish)
        if checked.wish is None or checked.errors:
            raise _NotTakenError

    if told.doing == "try":
        checked = form.check(told, guess, _chambers(request), claiming)
        # Who only tries has perhaps not come to the other fields yet.
        checked.errors = {k: v for k, v in checked.errors.items() if k.startswith("what") or not k}
        return _asking(request, told, checked, guess, heard)
    try:
        first_time(desk_of(request), told.once, take)
    except _NotTakenError:
        return _asking(request, told, checked, guess, heard)
    return RedirectResponse(f"{SENSORS}?said=claimed", 303)


class _NotTakenError(Exception):
    """Nothing was taken; the form says why, and may be sent again with the same mark."""


def _claimed(claiming: Claiming, wish: Wish) -> dict[str, str]:
    """Put it into the settings; return what speaks against it, by field."""
    try:
        claiming.claim(wish)
    except (SettingsError, RefusedError) as error:
        return _by_field(error, wish.name)
    log.info("The sensor %s was claimed on the page, for %s.", wish.name, wish.topic)
    return {}


def _by_field(error: SettingsError | RefusedError, name: str) -> dict[str, str]:
    """Return the cures by the field they belong to; what belongs to none stands at the head."""
    found: dict[str, str] = {}
    for key, cure in cures(error, "sensor", name).items():
        where = FIELDS.get(key, WHOLE)
        found[where] = f"{found[where]} {cure}" if where in found else cure
    return found


def _as_heard(request: Request, told: ClaimIn) -> Heard:
    """Return the message the form was made from: a newer one may look different."""
    now, payload = desk_of(request).clock.now(), told.message.encode("utf-8", "replace")
    return Heard(told.topic, payload, len(payload), 1, now, now, True, None)


def _chambers(request: Request) -> list[Chamber]:
    return list(desk_of(request).history.chambers())


def _asking(
    request: Request, told: ClaimIn, checked: Checked, guess: Guess, heard: Heard
) -> Response:
    claiming, figures, chambers = claiming_of(request), figures_of(request), _chambers(request)
    errors = checked.errors
    asked = form.asked(guess, told, figures, errors)
    if not told.at:  # the first time: what is proposed
        told.at = [each.at for each in asked]
        told.what = [next(o.value for o in each.options if o.chosen) for each in asked]
        checked = form.check(told, guess, chambers, claiming)
    would = claiming.would_read(checked.wish, heard.payload, heard.last) if checked.wish else None
    return page(
        "claim.html",
        NOT_VALID if errors else 200,
        title=_("Whose is it?"),
        told=told,
        errors=errors,
        asked=asked,
        left_out=form.left_out(guess, figures),
        payload=shown_payload(heard),
        places=form.places(chambers, told.where),
        somewhere=bool(told.where),
        classes=form.classes(told.accuracy, figures),
        time_at=guess.time_at,
        time_why=figures.said(guess.time_why),
        reads=form.would_words(would, figures) if would else "",
        reasons=[figures.said(reason) for reason in would.reasons] if would else [],
        saving=CLAIM,
    )


def _not_asked(topic: str, why: str, *, payload: str = "", waiting: bool = False) -> Response:
    return page(
        "claim_not.html",
        title=_("Whose is it?"),
        topic=topic,
        why=why,
        payload=payload,
        waiting=waiting,
    )
