"""Returns to normal that are said aloud: of what was told as high priority.

All others stand on the page and in the summary. It is said with medium priority: who was woken
by harm is not woken again because it is over.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core import summary_words
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reminder import Event, Priority, Reminder
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, OutKind, OutState
from chamberwatch.service.mornings import move_number, moves_after
from chamberwatch.service.rows import to_send

KEPT_AS: Final = "returns told up to"

OLD_AFTER: Final = timedelta(minutes=20)
"""A return that comes from late readings is stored and not spoken."""

KNOWS_FOR: Final = timedelta(hours=1)
"""Whoever did what was asked need not be told so soon that it has helped."""

EXPIRES_AFTER: Final = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class Returning:
    """Looks at the moves of reminders in the rounds, and tells of returns.

    Attributes:
        house: to name places.
        board: what was last heard.
    """

    house: House
    board: Board

    def write(self, book: Book, now: datetime) -> bool:
        """Tell of what has returned since the last round; return whether anything was."""
        kept = book.kept.text(KEPT_AS)
        last, told = _last(book, kept), False
        for number, move in moves_after(book, last):
            last = number
            if move.event is Event.RETURNED and now - move.time <= OLD_AFTER:
                told |= self._tell(book, move.reminder, move.episode, now)
        if str(last) != kept:
            book.kept.keep_text(KEPT_AS, str(last))
        return told

    def _seen_to(self, reminder: Reminder, now: datetime) -> bool:
        """Tell whether somebody has just answered it: he stands in front of it and knows."""
        answered = self.board.deeds(reminder.chamber).get(reminder.call)
        return answered is not None and now - answered <= KNOWS_FOR

    def _tell(self, book: Book, number: int, episode: int, now: datetime) -> bool:
        reminder = book.reminders.get(number)
        if reminder is None or reminder.active or reminder.episode != episode:
            return False
        chamber = self.house.chambers.get(reminder.chamber)
        was = reminder.evidence
        if chamber is None or was is None or was.quantity is None or reminder.since is None:
            return False
        if self._seen_to(reminder, now):
            return False
        newest = self.board.newest_of((was.sensor, was.quantity))
        words = summary_words.returned(self.house, chamber, was, newest)
        until = now + EXPIRES_AFTER
        rows = [
            to_send(address, words, OutKind.RETURNED, now, expires=until, reminder=reminder)
            for address in sorted(_alarmed(book, reminder, reminder.since))
        ]
        book.outbox.add(rows)
        return bool(rows)


def _last(book: Book, kept: str | None) -> int:
    """Return which move was looked at last: the newest where that can't be read.

    What returned before is left unsaid then, rather than said once more.
    """
    try:
        return move_number(kept or 0)
    except ValueError:
        return book.reminders.newest_move()


def _alarmed(book: Book, reminder: Reminder, since: datetime) -> frozenset[str]:
    """Return the addresses that were told of this episode as of high priority."""
    return frozenset(
        row.address
        for row in (*book.outbox.sent_since(since), *book.outbox.in_state(OutState.FOLDED))
        if row.kind is OutKind.REMINDER and row.priority is Priority.HIGH
        if (row.reminder, row.episode) == (reminder.id, reminder.episode)
    )
