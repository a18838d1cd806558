"""The fields of the form that puts a deed right, and what was typed into them."""

from datetime import UTC, datetime
from typing import Annotated, Final
from zoneinfo import ZoneInfo

from pydantic import BaseModel
from pydantic import Field as Holds

from chamberwatch.core.errors import RefusedError
from chamberwatch.web.language import _
from chamberwatch.web.pages.form import Field
from chamberwatch.web.pages.said import Once
from chamberwatch.web.pages.typed_numbers import number_typed

SHORT, LONG = 200, 2000
MOST: Final = 1e7
Text = Annotated[str, Holds(max_length=SHORT)]


class MendIn(BaseModel):
    """What the form sends, as it was typed; of the amounts those that the deed has."""

    once: Once
    gone: Text = ""
    why: Annotated[str, Holds(max_length=LONG)] = ""
    day: Text = ""
    clock: Text = ""
    note: Annotated[str, Holds(max_length=LONG)] = ""
    into_air_g: Text = ""
    standing_g: Text = ""
    vent_minutes: Text = ""


def times(at: datetime, zone: ZoneInfo) -> tuple[Field, Field]:
    """Return the fields for when it was."""
    local = at.astimezone(zone)
    return (
        Field("day", _("Day"), kind="date", value=f"{local:%Y-%m-%d}"),
        Field("clock", _("Time"), kind="time", value=f"{local:%H:%M}"),
    )


def moment(told: MendIn, old: datetime, zone: ZoneInfo) -> datetime | None:
    """Return when it was as typed; None: what the form said before, to the second.

    Raises:
        RefusedError: that is no time.
    """
    before = {field.name: field.value for field in times(old, zone)}
    if (told.day, told.clock) == (before["day"], before["clock"]):
        return None
    try:
        local = datetime.fromisoformat(f"{told.day.strip()}T{told.clock.strip()}")
        return local.replace(tzinfo=zone).astimezone(UTC)
    except (ValueError, OverflowError):
        raise RefusedError(_("Write the day as 2026-01-20 and the time as 18:05.")) from None


def number_of(text: str, label: str) -> float | None:
    """Read a number, None for an empty field.

    Raises:
        RefusedError: it is none.
    """
    if not text.strip():
        return None
    value = number_typed(text)
    if value is None or not 0.0 <= value <= MOST:
        raise RefusedError(
            _("%(label)s: write a number such as 2 or 2.5, or leave it empty.", label=label)
        )
    return value
