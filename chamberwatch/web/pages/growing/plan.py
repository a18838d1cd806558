"""The page *Growing*: shelves and batches as they stand, and what the next weeks bring."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Final
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request, Response

from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.due import DueKind
from chamberwatch.core.growing.due_words import due_title
from chamberwatch.core.growing.task import TaskKind
from chamberwatch.core.sentence import begun, within
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.service.growing.duties import DueNow, TaskNow
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.places import Place
from chamberwatch.web.desk import desk_of, growing_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.growing.batch_state import state_for
from chamberwatch.web.pages.growing.dates import window_words
from chamberwatch.web.pages.growing.figure import Figure, figure
from chamberwatch.web.pages.growing.typed import place_value
from chamberwatch.web.rendering import page
from chamberwatch.web.words import month_short, weekday_short

router = APIRouter(include_in_schema=False)

SHOWN_DAYS: Final = 21
MOST_TODO: Final = 6
A_DAY: Final = timedelta(days=1)
LEAST_WIDE: Final = 0.3
"""So wide a window is drawn at least, that it can be seen. [d]"""


@dataclass(frozen=True, slots=True)
class Stands:
    """A batch where it stands."""

    number: int
    name: str
    figure: Figure
    count: int
    state: str
    next: str
    late: bool


@dataclass(frozen=True, slots=True)
class Shelf:
    """A shelf, or what stands beside all of them (no name)."""

    name: str
    batches: tuple[Stands, ...]
    room: str
    start: str


@dataclass(frozen=True, slots=True)
class ChamberPlan:
    """A chamber with its shelves, top first."""

    name: str
    title: str
    shelves: tuple[Shelf, ...]
    count: int


@dataclass(frozen=True, slots=True)
class Expected:
    """One window. `x` and `width` in days from this morning."""

    what: str
    span: str
    x: float
    width: float
    late: bool


@dataclass(frozen=True, slots=True)
class Coming:
    """What the next weeks bring of one batch: the next thing, and the next harvest."""

    number: int
    name: str
    windows: tuple[Expected, ...]


@dataclass(frozen=True, slots=True)
class Todo:
    """Something that can be done today, and where."""

    title: str
    body: str
    address: str
    overdue: bool


@router.get("/growing")
def growing(request: Request, said: str = "") -> Response:
    """Show the shelves."""
    desk, grown, figures = desk_of(request), growing_of(request), figures_of(request)
    now, batches = desk.clock.now(), grown.record.batches()
    living = [batch for batch in batches.values() if batch.ended is None]
    dues = grown.duties.dues()
    standing = stands(living, dues, grown, now, desk.zone)
    return page(
        "growing.html",
        title=_("Growing"),
        said=_(TWICE) if said == "twice" else "",
        chambers=plans(grown, living, standing),
        astray=_astray(grown, living, standing),
        living=len(living),
        ended=len(batches) - len(living),
        todo=[_todo(task, figures) for task in grown.duties.tasks()],
        most_todo=MOST_TODO,
        coming=coming(dues, grown, now, desk.zone),
        weeks=_weeks(now, desk.zone),
        days=SHOWN_DAYS,
        hour=round(_hours(now, desk.zone), 2),
        zone=desk.zone.key,
    )


TWICE: Final = marked("That was recorded already; it counts once.")


def stands(
    living: Iterable[Batch], dues: Iterable[DueNow], grown: Growing, now: datetime, zone: ZoneInfo
) -> Mapping[int, Stands]:
    """Return how each batch is shown where it stands."""
    first: dict[int, DueNow] = {}
    for due in dues:
        first.setdefault(due.due.batch, due)
    return {batch.id: _stands(batch, first.get(batch.id), grown, now, zone) for batch in living}


def _stands(
    batch: Batch, due: DueNow | None, grown: Growing, now: datetime, zone: ZoneInfo
) -> Stands:
    ahead = f"{due_title(due.due)} {window_words(due.due.window, now, zone)}" if due else ""
    return Stands(
        number=batch.id,
        name=grown.table.known(batch.start.species).title,
        figure=figure(batch),
        count=batch.count,
        state=state_for(batch, now, zone),
        next=begun(ahead),
        late=due is not None and due.due.window.high < now,
    )


def plans(
    grown: Growing, living: Iterable[Batch], standing: Mapping[int, Stands]
) -> tuple[ChamberPlan, ...]:
    """Return every chamber that something may grow in, with its shelves."""
    here: dict[str | None, list[Batch]] = {}
    for batch in living:
        here.setdefault(batch.chamber, []).append(batch)
    chambers = grown.standing.house.chambers.values()
    return tuple(
        _plan(chamber, here.get(chamber.name, []), standing)
        for chamber in chambers
        if chamber.stage is not None
    )


def _plan(chamber: Chamber, here: list[Batch], standing: Mapping[int, Stands]) -> ChamberPlan:
    shelves = [
        _shelf(chamber, name, [standing[b.id] for b in here if b.shelf == name])
        for name in chamber.shelves
    ]
    beside = [standing[b.id] for b in here if b.shelf not in chamber.shelves]
    if beside or not shelves:
        shelves.append(_shelf(chamber, "", beside))
    return ChamberPlan(chamber.name, chamber.title, tuple(shelves), len(here))


def _shelf(chamber: Chamber, name: str, batches: list[Stands]) -> Shelf:
    at = place_value(Place(chamber.name, name or None))
    most = chamber.shelf_holds
    full = bool(name) and most is not None and len(batches) >= most
    return Shelf(
        name=name,
        batches=tuple(batches),
        room="full" if full else "" if batches else "empty",
        start="" if full else f"/growing/start?{urlencode({'place': at})}",
    )


def _astray(
    grown: Growing, living: Iterable[Batch], standing: Mapping[int, Stands]
) -> tuple[Stands, ...]:
    """Return what stands in no chamber, or in one that the settings have no more."""
    known = grown.standing.house.chambers
    return tuple(standing[b.id] for b in living if b.chamber is None or b.chamber not in known)


# ------------------------------------------------------------------ the next weeks


def coming(
    dues: Iterable[DueNow], grown: Growing, now: datetime, zone: ZoneInfo
) -> tuple[Coming, ...]:
    """Return what the next three weeks bring, batch by batch, the next first."""
    morning = _morning(now, zone)
    end = morning + SHOWN_DAYS * A_DAY
    of: dict[int, list[DueNow]] = {}
    for due in dues:
        of.setdefault(due.due.batch, []).append(due)
    batches = grown.record.batches()
    return tuple(
        Coming(
            number=number,
            name=within(grown.table.known(batches[number].start.species).title),
            windows=tuple(_expected(due, morning, now, zone) for due in shown),
        )
        for number, each in of.items()
        if (shown := _telling(each, end))
    )


def _telling(dues: list[DueNow], end: datetime) -> list[DueNow]:
    """Return the next thing of one batch, and its next harvest if that is another."""
    harvests = [due for due in dues[1:] if due.due.kind in _PICKED]
    first = [dues[0], *(harvests[:1] if dues[0].due.kind not in _PICKED else ())]
    return [due for due in first if due.due.window.low < end]


_PICKED: Final = frozenset({DueKind.HARVEST, DueKind.FLUSH})


def _expected(due: DueNow, morning: datetime, now: datetime, zone: ZoneInfo) -> Expected:
    window = due.due.window
    x = min(max((window.low - morning) / A_DAY, 0.0), SHOWN_DAYS - LEAST_WIDE)
    end = min(max((window.high - morning) / A_DAY, x + LEAST_WIDE), float(SHOWN_DAYS))
    return Expected(
        what=begun(due_title(due.due)),
        span=window_words(window, now, zone),
        x=round(x, 2),
        width=round(end - x, 2),
        late=window.high < now,
    )


def _morning(now: datetime, zone: ZoneInfo) -> datetime:
    return datetime.combine(now.astimezone(zone).date(), time(0, 0), zone)


def _hours(now: datetime, zone: ZoneInfo) -> float:
    """Return how much of today is over. [d]."""
    return (now - _morning(now, zone)) / A_DAY


def _weeks(now: datetime, zone: ZoneInfo) -> tuple[str, ...]:
    """Return the first day of each week shown."""
    morning = _morning(now, zone)
    days = [morning + n * A_DAY for n in range(0, SHOWN_DAYS, 7)]
    return tuple(f"{weekday_short(day)} {day.day} {month_short(day)}" for day in days)


def _todo(shown: TaskNow, figures: Figures) -> Todo:
    task = shown.task
    address = f"/growing/batches/{task.batch}"
    if task.kind is TaskKind.START:
        at = place_value(Place(task.chamber, task.shelf)) if task.chamber else ""
        address = f"/growing/start?{urlencode({'species': task.species or '', 'place': at})}"
    return Todo(shown.title, figures.said(shown.body), address, shown.overdue)
