"""A file of another logger, understood as a whole; and its rows as readings."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core.cells import FROM_ARRIVAL, utc_text
from chamberwatch.core.errors import BadPayloadError, RefusedError
from chamberwatch.core.logged.columns import (
    AskedColumns,
    Column,
    Columns,
    columns_of,
    times_of,
    zone_in,
)
from chamberwatch.core.logged.numbers import POINT, decimal_sign, is_nothing, number
from chamberwatch.core.logged.shape import Shape, cells_of, shape_of
from chamberwatch.core.logged.times import (
    ANY_ORDER,
    EPOCH,
    Form,
    Order,
    TimeReader,
    asked_form,
    bare,
    falls,
    is_epoch,
    narrowed,
    settled,
)
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.units import canonical

SHOWN: Final = 40
EXCERPT: Final = 200


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person said of a file; what isn't said is found.

    Attributes:
        columns: which column is what.
        zone: of times that carry none; None: that of the site, or UTC where the file says so.
        time_format: as it was typed; empty: to be found.
        delimiter: between columns; empty: to be found.
        decimal: what stands before decimals; empty: to be found.
        skip_lines: before the names of the columns; None: to be found.
    """

    columns: AskedColumns = field(default_factory=AskedColumns)
    zone: tzinfo | None = None
    time_format: str = ""
    delimiter: str = ""
    decimal: str = ""
    skip_lines: int | None = None


@dataclass(frozen=True, slots=True)
class Log:
    """How a file is understood.

    Attributes:
        shape: how it is laid out.
        columns: which column is what.
        decimal: what stands before decimals.
        form: how its times are written; in no form at all where that is unsure.
        unsure: what a person has to say before anything can be taken.
    """

    shape: Shape
    columns: Columns
    decimal: str
    form: Form
    unsure: tuple[str, ...] = ()


AllRows = Callable[[Shape], Iterable[Sequence[str]]]
"""All rows of a file as cells, from its top, once it is known how it is laid out."""


def understood(lines: Sequence[str], rows: AllRows, asked: Asked, site: tzinfo) -> Log:
    """Return how a file is understood.

    Args:
        lines: from its top, at most `shape.LOOKED_AT`.
        rows: of the file; read only as far as is needed to tell whether the day or the month
            stands first.
        asked: what a person said.
        site: zone of the site.

    Raises:
        RefusedError: it can't be understood; the text says what to add.
    """
    shape = shape_of(lines, asked.delimiter, asked.skip_lines)
    some = [cells_of(line, shape.delimiter) for line in lines[shape.first :]]
    decimal, unsure = asked.decimal, []
    if not decimal:
        times = times_of(shape.names, some, asked.columns.times)
        values = (c for row in some for place, c in enumerate(row) if place not in times)
        found = decimal_sign(values)
        if found is None:
            unsure.append(
                "Does a comma stand before the decimals, or between thousands? Say --decimal , "
                "or --decimal ."
            )
        decimal = found or POINT
    columns = columns_of(shape.names, some, asked.columns, decimal)
    written = _form(some, rows(shape), columns, asked)
    if written is None:
        unsure.append(
            "Does the day or the month stand first in its dates? Say --time-format "
            f"{Order.DAY_FIRST} or --time-format {Order.MONTH_FIRST}."
        )
    told = (zone_in(shape.names[place]) for place in columns.times)
    zone = asked.zone or next((zone for zone in told if zone is not None), site)
    form = Form(written or "", zone)
    bares = (bare(time_text(row, columns), form) for row in some)
    form = Form(form.written, zone, falls(time for time in bares if time is not None))
    return Log(shape, columns, decimal, form, (*unsure, *columns.unsure))


