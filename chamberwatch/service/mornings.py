"""The summary of an address: when it is due, what is over since the last one, and the night."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Any, Final

from chamberwatch.core import summary_words
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.hours import NIGHT, Manner, back_at, first_opening, is_away, moment
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.core.watch.reminder import TASK_CALLS, Event, Move, Reminder
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Span
from chamberwatch.service.speaking import doubted_in, speaker

LATE: Final = timedelta(hours=3)
"""A summary that was missed comes as late as this, and not after."""

AHEAD_DAYS: Final = 8
BEFORE_NOON: Final = 12
STEP_S: Final = 3600.0
AT_ONCE: Final = 500
LAST_NUMBER: Final = 2**63 - 1
"""The database counts no further."""

IN_NIGHT: Final = (Quantity.HUMIDITY, Quantity.TEMPERATURE)


@dataclass(frozen=True, slots=True)
class Summed:
    """Which summary an address had last, up to which move of a reminder, and what ailed then."""

    day: str = ""
    move: int = 0
    ailed: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Mornings:
    """Says what a summary holds beside what waited. Safe from any thread.

    Attributes:
        house: what the grower declared.
        board: what was last heard.
        zone: of the site.
        ails: what ails the watcher itself, by the name of the thing.
    """

    house: House
    board: Board
    zone: tzinfo
    ails: Callable[[Book, datetime], Mapping[str, str]] = lambda *_: {}

    def due(self, book: Book, address: str, manner: Manner, now: datetime) -> bool:
        """Tell whether the summary of today is to be told now."""
        today = now.astimezone(self.zone).date()
        at = summary_on(manner, today, self.zone)
        if at is None or not at <= now < at + LATE or is_away(manner.hours, now):
            return False
        return _last(book, address).day != today.isoformat()

    def done(self, book: Book, address: str, now: datetime, ails: Iterable[str] = ()) -> None:
        """Note that the summary of today was told, or that there was nothing to tell.

        `ails`: the names of the things that ailed the watcher then.
        """
        move = book.reminders.newest_move()
        day = now.astimezone(self.zone).date().isoformat()
        ailed = sorted(ails)
        kept = {"day": day, "move": move} | ({"ailed": ailed} if ailed else {})
        book.kept.keep_text(_key(address), json.dumps(kept))

    def news_of(self, ails: Mapping[str, str], book: Book, address: str) -> list[str]:
        """Return what of that ails the watcher since the last summary was due."""
        known = _last(book, address).ailed
        return [words for name, words in ails.items() if name not in known]

    def over(self, book: Book, address: str) -> list[str]:
        """Return what is back in order since the last summary, each as one phrase.

        What nobody was to hear of is left out, and what is there again.
        """
        last = _last(book, address)
        if not last.day:
            return []
        returned: dict[int, list[Move]] = {}
        unheard: set[tuple[int, datetime]] = set()
        for _, move in moves_after(book, last.move):
            if move.event is Event.RETURNED:
                returned.setdefault(move.reminder, []).append(move)
            elif move.event is Event.SEEN:
                unheard.add((move.reminder, move.time))
        phrases = []
        for number, all_moves in returned.items():
            moves = [m for m in all_moves if (number, m.time) not in unheard]
            reminder = book.reminders.get(number)
            if moves and reminder is not None and not reminder.active:
                phrases += self._phrase(reminder, moves)
        return phrases

    def _phrase(self, reminder: Reminder, moves: Sequence[Move]) -> list[str]:
        chamber = self.house.chambers.get(reminder.chamber)
        if chamber is None or reminder.call in TASK_CALLS or reminder.since is None:
            return []
        span = (reminder.since, moves[-1].time)
        return [summary_words.over_since(chamber, reminder, span, len(moves), self.zone)]

    def night(self, book: Book, now: datetime) -> list[str]:
        """Return what the night was like, a line for each judged chamber; none after noon."""
        local = now.astimezone(self.zone)
        if local.hour >= BEFORE_NOON:
            return []
        span = Span(moment(local.date() - timedelta(days=1), NIGHT[0], self.zone), now)
        return [
            summary_words.night(chamber, span.start, self._ranges(book, chamber, span), self.zone)
            for chamber in self.house.chambers.values()
            if chamber.band(Quantity.HUMIDITY, Place.AIR) is not None
        ]

    def _ranges(
        self, book: Book, chamber: Chamber, span: Span
    ) -> list[tuple[float, float, Reading | None]]:
        ranges = []
        for quantity in IN_NIGHT:
            doubted = doubted_in(self.board.doubts(), quantity)
            sensor = speaker(self.house, chamber.name, doubted, quantity)
            if sensor is None:
                continue
            found = book.readings.buckets([sensor.name], quantity, span, STEP_S, AT_ONCE)
            if found:
                least, most = min(b.least for b in found), max(b.most for b in found)
                ranges.append((least, most, self.board.newest_of((sensor.name, quantity))))
        return ranges


def summary_on(manner: Manner, day: date, zone: tzinfo) -> datetime | None:
    """Return when the summary of a day is told; None: not on that day."""
    if not manner.summaries:
        return None
    if manner.summary is not None:
        return moment(day, manner.summary, zone)
    return first_opening(manner.hours, day, zone)


def next_summary(manner: Manner, now: datetime, zone: tzinfo) -> datetime | None:
    """Return when the next summary is told; None: there is none."""
    start = back_at(manner.hours, now) or now
    today = start.astimezone(zone).date()
    days = (today + timedelta(days=day) for day in range(AHEAD_DAYS))
    found = (summary_on(manner, day, zone) for day in days)
    return next((at for at in found if at is not None and at > start), None)


def move_number(kept: str | int) -> int:
    """Return the number of a move as it was kept.

    Raises:
        ValueError: it can't be one.
    """
    number = int(kept)
    if not 0 <= number <= LAST_NUMBER:
        raise ValueError(kept)
    return number


def moves_after(book: Book, number: int) -> Iterator[tuple[int, Move]]:
    """Yield the moves of all reminders behind one of them, oldest first."""
    while moves := book.reminders.moves(None, number, AT_ONCE):
        yield from moves
        number = moves[-1][0]


def _key(address: str) -> str:
    return f"summary {address}"


def _last(book: Book, address: str) -> Summed:
    """Return the last summary of an address; none where that can't be read."""
    text = book.kept.text(_key(address))
    if text is None:
        return Summed()
    try:
        said: dict[str, Any] = json.loads(text)
        day, move = str(said["day"]), move_number(said["move"])
        return Summed(day, move, frozenset(map(str, said.get("ailed", ()))))
    except (ValueError, KeyError, TypeError, OverflowError):
        return Summed()
