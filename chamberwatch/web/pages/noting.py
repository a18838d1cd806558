"""The form for a deed with an amount or a note, or one of some time ago."""

import math
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Annotated, Final
from urllib.parse import quote

from fastapi import APIRouter, Form, Request, Response
from pydantic import BaseModel, Field

from chamberwatch.core.watch.action import (
    Amounts,
    Deed,
    most_into_air_g,
    too_much_words,
)
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.web.desk import chamber_named, desk_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.said import LONGEST_AGO_MIN, VIA, Once, answered
from chamberwatch.web.pages.typed_numbers import number_typed
from chamberwatch.web.rendering import NOT_VALID, page
from chamberwatch.web.trade_words import deed_name

router = APIRouter(include_in_schema=False)


OF_BATCHES: Final = frozenset({Deed.OPENED, Deed.HARVESTED, Deed.MOVED, Deed.SOAKED})
"""What is told of a batch, so that its band and its dues follow, is not offered here."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A field for a number.

    Attributes:
        name: of the field.
        label: in words, with the unit.
        unit: in words, plural.
        most: largest number that can be right.
        only: the deed it belongs to; None: any.
        beyond: what is said of more than that; empty: the limits are named.
        text: what was typed.
        error: what is wrong with it; empty while nothing is.
    """

    name: str
    label: str
    unit: str
    most: float
    only: Deed | None
    beyond: str = ""
    text: str = ""
    error: str = ""


EITHER: Final = marked("Give grams or squeezes, not both: empty one of them.")


def _ago(text: str = "0") -> Asked:
    label = _("How many minutes ago")
    return Asked("minutes_ago", label, _("minutes"), LONGEST_AGO_MIN, None, text=text)


def amount_fields(chamber: Chamber) -> tuple[Asked, ...]:
    """Return the fields for how much it was; grams into the air may be told in squeezes."""
    most_g, beyond = most_into_air_g(chamber.volume_l), too_much_words(chamber.squeeze_g)
    squeezes = _(
        "Misted: squeezes into the air (one is about %(grams)s g)",
        grams=f"{chamber.squeeze_g:g}",
    )
    return (
        Asked(
            "into_air_g", _("Misted: grams into the air"), _("grams"), most_g, Deed.MISTED, beyond
        ),
        Asked(
            "squeezes", squeezes, _("squeezes"), most_g / chamber.squeeze_g, Deed.MISTED, beyond
        ),
        Asked(
            "standing_g", _("Misted: grams onto walls and tray"), _("grams"), 50000, Deed.MISTED
        ),
        Asked("vent_minutes", _("Vented: minutes open"), _("minutes"), 1440, Deed.VENTED),
    )


Typed = Annotated[str, Field(max_length=40)]


class NoteIn(BaseModel):
    """The form as it is sent; numbers as they were typed, so that a wrong one can be shown."""

    kind: Deed
    once: Once
    note: Annotated[str, Field(max_length=2000)] = ""
    minutes_ago: Typed = "0"
    into_air_g: Typed = ""
    squeezes: Typed = ""
    standing_g: Typed = ""
    vent_minutes: Typed = ""


@router.get("/chamber/{name}/note")
def note(request: Request, name: str) -> Response:
    """Show the form."""
    chamber = chamber_named(desk_of(request), name)
    return _form(chamber, NoteIn(kind=Deed.NOTED, once=mark()), _ago(), amount_fields(chamber))


@router.post("/chamber/{name}/note")
def noted(request: Request, name: str, told: Annotated[NoteIn, Form()]) -> Response:
    """Record a deed, or show the form again with what is wrong beside its field."""
    desk = desk_of(request)
    chamber = chamber_named(desk, name)
    ago = _checked(_ago(told.minutes_ago), told.kind)
    asked = amount_fields(chamber)
    fields = [_checked(replace(f, text=getattr(told, f.name)), told.kind) for f in asked]
    if told.into_air_g.strip() and told.squeezes.strip():
        fields = [
            replace(f, error=f.error or _(EITHER)) if f.name == "squeezes" else f for f in fields
        ]
    if any(field.error for field in (ago, *fields)):
        return _form(chamber, told, ago, fields)
    minutes = number(ago.text) or 0.0
    at = desk.clock.now() - timedelta(minutes=minutes) if minutes else None
    amounts = _amounts(chamber, {field.name: number(field.text) for field in fields})
    return answered(
        desk,
        told.once,
        name,
        "noted",
        lambda: desk.logbook.act(name, told.kind, at, told.note.strip(), VIA, amounts),
    )


def _amounts(chamber: Chamber, said: dict[str, float | None]) -> Amounts | None:
    squeezes = said["squeezes"]
    sprayed_g = said["into_air_g"] if squeezes is None else squeezes * chamber.squeeze_g
    amounts = Amounts(sprayed_g, said["standing_g"], said["vent_minutes"])
    return amounts if amounts.given() else None


def number(text: str) -> float | None:
    """Read a number, None for an empty field.

    Raises:
        ValueError: it is none.
    """
    if not text.strip():
        return None
    value = number_typed(text)
    if value is None:
        raise ValueError(f"no number: {text}")
    return value


def _checked(field: Asked, deed: Deed) -> Asked:
    """Return a field with what is wrong with it, if anything."""
    try:
        value = number(field.text)
    except ValueError:
        value = math.nan
    if value is None:
        return field
    if field.only not in (None, deed):
        error = _(
            "Something %(deed)s has no such amount: empty this, or choose “%(only)s” above.",
            deed=deed,
            only=field.only,
        )
    elif field.beyond and field.most < value < math.inf:
        error = field.beyond
    elif not 0.0 <= value <= field.most:
        error = _(
            "Write %(unit)s as a number from 0 to %(most)s, such as 2 or 2.5.",
            unit=field.unit,
            most=f"{field.most:g}",
        )
    elif field.only is Deed.VENTED and value == 0.0:
        error = _("Leave this empty if you don't know how long it was open.")
    else:
        error = ""
    return replace(field, error=error)


def _form(
    chamber: Chamber, told: NoteIn, ago: Asked, fields: list[Asked] | tuple[Asked, ...]
) -> Response:
    wrong = any(field.error for field in (ago, *fields))
    return page(
        "note.html",
        NOT_VALID if wrong else 200,
        title=_("Note something: %(chamber)s", chamber=chamber.title),
        chamber=chamber,
        address=f"/chamber/{quote(chamber.name, safe='')}",
        kinds=[(deed.value, deed_name(deed)) for deed in Deed if deed not in OF_BATCHES],
        told=told,
        ago=ago,
        fields=fields,
        wrong=wrong,
    )
