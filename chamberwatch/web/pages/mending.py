"""The form that puts right a deed in the log; entries about batches have a page of their own."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core import log_words
from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.action import AMOUNTS, Action, Amounts, Deed
from chamberwatch.service.amending import DeedTold
from chamberwatch.web.desk import Desk, amending_of, desk_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, marked
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.form import Field, filled
from chamberwatch.web.pages.mend_fields import MendIn, moment, number_of, times
from chamberwatch.web.pages.said import VIA
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False)


AMOUNT_LABELS: Final[Mapping[str, str]] = {
    "into_air_g": marked("Grams into the air"),
    "standing_g": marked("Grams onto walls and tray"),
    "vent_minutes": marked("Minutes open"),
}


@dataclass(frozen=True, slots=True)
class Sheet:
    """One form of this page.

    Attributes:
        address: where it is sent.
        title: of the page.
        was: what was told, in words.
        when: it was told to have happened.
        fields: to put it right.
    """

    address: str
    title: str
    was: str
    when: datetime
    fields: tuple[Field, ...]


def _shown(sheet: Sheet, figures: Figures, wrong: str = "") -> Response:
    return page(
        "amend.html",
        NOT_VALID if wrong else 200,
        title=sheet.title,
        sheet=sheet,
        when=f"{sheet.when.astimezone(figures.zone):%Y-%m-%d %H:%M}",
        wrong=figures.said(wrong),
        once=mark(),
        zone=figures.zone.key,
    )


def _answered(
    desk: Desk, told: MendIn, figures: Figures, sheet: Sheet, do: Callable[[], None]
) -> Response:
    """Do it once and lead back to the log; or show the form again, with what is wrong."""
    try:
        fresh = first_time(desk, told.once, do)
    except (RefusedError, UnknownNameError) as exc:
        return _shown(
            replace(sheet, fields=filled(sheet.fields, told.model_dump())), figures, str(exc)
        )
    said = ("withdrawn" if told.gone else "corrected") if fresh else "twice"
    day = f"{sheet.when.astimezone(figures.zone):%Y-%m-%d}"
    return RedirectResponse(f"/log?day={day}&said={said}", status_code=303)


@router.get("/log/deed/{number}")
def deed(request: Request, number: Id) -> Response:
    """Show the form for a deed."""
    figures = figures_of(request)
    return _shown(_of_deed(amending_of(request).deed(number), figures), figures)


@router.post("/log/deed/{number}")
def deed_mended(request: Request, number: Id, told: Annotated[MendIn, Form()]) -> Response:
    """Correct a deed, or withdraw it."""
    desk, amending, figures = desk_of(request), amending_of(request), figures_of(request)
    old = amending.deed(number)

    def do() -> None:
        if told.gone:
            amending.withdraw(number, told.why.strip(), VIA)
            return
        at, note = moment(told, old.at, figures.zone), told.note.strip()
        amending.correct(number, DeedTold(at, note, _amounts(old, told)), VIA)

    return _answered(desk, told, figures, _of_deed(old, figures), do)


def _of_deed(old: Action, figures: Figures) -> Sheet:
    names = [name for name in AMOUNT_LABELS if name in AMOUNTS.get(old.deed, frozenset())]
    amounts = tuple(
        Field(name, _(AMOUNT_LABELS[name]), kind="number", value=_amount(old, name, figures))
        for name in names
    )
    return Sheet(
        address=f"/log/deed/{old.id}",
        title=_("Put right what was done"),
        was=figures.said(f"{old.chamber}: {log_words.deed(old)}"),
        when=old.at,
        fields=(
            *times(old.at, figures.zone),
            *amounts,
            Field("note", _("Note"), kind="lines", value=old.note),
        ),
    )


def _value(old: Action, name: str) -> float | None:
    return old.standing_g if name == "standing_g" else old.amount


def _amount(old: Action, name: str, figures: Figures) -> str:
    value = _value(old, name)
    return "" if value is None else figures.said(f"{round(value, 1):g}")


def _amounts(old: Action, told: MendIn) -> Amounts | None:
    """Return the amounts as typed; None where they are those of before, to the last digit."""
    names: Sequence[str] = sorted(AMOUNTS.get(old.deed, frozenset()))
    said = {name: number_of(getattr(told, name), _(AMOUNT_LABELS[name])) for name in names}
    before = {name: _value(old, name) for name in names}
    shown = {n: None if v is None else round(v, 1) for n, v in before.items()}
    if said == shown:
        return None
    if old.deed is Deed.VENTED and said["vent_minutes"] == 0.0:
        raise RefusedError(_("Leave the minutes empty if you don't know how long it was open."))
    return Amounts(**{n: before[n] if said[n] == shown[n] else said[n] for n in names})
