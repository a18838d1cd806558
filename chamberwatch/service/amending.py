"""Putting right what was told of deeds. Nothing is overwritten: a newer deed names the old one.

What reads deeds reads those that hold. What was concluded from the old one before is undone
here: the misting it was thought to explain, what the chamber was thought to have in water, and
the reminder it answered, if it did not happen at all.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.action import ANSWERS, Action, Amounts
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.found import DEEDS, Found, Kind
from chamberwatch.core.watch.lasting import paired
from chamberwatch.core.watch.reminder import Event, State, advance
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books, Span
from chamberwatch.service.finding import LONGEST_VENTING_MIN
from chamberwatch.service.knowing import Knowing
from chamberwatch.service.logbook import check_told, checked_time, with_amounts
from chamberwatch.service.ports import Clock
from chamberwatch.service.responding import Responding

AROUND: Final = timedelta(hours=1)
"""A deed explains what began this long before or after it, at the very most."""

JUST_NOW: Final = timedelta(minutes=10)
"""The water of a misting is in the ledger that long after it, at the very most."""

REMEMBERED: Final = 50
DID_NOT_HAPPEN: Final = "the deed that answered it did not happen"


@dataclass(frozen=True, slots=True)
class DeedTold:
    """What is told of a deed anew; None: as it was told before.

    Attributes:
        at: when it was done.
        note: free words.
        amounts: how much it was, in place of all amounts told before.
    """

    at: datetime | None = None
    note: str | None = None
    amounts: Amounts | None = None


@dataclass(frozen=True, slots=True)
class Amending:
    """Corrects and withdraws deeds.

    Attributes:
        books: where they are kept.
        clock: the time.
        house: what the grower declared.
        board: told what holds now.
        knowing: has counted the water of mistings; None: nobody does.
        responding: has judged what came of deeds; None: nobody does.
    """

    books: Books
    clock: Clock
    house: House
    board: Board
    knowing: Knowing | None = None
    responding: Responding | None = None

    def deed(self, number: int) -> Action:
        """Return a deed, whether it holds or not.

        Raises:
            UnknownNameError: there is none.
        """
        with self.books.read() as book:
            return _got(book, number)

    def correct(self, number: int, told: DeedTold, via: str) -> Action:
        """Let what is told now stand in place of a deed, which is kept as well.

        Raises:
            UnknownNameError: no such deed.
            RefusedError: it holds no more, or it can't have been so.
        """
        now = self.clock.now()
        with self.books.write() as book:
            old = _holding(book, number)
            fresh = self._fresh(old, told, now, via)
            if _same(old, fresh):
                raise RefusedError("That is what was told already; nothing was changed.")
            kept = book.actions.add(fresh)
            _explain_anew(book, old, kept)
            self._note(book, old.chamber)
        self._forget(old.chamber)
        if self.knowing is not None and kept.at > now - JUST_NOW:
            self.knowing.did(kept)
        return kept

    def withdraw(self, number: int, note: str, via: str) -> Action:
        """Say that a deed did not happen; it is kept as well.

        What it answered is asked for again, if it still holds.

        Raises:
            UnknownNameError: no such deed.
            RefusedError: it holds no more.
        """
        now = self.clock.now()
        with self.books.write() as book:
            old = _holding(book, number)
            if old.chamber in self.house.chambers:
                check_told(self.house.chambers[old.chamber], note, None)
            gone = replace(old, id=0, note=note, recorded=now, via=via)
            kept = book.actions.add(replace(gone, corrects=old.id, withdrawn=True))
            _explain_anew(book, old, None)
            asked = _ask_again(book, old, now)
            self._note(book, old.chamber)
        if asked:
            self.board.owe(old.chamber)
        self._forget(old.chamber)
        return kept

    def _fresh(self, old: Action, told: DeedTold, now: datetime, via: str) -> Action:
        note = old.note if told.note is None else told.note
        at = old.at if told.at is None else checked_time(told.at, now)
        if old.chamber in self.house.chambers:
            check_told(self.house.chambers[old.chamber], note, told.amounts)
        fresh = replace(old, id=0, at=at, note=note, recorded=now, via=via, corrects=old.id)
        return fresh if told.amounts is None else with_amounts(fresh, told.amounts)

    def _note(self, book: Book, chamber: str) -> None:
        self.board.undo(chamber, book.actions.recent(chamber, REMEMBERED))

    def _forget(self, chamber: str) -> None:
        """Let what was concluded from the deeds of a chamber be drawn anew from the book."""
        if self.knowing is not None:
            self.knowing.forget(chamber)
        if self.responding is not None:
            self.responding.forget(chamber)
        self.board.stir()


def _got(book: Book, number: int) -> Action:
    found = book.actions.get(number)
    if found is None:
        raise UnknownNameError(f"There is no deed {number}. Look for it in the log.")
    return found


def _holding(book: Book, number: int) -> Action:
    """Return a deed that can still be put right."""
    old = _got(book, number)
    later = book.actions.instead_of(number)
    if old.withdrawn or (later is not None and later.withdrawn):
        raise RefusedError(
            f"Deed {number} was withdrawn already. If it did happen, note it again as a new one."
        )
    if later is not None:
        raise RefusedError(
            f"Deed {number} was corrected already, by deed {later.id}. Correct the newest of "
            "its line."
        )
    return old


def _same(old: Action, fresh: Action) -> bool:
    kept = replace(fresh, id=old.id, recorded=old.recorded, via=old.via, corrects=old.corrects)
    return kept == old


def _explain_anew(book: Book, old: Action, fresh: Action | None) -> None:
    """Part what was found in the readings from a deed, and give it to what stands in its place."""
    kind = next((kind for kind, deed in DEEDS.items() if deed is old.deed), None)
    if kind is None:
        return
    near = Span(old.at - AROUND, old.at + AROUND)
    for found in book.found.within(old.chamber, near):
        if found.action == old.id:
            book.found.save(replace(found, action=None, amount=None))
    if fresh is not None:
        _give(book, kind, old, fresh)


def _give(book: Book, kind: Kind, old: Action, fresh: Action) -> None:
    near = Span(fresh.at - AROUND, fresh.at + AROUND)
    free = {
        found.id: found
        for found in book.found.within(fresh.chamber, near)
        if found.kind is kind and found.action is None and not found.denied
    }
    pairs = paired({n: f.start for n, f in free.items()}, {fresh.id: fresh.at})
    for number in pairs:
        end = _ended(free[number], old, fresh)
        book.found.save(replace(free[number], action=fresh.id, amount=fresh.amount, end=end))


def _ended(found: Found, old: Action, fresh: Action) -> datetime:
    """Return when a venting was over that had been told to be longer or shorter than it was."""
    if found.kind is not Kind.VENTING or fresh.amount is None:
        return found.end
    told = found.start + _open_for(fresh.amount)
    by_old = old.amount is not None and found.end == found.start + _open_for(old.amount)
    return told if by_old else max(found.end, told)


def _open_for(minutes: float) -> timedelta:
    return timedelta(minutes=min(minutes, LONGEST_VENTING_MIN))


def _ask_again(book: Book, old: Action, now: datetime) -> bool:
    """Ask again for what this deed answered and nothing has moved since."""
    asked = False
    for reminder in book.reminders.all(frozenset({State.ACKNOWLEDGED})):
        answered = reminder.call in ANSWERS.get(old.deed, frozenset())
        by_it = reminder.chamber == old.chamber and reminder.moved == old.recorded
        if answered and by_it and reminder.active:
            again, move = advance(reminder, Event.REALARMED, now, DID_NOT_HAPPEN)
            book.reminders.save(again, [move])
            asked = True
    return asked
