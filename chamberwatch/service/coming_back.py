"""What was shelved or out of service comes back when its time is up, and is told if still so."""

from datetime import datetime
from typing import Final

from chamberwatch.core.watch.advice import untold
from chamberwatch.core.watch.doubt import Doubted
from chamberwatch.core.watch.reminder import Call, Event, Reminder, State, advance
from chamberwatch.service.books import Book
from chamberwatch.service.logbook import LONGEST_SHELF
from chamberwatch.service.out_of_service import ended, put_back
from chamberwatch.service.telling import Teller

UP: Final = "its time was up"


def come_back(teller: Teller, book: Book, now: datetime) -> bool:
    """Put back what was put off or out and whose time has come; return whether any was."""
    shelved = [r for r in book.reminders.all(frozenset({State.SHELVED})) if _over(r, now)]
    for each in shelved:
        reminder, move = advance(each, Event.SHELF_ENDED, now, UP)
        book.reminders.save(reminder, [move])
        _tell(teller, book, reminder, now)
    out = ended(book, now)
    for each in out:
        _tell(teller, book, put_back(book, each, now, UP), now)
    # Of a sensor that a person has put back in service nobody but the rounds can tell.
    unseen = book.reminders.all(frozenset({State.UNACKNOWLEDGED}))
    silent = [r for r in untold(unseen) if r.call is Call.CHECK_SENSOR]
    for each in silent:
        _tell(teller, book, each, now)
    return bool(shelved or out or silent)


def _over(reminder: Reminder, now: datetime) -> bool:
    until = reminder.shelved_until
    # One further off than any may be was set by a clock that was wrong.
    return until is not None and not now < until <= now + LONGEST_SHELF


def _tell(teller: Teller, book: Book, reminder: Reminder, now: datetime) -> None:
    """Tell of what is in service again and still so."""
    if not reminder.active:
        return
    if reminder.call is not Call.CHECK_SENSOR:
        teller.board.owe(reminder.chamber)
        return
    if reminder.subject not in teller.house.sensors:
        return
    doubt = teller.board.doubts().get(reminder.subject)
    if doubt is not None and doubt.kind is not Doubted.SILENT:
        teller.doubted(book, doubt, doubt, now)
        return
    last = reminder.evidence.since if reminder.evidence else None
    teller.silent(book, reminder.subject, last, now)
