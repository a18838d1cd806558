"""What is kept, as rows of tables that are taken further: a page at a time, at any length.

Each page is read in a transaction of its own, so that nothing the daemon writes meanwhile has to
wait, and so that memory holds one page of years.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.watch.reading import EPOCH, Reading
from chamberwatch.service.books import Books, Span
from chamberwatch.service.export_rows import (
    COLUMNS,
    Cell,
    Kind,
    Row,
    action_row,
    entry_row,
    move_row,
    reading_rows,
    reminder_row,
)

PAGE: Final = 5000
EVER: Final = Span(EPOCH, datetime(9999, 1, 1, tzinfo=UTC))

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is taken along.

    Attributes:
        span: of this time; of reminders all, as they stand now.
        sensor: readings of this one only; None: of all.
        zone: the first time stands beside itself on the clocks of this zone; None: in UTC alone.
    """

    span: Span = EVER
    sensor: str | None = None
    zone: tzinfo | None = None


class Exporting:
    """Reads everything out, row by row."""

    def __init__(self, books: Books) -> None:
        """Read these books."""
        self._books = books

    def columns(self, kind: Kind, wanted: Wanted) -> tuple[str, ...]:
        """Return the names of the columns."""
        first, *others = COLUMNS[kind]
        beside = () if wanted.zone is None else (first.replace("_utc", "_site"),)
        return (first, *beside, *others)

    def rows(self, kind: Kind, wanted: Wanted, progress: Progress) -> Iterator[Row]:
        """Yield the rows, in the order of their times as a rule, else as they were told.

        Args:
            kind: of what.
            wanted: what of it.
            progress: told now and then how much is done, 0 to 1.

        Raises:
            UnknownNameError: no reading was ever kept of that sensor.
            StorageError: the database can't be used.
        """
        rows = {
            Kind.READINGS: self._readings,
            Kind.BATCHES: self._entries,
            Kind.ACTIONS: self._actions,
            Kind.REMINDERS: self._reminders,
            Kind.MOVES: self._moves,
        }[kind](wanted, progress)
        zone = wanted.zone
        for row in rows:
            yield row if zone is None else (row[0], _site(row[0], zone), *row[1:])
        progress(1.0)

    # -------------------------------------------------------------- readings

    def _readings(self, wanted: Wanted, progress: Progress) -> Iterator[Row]:
        """Yield a row for all that one sensor said at one time."""
        held: list[Reading] = []
        for page in self._pages(wanted, progress):
            for reading in page:
                if held and held[0].time != reading.time:
                    yield from reading_rows(held)
                    held = []
                held.append(reading)
        yield from reading_rows(held)

    def _pages(self, wanted: Wanted, progress: Progress) -> Iterator[Sequence[Reading]]:
        with self._books.read() as book:
            newest = book.readings.newest()
        sensors = sorted({name for name, _ in newest})
        if wanted.sensor is not None and wanted.sensor not in sensors:
            raise UnknownNameError(
                f"No reading of a sensor “{wanted.sensor}” is kept. There are readings of: "
                f"{', '.join(sensors) or 'none yet'}."
            )
        if not newest:
            return
        last_of_all = max(r.time for (n, _), r in newest.items() if wanted.sensor in (None, n))
        end = min(wanted.span.end, last_of_all + timedelta(microseconds=1))
        span, last, begin = Span(wanted.span.start, end), None, None
        while True:
            with self._books.read() as book:
                page = book.readings.page(wanted.sensor, span, last, PAGE)
            if not page:
                return
            yield page
            begin, last = begin or page[0].time, page[-1]
            progress((last.time - begin) / (end - begin))

    # -------------------------------------------------------------- what was told and done

    def _entries(self, wanted: Wanted, progress: Progress) -> Iterator[Row]:
        last = 0
        while True:
            with self._books.read() as book:
                page = book.carried.entries(wanted.span, last, PAGE)
            if not page:
                return
            yield from (entry_row(entry, instead) for entry, instead in page)
            last = page[-1][0].id

    def _actions(self, wanted: Wanted, progress: Progress) -> Iterator[Row]:
        last = 0
        while True:
            with self._books.read() as book:
                page = book.carried.actions(wanted.span, last, PAGE)
            if not page:
                return
            yield from (action_row(action, instead) for action, instead in page)
            last = page[-1][0].id

    def _reminders(self, wanted: Wanted, progress: Progress) -> Iterator[Row]:
        with self._books.read() as book:
            reminders = book.reminders.all()
        yield from map(reminder_row, reminders)

    def _moves(self, wanted: Wanted, progress: Progress) -> Iterator[Row]:
        last = 0
        while True:
            with self._books.read() as book:
                page = book.carried.moves(wanted.span, last, PAGE)
                whose = {each.id: each for each in book.reminders.all()} if page else {}
            if not page:
                return
            yield from (move_row(number, move, whose[move.reminder]) for number, move in page)
            last = page[-1][0]


def _site(moment: Cell, zone: tzinfo) -> str | None:
    return moment.astimezone(zone).isoformat() if isinstance(moment, datetime) else None
