"""What people do and say: actions, acknowledgements, shelving."""

import threading
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.action import (
    AMOUNTS,
    ANSWERS,
    Action,
    Amounts,
    Deed,
    most_into_air_g,
    too_much_words,
)
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.reminder import Call, Cause, Event, Reminder, State, advance, can
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books
from chamberwatch.service.knowing import Knowing
from chamberwatch.service.ports import Clock

LONGEST_SHELF: Final = timedelta(hours=24)
SHORTEST_SHELF: Final = timedelta(minutes=1)
AHEAD_AT_MOST: Final = timedelta(minutes=2)
OLDEST_DEED: Final = timedelta(days=366)
LONGEST_NOTE: Final = 2000


ADVICE_HOLDS: Final = timedelta(minutes=45)
"""A deed later than this after advice was hardly done by it."""


ADVISED_AS: Final = {Deed.MISTED: Call.MIST, Deed.VENTED: Call.VENT}


def _follows(deed: datetime, advice: datetime) -> bool:
    return advice - timedelta(minutes=5) <= deed <= advice + ADVICE_HOLDS


@dataclass(frozen=True, slots=True)
class Logbook:
    """Writes down what people did, and answers the reminders it answers."""

    books: Books
    clock: Clock
    house: House
    board: Board
    wake_delivery: threading.Event
    knowing: Knowing | None = None

    def act(
        self,
        chamber: str,
        deed: Deed,
        at: datetime | None,
        note: str,
        via: str,
        amounts: Amounts | None = None,
    ) -> Action:
        """Keep a deed and acknowledge what it answers.

        Where no amount is said soon after one was advised, that one is taken, and marked so.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: the time, the note or the amount can't be taken.
        """
        declared = self.house.chamber(chamber)
        now = self.clock.now()
        when = checked_time(at, now)
        check_told(declared, note, amounts)
        with self.books.write() as book:
            told = Action(0, chamber, deed, when, note, now, via)
            action = book.actions.add(self._measured(told, amounts))
            self._answer(book, action, now)
        self.board.did(action)
        self._taken(action)
        if self.knowing is not None:
            self.knowing.did(action)
        self.wake_delivery.set()
        return action

    def _measured(self, action: Action, amounts: Amounts | None) -> Action:
        """Add how much it was: as said, else as was advised a short while before.

        Raises:
            RefusedError: such a deed has no such amount.
        """
        if amounts is not None:
            return with_amounts(action, amounts)
        call = ADVISED_AS.get(action.deed)
        advised = self.board.advised(action.chamber, call) if call is not None else None
        if advised is None or advised.taken or not _follows(action.at, advised.at):
            return action
        first = advised.vent_minutes if action.deed is Deed.VENTED else advised.into_air_g
        if first is None and advised.standing_g is None:
            return action
        return replace(action, amount=first, standing_g=advised.standing_g, advised=True)

    def _taken(self, action: Action) -> None:
        """Note that what was advised has been done: a second deed was another amount."""
        call = ADVISED_AS.get(action.deed)
        advised = self.board.advised(action.chamber, call) if call is not None else None
        if call is not None and advised is not None and _follows(action.at, advised.at):
            self.board.advise(action.chamber, call, replace(advised, taken=True))

    @staticmethod
    def _answer(book: Book, action: Action, now: datetime) -> None:
        calls = ANSWERS.get(action.deed, frozenset())
        for reminder in book.reminders.all():
            if reminder.chamber != action.chamber or reminder.call not in calls:
                continue
            if can(reminder, Event.SEEN):
                seen, move = advance(reminder, Event.SEEN, now, f"{action.deed} ({action.via})")
                book.reminders.save(seen, [move])

    def seen(self, number: int, episode: int | None, via: str) -> Reminder:
        """Acknowledge a reminder.

        Args:
            number: its id.
            episode: only this episode of it; None for whatever stands now.
            via: page, link or api.

        Raises:
            UnknownNameError: no such reminder.
            RefusedError: nothing to acknowledge.
        """
        with self.books.write() as book:
            reminder = self._get(book, number, episode)
            if not can(reminder, Event.SEEN):
                raise RefusedError(
                    f"Nothing to acknowledge: this reminder is {reminder.state.value}."
                )
            reminder, move = advance(reminder, Event.SEEN, self.clock.now(), f"seen ({via})")
            book.reminders.save(reminder, [move])
        self.board.stir()
        return reminder

    def shelve(self, number: int, for_: timedelta, via: str) -> Reminder:
        """Silence a reminder for a while; it comes back by itself.

        Raises:
            UnknownNameError: no such reminder.
            RefusedError: too long, too short, or out of service.
        """
        if not SHORTEST_SHELF <= for_ <= LONGEST_SHELF:
            raise RefusedError("Give a time between one minute and 24 hours, such as PT30M.")
        with self.books.write() as book:
            reminder = self._get(book, number, None)
            if reminder.state in (State.OUT_OF_SERVICE, State.NORMAL):
                raise RefusedError(
                    f"This reminder is {reminder.state.value}; there is nothing to put off."
                )
            reminder, move = advance(
                reminder, Event.SHELVED, self.clock.now(), Cause(f"put off ({via})", shelf=for_)
            )
            book.reminders.save(reminder, [move])
        self.board.stir()
        return reminder

    @staticmethod
    def _get(book: Book, number: int, episode: int | None) -> Reminder:
        reminder = book.reminders.get(number)
        if reminder is None:
            raise UnknownNameError(f"There is no reminder {number}.")
        if episode is not None and reminder.episode != episode:
            raise RefusedError("This reminder is over; a newer one has taken its place.")
        return reminder


def checked_time(at: datetime | None, now: datetime) -> datetime:
    """Return when a deed was done; None: now.

    Raises:
        RefusedError: it can't have been then.
    """
    if at is None:
        return now
    if at > now + AHEAD_AT_MOST:
        raise RefusedError("That time lies in the future; give the time it was done.")
    if at < now - OLDEST_DEED:
        raise RefusedError("That time lies more than a year back; look at the year.")
    return at


def check_told(chamber: Chamber, note: str, amounts: Amounts | None) -> None:
    """Refuse what can't be meant.

    Raises:
        RefusedError: the note is too long, or the amount more than the air could take.
    """
    if len(note) > LONGEST_NOTE:
        raise RefusedError(f"The note is longer than {LONGEST_NOTE} characters; shorten it.")
    sprayed_g = amounts.into_air_g if amounts else None
    if sprayed_g is not None and sprayed_g > most_into_air_g(chamber.volume_l):
        raise RefusedError(too_much_words(chamber.squeeze_g))


def with_amounts(action: Action, amounts: Amounts) -> Action:
    """Return a deed with the amounts that a person said.

    Raises:
        RefusedError: such a deed has no such amount.
    """
    if unfit := sorted(amounts.given() - AMOUNTS.get(action.deed, frozenset())):
        raise RefusedError(f"“{action.deed}” has no {unfit[0]}; leave it out.")
    first = amounts.vent_minutes if action.deed is Deed.VENTED else amounts.into_air_g
    return replace(action, amount=first, standing_g=amounts.standing_g, advised=False)
