"""The log: everything that happened, by day, newest first; as filtered, on a page or as CSV."""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import groupby
from typing import Annotated, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import StreamingResponse

from chamberwatch.core.cells import plain_text
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import EPOCH
from chamberwatch.service.chronicle import NEWEST, Asked, Page
from chamberwatch.service.log_lines import Instead, Line, LogKind, Place
from chamberwatch.web.desk import Desk, chronicle_of, desk_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.given import FIRST_YEAR, LAST_YEAR
from chamberwatch.web.language import _, marked
from chamberwatch.web.problems import ProblemError
from chamberwatch.web.rendering import iso, page
from chamberwatch.web.words import month, weekday

router = APIRouter(include_in_schema=False)

KINDS: Final[Mapping[LogKind, str]] = {
    LogKind.DEED: marked("done"),
    LogKind.FOUND: marked("seen in the readings"),
    LogKind.GROWING: marked("batches"),
    LogKind.REMINDER: marked("reminders"),
    LogKind.MESSAGE: marked("messages"),
    LogKind.CHECK: marked("checks of sensors"),
}
"""What a person calls each kind of line."""

MENDED_AT: Final[Mapping[LogKind, str]] = {
    LogKind.DEED: "/log/deed/{}",
    LogKind.GROWING: "/growing/entries/{}?back=log",
}
"""Where lines are put right."""

SAID: Final[Mapping[str, str]] = {
    "corrected": marked(
        "Put right. The old line stays, struck out, with what stands in its place."
    ),
    "withdrawn": marked("Withdrawn. The line stays, struck out."),
    "twice": marked("That was sent before; nothing was done twice."),
}

CSV_AT_MOST: Final = 200_000
COLUMNS: Final = (
    *("at", "kind", "id", "chamber", "batch", "words", "readings_show"),
    *("stands", "instead", "instead_at", "told"),
)


@dataclass(frozen=True, slots=True)
class Filter:
    """What the address asks for.

    Attributes:
        asked: which lines.
        day: of this day and before; empty: up to now.
        picked: kinds that were ticked; empty: none was, and all are shown.
    """

    asked: Asked
    day: str
    picked: tuple[LogKind, ...]

    def query(self, **more: str) -> str:
        """Write it as the part of an address behind the question mark."""
        said = [("kind", kind.value) for kind in self.picked]
        if self.asked.chamber:
            said.append(("chamber", self.asked.chamber))
        if self.asked.batch is not None:
            said.append(("batch", str(self.asked.batch)))
        return urlencode([*said, *((name, text) for name, text in more.items() if text)])

    @property
    def narrow(self) -> bool:
        """Tell whether anything is left out."""
        return bool(self.picked or self.asked.chamber or self.asked.batch is not None)


@dataclass(frozen=True, slots=True)
class Row:
    """A line as it stands on the page.

    Attributes:
        line: as it was read.
        clock: time of day, or what stands for it.
        kind: what a person calls its kind.
        words: all of it.
        came: what the readings show of it.
        before: title of its chamber, where the words don't name it; what is said of a batch begins
            with the batch.
        after: the same, behind the words.
        instead: what became of it, where it was wrong.
        mend: address where it can be put right; empty: it can't.
    """

    line: Line
    clock: str
    kind: str
    words: str
    came: str
    before: str
    after: str
    instead: str
    mend: str


@dataclass(frozen=True, slots=True)
class Day:
    """One day of the log."""

    iso: str
    title: str
    rows: tuple[Row, ...]


def filter_of(
    kind: Annotated[list[LogKind] | None, Query()] = None,
    chamber: Annotated[str, Query(max_length=200)] = "",
    batch: Annotated[str, Query(max_length=20)] = "",
    day: Annotated[str, Query(max_length=20)] = "",
) -> Filter:
    """Read a filter from an address.

    Raises:
        ProblemError: a batch that is no number.
    """
    number = batch.strip()
    if number and not (number.isascii() and number.isdigit()):
        raise ProblemError(
            422, "not-valid", _("“%(number)s” is no number of a batch.", number=number)
        )
    picked = tuple(each for each in LogKind if each in (kind or ()))
    # Ticking all of them is the same as ticking none.
    picked = () if len(picked) == len(LogKind) else picked
    asked = Asked(frozenset(picked or LogKind), chamber.strip(), int(number) if number else None)
    return Filter(asked, day.strip(), picked)