def _form(
    some: Sequence[Sequence[str]],
    rows: Iterable[Sequence[str]],
    columns: Columns,
    asked: Asked,
) -> str | None:
    """Return how times are written, None where day and month can't be told apart."""
    if asked.time_format:
        return asked_form(asked.time_format)
    if columns.own:
        return Order.YEAR_FIRST
    first = [time_text(row, columns) for row in some]
    if sum(map(is_epoch, first)) > len(first) // 2:
        return EPOCH
    orders, text = ANY_ORDER, ""
    for text in (*first, *(time_text(row, columns) for row in rows)):
        orders = narrowed(orders, text)
        if (order := settled(orders, text)) is not None:
            return order
        if not orders:
            raise RefusedError(
                "Dates of the file are written in more than one order, or none that is known "
                f"here (“{text[:SHOWN]}”). Say it, such as --time-format '%d.%m.%Y %H:%M'."
            )
    return None


def time_text(row: Sequence[str], columns: Columns) -> str:
    """Return what a row says of its time."""
    return " ".join(row[place].strip() for place in columns.times if place < len(row))


# ------------------------------------------------------------------ rows


@dataclass(frozen=True, slots=True)
class Row:
    """What a row gives.

    Attributes:
        readings: what is taken.
        refused: why the rest is not.
        excerpt: how the row is written, where something of it is refused.
    """

    readings: tuple[Reading, ...]
    refused: tuple[str, ...] = ()
    excerpt: str = ""


@dataclass(slots=True)
class LogReader:
    """Reads the rows of a file, from its top to its end.

    Attributes:
        log: how it is understood.
        sensors: to which sensor of ours the rows go, by the name in the file; under None: all.
        latest: what claims to be later is refused; None: nothing is.
    """

    log: Log
    sensors: Mapping[str | None, str]
    latest: datetime | None = None
    times: TimeReader = field(init=False)

    def __post_init__(self) -> None:
        """Begin at the top."""
        self.times = TimeReader(self.log.form)

    def named(self, cells: Sequence[str]) -> str | None:
        """Return whose a row is by the file, None where it doesn't say."""
        place = self.log.columns.sensor
        return cells[place].strip() if place is not None and place < len(cells) else None

    def whose(self, cells: Sequence[str]) -> str | None:
        """Return to which sensor a row goes, None where it goes to none."""
        return self.sensors.get(self.named(cells), self.sensors.get(None))

    def row(self, cells: Sequence[str], sensor: str) -> Row:
        """Return what a row gives.

        Args:
            cells: of the row.
            sensor: whose readings it holds.

        Raises:
            ValueError: it can't be read; the text says why.
        """
        if not cells:
            raise ValueError("a quote is never closed")
        time = self.times.read(time_text(cells, self.log.columns), sensor)
        found = list(self._values(cells))
        if not found:
            raise ValueError("no value in any of the columns")
        if self.latest is not None and time > self.latest:
            return Row(
                (),
                (f"{utc_text(time)} lies ahead of our time; look at --zone and --time-format",),
                self._excerpt(cells),
            )
        readings, refused = [], []
        timed = self._timed(cells)
        for column, value in found:
            try:
                kept = canonical(column.quantity, value, column.unit)
            except BadPayloadError as error:
                refused.append(str(error))
                continue
            raw = self._sent(cells, column.quantity)
            readings.append(Reading(time, sensor, column.quantity, kept, timed, raw))
        written = self._excerpt(cells) if refused else ""
        return Row(tuple(readings), tuple(refused), written)

    def _excerpt(self, cells: Sequence[str]) -> str:
        return self.log.shape.delimiter.join(cells)[:EXCERPT]

    def _values(self, cells: Sequence[str]) -> Iterator[tuple[Column, float]]:
        for column in self.log.columns.values:
            cell = cells[column.place] if column.place < len(cells) else ""
            if not is_nothing(cell):
                yield column, self._number(cell, column.place)

    def _number(self, cell: str, place: int) -> float:
        try:
            return number(cell, self.log.decimal)
        except ValueError as error:
            raise ValueError(f"{error}, in column “{self.log.shape.names[place]}”") from None

    def _timed(self, cells: Sequence[str]) -> bool:
        place = self.log.columns.time_from
        return place is None or place >= len(cells) or cells[place] != FROM_ARRIVAL

    def _sent(self, cells: Sequence[str], quantity: Quantity) -> float | None:
        place = self.log.columns.sent.get(quantity)
        if place is None or place >= len(cells) or is_nothing(cells[place]):
            return None
        return self._number(cells[place], place)
