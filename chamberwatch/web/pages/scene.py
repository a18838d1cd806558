"""The drawing of a chamber: its shelves, the sensors where they hang, the room around it.

Only what is known is drawn: an empty shelf is empty, and a sensor that was not heard hangs there
crossed out. Lengths are in units of the drawing, which is as wide as a small phone's page.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from chamberwatch.core import wording
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.doubt import Doubted
from chamberwatch.core.watch.judgement import Judgement
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.service.views import ChamberNow, SensorNow
from chamberwatch.web.pages import words
from chamberwatch.web.pages.grows import drawn_as
from chamberwatch.web.pages.ruler import Ruler, ruler

WIDTH: Final = 360.0
ROOM_HEIGHT: Final = 54.0
HEAD_HEIGHT: Final = 34.0
SHELF_HEIGHT: Final = 30.0
SENSOR_HEAD: Final = 26.0
RULER_HEIGHT: Final = 66.0
LINE_HEIGHT: Final = 19.0
BELOW_ROW: Final = 8.0
FOOT: Final = 20.0
RULER_WIDTH: Final = 262.0
LONGEST_NAME: Final = 22
LONGEST_SENSOR: Final = 17


@dataclass(frozen=True, slots=True)
class Line:
    """A value without a band."""

    y: float
    text: str
    old: bool


@dataclass(frozen=True, slots=True)
class Hung:
    """A sensor in the drawing: where it hangs, and what it says.

    `state` is heard, silent or never; `note` says when.
    """

    y: float
    name: str
    full_name: str
    place: str
    state: str
    note: str
    rulers: tuple[tuple[float, Ruler], ...]
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """A shelf, or the air that is no shelf's."""

    y: float
    height: float
    name: str
    full_name: str
    shelf: bool
    hung: tuple[Hung, ...]


@dataclass(frozen=True, slots=True)
class Around:
    """The room a chamber stands in: what its air is, in one line.

    `sensed` tells whether a sensor hangs there at all.
    """

    title: str
    air: str
    note: str
    old: bool
    sensed: bool


@dataclass(frozen=True, slots=True)
class Scene:
    """The whole drawing. `body` is tent (has shelves), tub (has none) or room."""

    title: str
    description: str
    stage: str
    body: str
    around: Around | None
    rows: tuple[Row, ...]
    top: float
    floor: float
    height: float


def is_old(reading: Reading, heard: SensorNow, now: datetime) -> bool:
    """Tell whether a value must look old: its sensor, or it alone, has fallen silent."""
    return heard.silent or now - reading.time > heard.sensor.unheard_after


def scene(shown: ChamberNow, around: ChamberNow | None, now: datetime) -> Scene:
    """Lay out the drawing of a chamber."""
    chamber = shown.chamber
    body = "room" if chamber.stage is None else ("tent" if chamber.shelves else "tub")
    top = ROOM_HEIGHT if around else 6.0
    y = top + HEAD_HEIGHT
    judged = {(j.reading.sensor, j.reading.quantity): j for j in shown.judgements}
    rows = []
    for name, shelf, sensors in _levels(shown):
        row = _row(y, (name, shelf), sensors, judged, now)
        rows.append(row)
        y += row.height
    floor = y + (FOOT if body == "tent" else 6.0)
    return Scene(
        title=f"{chamber.title}, drawn",
        description=describe(shown, now),
        stage=drawn_as(chamber),
        body=body,
        around=_around(around, now) if around else None,
        rows=tuple(rows),
        top=top,
        floor=floor,
        height=floor + 12.0,
    )


def _levels(shown: ChamberNow) -> Iterable[tuple[str, bool, list[SensorNow]]]:
    """Sort the sensors to the shelves, top first; what hangs at none comes before them."""
    shelves = shown.chamber.shelves
    free = [heard for heard in shown.sensors if heard.sensor.shelf not in shelves]
    if free or not shelves:
        yield "", False, free
    for shelf in shelves:
        yield shelf, True, [heard for heard in shown.sensors if heard.sensor.shelf == shelf]


Judged = dict[tuple[str, Quantity], Judgement]


def _row(
    y: float, level: tuple[str, bool], sensors: list[SensorNow], judged: Judged, now: datetime
) -> Row:
    name, shelf = level
    hung = []
    inner = y + (4.0 if not shelf else 0.0)
    for index, heard in enumerate(sensors):
        # A shelf's own name takes the first line; a second sensor there brings its own.
        inner += 6.0 if index else 0.0
        one, inner = _hang(inner, heard, judged, now)
        hung.append(one)
    height = max(inner - y + BELOW_ROW, SHELF_HEIGHT)
    return Row(y, height, words.shortened(name, LONGEST_NAME), name, shelf, tuple(hung))


