"""Taking a reminder out of service, with who, why and until when; and putting it back.

It goes on being judged meanwhile, and nobody is told of it. What has an end is put back by the
rounds; what has none, by a person.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.reminder import Cause, Event, Out, Reminder, State, advance, can
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books
from chamberwatch.service.ports import Clock

WHO_CHARS: Final = 80
WHY_CHARS: Final = 500
LONGEST: Final = timedelta(days=366)


@dataclass(frozen=True, slots=True)
class Reason:
    """What is said of taking a reminder out of service.

    Attributes:
        why: never empty.
        who: never empty.
        until: when it is put back by itself; None: a person puts it back.
    """

    why: str
    who: str
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class OutOfService:
    """Takes reminders out of service and puts them back."""

    books: Books
    clock: Clock
    board: Board

    def take_out(self, number: int, reason: Reason, via: str) -> Reminder:
        """Take a reminder out of service.

        Raises:
            UnknownNameError: no such reminder.
            RefusedError: no reason, no name, an end that can't be, or it is out already.
        """
        now = self.clock.now()
        said = _checked(reason, now)
        with self.books.write() as book:
            reminder = _get(book, number)
            if not can(reminder, Event.TAKEN_OUT):
                raise RefusedError(
                    f"It is out of service already: {reminder.out_why} ({reminder.out_by}). Put "
                    "it back first."
                )
            out = Out(said.who, said.why, said.until)
            cause = Cause(f"{said.why}; {said.who} ({via})", out=out)
            reminder, move = advance(reminder, Event.TAKEN_OUT, now, cause)
            book.reminders.save(reminder, [move])
        self.board.stir()
        return reminder

    def put_back(self, number: int, who: str, via: str) -> Reminder:
        """Put a reminder back in service; where its cause holds, it is told.

        Raises:
            UnknownNameError: no such reminder.
            RefusedError: it is in service, or no name is given.
        """
        name = _name(who)
        with self.books.write() as book:
            reminder = _get(book, number)
            if not can(reminder, Event.PUT_BACK):
                raise RefusedError("It is in service; there is nothing to put back.")
            cause = f"put back by {name} ({via})"
            reminder = put_back(book, reminder, self.clock.now(), cause)
        if reminder.active and reminder.chamber:
            self.board.owe(reminder.chamber)
        self.board.stir()
        return reminder


def put_back(book: Book, reminder: Reminder, now: datetime, cause: str) -> Reminder:
    """Put one back in service, and forget why it was out; return it as it is then."""
    reminder, move = advance(reminder, Event.PUT_BACK, now, cause)
    book.reminders.save(reminder, [move])
    return reminder


def ended(book: Book, now: datetime) -> list[Reminder]:
    """Return what is out of service and whose time there has come to its end."""
    return [
        reminder
        for reminder in book.reminders.all(frozenset({State.OUT_OF_SERVICE}))
        if reminder.out_until is not None and reminder.out_until <= now
    ]


def _checked(reason: Reason, now: datetime) -> Reason:
    why = reason.why.strip()
    if not why or len(why) > WHY_CHARS:
        raise RefusedError(
            f"Say why it is taken out of service, in 1 to {WHY_CHARS} letters: whoever finds it "
            "so will ask."
        )
    if reason.until is not None and not now < reason.until <= now + LONGEST:
        raise RefusedError(
            "Its end must lie ahead, and within a year; without one a person puts it back."
        )
    return Reason(why, _name(reason.who), reason.until)


def _name(who: str) -> str:
    name = who.strip()
    if not name or len(name) > WHO_CHARS:
        raise RefusedError(f"Give the name of who does this, in 1 to {WHO_CHARS} letters.")
    return name


def _get(book: Book, number: int) -> Reminder:
    reminder = book.reminders.get(number)
    if reminder is None:
        raise UnknownNameError(f"There is no reminder {number}.")
    return reminder
