"""The charts of a stretch of time as a drawing (SVG) made by the server.

It is what stands on the page without a script and on paper. Shape and place say what colour says:
what left its band is a thicker line, and of the spread has an edge; a harm limit has strokes on
its harmful side, what is laid beside is thin and dashed, what was done is a triangle, what is told
of a batch a diamond, a reminder a bar for as long as it lasted. Colours come from the style sheet
of the page, so that ink on paper is black.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Final
from zoneinfo import ZoneInfo

from markupsafe import Markup, escape

from chamberwatch.core.sentence import straight
from chamberwatch.core.shown_in import ShownIn
from chamberwatch.core.watch.axis import round_numbers
from chamberwatch.service.chart import BandThen, Chart, ChartLine
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _
from chamberwatch.web.pages.chart_harm import harm
from chamberwatch.web.pages.chart_lines import Bands, Point, beyond, outside, runs, spreads
from chamberwatch.web.pages.chart_paper import LEFT, PER_BOLD, PER_LETTER, Frame, Paper, rect, text
from chamberwatch.web.pages.chart_scale import (
    KINDS,
    PANELS,
    Stretch,
    decimals_for,
    shown,
    stretch,
    unit_of,
)
from chamberwatch.web.pages.chart_signs import LANE, LANES, deed_hairs, lane, of
from chamberwatch.web.pages.chart_time import TimeMark, time_marks

PER_TIME_MARK: Final = 66.0
TITLE: Final = 22.0
"""Room above a panel for its name."""
GAP: Final = 10.0
FOOT: Final = 26.0
AT_THE_END: Final = 3.0
"""Left free at the right end beneath: on paper words are a little larger."""
NIGHT_SEEN: Final = 3.0
"""A night narrower than this is not shaded: a year would be striped."""


@dataclass(frozen=True, slots=True)
class Beside:
    """What is laid beside a chart: the time before, or another chamber.

    Attributes:
        chart: its lines.
        later: by how much it is moved, so that both begin together.
        name: what it is.
    """

    chart: Chart
    later: timedelta
    name: str


@dataclass(frozen=True, slots=True)
class Scene:
    """All that is drawn."""

    chart: Chart
    beside: Beside | None
    figures: Figures

    @property
    def zone(self) -> ZoneInfo:
        """Return the zone of the site."""
        return self.figures.zone


def drawn(scene: Scene, paper: Paper) -> Markup:
    """Return the drawing."""
    chart = scene.chart
    first = Frame(
        paper,
        chart.span.start.timestamp(),
        chart.span.end.timestamp(),
        0.0,
        Stretch(0.0, 1.0),
    )
    told = [replace(mark, text=scene.figures.said(mark.text)) for mark in chart.marks]
    lanes = [(name, marks) for name, kinds in LANES if (marks := of(told, kinds))]
    under_lanes = LANE * len(lanes)
    tops = [under_lanes + TITLE + n * (paper.panel + TITLE + GAP) for n in range(len(PANELS))]
    height = tops[-1] + paper.panel + FOOT
    size = f'viewBox="0 0 {paper.width:g} {height:g}"'
    times = time_marks(chart.span, scene.zone, int((first.right - LEFT) / PER_TIME_MARK))
    said, what = escape(straight(_described(scene))), f"{paper.name}-what"
    opened = f'<svg class="week-drawing {paper.name}" {size} role="img" aria-labelledby="{what}">'
    parts = [opened, f'<title id="{what}">{said}</title>']
    for quantities, top in zip(PANELS, tops, strict=True):
        frame = replace(first, top=top, values=_values(scene, quantities))
        parts += _panel(scene, quantities, frame, times)
    parts += deed_hairs(chart.marks, replace(first, top=under_lanes), height - FOOT)
    for number, (name, marks) in enumerate(lanes):
        parts += lane(name, marks, replace(first, top=number * LANE), chart.span.end)
    parts += _time_words(times, first, height)
    return Markup("\n".join([*parts, "</svg>"]))  # noqa: S704 - every text in it is escaped


def _described(scene: Scene) -> str:
    names = ", ".join(KINDS[name].label for panel in PANELS for name in panel)
    beside = _(", beside it %(beside)s", beside=scene.beside.name) if scene.beside else ""
    return _("Charts of %(names)s%(beside)s", names=names, beside=beside)


def _lines(chart: Chart, quantities: Sequence[str]) -> list[ChartLine]:
    by_name = {line.quantity: line for line in chart.lines}
    return [by_name[name] for name in quantities if name in by_name]


def _values(scene: Scene, quantities: Sequence[str]) -> Stretch:
    """Return the stretch of a panel, in the unit that is shown."""
    charts = [scene.chart, *([scene.beside.chart] if scene.beside else [])]
    values = [
        value
        for chart in charts
        for line in _lines(chart, quantities)
        for value in (*line.least, *line.most)
        if value is not None
    ]
    bands = [band for band in scene.chart.bands if band.quantity in quantities]
    kept = stretch(quantities[0], values, bands)
    shown_in = scene.figures.shown_in
    low, high = (shown(quantities[0], value, shown_in) for value in (kept.low, kept.high))
    return Stretch(low, high)


def _panel(
    scene: Scene, quantities: tuple[str, ...], frame: Frame, times: Sequence[TimeMark]
) -> Iterator[str]:
    shown_in = scene.figures.shown_in
    yield f'<g class="panel {quantities[0].split("_", 1)[0]}">'
    yield rect("ground", LEFT, frame.top, frame.right - LEFT, frame.paper.panel)
    for night in scene.chart.nights:
        x1, x2 = frame.x(night.start.timestamp()), frame.x(night.end.timestamp())
        if x2 - x1 >= NIGHT_SEEN:
            yield rect("night", x1, frame.top, x2 - x1, frame.paper.panel)
    bands = [b for b in scene.chart.bands if b.quantity in quantities]
    yield from _bands(bands, frame, shown_in)
    yield from _grid(frame, times, scene.figures)
    yield from harm(bands, _lines(scene.chart, quantities), frame, shown_in)
    yield _name(scene, quantities, frame)
    if scene.beside is not None:
        yield from _beside(scene.beside, quantities, frame, shown_in)
    for number, line in enumerate(_lines(scene.chart, quantities)):
        yield from _line(line, scene.chart.bands, frame, shown_in, second=number > 0)
    yield "</g>"


def _bands(bands: Sequence[BandThen], frame: Frame, shown_in: ShownIn) -> Iterator[str]:
    for band in bands:
        low, high = band.edges
        top = frame.top if high is None else frame.y(shown(band.quantity, high, shown_in))
        foot = frame.foot if low is None else frame.y(shown(band.quantity, low, shown_in))
        x1, x2 = frame.x(band.start.timestamp()), frame.x(band.end.timestamp())
        yield rect("band", x1, top, x2 - x1, foot - top)
        for y in (y for y, limit in ((top, high), (foot, low)) if limit is not None):
            yield f'<path class="limit" d="M{x1:g} {y:g}H{x2:g}"/>'


def _grid(frame: Frame, times: Sequence[TimeMark], figures: Figures) -> Iterator[str]:
    for mark in times:
        x = frame.x(mark.at.timestamp())
        cls = "rule major" if mark.major else "rule"
        yield f'<path class="{cls}" d="M{x:g} {frame.top:g}V{frame.foot:g}"/>'
    numbers = round_numbers(frame.values.low, frame.values.high)
    decimals = decimals_for(numbers)
    for number in numbers:
        y = frame.y(number)
        yield f'<path class="tick" d="M{LEFT - 4:g} {y:g}H{LEFT:g}"/>'
        yield text("number", LEFT - 7, y + 4, figures.number(number, decimals), "end")


def _name(scene: Scene, quantities: tuple[str, ...], frame: Frame) -> str:
    """Write what a panel shows; its second line is named beside its sign."""
    lines = _lines(scene.chart, quantities)
    unit = unit_of(quantities[0], lines[0].unit if lines else "", scene.figures.shown_in)
    y = frame.top - 7
    name = KINDS[quantities[0]].label
    words = f"{name}, {unit}" if unit else name
    made = text("name", LEFT, y, words)
    if len(quantities) > 1:
        x = LEFT + len(words) * PER_LETTER + 24
        made += f'<path class="line second" d="M{x:g} {y - 4:g}h26"/>'
        made += text("name", x + 32, y, KINDS[quantities[1]].label)
    return made


def _beside(
    beside: Beside, quantities: Sequence[str], frame: Frame, shown_in: ShownIn
) -> Iterator[str]:
    moved = beside.later.total_seconds()
    for line in _lines(beside.chart, quantities[:1]):
        found = [
            [(at + moved, shown(line.quantity, value, shown_in)) for at, value in run]
            for run in runs(line)
        ]
        yield from _path("line beside", found, frame)


def _line(
    line: ChartLine, bands: Sequence[BandThen], frame: Frame, shown_in: ShownIn, *, second: bool
) -> Iterator[str]:
    def placed(points: Sequence[Point]) -> list[Point]:
        return [(at, shown(line.quantity, value, shown_in)) for at, value in points]

    own = Bands.among(bands, line.quantity)
    if not second:
        for least, most in spreads(line):
            there = _places(placed(most), frame)
            back = _places(placed(least)[::-1], frame)
            yield f'<path class="spread" d="M{" ".join(there)} {" ".join(back)}Z"/>'
            for outline in beyond(least, most, own):
                yield f'<path class="beyond" d="M{" ".join(_places(placed(outline), frame))}Z"/>'
    found = list(runs(line))
    yield from _path("line second" if second else "line", [placed(run) for run in found], frame)
    left = [placed(piece) for run in found for piece in outside(run, own)]
    yield from _path("line out", left, frame)


def _places(points: Sequence[Point], frame: Frame) -> list[str]:
    return [f"{frame.x(at):g} {frame.y(value):g}" for at, value in points]


def _path(cls: str, pieces: Sequence[Sequence[Point]], frame: Frame) -> Iterator[str]:
    written = []
    for points in pieces:
        places = _places(points, frame)
        # One point alone would not be seen; a line to itself has round ends.
        written.append("M" + " ".join(places if len(places) > 1 else places * 2))
    if written:
        yield f'<path class="{cls}" d="{"".join(written)}"/>'


def _time_words(times: Sequence[TimeMark], frame: Frame, height: float) -> Iterator[str]:
    """Write the times beneath; at the ends of the sheet they move inwards and are not cut."""
    free, width = 0.0, frame.paper.width
    for mark in times:
        half = len(mark.label) * (PER_BOLD if mark.major else PER_LETTER) / 2
        x = min(max(frame.x(mark.at.timestamp()), half), width - half - AT_THE_END)
        if x - half < free:
            continue
        free = x + half + 6
        cls = "time major" if mark.major else "time"
        yield text(cls, x, height - 9, mark.label, "middle")
