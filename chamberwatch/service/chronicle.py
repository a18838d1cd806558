"""The log: everything that happened, out of all the books, newest first and a page at a time.

Each source is asked for one page beyond an edge in time, and the pages are merged: however long
the record is, a page costs the same. What was put right is kept in its place, with what stands
for it now.
"""

import heapq
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from operator import attrgetter
from typing import Final

from chamberwatch.core import log_words
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.books import Book, Books, OutRow, OutState
from chamberwatch.service.chronicle_book import Turn
from chamberwatch.service.growing.record import GrowingRecord
from chamberwatch.service.growing.slot import Slot
from chamberwatch.service.log_lines import (
    RANK,
    Line,
    LogKind,
    Place,
    deed_instead,
    line_moved,
    lines_told,
)

MOST: Final = 2**63 - 1
PAGE: Final = 60
PIECE: Final = 1000


BECAME: Final[Mapping[OutState, str]] = {
    OutState.WAITING: "waits to be sent",
    OutState.SENDING: "being sent",
    OutState.SENT: "sent",
    OutState.FAILED: "could not be delivered",
    OutState.DROPPED: "not sent, since it was no longer true",
    OutState.UNCERTAIN: "perhaps sent",
    OutState.FOLDED: "said within another",
}


NEWEST: Final = Place(datetime.max.replace(tzinfo=UTC))
"""Before it stands everything."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What of the log is wanted.

    Attributes:
        kinds: of these kinds.
        chamber: of this one only; empty: of all.
        batch: of this one only; None: of all, and of none.
    """

    kinds: frozenset[LogKind] = frozenset(LogKind)
    chamber: str = ""
    batch: int | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """Lines, newest first, and where it goes on; None: nowhere."""

    lines: tuple[Line, ...]
    older: Place | None
    newer: Place | None


@dataclass(frozen=True, slots=True)
class GrowingTold:
    """What was told of batches, and the species they are of."""

    record: GrowingRecord
    table: SpeciesTable


Source = Callable[[Book, Turn], Iterable[Line]]


