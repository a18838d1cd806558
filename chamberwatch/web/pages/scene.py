"""The drawing of a chamber: shelves and what stands on them, sensors, walls, the room around it.

Only what is known is drawn: an empty shelf is empty, and a sensor that was not heard hangs there
crossed out. Lengths are in units of the drawing, which is as wide as a small phone's page.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.views import ChamberNow, SensorNow
from chamberwatch.web import words
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.described import describe
from chamberwatch.web.pages.grows import drawn_as
from chamberwatch.web.pages.hung import Beside, Hung, Judged, hang, judged_of
from chamberwatch.web.pages.stood import Standing, standing
from chamberwatch.web.pages.walls import Walls, walls

WIDTH: Final = 360.0
ROOM_HEIGHT: Final = 54.0
HEAD_HEIGHT: Final = 34.0
SHELF_HEIGHT: Final = 30.0
NAME_HEIGHT: Final = 22.0
BELOW_ROW: Final = 8.0
FOOT: Final = 20.0
BATCH_HEIGHT: Final = 62.0
LABEL_HEIGHT: Final = 34.0
SHELF_ENDS: Final = (22.0, 338.0)
TUB_ENDS: Final = (32.0, 328.0)
LONGEST_NAME: Final = 22
NO_SHELF: Final = marked("no shelf named")


@dataclass(frozen=True, slots=True)
class Row:
    """A shelf, or the air that is no shelf's.

    `board` is what stands there stands on; labels are beneath it. `floor` tells that it is the
    chamber's own floor.
    """

    y: float
    height: float
    board: float
    name: str
    full_name: str
    shelf: bool
    hung: tuple[Hung, ...]
    standing: Standing
    floor: bool = False


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
    name: str
    stage: str
    body: str
    around: Around | None
    walls: Walls | None
    rows: tuple[Row, ...]
    top: float
    floor: float
    height: float


@dataclass(frozen=True, slots=True)
class _Level:
    """What is at one height of a chamber, before it is laid out."""

    name: str
    shelf: bool
    sensors: Sequence[SensorNow]
    batches: Sequence[Batch]
    floor: bool = False


def scene(shown: ChamberNow, around: ChamberNow | None, beside: Beside) -> Scene:
    """Lay out the drawing of a chamber."""
    chamber = shown.chamber
    body = "room" if chamber.stage is None else ("tent" if chamber.shelves else "tub")
    top = ROOM_HEIGHT if around else 6.0
    y = top + HEAD_HEIGHT
    judged = judged_of(shown)
    rows = []
    for level in _levels(shown, beside):
        row = _row(y, level, judged, beside)
        rows.append(row)
        y += row.height
    last = rows[-1]
    on_floor = last.floor and bool(last.standing.stood)
    floor = last.board if on_floor else y + (FOOT if body == "tent" else 6.0)
    return Scene(
        title=_("%(chamber)s, drawn", chamber=chamber.title),
        description=describe(shown, beside, _said(chamber, rows)),
        name=chamber.name,
        stage=drawn_as(chamber),
        body=body,
        around=_around(around, beside) if around else None,
        walls=walls(shown.margin, top + HEAD_HEIGHT, floor),
        rows=tuple(rows),
        top=top,
        floor=floor,
        height=max(floor + 12.0, y),
    )


def _levels(shown: ChamberNow, beside: Beside) -> Iterable[_Level]:
    """Sort sensors and batches to the shelves, top first.

    A sensor that hangs at no shelf comes before them, a batch that stands on none beneath them.
    """
    shelves = shown.chamber.shelves
    free = [heard for heard in shown.sensors if heard.sensor.shelf not in shelves]
    below = [batch for batch in beside.batches if batch.shelf not in shelves]
    if not shelves:
        yield _Level("", shelf=False, sensors=free, batches=below, floor=True)
        return
    if free:
        yield _Level("", shelf=False, sensors=free, batches=())
    for shelf in shelves:
        hanging = [heard for heard in shown.sensors if heard.sensor.shelf == shelf]
        stand = [batch for batch in beside.batches if batch.shelf == shelf]
        yield _Level(shelf, shelf=True, sensors=hanging, batches=stand)
    if below:
        yield _Level(_(NO_SHELF), shelf=False, sensors=(), batches=below, floor=True)


def _row(y: float, level: _Level, judged: Judged, beside: Beside) -> Row:
    hung = []
    inner = y + (4.0 if not level.shelf else 0.0)
    for index, heard in enumerate(level.sensors):
        # A shelf's own name takes the first line; a second sensor there brings its own.
        inner += 6.0 if index else 0.0
        one, inner = hang(inner, heard, judged, beside)
        hung.append(one)
    ends = TUB_ENDS if level.floor and not level.name else SHELF_ENDS
    stand = standing(level.batches, beside.titles, (beside.now, beside.figures.zone), ends)
    if stand.stood:
        inner = (inner if hung else y + NAME_HEIGHT) + BATCH_HEIGHT
        height = inner - y + LABEL_HEIGHT
    else:
        height = max(inner - y + BELOW_ROW, SHELF_HEIGHT)
        inner = y + height
    name = words.both_ends(level.name, LONGEST_NAME)
    return Row(
        y, height, inner, name, level.name, level.shelf, tuple(hung), stand, floor=level.floor
    )


def _said(chamber: Chamber, rows: Iterable[Row]) -> list[str]:
    """Say what stands where."""
    return [f"{_where(chamber, row)} {each}" for row in rows for each in row.standing.says]


def _where(chamber: Chamber, row: Row) -> str:
    if row.shelf:
        return _("on shelf %(shelf)s", shelf=row.full_name)
    return _("on no shelf that is named") if chamber.shelves else _("in it")


def _around(room: ChamberNow, beside: Beside) -> Around:
    parts = []
    for value, quantity in (
        (room.temperature_c, Quantity.TEMPERATURE),
        (room.humidity_pct, Quantity.HUMIDITY),
        (room.co2_ppm, Quantity.CO2),
    ):
        if value is not None:
            parts.append(beside.figures.amount(quantity, value))
    title = words.shortened(room.chamber.title, LONGEST_NAME)
    if not parts:
        note = _("not heard yet") if room.sensors else _("no sensor")
        return Around(title, "", note, old=False, sensed=bool(room.sensors))
    age = words.span(beside.now - room.time) if room.time else ""
    note = _("%(age)s old", age=age) if room.stale and age else ""
    return Around(title, "   ".join(parts), note, old=room.stale, sensed=True)
