"""The last six hours of a chamber as a drawing (SVG) that is small, calm and says one thing.

Grey is what is well. Colour, a thicker line and words mark what lies outside the band, so that it
can be read without colours too. A gap in the readings stays a gap. The ground is opaque: a chat
may be dark or light.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from itertools import pairwise
from typing import Final
from xml.sax.saxutils import escape

from chamberwatch.core import picture_words
from chamberwatch.core.growing.band import Band
from chamberwatch.core.shown_in import ShownIn
from chamberwatch.core.watch.axis import around, round_numbers
from chamberwatch.core.watch.judgement import Standing
from chamberwatch.core.watch.reading import Quantity, Reading

LENGTH: Final = timedelta(hours=6)
WIDTH: Final = 720
FOOT: Final = 16
LEFT: Final = 84.0
RIGHT: Final = 600.0
TOP: Final = 112.0
HEIGHTS: Final = {1: 246.0, 2: 180.0}
HOURS: Final = 46.0
"""Room for the times below a panel."""
CLOSE: Final = 26.0
"""Labels nearer to each other than this would run into one another."""
QUARTER: Final = timedelta(minutes=15)
WIDE_GAP: Final = timedelta(minutes=80)

PAPER, GROUND, INK, SOFT, LINE, BAND, OUT = (
    "#f5f4f0",
    "#fdfcf9",
    "#262926",
    "#5b5f5a",
    "#b4b5ad",
    "#e3e3dc",
    "#a33d0c",
)

# What can't be less or more; and how much is shown where next to nothing changes.
FLOORS: Final = {Quantity.HUMIDITY: 0.0, Quantity.CO2: 0.0}
CEILINGS: Final = {Quantity.HUMIDITY: 100.0}
LEAST_SPREAD: Final = {Quantity.HUMIDITY: 12.0, Quantity.CO2: 300.0, Quantity.TEMPERATURE: 4.0}


@dataclass(frozen=True, slots=True)
class Panel:
    """One quantity over time.

    Attributes:
        points: at least one, oldest first.
        band: what holds for it now; None: it isn't judged.
        gap: points further apart than this are not joined.
        deeds: when what was done in the chamber, oldest first.
    """

    points: tuple[Reading, ...]
    band: Band | None
    gap: timedelta
    deeds: tuple[tuple[datetime, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """The whole picture: a chamber, and one or two things of it, the weightier first.

    Attributes:
        title: of the chamber.
        panels: what is drawn of it.
        now: the right edge.
        zone: of the hours.
        shown_in: the units in which its numbers are written.
    """

    title: str
    panels: tuple[Panel, ...]
    now: datetime
    zone: tzinfo
    shown_in: ShownIn

    def number(self, quantity: Quantity, value: float) -> float:
        """Return a value in the unit that is written."""
        temperature = quantity is Quantity.TEMPERATURE
        return self.shown_in.temperature_of(value) if temperature else value


def drawn(sheet: Sheet) -> str:
    """Return the picture as SVG."""
    high = HEIGHTS[len(sheet.panels)]
    stride = TOP + high + HOURS
    height = round(stride * len(sheet.panels)) + FOOT
    size = f'width="{WIDTH}" height="{height}"'
    font = 'font-family="DejaVu Sans, sans-serif"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {WIDTH} {height}" {font}>',
        f'<rect {size} fill="{PAPER}"/>',
    ]
    for number, panel in enumerate(sheet.panels):
        scale = _Scale(sheet.now, high, *_range(panel))
        down = f"translate(0 {number * stride})"
        parts += [f'<g transform="{down}">', *_panel(sheet, panel, scale, number), "</g>"]
    return "\n".join([*parts, "</svg>"])


def _panel(sheet: Sheet, panel: Panel, scale: "_Scale", number: int) -> Iterator[str]:
    last = panel.points[-1]
    out = panel.band is not None and (
        picture_words.standing(last, panel.band) is not Standing.WITHIN
    )
    yield _text(28, 46, picture_words.heading(sheet.title, last), 30, weight="bold")
    liked = sheet.shown_in.said
    words = liked(picture_words.said(last, panel.band, sheet.now, sheet.zone))
    value = liked(picture_words.beside(last, panel.band))
    yield _text(28, 82, f"{value} {words}", 21, fill=OUT if out else SOFT)
    yield from _ground(panel, scale)
    yield from _deeds(panel, scale)
    yield from _limits(sheet, panel, scale)
    yield from _hours(sheet, scale)
    yield from _line(panel, scale, number)
    yield from _gaps(panel, scale)
    yield from _end(last, value, scale, out=out)


@dataclass(frozen=True, slots=True)
class _Scale:
    """From times and values to places."""

    now: datetime
    height: float
    low: float
    high: float

    @property
    def foot(self) -> float:
        return TOP + self.height

    def x(self, time: datetime) -> float:
        share = 1.0 - (self.now - time) / LENGTH
        return round(LEFT + min(1.0, max(0.0, share)) * (RIGHT - LEFT), 1)

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(TOP + self.height * (1.0 - min(1.0, max(0.0, share))), 1)


def _range(panel: Panel) -> tuple[float, float]:
    """Choose a stretch that shows the band, all values, and a harm limit that is near."""
    values = [point.value for point in panel.points]
    band = panel.band or Band()
    shown = [*values, *(end for end in (band.low, band.high) if end is not None)]
    shown += [limit for limit, _ in _harm(panel)]
    quantity = panel.points[0].quantity
    least = LEAST_SPREAD.get(quantity, 1.0)
    return around(shown, least, FLOORS.get(quantity), CEILINGS.get(quantity))


def _harm(panel: Panel) -> Iterator[tuple[float, bool]]:
    """Yield the harm limits of a side on which the band was left; true for the low one."""
    band = panel.band
    if band is None:
        return
    values = [point.value for point in panel.points]
    if band.harm_low is not None and (band.low is None or min(values) < band.low):
        yield band.harm_low, True
    if band.harm_high is not None and (band.high is None or max(values) > band.high):
        yield band.harm_high, False


def _ends(band: Band, scale: _Scale) -> tuple[float, float]:
    """Return the top and the foot of the band in the drawing."""
    low, high = band.edges
    top = TOP if high is None else scale.y(high)
    return top, scale.foot if low is None else scale.y(low)


def _ground(panel: Panel, scale: _Scale) -> Iterator[str]:
    """Draw the ground and on it the band."""
    across = f'x="{LEFT}" width="{RIGHT - LEFT}"'
    yield f'<rect {across} y="{TOP}" height="{scale.height}" fill="{GROUND}"/>'
    if panel.band is not None:
        top, foot = _ends(panel.band, scale)
        yield f'<rect {across} y="{top}" height="{round(foot - top, 1)}" fill="{BAND}"/>'


def _limits(sheet: Sheet, panel: Panel, scale: _Scale) -> Iterator[str]:
    """Draw the limits with their numbers, and what is harmful."""
    band, last = panel.band or Band(), panel.points[-1]
    limits = [limit for limit in (band.low, band.high) if limit is not None]
    for limit in limits:
        yield _rule(scale.y(limit), f'stroke="{LINE}" stroke-width="1.5"')
    numbers = limits or [limit for limit, _ in _harm(panel)]
    written = [(scale.y(limit), sheet.number(last.quantity, limit)) for limit in numbers]
    taken: list[float] = []
    for y, number in written or _round_numbers(sheet, last.quantity, scale):
        if all(abs(y - other) >= CLOSE for other in taken):
            taken.append(y)
            yield _text(LEFT - 12, y + 7, f"{round(number, 1):g}", 20, fill=SOFT, anchor="end")
    for limit, low in _harm(panel):
        y = scale.y(limit)
        yield _rule(y, f'stroke="{OUT}" stroke-width="2" stroke-dasharray="9 7"')
        # On the far side of the limit, away from the band, where there is room.
        far, near = (y + 24, y - 10) if low else (y - 10, y + 24)
        inside = TOP + 20 <= far <= scale.foot - 6
        words = sheet.shown_in.said(picture_words.harmful(limit, last, low=low))
        text = _text(LEFT + 10, far if inside else near, words, 18, fill=OUT)
        # What crosses the words gives way to them.
        halo = f'paint-order="stroke" stroke="{GROUND}" stroke-width="6"'
        yield text.replace("<text ", f"<text {halo} ", 1)


def _round_numbers(sheet: Sheet, quantity: Quantity, scale: _Scale) -> list[tuple[float, float]]:
    """Return two to four numbers to read a scale without limits by, each with its place."""
    low, high = sheet.number(quantity, scale.low), sheet.number(quantity, scale.high)
    own = (scale.high - scale.low) / (high - low)
    return [
        (scale.y(scale.low + (number - low) * own), number) for number in round_numbers(low, high)
    ]


def _rule(y: float, style: str) -> str:
    return f'<line x1="{LEFT}" y1="{y}" x2="{RIGHT}" y2="{y}" {style}/>'


def _hours(sheet: Sheet, scale: _Scale) -> Iterator[str]:
    """Mark the full hours of the site, and write every other."""
    foot = scale.foot
    yield _rule(foot, f'stroke="{SOFT}" stroke-width="1.5"')
    start = sheet.now - LENGTH
    first = start.replace(minute=start.minute // 15 * 15, second=0, microsecond=0)
    # A zone may be a quarter of an hour off; a full hour of it is one of these.
    for quarter in (first + QUARTER * n for n in range(LENGTH // QUARTER + 2)):
        local = quarter.astimezone(sheet.zone)
        if local.minute or not start <= quarter <= sheet.now:
            continue
        x = scale.x(quarter)
        yield (
            f'<line x1="{x}" y1="{foot}" x2="{x}" y2="{foot + 7}" stroke="{SOFT}" '
            f'stroke-width="1.5"/>'
        )
        if local.hour % 2 == 0:
            yield _text(x, foot + 30, f"{local:%H:%M}", 20, fill=SOFT, anchor="middle")


def _deeds(panel: Panel, scale: _Scale) -> Iterator[str]:
    """Mark what was done, so that a jump explains itself."""
    free = LEFT
    for time, name in panel.deeds:
        x = scale.x(time)
        dotted = f'stroke="{SOFT}" stroke-width="1.5" stroke-dasharray="2 5"'
        yield f'<line x1="{x}" y1="{TOP}" x2="{x}" y2="{scale.foot}" {dotted}/>'
        width = 9.6 * len(name)
        if x - width / 2 >= free and x + width / 2 <= WIDTH:
            yield _text(x, TOP - 7, name, 16, fill=SOFT, anchor="middle")
            free = x + width / 2 + 8


def _runs(panel: Panel) -> Iterator[Sequence[Reading]]:
    """Yield stretches without a gap."""
    run: list[Reading] = []
    for point in panel.points:
        if run and point.time - run[-1].time > panel.gap:
            yield run
            run = []
        run.append(point)
    yield run


def _line(panel: Panel, scale: _Scale, number: int) -> Iterator[str]:
    """Draw the values: once for what is inside the band, once more for what is not."""
    runs = list(_runs(panel))
    path = " ".join(_path(run, scale) for run in runs)
    join = 'fill="none" stroke-linejoin="round" stroke-linecap="round"'
    if panel.band is None:
        yield f'<path d="{path}" {join} stroke="{INK}" stroke-width="3.5"/>'
    else:
        top, foot = _ends(panel.band, scale)
        inside = f"inside{number}"
        above, below = f"above{number}", f"below{number}"
        # A line on the limit itself is inside; the clip leaves room for its thickness.
        yield _clip(inside, top - 1.8, foot + 1.8)
        yield _clip(above, TOP - 8, top - 1.8)
        yield _clip(below, foot + 1.8, scale.foot + 8)
        yield _stroke(path, join, inside, INK, 3.5)
        yield _stroke(path, join, above, OUT, 5)
        yield _stroke(path, join, below, OUT, 5)


def _gaps(panel: Panel, scale: _Scale) -> Iterator[str]:
    """Say of a wide gap that nothing was read; up to now as well."""
    top, foot = (TOP, scale.foot) if panel.band is None else _ends(panel.band, scale)
    times = [*(point.time for point in panel.points), scale.now]
    for before, after in pairwise(times):
        if after - before >= WIDE_GAP:
            middle = (scale.x(before) + scale.x(after)) / 2
            words = picture_words.NO_READINGS
            yield _text(middle, (top + foot) / 2 + 6, words, 17, fill=SOFT, anchor="middle")


def _clip(name: str, top: float, foot: float) -> str:
    height = max(0.0, round(foot - top, 1))
    return (
        f'<clipPath id="{name}"><rect x="0" y="{round(top, 1)}" width="{WIDTH}" '
        f'height="{height}"/></clipPath>'
    )


def _stroke(path: str, join: str, clip: str, colour: str, width: float) -> str:
    return (
        f'<g clip-path="url(#{clip})"><path d="{path}" {join} stroke="{colour}" '
        f'stroke-width="{width}"/></g>'
    )


def _path(run: Sequence[Reading], scale: _Scale) -> str:
    places = [f"{scale.x(point.time)} {scale.y(point.value)}" for point in run]
    # One alone would not be seen; a line to itself has round ends.
    return "M" + " L".join(places if len(places) > 1 else places * 2)


def _end(last: Reading, value: str, scale: _Scale, *, out: bool) -> Iterator[str]:
    """Mark the newest value and write it where the line ends."""
    x, y, colour = scale.x(last.time), scale.y(last.value), OUT if out else INK
    ring = f'fill="{colour}" stroke="{PAPER}" stroke-width="3"'
    yield f'<circle cx="{x}" cy="{y}" r="8.5" {ring}/>'
    number, _, unit = value.partition(" ")
    down = min(max(y + 10, TOP + 24), scale.foot - 34)
    # Beside the line's end; what is old must not stand where what is new would.
    along = RIGHT + 18 if RIGHT - x < CLOSE else x + 16
    yield _text(along, down, number, 32, fill=colour, weight="bold")
    yield _text(along, down + 24, unit, 19, fill=colour)


def _text(  # noqa: PLR0913, PLR0917 - what a text of a drawing needs
    x: float,
    y: float,
    words: str,
    size: int,
    fill: str = INK,
    anchor: str = "start",
    weight: str = "normal",
) -> str:
    return (
        f'<text x="{round(x, 1)}" y="{round(y, 1)}" font-size="{size}" fill="{fill}" '
        f'text-anchor="{anchor}" font-weight="{weight}">{escape(words)}</text>'
    )