class Chronicle:
    """Reads the log."""

    def __init__(
        self, books: Books, house: House, growing: GrowingTold | None, terminal: str
    ) -> None:
        """Read from these; messages to the terminal are nobody's news."""
        self._books = books
        self._house = house
        self._growing = growing
        self._terminal = terminal
        self._entries: Slot[tuple[Line, ...]] = Slot()

    def page(self, asked: Asked, edge: Place, *, newer: bool = False, limit: int = PAGE) -> Page:
        """Return the lines just before a place in the log, or just after it.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: no such batch.
        """
        self._check(asked)
        with self._books.read() as book:
            lines = self._beyond(book, asked, edge, newer=newer, limit=limit + 1)
            more, lines = len(lines) > limit, lines[:limit]
            # Beyond the edge itself there is at least whatever was looked at before.
            back = self._beyond(book, asked, edge, newer=not newer, limit=1)
        if not lines:
            beyond = edge if back else None
            return Page((), beyond, None) if newer else Page((), None, beyond)
        if newer:
            lines.reverse()
        first, last = lines[0].place, lines[-1].place
        ahead, behind = (more, True) if newer else (bool(back), more)
        return Page(tuple(lines), last if behind else None, first if ahead else None)

    def all(self, asked: Asked, edge: Place, at_most: int) -> Iterator[Line]:
        """Yield lines from a place back in time.

        The book is opened for a piece of one source at a time: whoever takes the lines may be
        slow.
        """
        streams = [
            self._stream(kind, source, edge, asked.chamber or None)
            for kind, source in self._sources(asked).items()
        ]
        merged = heapq.merge(*streams, key=attrgetter("place"), reverse=True)
        return islice(merged, at_most)

    def _stream(
        self, kind: LogKind, source: Source, edge: Place, chamber: str | None
    ) -> Iterator[Line]:
        while True:
            bound = _bound(edge, RANK[kind])
            turn = Turn(edge.at, bound, newer=False, limit=PIECE, chamber=chamber)
            with self._books.read() as book:
                lines = list(source(book, turn))
            yield from lines
            if len(lines) < PIECE:
                return
            edge = lines[-1].place

    def batches(self) -> Sequence[int]:
        """Return the numbers of all batches, the newest first."""
        return sorted(self._growing.record.batches(), reverse=True) if self._growing else ()

    def _check(self, asked: Asked) -> None:
        if asked.chamber:
            self._house.chamber(asked.chamber)
        if asked.batch is not None and asked.batch not in self.batches():
            raise RefusedError(f"There is no batch {asked.batch}. Choose another, or all of them.")

    def _beyond(
        self, book: Book, asked: Asked, edge: Place, *, newer: bool, limit: int
    ) -> list[Line]:
        found: list[Line] = []
        for kind, source in self._sources(asked).items():
            bound = _bound(edge, RANK[kind])
            turn = Turn(edge.at, bound, newer, limit, asked.chamber or None)
            found += source(book, turn)
        found.sort(key=attrgetter("place"), reverse=not newer)
        return found[:limit]

    def _sources(self, asked: Asked) -> Mapping[LogKind, Source]:
        every: Mapping[LogKind, Source] = {
            LogKind.DEED: self._deeds,
            LogKind.FOUND: self._found,
            LogKind.GROWING: lambda _, turn: self._told(turn, asked.batch),
            LogKind.REMINDER: self._moves,
            LogKind.MESSAGE: self._messages,
            LogKind.CHECK: self._checks,
        }
        # Of all else nobody knows which batch it was for.
        kinds = asked.kinds if asked.batch is None else asked.kinds & {LogKind.GROWING}
        return {kind: every[kind] for kind in LogKind if kind in kinds}

    # ------------------------------------------------------------ sources

    @staticmethod
    def _deeds(book: Book, turn: Turn) -> Iterator[Line]:
        rows = book.chronicle.deeds(turn)
        shown = {f.action: f for f in book.chronicle.explained([deed for deed, _ in rows])}
        for deed, later in rows:
            found = shown.get(deed.id)
            yield Line(
                LogKind.DEED,
                deed.id,
                deed.at,
                deed.chamber,
                log_words.deed(deed),
                came=log_words.came(found) if found is not None else "",
                instead=deed_instead(later),
                corrects=deed.corrects,
                amends=later is None,
            )

    @staticmethod
    def _found(book: Book, turn: Turn) -> Iterator[Line]:
        for event in book.chronicle.found(turn):
            words = log_words.found(event)
            yield Line(LogKind.FOUND, event.id, event.start, event.chamber, words)

    @staticmethod
    def _moves(book: Book, turn: Turn) -> Iterator[Line]:
        for number, move, reminder in book.chronicle.moves(turn):
            yield line_moved(number, move, reminder)

    def _messages(self, book: Book, turn: Turn) -> Iterator[Line]:
        for row in book.chronicle.messages(turn, self._terminal):
            words = log_words.message(row.address, row.title, _became(row))
            yield Line(
                LogKind.MESSAGE,
                row.id,
                row.created,
                row.chamber,
                words,
                trouble=row.state in (OutState.FAILED, OutState.UNCERTAIN),
            )

    def _checks(self, book: Book, turn: Turn) -> Iterable[Line]:
        sensors = self._house.sensors
        return _beyond(
            (
                Line(
                    LogKind.CHECK,
                    check.id,
                    check.at,
                    sensors[check.sensor].chamber if check.sensor in sensors else "",
                    log_words.calibration(check),
                )
                for check in book.calibrations.all()
            ),
            turn,
        )

    def _told(self, turn: Turn, batch: int | None) -> Iterable[Line]:
        growing = self._growing
        if growing is None:
            return ()
        entries = growing.record.all_entries()
        lines = self._entries.of(
            entries, lambda: tuple(lines_told(entries, growing.table, self._house.titles()))
        )
        return _beyond((line for line in lines if batch in (None, line.batch)), turn)


def _bound(edge: Place, rank: int) -> int:
    """Return beyond which id lines of a source are wanted that are of just the edge's time."""
    if rank == edge.rank:
        return edge.id
    return MOST if rank < edge.rank else 0


def _beyond(lines: Iterable[Line], turn: Turn) -> Sequence[Line]:
    """Return lines beyond an edge out of all of a source."""
    wanted = [
        line
        for line in lines
        if turn.wants(line.at, line.id) and turn.chamber in (None, line.chamber)
    ]
    wanted.sort(key=attrgetter("place"), reverse=not turn.newer)
    return wanted[: turn.limit]


def _became(row: OutRow) -> str:
    why = f" ({row.error})" if row.error and row.state is not OutState.SENT else ""
    return f"{BECAME[row.state]}{why}"
