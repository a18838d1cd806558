"""The lines of the log, and those that what was told of a batch makes."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Final

from chamberwatch.core import log_words
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Entry, EntryKind, by_batch
from chamberwatch.core.growing.corrections import effective
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.reminder import Event, Move, Reminder


class LogKind(StrEnum):
    """What a line of the log tells of. Of lines of one moment the later kind is the newer."""

    DEED = "deed"
    FOUND = "found"
    GROWING = "growing"
    REMINDER = "reminder"
    MESSAGE = "message"
    CHECK = "check"


RANK: Final = {kind: rank for rank, kind in enumerate(LogKind)}


@dataclass(frozen=True, slots=True)
class Instead:
    """What became of a line that was wrong.

    Attributes:
        told: when that was told.
        words: what stands in its place; of what did not happen, why.
        withdrawn: it did not happen.
        at: when it happened, as it is told now.
    """

    told: datetime
    words: str
    withdrawn: bool
    at: datetime


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that happened.

    Attributes:
        kind: what it tells of.
        id: its number among those of its kind.
        at: when it happened.
        chamber: name of the chamber; empty: of none, or of several.
        batch: its number, where it tells of one.
        words: the whole of it.
        came: what the readings show of it; empty where that is nothing.
        instead: what became of it, where it was wrong.
        corrects: number of the line that it stands in for.
        amends: a person can put it right.
        trouble: it went wrong.
        closes: number of the reminder that it closes, since nobody had been told of that.
        ends: number of the reminder that it says is over.
        untold: the whole of it where nobody had been told of what is over.
    """

    kind: LogKind
    id: int
    at: datetime
    chamber: str
    words: str
    batch: int | None = None
    came: str = ""
    instead: Instead | None = None
    corrects: int | None = None
    amends: bool = False
    trouble: bool = False
    closes: int | None = None
    ends: int | None = None
    untold: str = ""

    @property
    def place(self) -> "Place":
        """Return where it stands in the log."""
        return Place(self.at, RANK[self.kind], self.id)


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A place in the log: the line at it, or between two lines."""

    at: datetime
    rank: int = -1
    id: int = 0


# ------------------------------------------------------------------ deeds


def deed_instead(later: Action | None) -> Instead | None:
    """Return what became of a deed; None: it holds."""
    if later is None:
        return None
    words = later.note if later.withdrawn else log_words.deed(later)
    return Instead(later.recorded, words, later.withdrawn, later.at)


# ------------------------------------------------------------------ reminders


def line_moved(number: int, move: Move, reminder: Reminder) -> Line:
    """Return the line of a move of a reminder.

    Args:
        number: of the move.
        move: what happened.
        reminder: to which.
    """
    words = log_words.move(reminder, move)
    line = Line(LogKind.REMINDER, number, move.time, reminder.chamber, words)
    if log_words.closes_untold(move):
        return replace(line, closes=reminder.id)
    if move.event is Event.RETURNED:
        untold = log_words.move(reminder, move, untold=True)
        return replace(line, ends=reminder.id, untold=untold)
    return line


# ------------------------------------------------------------------ batches


def lines_told(
    entries: Sequence[Entry], table: SpeciesTable, titles: Mapping[str, str]
) -> Iterator[Line]:
    """Yield the lines that what was told of all batches makes.

    Args:
        entries: all of them.
        table: names the species.
        titles: of the chambers, by name.
    """
    for batch, told in by_batch(entries).items():
        species = _species(told, table)
        words = {e.id: log_words.entry(e, species, titles) for e in told}
        yield from _lines_of(batch, told, species, words)


def _species(told: Sequence[Entry], table: SpeciesTable) -> str:
    start = next((e.start for e in reversed(told) if e.start is not None), None)
    if start is None:
        return ""
    found = table.species.get(start.species)
    return found.title if found is not None else start.species


def _lines_of(
    batch: int, told: Sequence[Entry], species: str, words: Mapping[int, str]
) -> Iterator[Line]:
    later = {entry.corrects: entry for entry in told if entry.corrects is not None}
    where = _stood(told)
    named = log_words.of_batch(batch, species)
    for entry in told:
        if entry.kind is EntryKind.WITHDRAWN:
            continue
        after = later.get(entry.id)
        line = Line(
            LogKind.GROWING,
            entry.id,
            entry.at,
            where(entry.at),
            f"{named}: {words[entry.id]}",
            batch,
            corrects=entry.corrects,
            amends=after is None,
        )
        yield line if after is None else replace(line, instead=_entry_instead(after, words))


def _entry_instead(after: Entry, words: Mapping[int, str]) -> Instead:
    withdrawn = after.kind is EntryKind.WITHDRAWN
    said = after.note if withdrawn else words[after.id]
    return Instead(after.recorded, said, withdrawn, after.at)


def _stood(told: Sequence[Entry]) -> Callable[[datetime], str]:
    """Return what tells in which chamber a batch stood at a time; empty: in none."""
    try:
        holding = effective(told)
    except RefusedError:
        # Of what can't be read nobody knows where it stood; its lines are shown all the same.
        holding = ()
    put = [e for e in holding if e.kind in (EntryKind.STARTED, EntryKind.MOVED)]

    def at(when: datetime) -> str:
        last = [e.chamber or "" for e in put if e.at <= when]
        return last[-1] if last else ""

    return at
