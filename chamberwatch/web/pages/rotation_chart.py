"""The plan of starts as a chart: shelves from top to bottom, weeks from left to right.

Everything is laid out here, in the units of the drawing; the template only writes it down. What a
stage looks like is a hatch and a word, never a colour alone.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from chamberwatch.core.growing.rotation.plan import WEEK_D, WeekExpectation
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _
from chamberwatch.web.pages.rotation_stands import (
    Known,
    Stretch,
    day_of,
    lanes_of,
    places_of,
    stretches_of,
)
from chamberwatch.web.pages.rotation_words import kilos
from chamberwatch.web.words import both_ends, month, month_short, shortened

DAY_W: Final = 11.5
HEAD_H: Final = 40.0
TITLE_H: Final = 24.0
LANE_H: Final = 60.0
BAR_Y: Final = 34.0
PICK_Y, PICK_STEP = 16.0, 14.0
SUM_H: Final = 150.0
SHORT: Final = 15


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a bar: one stage. `stage` names its hatch: colonising, pins, fruiting, resting."""

    stage: str
    x: float
    width: float


@dataclass(frozen=True, slots=True)
class Pick:
    """A harvest window: a mark over the bar, from `x` on, and what it brings."""

    x: float
    width: float
    y: float
    text: str
    says: str


@dataclass(frozen=True, slots=True)
class Bar:
    """A batch on a shelf.

    Attributes:
        x: where it begins.
        y: its upper edge.
        width: how long it is.
        label: what stands in it.
        says: all of it in words.
        planned: it is yet to be started.
        pieces: its stages.
        picks: its harvest windows.
    """

    x: float
    y: float
    width: float
    label: str
    says: str
    planned: bool
    pieces: tuple[Piece, ...]
    picks: tuple[Pick, ...]


@dataclass(frozen=True, slots=True)
class Shelf:
    """A row: its name, where it begins, how high it is."""

    name: str
    short: str
    y: float
    height: float


@dataclass(frozen=True, slots=True)
class Room:
    """A chamber: its title above its shelves."""

    title: str
    short: str
    y: float
    shelves: tuple[Shelf, ...]


@dataclass(frozen=True, slots=True)
class Week:
    """A week below the shelves: what is expected, from `low_y` up to `high_y`."""

    x: float
    label: str
    low_y: float
    high_y: float
    text: str
    short: bool


@dataclass(frozen=True, slots=True)
class Chart:
    """All of it. `today_x` is the line of today; wishes are a band from `wish_low_y` up."""

    width: float
    height: float
    sums_y: float
    sums_end: float
    rooms: tuple[Room, ...]
    bars: tuple[Bar, ...]
    weeks: tuple[Week, ...]
    today_x: float
    wish_low_y: float
    wish_high_y: float
    wish_text: str


def chart(known: Known, figures: Figures) -> Chart:
    """Lay a plan out."""
    weeks = known.plan.weeks
    canvas = Canvas(weeks[0].monday, len(weeks), figures)
    stretches = sorted(stretches_of(known, figures), key=lambda s: (s.since, s.name))
    rooms, bars = _rooms(known, stretches, canvas)
    end = rooms[-1].shelves[-1].y + rooms[-1].shelves[-1].height if rooms else HEAD_H
    top = max(known.wish[1], *(week.kg_high for week in weeks), 0.1) * 1.12

    def height_of(kg: float) -> float:
        return round(end + SUM_H - 4.0 - (SUM_H - 40.0) * kg / top, 1)

    low, high = known.wish
    short = known.plan.short_weeks(low)
    return Chart(
        width=canvas.width,
        height=end + SUM_H + 18.0,
        sums_y=end,
        sums_end=end + SUM_H - 4.0,
        rooms=rooms,
        bars=bars,
        weeks=tuple(
            _week(w, n, w.monday in short, height_of, figures) for n, w in enumerate(weeks)
        ),
        today_x=canvas.x(known.today),
        wish_low_y=height_of(low),
        wish_high_y=height_of(high),
        wish_text=_("wished: %(kilos)s a week", kilos=kilos(figures, low, high)),
    )


@dataclass(frozen=True, slots=True)
class Canvas:
    """Turns days into places from left to right."""

    monday: date
    weeks: int
    figures: Figures

    @property
    def width(self) -> float:
        """Return how wide it is."""
        return self.weeks * WEEK_D * DAY_W

    def x(self, day: date) -> float:
        """Return where a day begins, kept inside the drawing."""
        return min(max((day - self.monday).days * DAY_W, 0.0), self.width)

    def shows(self, stretch: Stretch) -> bool:
        """Tell whether any of it lies inside."""
        return self.x(stretch.since) < self.x(stretch.until)


# ------------------------------------------------------------------ rows and bars


