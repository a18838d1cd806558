"""What is typed into the forms about batches: times, weights, places. Nothing typed gets lost.

A `Slip` reads one field after the other and keeps what is wrong with each, so that a form can
come back with the cure beside the field.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Annotated, Final, TypeVar
from urllib.parse import quote, unquote
from zoneinfo import ZoneInfo

from pydantic import Field

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.weights import grams
from chamberwatch.core.shown_in import ShownIn, WeightUnit
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.told import on_day
from chamberwatch.web.language import _
from chamberwatch.web.pages.typed_numbers import number_typed, whole_typed

T = TypeVar("T")

Short = Annotated[str, Field(max_length=200)]
Long = Annotated[str, Field(max_length=4000)]
"""Longer than a note may be, so that one too long comes back with the cure."""

OUTDOORS: Final = "/"
MOST_AGO_MIN: Final = 7 * 24 * 60
MOST_WEIGHINGS: Final = 12
MOST_COUNTED: Final = 99_999

_BARE: Final = re.compile(r"\d+(?:[.,]\d+)?", re.ASCII)
_BETWEEN: Final = re.compile(r"[+;\n]")


@dataclass(slots=True)
class Slip:
    """What was typed, by field, and what is wrong with it."""

    typed: Mapping[str, str]
    errors: dict[str, str] = field(default_factory=dict)

    def read(self, name: str, how: Callable[[str], T]) -> T | None:
        """Read a field; None where it is empty or wrong, and then it is kept what is."""
        text = self.typed.get(name, "").strip()
        if not text:
            return None
        try:
            return how(text)
        except (RefusedError, UnknownNameError) as exc:
            self.errors[name] = str(exc)
            return None


# What the record names otherwise than the forms do.
_FIELDS: Final = {"wet_g": "wet", "dry_g": "dry", "moisture_pct": "moisture"}


def field_of(exc: Exception) -> str:
    """Return the field that a refusal is about; empty: it names none."""
    name = exc.field if isinstance(exc, RefusedError) else ""
    return _FIELDS.get(name, name)


# ------------------------------------------------------------------ when


def when(slip: Slip, now: datetime, zone: ZoneInfo) -> datetime | None:
    """Return when it happened; None: just now, or something is wrong with it."""
    minutes = slip.read("ago", _minutes)
    day = slip.read("day", _day)
    clock = slip.read("clock", _clock)
    if minutes is not None and day is not None:
        slip.errors["ago"] = _("Give minutes or a day, not both: empty one of them.")
        return None
    if clock is not None and day is None:
        slip.errors.setdefault("day", _("Give the day too; or empty the time of day."))
        return None
    if minutes:
        return now - timedelta(minutes=minutes)
    return None if day is None else slip.read("day", lambda _: moment(day, clock, now, zone))


def moment(day: date, clock: time | None, now: datetime, zone: ZoneInfo) -> datetime:
    """Return a time told by the clocks of the site; without one the noon of that day.

    Raises:
        RefusedError: the clocks skipped it.
    """
    if clock is None:
        return on_day(day, now, zone)
    local = datetime.combine(day, clock, zone)
    utc = local.astimezone(UTC)
    if utc.astimezone(zone).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise RefusedError(
            _(
                "There was no %(clock)s on that day: the clocks were put "
                "forward. Give a time an hour earlier or later.",
                clock=f"{clock:%H:%M}",
            )
        )
    return utc


def _minutes(text: str) -> int:
    minutes = whole_typed(text)
    if minutes is None or minutes > MOST_AGO_MIN:
        raise RefusedError(
            _(
                "Write whole minutes from 0 to %(most)s, such as 45; for longer ago give a day.",
                most=MOST_AGO_MIN,
            )
        )
    return minutes


def _day(text: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise RefusedError(_("Write the day as year-month-day, such as 2026-01-20.")) from None
    if not 1970 <= found.year <= 2200:
        raise RefusedError(_("Look at the year."))
    return found


def _clock(text: str) -> time:
    try:
        found = time.fromisoformat(text)
    except ValueError:
        raise RefusedError(_("Write the time of day as hours:minutes, such as 18:30.")) from None
    return found.replace(tzinfo=None)


# ------------------------------------------------------------------ how much


def weight(text: str, liked: WeightUnit) -> float:
    """Return a weight; a bare number is in the unit that the grower likes. [g].

    Raises:
        RefusedError: it can't be read.
    """
    return grams(f"{text} {liked}" if _BARE.fullmatch(text) else text)


def plain_weight(weight_g: float | None, shown_in: ShownIn) -> str:
    """Write a weight so that the same is read of it: in the liked unit, with a point."""
    if weight_g is None:
        return ""
    plain = f"{shown_in.weight_of(weight_g):.1f}".removesuffix(".0")
    return f"{plain} {shown_in.weight}"


def weights(text: str, liked: WeightUnit) -> tuple[float, ...]:
    """Return several weighings, written with a plus between them. [g].

    Raises:
        RefusedError: one can't be read, or there are too many.
    """
    parts = [part.strip() for part in _BETWEEN.split(text) if part.strip()]
    if not 0 < len(parts) <= MOST_WEIGHINGS:
        raise RefusedError(
            _(
                "Give up to %(most)s weighings with a plus between them, such as 210 + 180.",
                most=MOST_WEIGHINGS,
            )
        )
    return tuple(weight(part, liked) for part in parts)


def count(text: str) -> int:
    """Return how many.

    Raises:
        RefusedError: it is no whole number that could be right.
    """
    many = whole_typed(text)
    if many is None or many > MOST_COUNTED:
        raise RefusedError(_("Write how many as a whole number, such as 2."))
    return many


def share(text: str) -> float:
    """Return a share in percent.

    Raises:
        RefusedError: it is no number.
    """
    value = number_typed(text.removesuffix("%"))
    if value is None or value < 0.0:
        raise RefusedError(_("Write the moisture in percent, such as 65."))
    return value


# ------------------------------------------------------------------ where


def place_value(place: Place) -> str:
    """Return what stands for a place in a form."""
    if place.chamber is None:
        return OUTDOORS
    return f"{quote(place.chamber, safe='')}/{quote(place.shelf or '', safe='')}"


def place(text: str) -> Place:
    """Return the place that a form names; whether there is one is for the record to say."""
    chamber, _, shelf = text.partition("/")
    return Place(unquote(chamber) or None, unquote(shelf) or None)
