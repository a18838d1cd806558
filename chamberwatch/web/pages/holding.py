"""The page *Will it hold?*: till the next visit, till morning, till I'm back."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Annotated, Final
from urllib.parse import quote
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query, Request, Response

from chamberwatch.core import amount_words
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.situation import FURTHEST
from chamberwatch.service.views import ChamberNow, HoldNow
from chamberwatch.web import words
from chamberwatch.web.desk import Desk, desk_of
from chamberwatch.web.figures import figures_of
from chamberwatch.web.language import _
from chamberwatch.web.pages.ahead import ahead_lines
from chamberwatch.web.pages.counsel_words import grounds
from chamberwatch.web.pages.done_words import by_itself
from chamberwatch.web.pages.foreseen import HEIGHT, WIDTH, hold_chart, remedies
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False)

MORNING: Final = time(7, 30)
"""When morning is where no visits are stated."""

NEXT_MORNING: Final = "morning"
"""So a page left open overnight still asks about a morning to come."""

DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Holding:
    """The answer till the next visit, and where to ask about another time.

    Attributes:
        words: the answer; where there is none, why.
        answered: there is one.
        address: of the page that answers.
        size: where it is said how large the chamber is, while that is what is missing.
    """

    words: str
    answered: bool
    address: str
    size: str = ""


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed into the form, and what is wrong with it; empty while nothing is."""

    till: str
    later: int
    error: str

    @property
    def clock(self) -> str:
        """Return what the field can show again: a time of day that was refused."""
        try:
            at = time.fromisoformat(self.till)
        except ValueError:
            return ""
        return f"{at:%H:%M}" if self.error else ""


def holding(desk: Desk, shown: ChamberNow) -> Holding | None:
    """Return what *Now* says of a chamber; None where the question makes no sense."""
    chamber = shown.chamber
    if chamber.band(Quantity.HUMIDITY, Place.AIR) is None or shown.stale or shown.air is None:
        return None
    answer = _not_said_twice(shown, desk.zone)
    return Holding(
        words=answer or not_told(desk, chamber),
        answered=bool(answer),
        address=f"/chamber/{quote(chamber.name, safe='')}/hold",
        size="" if answer else size_address(chamber),
    )


def size_address(chamber: Chamber) -> str:
    """Return where it is said how large a chamber is; empty where that is known."""
    unsized = chamber.volume_l is None and chamber.stage is not None
    return f"/set-up/chambers/{quote(chamber.name, safe='')}" if unsized else ""


def not_told(desk: Desk, chamber: Chamber) -> str:
    """Say why nothing can be reckoned; beside the first a page has a link to mend it."""
    if size_address(chamber):
        return _("It can't be told yet: amounts are reckoned from how large it is.")
    return _("It can't be told. %(why)s", why=desk.history.why_no_counsel(chamber.name))


def _not_said_twice(shown: ChamberNow, zone: ZoneInfo) -> str:
    """Return the answer; what a reminder on the same page advises already is only pointed to."""
    told = shown.counsel
    if told is None:
        return ""
    if told.hold is None or not any(Call.MIST in each.amounts for each in shown.reminders):
        return told.hold_words
    return amount_words.hold(told.hold, told.situation.now, zone, amounts_above=True)


def morning(chamber: Chamber, now: datetime, zone: ZoneInfo) -> datetime:
    """Return when the grower comes by first, on the next morning."""
    return _next(min(chamber.visits, default=MORNING), now, zone)


def _next(at: time, now: datetime, zone: ZoneInfo) -> datetime:
    """Return the next moment at which the clock on the wall shows a time."""
    today = now.astimezone(zone).date()
    days = (datetime.combine(today + timedelta(days=n), at, zone) for n in range(2))
    return next(moment for moment in (d.astimezone(UTC) for d in days) if moment > now)


def asked_until(text: str, later: timedelta, now: datetime, zone: ZoneInfo) -> datetime:
    """Return the moment that a person means by 18:00, or by an ISO date and time.

    Args:
        text: as it was typed.
        later: so much after the next such time; only for a bare time of day.
        now: the time.
        zone: of a time that names none.

    Raises:
        RefusedError: it can't be read, has gone by, or lies too far ahead.
    """
    try:
        until = _read(text.strip(), later, now, zone)
    except (ValueError, OverflowError):
        raise RefusedError(
            _("“%(text)s” is no time. Write a time such as 18:00.", text=text)
        ) from None
    last = words.moment(now + FURTHEST, now, zone)
    if until <= now:
        raise RefusedError(
            _("That time has gone by. Give one between now and %(last)s.", last=last)
        )
    if until > now + FURTHEST:
        raise RefusedError(
            _(
                "Nobody can tell that far ahead: give a time within two days, till %(last)s.",
                last=last,
            )
        )
    return until


def _read(text: str, later: timedelta, now: datetime, zone: ZoneInfo) -> datetime:
    try:
        at = time.fromisoformat(text.zfill(len("18:00")))
    except ValueError:
        moment = datetime.fromisoformat(text)
        return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).astimezone(UTC)
    if at.tzinfo is not None:
        raise ValueError(text)
    return _next(at, now, zone) + later


@router.get("/chamber/{name}/hold")
def hold(
    request: Request,
    name: str,
    till: Annotated[str, Query(max_length=40)] = "",
    later: Annotated[int, Query(ge=0, le=1)] = 0,
    until: Annotated[str, Query(max_length=40, description="another word for till")] = "",
) -> Response:
    """Answer “will it hold until then?”, until the next visit where no time is given."""
    till = till or until
    desk = desk_of(request)
    shown = desk.history.now(name)
    asked, error = None, ""
    try:
        if till == NEXT_MORNING:
            asked = morning(shown.chamber, desk.clock.now(), desk.zone)
        elif till.strip():
            asked = asked_until(till, later * DAY, desk.clock.now(), desk.zone)
    except RefusedError as exc:
        error = str(exc)
    return _answer(request, shown, asked, Typed(till, later, error))


def _answer(request: Request, shown: ChamberNow, until: datetime | None, typed: Typed) -> Response:
    desk = desk_of(request)
    now, chamber = desk.clock.now(), shown.chamber
    early = morning(chamber, now, desk.zone)
    held, said = (None, "") if typed.error else _held(desk, chamber, until)
    figures = figures_of(request)
    return page(
        "hold.html",
        NOT_VALID if typed.error else 200,
        title=_("Will it hold? %(chamber)s", chamber=chamber.title),
        chamber=chamber,
        asked=words.moment(until, now, desk.zone) if until else _("the next visit"),
        said=figures.said(said),
        written=figures.said,
        sizing="" if held else size_address(chamber),
        holds=held is not None and held.answer.holds,
        chart=hold_chart(chamber, held, figures) if held is not None else None,
        size=(WIDTH, HEIGHT),
        remedies=remedies(held.answer, figures) if held is not None else (),
        grounds=grounds(shown.counsel.situation) if shown.counsel and said else (),
        devices=by_itself(shown.devices),
        ahead=ahead_lines(desk, shown),
        typed=typed,
        morning=amount_words.when(early, now, desk.zone),
        drawn=words.moment(now, now, desk.zone),
        zone=desk.zone.key,
    )


def _held(desk: Desk, chamber: Chamber, until: datetime | None) -> tuple[HoldNow | None, str]:
    """Return the answer and its words; where there is none, why."""
    try:
        held = desk.history.hold(chamber.name, until)
    except RefusedError as exc:
        if size_address(chamber):
            return None, not_told(desk, chamber)
        return None, _("It can't be told. %(why)s", why=exc)
    return held, held.words
