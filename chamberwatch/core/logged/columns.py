"""Which column of a file is what: told by its name, by the unit in it, and by its figures."""

import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from typing import Final

from chamberwatch.core import cells
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.logged.numbers import is_nothing, number, parted, unit_of
from chamberwatch.core.logged.times import is_clock, is_date, is_epoch, is_whole, offset
from chamberwatch.core.watch.guess import (
    NOT_THE_AIR,
    UNIT_NAMES,
    USUAL,
    quantity_in,
    tells_time,
    words_of,
)
from chamberwatch.core.watch.reading import UNITS, Quantity, in_words
from chamberwatch.core.watch.units import SCALES, fault

# Words of other languages that stand above the columns of loggers, without their accents.
WORDS: Final[Mapping[str, str]] = {
    **dict.fromkeys(("temperatur", "temperatura", "temperatuur", "tempratur"), "temperature"),
    **dict.fromkeys(
        """feuchte feuchtigkeit luftfeuchte luftfeuchtigkeit humidite humedad umidita umidade
        humidade vochtigheid luchtvochtigheid hygrometrie""".split(),  # noqa: SIM905 - to be read
        "humidity",
    ),
    **dict.fromkeys(("druck", "luftdruck", "pression", "presion", "pressione"), "pressure"),
    **dict.fromkeys(("batterie", "bateria", "batteria", "spannung"), "battery"),
    **dict.fromkeys(
        """datum zeit uhrzeit zeitstempel zeitpunkt fecha hora heure data ora tijd""".split(),  # noqa: SIM905
        "time",
    ),
    **dict.fromkeys(("taupunkt", "rosee", "rocio", "rugiada", "orvalho", "dauwpunt"), "dewpoint"),
}

FITS: Final = 0.95
"""Such a share of the figures has to be usual in a unit for the column to be in it."""

MOSTLY: Final = 0.6
"""Such a share of the cells has to be a time for the column to be one."""

_BEHIND: Final = re.compile(r"(?P<name>.*?)[\s_,/:]*[(\[](?P<unit>[^)\]]*)[)\]]\s*")
_AFTER: Final = re.compile(
    r"(?P<name>.*?)[\s_,/:]*(?P<unit>[°º˚]\s*[CF]|℃|℉|%(?:\s*(?:RH|rF|HR|UR|rh))?)\s*"
)
_ZONE: Final = re.compile(
    r"(?<![A-Za-z])(?P<name>UTC|GMT)(?![A-Za-z]) *(?P<off>[+-]\d{1,2}(?::?\d{2})?)?"
)
_BROKEN: Final = re.compile(r"\d[.,]\d")
_SENSOR_NAMES: Final = frozenset({"sensor", "probe", "device", "logger", "channel", "station"})


