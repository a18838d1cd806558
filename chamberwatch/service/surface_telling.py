"""The reminder to let wet surfaces dry off: moved and told inside somebody's transaction."""

from dataclasses import dataclass, replace
from datetime import datetime

from chamberwatch.core import wording
from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.watch.advice import in_grace, returned, untold
from chamberwatch.core.watch.reminder import (
    Call,
    Cause,
    Event,
    Evidence,
    Move,
    Priority,
    Reminder,
    advance,
)
from chamberwatch.core.watch.wetness import SUBJECT as SURFACES
from chamberwatch.service import advised
from chamberwatch.service.books import Book
from chamberwatch.service.counselling import SAID_ONCE_FOR
from chamberwatch.service.telling import Teller


@dataclass(frozen=True, slots=True)
class SurfaceTelling:
    """Tells of wet surfaces; `teller` writes the messages."""

    teller: Teller

    def wet(
        self, book: Book, chamber: str, since: datetime, margin: Margin | None, now: datetime
    ) -> bool:
        """Raise *let it dry off* for wet surfaces, told when nothing else speaks of them.

        Returns whether anything moved or was told.
        """
        reminder = book.reminders.of(chamber, Call.DRY_OFF, SURFACES)
        moves: list[Move] = []
        if not reminder.active:
            evidence = Evidence("", None, None, None, None, None, since)
            cause = Cause("surfaces wet for too long", evidence)
            reminder, move = advance(reminder, Event.RAISED, now, cause)
            reminder = replace(reminder, priority=Priority.LOW)
            moves.append(move)
        tell = bool(untold([reminder])) and not self._hushed(book, reminder, now)
        if tell:
            declared = self.teller.house.chambers[chamber]
            words = wording.wet_surfaces(declared, since, margin, now, self.teller.zone)
            book.outbox.add(self.teller.rows(reminder, words, reminder.priority, now))
            reminder = replace(reminder, told=now)
            self._note(book, chamber, now)
        if tell or moves:
            book.reminders.save(reminder, moves)
        return tell or bool(moves)

    def _hushed(self, book: Book, reminder: Reminder, now: datetime) -> bool:
        """Tell whether wet surfaces are better not spoken of yet.

        Dry air between wet walls is what a fresh misting looks like; who was told to let the air
        dry off knows already; and who has just vented is not asked to.
        """
        chamber = reminder.chamber
        humid = book.reminders.of(chamber, Call.DRY_OFF, "")
        return (
            book.reminders.of(chamber, Call.MIST, "").active
            or (humid.active and humid.told is not None)
            or self._said_lately(reminder, now)
            or in_grace(
                Call.DRY_OFF,
                self.teller.board.deeds(chamber),
                now,
                self.teller.graces(chamber, Call.DRY_OFF),
            )
        )

    def _note(self, book: Book, chamber: str, now: datetime) -> None:
        """Note that it was said, over a restart too."""
        board = self.teller.board
        board.advise(chamber, Call.DRY_OFF, advised.Advised(now, reachable=False))
        book.kept.keep_text(advised.KEPT_AS, advised.dumps(board.all_advised(), now))

    def _said_lately(self, reminder: Reminder, now: datetime) -> bool:
        """Tell whether it was said a short while ago, of an episode before this one.

        That air is damp and that walls are wet is the same news. What was told in this episode
        and is to be told again was put off by a person.
        """
        told = self.teller.board.advised(reminder.chamber, Call.DRY_OFF)
        if told is None or reminder.since is None or told.at >= reminder.since:
            return False
        return now - told.at < SAID_ONCE_FOR[Call.DRY_OFF]

    @staticmethod
    def dry(book: Book, chamber: str, now: datetime) -> bool:
        """Return *let it dry off* for wet surfaces to normal; return whether it was active."""
        reminder = book.reminders.of(chamber, Call.DRY_OFF, SURFACES)
        reminder, moves = returned(reminder, now, "surfaces no longer known to be wet")
        if moves:
            book.reminders.save(reminder, moves)
        return bool(moves)
