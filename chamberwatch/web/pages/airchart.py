"""The chart of the air, drawn: the paper, the band, the last day, now, and where deeds lead."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.air.chart import (
    Line,
    Point,
    Sector,
    Window,
    humidity_line,
    patch,
    point_of,
    region,
    water_g_per_kg,
    window_for,
)
from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.uncertainty import Spread
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _
from chamberwatch.web.pages.air_axes import LETTERS, PLOT, Paper, Scale, paper
from chamberwatch.web.pages.air_points import Spot, Trust, Way
from chamberwatch.web.pages.air_verdict import Bands, verdict
from chamberwatch.web.pages.labels import Box, Label, Placer
from chamberwatch.web.pages.trail import LAST, STEP, Spell

AGES: Final = 4
"""The trail grows stronger in so many steps, the last one newest."""
HOURS_APART: Final = 3
FEW_APART: Final = 6
"""Between the hours that are named where the drawing is small."""
NEAR_K: Final = 3.0
"""So far beyond the rest the room and a wall may lie, and still be made room for."""
FAR: Final = 110.0
DOT: Final = 5.0
_BESIDE: Final = 2.0 * STEP


@dataclass(frozen=True, slots=True)
class Subject:
    """All that is to be drawn of one chamber.

    Attributes:
        pressure_pa: of the air. [Pa]
        bands: what its air is held against.
        now: the air now; None: not known.
        spread: how far that may be off.
        room: the air around it.
        misted: where a misting leads.
        vented: where a venting leads.
        to_room: the mixtures of its air with that of the room.
        margin: of the coldest surface.
        trail: the last day.
        at: the time.
    """

    pressure_pa: float
    bands: Bands
    now: Spot | None
    spread: Spread | None
    room: Spot | None
    misted: Way | None
    vented: Way | None
    to_room: Line
    margin: Margin | None
    trail: tuple[Spell, ...]
    at: datetime


@dataclass(frozen=True, slots=True)
class Dot:
    """An hour of the trail; the label is None where it has no room, `few` where few are shown."""

    x: float
    y: float
    label: Label | None
    few: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """A named point: its place, its form, and its name; `out` is outside the band."""

    key: str
    x: float
    y: float
    trust: str
    label: Label | None
    out: bool = False


@dataclass(frozen=True, slots=True)
class Wall:
    """The coldest surface: a mark at its temperature, and what it is away from the dew point.

    Attributes:
        x: of the surface.
        top: of its mark, at the saturation line or the upper edge.
        dew_x: of the dew point.
        y: of air with that dew point.
        state: wet, dry or unsure.
        label: its name.
    """

    x: float
    top: float
    dew_x: float
    y: float
    state: str
    label: Label | None


@dataclass(frozen=True, slots=True)
class AirChart:
    """The whole drawing; every line is a path, empty where there is none."""

    window: Window
    plot: Box
    paper: Paper
    band: str
    harm: str
    trail: tuple[tuple[int, str], ...]
    dots: tuple[Dot, ...]
    patch: str
    to_room: str
    misted: str
    misted_then: str
    vented: str
    wall: Wall | None
    marks: tuple[Mark, ...]


def chart_of(subject: Subject, figures: Figures) -> AirChart:
    """Draw the chart of a chamber."""
    spots = tuple(_spots(subject))
    window = window_for(_to_be_seen(subject, spots), subject.pressure_pa)
    scale, placer = (
        Scale(window),
        Placer(Box(2.0, 2.0, PLOT.right + 2.0, PLOT.bottom - 2.0), LETTERS),
    )
    drawn = paper(scale, placer, figures)
    seen = [spot for spot in spots if window.holds(point_of(spot.air))]
    for spot in seen:
        x, y = scale.place(point_of(spot.air))
        placer.reserve(Box(x - DOT, y - DOT, x + DOT, y + DOT))
    placer.reserve(*_lines_taken(subject, scale))
    marks = tuple(_mark(spot, scale, placer, subject.bands, figures) for spot in seen)
    wall = _wall(subject.margin, scale, placer, figures)
    return AirChart(
        window=window,
        plot=PLOT,
        paper=drawn,
        band=_band(subject.bands, scale),
        harm=_harm(subject.bands, scale),
        trail=tuple(_trail(subject, scale)),
        dots=tuple(_dots(subject, scale, placer, figures.zone)),
        patch=_patch(subject, scale),
        to_room=scale.path(subject.to_room),
        misted=scale.path(subject.misted.line) if subject.misted else "",
        misted_then=scale.path(subject.misted.then) if subject.misted else "",
        vented=scale.path(subject.vented.line) if subject.vented else "",
        wall=wall,
        marks=marks,
    )


def _spots(subject: Subject) -> Iterator[Spot]:
    ways = (way.spot for way in (subject.misted, subject.vented) if way is not None)
    yield from (spot for spot in (subject.now, *ways, subject.room) if spot is not None)


def _lines_taken(subject: Subject, scale: Scale) -> Iterator[Box]:
    """Yield what words should leave free: saturation, the trail, the ways of deeds, the wall."""
    for x, y in map(scale.place, humidity_line(scale.window, 100.0)):
        yield Box(x - 3.0, y - 2.0, x + 3.0, y + 2.0)
    points = [_point(spell, subject.pressure_pa) for spell in subject.trail]
    for way in (subject.misted, subject.vented):
        if way is not None:
            points += _between(way.line[0], way.line[-1])
    margin = subject.margin
    if margin is not None:
        held = water_g_per_kg(margin.surface_c, 100.0, subject.pressure_pa)
        points += _between(Point(margin.surface_c, held * 0.2), Point(margin.surface_c, held))
    for x, y in map(scale.place, points):
        yield Box(x - 1.0, y - 1.0, x + 1.0, y + 1.0)


def _between(a: Point, b: Point) -> list[Point]:
    return [Point(*(u + (v - u) * n / 24.0 for u, v in zip(a, b, strict=True))) for n in range(25)]


def _to_be_seen(subject: Subject, spots: Iterable[Spot]) -> Iterator[Point]:
    """Yield what the window must show: the points, the day, the corners of the band."""
    pressure = subject.pressure_pa
    own = [point_of(spot.air) for spot in spots if spot is not subject.room]
    own += [_point(spell, pressure) for spell in subject.trail]
    for way in (subject.misted, subject.vented):
        own += way.line if way is not None else ()
    own += _corners(subject)
    yield from own
    around = [point_of(subject.room.air)] if subject.room is not None else []
    around += [Point(subject.margin.surface_c, 0.0)] if subject.margin is not None else []
    warm = [point.temperature_c for point in own]
    for point in around:
        if not warm or min(warm) - NEAR_K <= point.temperature_c <= max(warm) + NEAR_K:
            yield point


def _corners(subject: Subject) -> Iterator[Point]:
    """Yield the most humid corners of the band."""
    pressure = subject.pressure_pa
    warm, humid = subject.bands.temperature, subject.bands.humidity
    limits = [each for each in (warm.low, warm.high) if each is not None] if warm else []
    high = humid.high if humid is not None and humid.high is not None else 0.0
    yield from (Point(t, water_g_per_kg(t, high, pressure)) for t in limits)


def _point(spell: Spell, pressure_pa: float) -> Point:
    humidity = min(spell.humidity_pct, 100.0)
    return Point(spell.temperature_c, water_g_per_kg(spell.temperature_c, humidity, pressure_pa))


def _mark(spot: Spot, scale: Scale, placer: Placer, bands: Bands, figures: Figures) -> Mark:
    x, y = scale.place(point_of(spot.air))
    texts = [spot.short, spot.least] if spot.short else [spot.name]
    label = placer.beside(x, y, texts, far=FAR, bold=True)
    stands = verdict(spot.air.temperature_c, spot.air.humidity_pct, bands, figures)
    return Mark(spot.key, x, y, spot.trust.value, label, stands.out)


def _band(bands: Bands, scale: Scale) -> str:
    """Return the region that the crop wants; empty where nothing is judged."""
    if not bands.judged:
        return ""
    warm, humid = bands.temperature, bands.humidity
    low_c, high_c = (warm.low, warm.high) if warm else (None, None)
    low_pct, high_pct = (humid.low, humid.high) if humid else (None, None)
    wanted = Sector(low_c, high_c, low_pct, high_pct)
    if wanted == Sector():
        return ""
    return scale.path(region(scale.window, wanted), closed=True)


def _harm(bands: Bands, scale: Scale) -> str:
    """Return all that harms as one path, so that its hatching is the same wherever two meet."""
    sectors = []
    if bands.temperature is not None:
        low, high = bands.temperature.harm_low, bands.temperature.harm_high
        sectors += [Sector(high_c=low)] if low is not None else []
        sectors += [Sector(low_c=high)] if high is not None else []
    if bands.humidity is not None:
        low, high = bands.humidity.harm_low, bands.humidity.harm_high
        sectors += [Sector(high_pct=low)] if low is not None else []
        sectors += [Sector(low_pct=high)] if high is not None else []
    return "".join(scale.path(region(scale.window, each), closed=True) for each in sectors)


def _patch(subject: Subject, scale: Scale) -> str:
    """Return where the air truly may be; an old value says nothing of that any more."""
    if subject.now is None or subject.spread is None or subject.now.trust is Trust.OLD:
        return ""
    off = subject.spread
    line = patch(scale.window, subject.now.air, off.temperature_k, off.humidity_pct)
    return scale.path(line, closed=True)


def _trail(subject: Subject, scale: Scale) -> Iterator[tuple[int, str]]:
    """Yield stretches of the trail without a gap, each with its age: 0 is the oldest."""
    for earlier, later in _unbroken(subject.trail):
        age = int((later.at - (subject.at - LAST)) / LAST * AGES)
        line = tuple(_point(spell, subject.pressure_pa) for spell in (earlier, later))
        if all(scale.window.holds(point) for point in line):
            yield min(max(age, 0), AGES - 1), scale.path(line)


def _unbroken(spells: Sequence[Spell]) -> Iterator[tuple[Spell, Spell]]:
    return ((a, b) for a, b in pairwise(spells) if b.at - a.at <= _BESIDE)


def _dots(subject: Subject, scale: Scale, placer: Placer, zone: ZoneInfo) -> Iterator[Dot]:
    """Yield a dot at every third hour of the clock on the wall, where the trail has it."""
    places = []
    for spell in subject.trail:
        local = (spell.at - STEP / 2).astimezone(zone)
        point = _point(spell, subject.pressure_pa)
        if local.hour % HOURS_APART or local.minute >= STEP.seconds // 60:
            continue
        if scale.window.holds(point):
            places.append((local, *scale.place(point)))
    placer.reserve(*(Box(x - 2.0, y - 2.0, x + 2.0, y + 2.0) for _, x, y in places))
    for local, x, y in reversed(places):
        few = local.hour % FEW_APART == 0
        yield Dot(x, y, placer.beside(x, y, [f"{local:%H:%M}"], far=18.0), few)


def _wall(margin: Margin | None, scale: Scale, placer: Placer, figures: Figures) -> Wall | None:
    if margin is None:
        return None
    window = scale.window
    dew_c = margin.surface_c - margin.margin_k
    water = water_g_per_kg(dew_c, 100.0, window.pressure_pa)
    if not (window.holds(Point(margin.surface_c, 0.0)) and window.holds(Point(dew_c, water))):
        return None
    held = water_g_per_kg(margin.surface_c, 100.0, window.pressure_pa)
    x, y = scale.place(Point(margin.surface_c, water))
    top = round(max(scale.y(held), PLOT.top), 1)
    state = ("wet" if margin.wet else "dry") if margin.certain else "unsure"
    name = _("walls %(at)s", at=figures.temperature(margin.surface_c))
    from_wet = {
        "wet": _("wet"),
        "dry": _("%(by)s from wet", by=figures.margin(margin.margin_k)),
        "unsure": _("wet or dry can't be told"),
    }[state]
    label = placer.beside(
        x, PLOT.bottom - 10.0, [f"{name}: {from_wet}", name, _("walls")], far=60.0
    )
    return Wall(x, top, round(scale.x(dew_c), 1), y, state, label)