@dataclass(frozen=True, slots=True)
class Column:
    """A column that holds a quantity.

    Attributes:
        place: counted from 0.
        quantity: what was measured.
        unit: in which it is written.
    """

    place: int
    quantity: Quantity
    unit: str


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column is what; places are counted from 0.

    Attributes:
        times: joined with a blank they give the time.
        values: what was measured.
        sensor: says whose row it is; None: none does.
        sent: what the sensor said before it was corrected, in a file of our own.
        time_from: says whose clock the time is of, in a file of our own.
        left_out: names of other columns, each with why.
        unsure: what a person has to say before anything can be taken.
    """

    times: tuple[int, ...]
    values: tuple[Column, ...]
    sensor: int | None = None
    sent: Mapping[Quantity, int] = field(default_factory=dict)
    time_from: int | None = None
    left_out: tuple[tuple[str, str], ...] = ()
    unsure: tuple[str, ...] = ()

    @property
    def own(self) -> bool:
        """Tell whether the file is one of our own."""
        return self.time_from is not None


@dataclass(frozen=True, slots=True)
class AskedColumns:
    """What a person said of the columns; what isn't said is found.

    Attributes:
        values: name of the column, by quantity; where any is given, no other is taken.
        units: by quantity.
        times: names of the columns of the time.
    """

    values: Mapping[Quantity, str] = field(default_factory=dict)
    units: Mapping[Quantity, str] = field(default_factory=dict)
    times: tuple[str, ...] = ()


def columns_of(
    names: Sequence[str], rows: Sequence[Sequence[str]], asked: AskedColumns, decimal: str
) -> Columns:
    """Return which column is what.

    Args:
        names: of the columns.
        rows: some of them.
        asked: what a person said.
        decimal: what stands before decimals.

    Raises:
        RefusedError: a column that was asked for isn't there, or none holds a time.
    """
    if own := _own(names):
        return own
    times = times_of(names, rows, asked.times)
    sensor = next((p for p in range(len(names)) if _names_sensors(names, rows, p)), None)
    finding = _Finding(names, rows, asked, decimal)
    if asked.values:
        for quantity, name in asked.values.items():
            finding.take(place_of(names, name), quantity)
    else:
        for place in range(len(names)):
            if place not in times and place != sensor:
                finding.look(place)
    return Columns(
        times,
        tuple(finding.values),
        sensor,
        left_out=tuple(finding.left_out),
        unsure=tuple(finding.unsure),
    )


def _names_sensors(names: Sequence[str], rows: Sequence[Sequence[str]], place: int) -> bool:
    """Tell whether a column says whose a row is; one of such a name may hold values too."""
    cells_ = (row[place] for row in rows if place < len(row))
    return names[place].lower() in _SENSOR_NAMES and not any(map(_BROKEN.search, cells_))


def _own(names: Sequence[str]) -> Columns | None:
    """Return the columns of a file that we wrote ourselves, None for any other."""
    place = {name: number for number, name in enumerate(names)}
    if not {cells.TIME, cells.SENSOR, cells.TIME_FROM} <= place.keys():
        return None
    return Columns(
        (place[cells.TIME],),
        tuple(
            Column(place[name], quantity, UNITS[quantity])
            for quantity, name in cells.VALUES.items()
            if name in place
        ),
        place[cells.SENSOR],
        {quantity: place[name] for quantity, name in cells.SENT.items() if name in place},
        place[cells.TIME_FROM],
    )


def place_of(names: Sequence[str], asked: str) -> int:
    """Return where a column is that a person named; “column 3” is always the third.

    Raises:
        RefusedError: there is none.
    """
    for place, name in enumerate(names):
        if asked in {name, f"column {place + 1}"}:
            return place
    for place, name in enumerate(names):
        if asked.strip().casefold() in {name.casefold(), _parted(name)[0].casefold()}:
            return place
    raise RefusedError(
        f"There is no column “{asked}”. It has: {', '.join(names)[:500]}. A column without a name "
        "is called by its number, such as “column 3”."
    )


# ------------------------------------------------------------------ the time


def times_of(
    names: Sequence[str], rows: Sequence[Sequence[str]], asked: Sequence[str]
) -> tuple[int, ...]:
    """Return the columns that give the time together.

    Raises:
        RefusedError: there is none.
    """
    if asked:
        return tuple(place_of(names, name) for name in asked)
    whole = [p for p in range(len(names)) if _mostly(rows, p, is_whole)]
    days = [p for p in range(len(names)) if _mostly(rows, p, is_date) and p not in whole]
    clocks = [p for p in range(len(names)) if _mostly(rows, p, is_clock)]
    seconds = [p for p in range(len(names)) if _mostly(rows, p, is_epoch)]
    if whole:
        return (_likeliest(names, whole),)
    if days and clocks:
        return _likeliest(names, days), _likeliest(names, clocks)
    if seconds:
        return (_likeliest(names, seconds),)
    raise RefusedError(
        "No column holds a time with its date. Say which does: --time NAME, twice where the date "
        f"and the time of day stand apart. It has: {', '.join(names)[:500]}."
    )


def _mostly(rows: Sequence[Sequence[str]], place: int, fits: Callable[[str], bool]) -> bool:
    told = [row[place] for row in rows if place < len(row) and not is_nothing(row[place])]
    return bool(told) and sum(map(fits, told)) >= MOSTLY * len(told)


def _likeliest(names: Sequence[str], places: Sequence[int]) -> int:
    """Return the first that is named as one of UTC, else as a time, else the first."""
    named = [place for place in places if tells_time("_".join(_words(names[place])))]
    in_utc = [place for place in places if zone_in(names[place]) is UTC]
    return (in_utc or named or places)[0]


def zone_in(name: str) -> tzinfo | None:
    """Return the zone that the name of a column tells, as in “Time (UTC)” or “Time, GMT+01:00”."""
    found = _ZONE.search(name)
    if found is None:
        return None
    try:
        return offset(found["off"] or found["name"])
    except ValueError:
        return None


# ------------------------------------------------------------------ what was measured


@dataclass
class _Finding:
    """Goes through the columns, one after the other."""

    names: Sequence[str]
    rows: Sequence[Sequence[str]]
    asked: AskedColumns
    decimal: str
    values: list[Column] = field(default_factory=list)
    left_out: list[tuple[str, str]] = field(default_factory=list)
    unsure: list[str] = field(default_factory=list)

    def look(self, place: int) -> None:
        """Take a column, or leave it out with a reason."""
        name = self.names[place]
        words, unit = _words(name), self._unit(place)
        if aside := sorted(NOT_THE_AIR & {*words, *name.lower().split()}):
            self.left_out.append((name, f"by its name ({aside[0]}) not measured in the air"))
            return
        quantity = quantity_in(words) or _only_of(unit)
        if quantity is None:
            first = next(self._told(place), "").strip()[:20]
            begins = f"; its first value is {first}" if first else ""
            self.left_out.append((name, f"its name is not known here{begins}"))
        elif not any(True for _ in self._numbers(place)):
            self.left_out.append((name, "it holds no numbers"))
        elif any(column.quantity is quantity for column in self.values):
            why = f"the {in_words(quantity)} is taken from another column already"
            self.left_out.append((name, why))
        else:
            self.take(place, quantity)

    def take(self, place: int, quantity: Quantity) -> None:
        """Take a column as this quantity, in the unit that was said, is written, or fits."""
        name, unit = self.names[place], self.asked.units.get(quantity) or self._unit(place)
        if unit is not None and (wrong := fault(quantity, unit)):
            self.left_out.append((name, wrong))
            return
        fitting = [unit] if unit else list(self._fitting(place, quantity))
        if len(fitting) == 1:
            self.values.append(Column(place, quantity, fitting[0]))
            return
        known = [f"--unit '{quantity}={each}'" for each in fitting or SCALES[quantity]]
        self.unsure.append(f"In which unit is “{name}”? Say {' or '.join(known)}.")

    def _unit(self, place: int) -> str | None:
        """Return the unit that stands in the name or in the cells."""
        name = self.names[place]
        bare, written = _parted(name)
        if written is not None:
            return written
        words = _words(bare)
        if len(words) > 1 and words[-1] in UNIT_NAMES:
            return UNIT_NAMES[words[-1]]
        behind = {parted(cell)[1] for cell in self._told(place)} - {""}
        return unit_of(behind.pop()) if len(behind) == 1 else None

    def _fitting(self, place: int, quantity: Quantity) -> Iterator[str]:
        figures = list(self._numbers(place))
        for (of, unit), (low, high) in USUAL.items():
            if of is quantity:
                usual = sum(low <= value <= high for value in figures)
                if figures and usual >= FITS * len(figures):
                    yield unit

    def _told(self, place: int) -> Iterator[str]:
        for row in self.rows:
            if place < len(row) and not is_nothing(row[place]):
                yield row[place]

    def _numbers(self, place: int) -> Iterator[float]:
        for cell in self._told(place):
            try:
                yield number(cell, self.decimal)
            except ValueError:
                continue


def _parted(name: str) -> tuple[str, str | None]:
    """Return a name without its unit, and the unit; None where there is none that is known."""
    for form in (_BEHIND, _AFTER):
        found = form.fullmatch(name)
        if found is not None and (unit := unit_of(found["unit"])) is not None:
            return found["name"].strip() or name, unit
    return name, None


def _words(name: str) -> tuple[str, ...]:
    """Return the words of a name, in English and without its unit."""
    bare = unicodedata.normalize("NFKD", _parted(name)[0])
    plain = "".join(c for c in bare if not unicodedata.combining(c))
    return tuple(WORDS.get(word, word) for word in words_of(plain))


def _only_of(unit: str | None) -> Quantity | None:
    """Return the quantity that alone is measured in a unit."""
    of = [quantity for quantity in Quantity if unit in SCALES[quantity]]
    return of[0] if len(of) == 1 else None