def _rooms(
    known: Known, stretches: Sequence[Stretch], canvas: Canvas
) -> tuple[tuple[Room, ...], tuple[Bar, ...]]:
    rooms: list[Room] = []
    bars: list[Bar] = []
    y = HEAD_H
    for chamber, title, names in places_of(known, stretches):
        top, y = y, y + TITLE_H
        shelves = []
        for name in names:
            here = [s for s in stretches if s.place == (chamber, name) and canvas.shows(s)]
            lanes = lanes_of(here)
            height = LANE_H * max(len(lanes), 1)
            shelves.append(Shelf(name, both_ends(name, SHORT), y, height))
            for n, lane in enumerate(lanes):
                bars += [_bar(s, y + n * LANE_H, canvas) for s in lane]
            y += height
        rooms.append(Room(title, shortened(title, SHORT + 2), top, tuple(shelves)))
    return tuple(rooms), tuple(bars)


def _bar(stretch: Stretch, y: float, canvas: Canvas) -> Bar:
    x, end = canvas.x(stretch.since), canvas.x(stretch.until)
    day = (
        _("%(day)s %(month)s: start ", day=stretch.since.day, month=month_short(stretch.since))
        if stretch.starts
        else ""
    )
    return Bar(
        x=x,
        y=y + BAR_Y,
        width=end - x,
        label=shortened(f"{day}{stretch.label}", max(int((end - x) / 7.0) - 1, 1)),
        says=_says(stretch, canvas.figures),
        planned=stretch.planned,
        pieces=tuple(_pieces(stretch, canvas)),
        picks=tuple(_picks(stretch, y, canvas)),
    )


def _pieces(stretch: Stretch, canvas: Canvas) -> Iterator[Piece]:
    opens = stretch.until if stretch.opens is None else max(stretch.opens, stretch.since)
    yield from _piece("colonising", stretch.since, min(opens, stretch.until), canvas)
    at, first = opens, True
    for low, high in _fruits(stretch):
        yield from _piece("pins" if first else "resting", at, min(low, stretch.until), canvas)
        yield from _piece("fruiting", max(low, at), min(high, stretch.until), canvas)
        at, first = max(high, at), False
    yield from _piece("pins" if first else "resting", at, stretch.until, canvas)


def _fruits(stretch: Stretch) -> Iterator[tuple[date, date]]:
    """Yield the stretches in which something may be picked, those that touch as one."""
    spans = sorted((day_of(h.low), day_of(h.high) + timedelta(days=1)) for h in stretch.harvests)
    while spans:
        low, high = spans.pop(0)
        while spans and spans[0][0] <= high:
            high = max(high, spans.pop(0)[1])
        yield low, high


def _piece(stage: str, since: date, until: date, canvas: Canvas) -> Iterator[Piece]:
    x, end = canvas.x(since), canvas.x(until)
    if end > x:
        yield Piece(stage, x, end - x)


def _picks(stretch: Stretch, y: float, canvas: Canvas) -> Iterator[Pick]:
    """Yield the harvest windows; of two that overlap the later stands a little lower."""
    edge = -1.0
    step = 0
    for window in stretch.harvests:
        low, high = day_of(window.low), day_of(window.high) + timedelta(days=1)
        x, end = canvas.x(low), canvas.x(high)
        if end <= x:
            continue
        step = (step + 1) % 2 if x < edge else 0
        kg = kilos(canvas.figures, window.kg_low, window.kg_high)
        text = kg.rpartition("\N{NO-BREAK SPACE}")[0]
        yield Pick(x, end - x, y + PICK_Y + PICK_STEP * step, text, f"{kg}, {_days(low, high)}")
        edge = end


def _days(low: date, after: date) -> str:
    last = after - timedelta(days=1)
    return _(
        "%(day)s %(month)s to %(day2)s %(month2)s",
        day=low.day,
        month=month_short(low),
        day2=last.day,
        month2=month_short(last),
    )


def _says(stretch: Stretch, figures: Figures) -> str:
    parts = [
        stretch.name,
        _("from %(day)s %(month)s", day=stretch.since.day, month=month(stretch.since)),
    ]
    if stretch.opens is not None:
        opened = _("opens") if stretch.planned else _("opened")
        parts.append(f"{opened} {stretch.opens.day} {month(stretch.opens)}")
    parts.append(
        _(
            "its place is free by %(day)s %(month)s",
            day=stretch.until.day,
            month=month(stretch.until),
        )
    )
    parts += [
        _(
            "%(kilos)s from %(days)s",
            kilos=kilos(figures, h.kg_low, h.kg_high),
            days=_days(day_of(h.low), day_of(h.high) + timedelta(days=1)),
        )
        for h in stretch.harvests
    ]
    return "; ".join(parts)


def _week(
    week: WeekExpectation,
    number: int,
    short: bool,
    height_of: Callable[[float], float],
    figures: Figures,
) -> Week:
    return Week(
        x=number * WEEK_D * DAY_W,
        label=f"{week.monday.day} {month_short(week.monday)}",
        low_y=height_of(week.kg_low),
        high_y=height_of(week.kg_high),
        text=kilos(figures, week.kg_low, week.kg_high).rpartition("\N{NO-BREAK SPACE}")[0],
        short=short,
    )
