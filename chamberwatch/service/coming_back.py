"""What was shelved or out of service comes back when its time is up, and is told if still so."""

from datetime import datetime
from typing import Final

from chamberwatch.core.watch.reminder import Event, Reminder, State, advance
from chamberwatch.service.books import Book
from chamberwatch.service.logbook import LONGEST_SHELF
from chamberwatch.service.out_of_service import ended, put_back
from chamberwatch.service.telling import Teller

UP: Final = "its time was up"


def come_back(teller: Teller, book: Book, now: datetime) -> bool:
    """Put back what was put off or out and whose time has come; return whether any was."""
    shelved = [r for r in book.reminders.all(frozenset({State.SHELVED})) if _over(r, now)]
    back: list[Reminder] = []
    for each in shelved:
        reminder, move = advance(each, Event.SHELF_ENDED, now, UP)
        book.reminders.save(reminder, [move])
        back.append(reminder)
    back += [put_back(book, each, now, UP) for each in ended(book, now)]
    for each in back:
        if each.active and each.chamber in teller.house.chambers:
            teller.board.owe(each.chamber)
    return bool(back)


def _over(reminder: Reminder, now: datetime) -> bool:
    until = reminder.shelved_until
    # One further off than any may be was set by a clock that was wrong.
    return until is not None and not now < until <= now + LONGEST_SHELF
