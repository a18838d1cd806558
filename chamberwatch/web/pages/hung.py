"""A sensor in the drawing: where it hangs, what it says, and what it said in the last hours."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from chamberwatch.core import wording
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.course import SWING, Points, course, unbroken
from chamberwatch.core.watch.doubt import Doubted
from chamberwatch.core.watch.judgement import Judgement
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.service.strips import STEP
from chamberwatch.service.views import ChamberNow, SensorNow
from chamberwatch.web import words
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _
from chamberwatch.web.pages.air_words import reading_spread
from chamberwatch.web.pages.ruler import Ruler, Shown, ruler
from chamberwatch.web.pages.trace import LONG
from chamberwatch.web.trade_words import place_name, way_name, where

SENSOR_HEAD: Final = 26.0
RULER_HEIGHT: Final = 72.0
HOURS_HEIGHT: Final = 13.0
LINE_HEIGHT: Final = 19.0
LONGEST_SENSOR: Final = 20

Judged = Mapping[tuple[str, Quantity], Judgement]


@dataclass(frozen=True, slots=True)
class Beside:
    """What is drawn beside the newest values.

    Attributes:
        figures: how values are written.
        now: the time.
        strips: the last hours of each series.
        batches: that stand in the chamber.
        titles: common names of species by their short ones.
    """

    figures: Figures
    now: datetime
    strips: Mapping[tuple[str, Quantity], Points] = field(default_factory=dict)
    batches: tuple[Batch, ...] = ()
    titles: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Line:
    """A value without a band."""

    y: float
    text: str
    old: bool


@dataclass(frozen=True, slots=True)
class Hung:
    """A sensor in the drawing: where it hangs, and what it says.

    `called` is its name, or what it hangs in where that is not the air; `place` is that for the
    drawing. `state` is heard, silent or never; `note` says when. `hours` is the place beneath the
    last line, and the time at its left end; None without a line.
    """

    y: float
    called: str
    full_name: str
    place: str
    where: str
    state: str
    note: str
    rulers: tuple[tuple[float, Ruler], ...]
    lines: tuple[Line, ...]
    hours: tuple[float, str] | None = None


def judged_of(shown: ChamberNow) -> Judged:
    """Return the judgements of a chamber by sensor and quantity."""
    return {(j.reading.sensor, j.reading.quantity): j for j in shown.judgements}


def is_old(reading: Reading, heard: SensorNow, now: datetime) -> bool:
    """Tell whether a value must look old: its sensor, or it alone, has fallen silent."""
    return heard.silent or now - reading.time > heard.sensor.unheard_after


def hang(y: float, heard: SensorNow, judged: Judged, beside: Beside) -> tuple[Hung, float]:
    """Lay out a sensor from `y` down; return also where it ends."""
    sensor, now = heard.sensor, beside.now
    below = y + SENSOR_HEAD
    rulers, lines, hours = [], [], None
    doubt = doubt_words(heard)
    if doubt:
        # The sign is a character among the words, so it shows in print and without colours.
        below += LINE_HEIGHT
        lines.append(Line(below - 6.0, f"? {doubt}", old=False))
    for judgement, reading in _with_band(heard, judged):
        rulers.append((below, ruler(judgement, _shown(heard, reading, beside))))
        below += RULER_HEIGHT
    if rulers:
        below += HOURS_HEIGHT
        hours = (below - 9.0, words.moment(now - LONG, now, beside.figures.zone))
    for quantity, reading in in_order(heard):
        if (sensor.name, quantity) not in judged:
            below += LINE_HEIGHT
            old = is_old(reading, heard, now)
            lines.append(Line(below - 6.0, _line(sensor, reading, beside, old=old), old))
    state = "never" if heard.heard_ago is None else ("silent" if heard.silent else "heard")
    if state == "never":
        below += LINE_HEIGHT
    return Hung(
        y=y,
        called=words.both_ends(sensor.name, LONGEST_SENSOR)
        if sensor.place is Place.AIR
        else place_name(sensor.place),
        full_name=sensor.name,
        place=sensor.place.value,
        where=where(sensor),
        state=state,
        note=heard_words(heard),
        rulers=tuple(rulers),
        lines=tuple(lines),
        hours=hours,
    ), below


def _with_band(heard: SensorNow, judged: Judged) -> Iterator[tuple[Judgement, Reading]]:
    for quantity, reading in in_order(heard):
        judgement = judged.get((heard.sensor.name, quantity))
        if judgement is not None:
            yield judgement, reading


def _shown(heard: SensorNow, reading: Reading, beside: Beside) -> Shown:
    old = is_old(reading, heard, beside.now)
    age = _("%(age)s old", age=words.span(beside.now - reading.time)) if old else ""
    spread = reading_spread(heard.sensor, reading.quantity, reading.value, beside.figures)
    return Shown(beside.figures, beside.now, pieces(heard, reading, beside), spread, age)


def pieces(heard: SensorNow, reading: Reading, beside: Beside) -> tuple[Points, ...]:
    """Return the last hours of a series up to its newest reading, cut where it was not heard."""
    key = (heard.sensor.name, reading.quantity)
    kept = [each for each in beside.strips.get(key, ()) if each[0] < reading.time]
    return unbroken([*kept, (reading.time, reading.value)], STEP + heard.sensor.unheard_after)


def course_words(heard: SensorNow, reading: Reading, beside: Beside) -> str:
    """Say which way a value goes and for how long; empty where that can't be said."""
    swing = SWING.get(reading.quantity)
    if swing is None or is_old(reading, heard, beside.now):
        return ""
    found = course(pieces(heard, reading, beside)[-1], swing)
    return (
        _(
            "%(way)s for %(age)s",
            way=way_name(found.way),
            age=words.span(reading.time - found.since),
        )
        if found
        else ""
    )


def in_order(heard: SensorNow) -> list[tuple[Quantity, Reading]]:
    """Return its readings in one order everywhere: humidity first, it is what one looks for."""
    order = [Quantity.HUMIDITY, Quantity.TEMPERATURE, Quantity.CO2]
    order += [quantity for quantity in Quantity if quantity not in order]
    return [(q, heard.readings[q]) for q in order if q in heard.readings]


def _line(sensor: Sensor, reading: Reading, beside: Beside, *, old: bool) -> str:
    quantity, figures = reading.quantity, beside.figures
    on_a_wall = sensor.place is Place.SURFACE and quantity is Quantity.TEMPERATURE
    where = _("surface ") if on_a_wall else ""
    said = f"{where}{words.named(quantity)} {figures.amount(quantity, reading.value)}"
    if old:
        return _("%(said)s, %(age)s old", said=said, age=words.span(beside.now - reading.time))
    spread = reading_spread(sensor, quantity, reading.value, figures)
    return f"{said} {spread}" if spread else said


def heard_words(heard: SensorNow) -> str:
    """Say when a sensor was last heard."""
    if heard.heard_ago is None:
        return _("not heard yet")
    if heard.silent:
        return _("silent for %(age)s", age=words.span(heard.heard_ago))
    return _("heard %(age)s ago", age=words.span(heard.heard_ago))


def doubt_words(heard: SensorNow) -> str:
    """Say why a sensor is not to be believed; empty where it is, and where it only is silent."""
    if heard.doubt is None or heard.doubt.kind is Doubted.SILENT:
        return ""
    return _("in doubt: %(why)s", why=wording.MAY[heard.doubt.kind])