def _hang(y: float, heard: SensorNow, judged: Judged, now: datetime) -> tuple[Hung, float]:
    sensor = heard.sensor
    below = y + SENSOR_HEAD
    rulers, lines = [], []
    doubt = doubt_words(heard)
    if doubt:
        # The sign is a character among the words, so it shows in print and without colours.
        below += LINE_HEIGHT
        lines.append(Line(below - 6.0, f"? {doubt}", old=False))
    for quantity, reading in _in_order(heard):
        old = is_old(reading, heard, now)
        judgement = judged.get((sensor.name, quantity))
        if judgement is not None:
            age = f"{words.span(now - reading.time)} old" if old else ""
            rulers.append((below, ruler(judgement, RULER_WIDTH, age)))
            below += RULER_HEIGHT
    for quantity, reading in _in_order(heard):
        if (sensor.name, quantity) not in judged:
            below += LINE_HEIGHT
            old = is_old(reading, heard, now)
            lines.append(Line(below - 6.0, _line(sensor, quantity, reading, now, old=old), old))
    state = "never" if heard.heard_ago is None else ("silent" if heard.silent else "heard")
    if state == "never":
        below += LINE_HEIGHT
    return Hung(
        y=y,
        name=words.shortened(sensor.name, LONGEST_SENSOR),
        full_name=sensor.name,
        place=sensor.place.value,
        state=state,
        note=heard_words(heard),
        rulers=tuple(rulers),
        lines=tuple(lines),
    ), below


def _in_order(heard: SensorNow) -> list[tuple[Quantity, Reading]]:
    """Return its readings in one order everywhere: humidity first, it is what one looks for."""
    order = [Quantity.HUMIDITY, Quantity.TEMPERATURE, Quantity.CO2]
    order += [quantity for quantity in Quantity if quantity not in order]
    return [(q, heard.readings[q]) for q in order if q in heard.readings]


def _line(
    sensor: Sensor, quantity: Quantity, reading: Reading, now: datetime, *, old: bool
) -> str:
    on_a_wall = sensor.place is Place.SURFACE and quantity is Quantity.TEMPERATURE
    where = "surface " if on_a_wall else ""
    said = f"{where}{words.NAMES[quantity]} {words.amount(quantity, reading.value)}"
    return f"{said}, {words.span(now - reading.time)} old" if old else said


def heard_words(heard: SensorNow) -> str:
    """Say when a sensor was last heard."""
    if heard.heard_ago is None:
        return "not heard yet"
    if heard.silent:
        return f"silent for {words.span(heard.heard_ago)}"
    return f"heard {words.span(heard.heard_ago)} ago"


def doubt_words(heard: SensorNow) -> str:
    """Say why a sensor is not to be believed; empty where it is, and where it only is silent."""
    if heard.doubt is None or heard.doubt.kind is Doubted.SILENT:
        return ""
    return f"in doubt: {wording.MAY[heard.doubt.kind]}"


def _around(room: ChamberNow, now: datetime) -> Around:
    parts = []
    for value, quantity in (
        (room.temperature_c, Quantity.TEMPERATURE),
        (room.humidity_pct, Quantity.HUMIDITY),
        (room.co2_ppm, Quantity.CO2),
    ):
        if value is not None:
            parts.append(words.amount(quantity, value))
    title = words.shortened(room.chamber.title, LONGEST_NAME)
    if not parts:
        note = "not heard yet" if room.sensors else "no sensor"
        return Around(title, "", note, old=False, sensed=bool(room.sensors))
    age = words.span(now - room.time) if room.time else ""
    note = f"{age} old" if room.stale and age else ""
    return Around(title, "   ".join(parts), note, old=room.stale, sensed=True)


def describe(shown: ChamberNow, now: datetime) -> str:
    """Say in words what the drawing shows, for those who don't see it."""
    said = []
    heard_of = {heard.sensor.name: heard for heard in shown.sensors}
    for judgement in shown.judgements:
        reading = judgement.reading
        heard = heard_of.get(reading.sensor)
        old = heard is None or is_old(reading, heard, now)
        value = words.amount(reading.quantity, reading.value, words.finer_for(judgement))
        standing = f"{words.span(now - reading.time)} old" if old else words.standing(judgement)
        said.append(f"{words.NAMES[reading.quantity]} at {judgement.where} {value}, {standing}")
    said += [
        f"sensor {heard.sensor.name} {heard_words(heard)}"
        for heard in shown.sensors
        if heard.silent or heard.heard_ago is None
    ]
    said += [
        f"sensor {heard.sensor.name} {doubt_words(heard)}"
        for heard in shown.sensors
        if doubt_words(heard)
    ]
    shelves = len(shown.chamber.shelves)
    things = "shelf" if shelves == 1 else "shelves"
    begin = f"{shown.chamber.title}{f' with {shelves} {things}' if shelves else ''}."
    return f"{begin} {'; '.join(said) or 'No sensor was heard yet'}.".replace(words.GAP, " ")