@router.get("/log")
def log(  # noqa: PLR0913, PLR0917 - one argument for each part of the address
    request: Request,
    kind: Annotated[list[LogKind] | None, Query()] = None,
    chamber: Annotated[str, Query(max_length=200)] = "",
    batch: Annotated[str, Query(max_length=20)] = "",
    day: Annotated[str, Query(max_length=20)] = "",
    older: Annotated[str, Query(max_length=60)] = "",
    newer: Annotated[str, Query(max_length=60)] = "",
    said: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """Show the log."""
    desk, chronicle, figures = desk_of(request), chronicle_of(request), figures_of(request)
    wanted = filter_of(kind, chamber, batch, day)
    edge = read_place(older or newer) if older or newer else _edge(wanted.day, desk)
    found = chronicle.page(wanted.asked, edge, newer=bool(newer))
    chambers = desk.history.chambers()
    return page(
        "log.html",
        title=_("Log"),
        days=_days(found.lines, chambers, figures, desk.clock.now()),
        chambers=chambers,
        batches=chronicle.batches(),
        kinds=[(kind, _(name)) for kind, name in KINDS.items()],
        wanted=wanted,
        said=_(SAID.get(said, "")),
        links=_links(found, wanted),
        zone=desk.zone.key,
        today=f"{desk.clock.now().astimezone(desk.zone):%Y-%m-%d}",
    )


@router.get("/log.csv")
def log_csv(
    request: Request,
    kind: Annotated[list[LogKind] | None, Query()] = None,
    chamber: Annotated[str, Query(max_length=200)] = "",
    batch: Annotated[str, Query(max_length=20)] = "",
    day: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """Give the log as filtered, all of it and not a page."""
    desk, chronicle = desk_of(request), chronicle_of(request)
    wanted = filter_of(kind, chamber, batch, day)
    edge = _edge(wanted.day, desk)
    # Asked first, so that what can't be answered is refused and not cut off.
    chronicle.page(wanted.asked, edge, limit=1)
    lines = chronicle.all(wanted.asked, edge, CSV_AT_MOST)
    return StreamingResponse(
        _written(lines, desk),
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="chamberwatch-log.csv"'},
    )


def _links(found: Page, wanted: Filter) -> dict[str, str]:
    """Return where the log goes on, empty where it doesn't, and where it stands as CSV."""
    older = wanted.query(older=write_place(found.older)) if found.older else ""
    newer = wanted.query(newer=write_place(found.newer)) if found.newer else ""
    return {
        "older": f"/log?{older}" if older else "",
        "newer": f"/log?{newer}" if newer else "",
        "newest": f"/log?{wanted.query()}".rstrip("?"),
        "as_csv": f"/log.csv?{wanted.query(day=wanted.day)}".rstrip("?"),
    }


def _edge(day: str, desk: Desk) -> Place:
    """Return the place in the log from which on back it is read: the end of a day, or now."""
    if not day:
        return NEWEST
    try:
        asked = date.fromisoformat(day)
    except ValueError:
        asked = date.min
    if not FIRST_YEAR <= asked.year <= LAST_YEAR:
        raise ProblemError(
            422, "not-valid", _("“%(day)s” is no day. Write one such as 2026-01-20.", day=day)
        )
    after = datetime.combine(asked + timedelta(days=1), time(0), desk.zone)
    return Place(after.astimezone(UTC))


def write_place(place: Place) -> str:
    """Write a place in the log as it stands in an address."""
    micros = (place.at - EPOCH) // timedelta(microseconds=1)
    return f"{micros}.{place.rank}.{place.id}"


def read_place(text: str) -> Place:
    """Read a place in the log.

    Raises:
        ProblemError: it is none of ours.
    """
    try:
        micros, rank, number = (int(part) for part in text.split("."))
        if 0 <= rank < _BEYOND and 0 <= number < _BEYOND:
            return Place(EPOCH + timedelta(microseconds=micros), rank, number)
    except (ValueError, OverflowError):
        pass
    raise ProblemError(
        422, "not-valid", _("There is no such place in the log. Begin again at the newest.")
    )


_BEYOND: Final = 2**63
"""What the database can't count to."""

# ------------------------------------------------------------------ rows


def _days(
    lines: Sequence[Line], chambers: Sequence[Chamber], figures: Figures, now: datetime
) -> tuple[Day, ...]:
    titles = {chamber.name: chamber.title for chamber in chambers}
    zone = figures.zone
    days = []
    for local, each in groupby(lines, key=lambda line: line.at.astimezone(zone).date()):
        rows = tuple(_row(line, titles, figures) for line in _folded(each))
        days.append(Day(local.isoformat(), _title(local, now.astimezone(zone).date()), rows))
    return tuple(days)


def _folded(lines: Iterable[Line]) -> Iterator[Line]:
    """Yield lines, newest first; what ended before anybody was told takes one and not two."""
    newer: Line | None = None
    for line in lines:
        if newer is not None:
            joined = _one_end(newer, line)
            if joined is not None:
                newer = joined
                continue
            yield newer
        newer = line
    if newer is not None:
        yield newer


def _one_end(newer: Line, older: Line) -> Line | None:
    """Return the one line of an end that nobody knew of; None where the two are none."""
    if newer.closes is None or newer.closes != older.ends:
        return None
    minutes = {line.at.replace(second=0, microsecond=0) for line in (newer, older)}
    return replace(older, words=older.untold) if len(minutes) == 1 else None


def _title(day: date, today: date) -> str:
    named = {0: _("Today, "), 1: _("Yesterday, ")}.get((today - day).days, "")
    year = "" if day.year == today.year else f" {day.year}"
    return f"{named}{weekday(day)} {day.day} {month(day)}{year}"


def _row(line: Line, titles: Mapping[str, str], figures: Figures) -> Row:
    title = titles.get(line.chamber, line.chamber)
    title = "" if title in line.words else title
    of_batch = line.kind is LogKind.GROWING
    return Row(
        line=line,
        clock=f"{line.at.astimezone(figures.zone):%H:%M}",
        kind=_(KINDS[line.kind]),
        words=figures.said(line.words),
        came=figures.said(line.came),
        before="" if of_batch else title,
        after=title if of_batch else "",
        instead=_instead(line, figures) if line.instead is not None else "",
        mend=MENDED_AT[line.kind].format(line.id) if line.amends else "",
    )


def _instead(line: Line, figures: Figures) -> str:
    stands = line.instead
    if stands is None:
        return ""
    told = f"{stands.told.astimezone(figures.zone):%Y-%m-%d %H:%M}"
    if stands.withdrawn:
        why = f": {stands.words}" if stands.words else ""
        return _("did not happen%(why)s (recorded %(told)s)", why=why, told=told)
    return _(
        "put right %(told)s: %(stands)s",
        told=told,
        stands=figures.said(_stands(line, stands, figures)),
    )


def _stands(line: Line, stands: Instead, figures: Figures) -> str:
    if stands.at == line.at:
        return stands.words
    return f"{stands.words}, {stands.at.astimezone(figures.zone):%Y-%m-%d %H:%M}"


# ------------------------------------------------------------------ CSV


def _written(lines: Iterator[Line], desk: Desk) -> Iterator[str]:
    """Yield the log as CSV (RFC 4180), times with the site's offset from UTC."""
    held = io.StringIO()
    writer = csv.writer(held)
    writer.writerow(COLUMNS)
    for line in lines:
        writer.writerow(_cells(line, desk))
        if held.tell() > 32_768:
            yield held.getvalue()
            held.seek(0)
            held.truncate()
    yield held.getvalue()


def _cells(line: Line, desk: Desk) -> tuple[object, ...]:
    stands = line.instead
    state = "holds" if stands is None else ("withdrawn" if stands.withdrawn else "corrected")
    return (
        _local(line.at, desk),
        line.kind.value,
        line.id,
        plain_text(line.chamber),
        "" if line.batch is None else line.batch,
        plain_text(line.words),
        plain_text(line.came),
        state,
        "" if stands is None else plain_text(stands.words),
        "" if stands is None or stands.withdrawn else _local(stands.at, desk),
        "" if stands is None else iso(stands.told),
    )


def _local(moment: datetime, desk: Desk) -> str:
    return moment.astimezone(desk.zone).isoformat(timespec="seconds")
