"""The reminders to look at a sensor, or at what all of them share, inside somebody's transaction.

A reminder is raised for each sensor. What people are told goes by the cause: several that fall
silent at once are one message, and where nothing at all is heard any more there is one about that,
and none about each of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core import cause_words, wording
from chamberwatch.core.watch.advice import CALLS, returned, untold
from chamberwatch.core.watch.doubt import GRAVITY, Doubt, Doubted
from chamberwatch.core.watch.reminder import (
    ASKING,
    Call,
    Cause,
    Event,
    Evidence,
    Move,
    Priority,
    Reminder,
    State,
    advance,
)
from chamberwatch.service.books import Book
from chamberwatch.service.telling import Teller

NOWHERE: Final = ""
"""Stands in a reminder for no chamber."""

COME_BACK: Final = timedelta(minutes=5)
"""After all were silent, so long each one has to be heard again before it is told of alone."""

HICCUP: Final = timedelta(minutes=10)
"""A silence is shown at once and told only if it lasts so much longer: radios drop out, and in air
that was good nothing happens so soon (common practice)."""

_OF_AIR: Final = frozenset(CALLS.values())
UNHEARD: Final = frozenset({State.UNACKNOWLEDGED})


@dataclass(frozen=True, slots=True)
class SensorTelling:
    """Tells of sensors; `teller` writes the messages."""

    teller: Teller

    # -------------------------------------------------------------- moves

    def silent(self, book: Book, sensor: str, last: datetime | None, now: datetime) -> bool:
        """Raise *check the sensor* because it is not heard; return whether that is news."""
        reminder = self._of(book, sensor)
        spoke = reminder.evidence is not None and reminder.evidence.quantity is not None
        if reminder.active and not spoke:
            return False
        # It was in doubt for what it said; now it says nothing, which is graver.
        event = Event.WORSENED if reminder.active else Event.RAISED
        evidence = Evidence(sensor, None, None, None, None, None, last)
        reminder, move = advance(
            reminder, event, now, Cause("nothing heard for too long", evidence)
        )
        book.reminders.save(replace(reminder, priority=Priority.MEDIUM), [move])
        return True

    def doubted(self, book: Book, before: Doubt | None, doubt: Doubt, now: datetime) -> bool:
        """Raise *check the sensor* for what it says; return whether anything moved.

        A doubt that takes the place of a graver one was told before it or is no news beside it.
        """
        reminder = self._of(book, doubt.sensor)
        evidence = self._of_doubt(doubt)
        moves: list[Move] = []
        milder = before is not None and GRAVITY.index(before.kind) < GRAVITY.index(doubt.kind)
        if not (reminder.active and milder):
            event = Event.WORSENED if reminder.active else Event.RAISED
            cause = Cause(f"in doubt: {doubt.kind}", evidence)
            reminder, move = advance(reminder, event, now, cause)
            moves.append(move)
        low = doubt.kind is Doubted.LOW_BATTERY
        priority = Priority.LOW if low else Priority.MEDIUM
        book.reminders.save(replace(reminder, priority=priority, evidence=evidence), moves)
        return True

    def _of(self, book: Book, sensor: str) -> Reminder:
        declared = self.teller.house.sensors[sensor]
        return book.reminders.of(declared.chamber, Call.CHECK_SENSOR, sensor)

    def _of_doubt(self, doubt: Doubt) -> Evidence:
        quantity = doubt.shown_by
        newest = self.teller.board.newest_of
        reading = newest((doubt.sensor, quantity)) if quantity else None
        value = reading.value if reading is not None else None
        return Evidence(doubt.sensor, quantity, value, None, None, None, doubt.since)

    @staticmethod
    def believed(book: Book, doubt: Doubt, now: datetime) -> bool:
        """Return *check the sensor* to normal, whatever the doubt was; tell whether it was active.

        A sensor that is no longer declared is looked for in the book alone.
        """
        silent = doubt.kind is Doubted.SILENT
        cause = "heard again" if silent else "good readings again"
        active = [
            reminder
            for reminder in book.reminders.all()
            if reminder.call is Call.CHECK_SENSOR and reminder.subject == doubt.sensor
            if reminder.active
        ]
        for reminder in active:
            book.reminders.save(*returned(reminder, now, cause))
        return bool(active)

    def everything(
        self, book: Book, last: datetime | None, now: datetime, *, silent: bool | None
    ) -> bool:
        """Raise or return the reminder that nothing at all is heard; tell whether it moved.

        Args:
            book: to write in.
            last: when any sensor was last heard.
            now: by the clock.
            silent: whether nothing is heard; None: that can't be told.
        """
        reminder = book.reminders.of(NOWHERE, Call.CHECK_ALL, "")
        if silent is None or reminder.active == silent:
            return False
        if not silent:
            book.reminders.save(*returned(reminder, now, "heard again"))
            return True
        evidence = Evidence("", None, None, None, None, None, last)
        cause = Cause("nothing is heard from any sensor", evidence)
        reminder, move = advance(reminder, Event.RAISED, now, cause)
        book.reminders.save(reminder, [move])
        return True

    # -------------------------------------------------------------- messages

    def tell(self, book: Book, doubts: Mapping[str, Doubt], now: datetime) -> bool:
        """Tell what a person has yet to hear about sensors; return whether anything was."""
        waiting = [
            r
            for r in untold(book.reminders.all(UNHEARD))
            # One that is no longer declared can't be looked at.
            if r.call is Call.CHECK_ALL
            or (r.call is Call.CHECK_SENSOR and r.subject in self.teller.house.sensors)
        ]
        everything = [r for r in waiting if r.call is Call.CHECK_ALL]
        quiet = [r for r in waiting if r.call is Call.CHECK_SENSOR and _silent(r)]
        if not any(self._matters(book, reminder, now) for reminder in quiet):
            quiet = []
        for reminder in everything:
            last = reminder.evidence.since if reminder.evidence is not None else None
            self._say(
                book, [reminder], cause_words.everything_silent(last, now, self.teller.zone), now
            )
        # Their silence is told with that of all, or not yet.
        told = bool(everything)
        if quiet and not self._waits_for_all(book, now):
            self._say(book, quiet, self._of_silent(quiet, now), now)
            told = True
        return self._tell_doubts(book, waiting, doubts, now) or told

    @staticmethod
    def _matters(book: Book, reminder: Reminder, now: datetime) -> bool:
        """Tell whether a silence is to be told: it has lasted, or the air was bad before."""
        lasted = reminder.since is None or now - reminder.since >= HICCUP
        return lasted or any(
            r.chamber == reminder.chamber and r.active and r.call in _OF_AIR
            for r in book.reminders.all(ASKING)
        )

    @staticmethod
    def _waits_for_all(book: Book, now: datetime) -> bool:
        all_ = book.reminders.of(NOWHERE, Call.CHECK_ALL, "")
        lately = all_.moved is not None and now - all_.moved < COME_BACK
        return all_.active or (all_.episode > 0 and lately)

    def _tell_doubts(
        self, book: Book, waiting: Sequence[Reminder], doubts: Mapping[str, Doubt], now: datetime
    ) -> bool:
        told = False
        for reminder in waiting:
            doubt = doubts.get(reminder.subject)
            chamber = self.teller.house.chambers.get(reminder.chamber)
            if (
                chamber is None
                or doubt is None
                or doubt.kind is Doubted.SILENT
                or _silent(reminder)
            ):
                continue
            self._say(book, [reminder], wording.doubt(chamber, doubt), now)
            told = True
        return told

    def _of_silent(self, quiet: Sequence[Reminder], now: datetime) -> wording.Message:
        zone = self.teller.zone
        heard = [r.evidence.since for r in quiet if r.evidence is not None]
        since = min((time for time in heard if time is not None), default=None)
        titles = [
            chamber.title
            for name in dict.fromkeys(r.chamber for r in quiet)
            if (chamber := self.teller.house.chambers.get(name)) is not None
        ]
        if len(quiet) > 1:
            return cause_words.silent_together(
                titles, [r.subject for r in quiet], since, now, zone
            )
        return wording.silence(
            self.teller.house.chambers[quiet[0].chamber], quiet[0].subject, since, now, zone
        )

    def _say(
        self, book: Book, reminders: Sequence[Reminder], words: wording.Message, now: datetime
    ) -> None:
        first = reminders[0]
        book.outbox.add(self.teller.rows(first, words, first.priority, now))
        for reminder in reminders:
            book.reminders.save(replace(reminder, told=now), ())


def _silent(reminder: Reminder) -> bool:
    """Tell whether it is silence that a reminder about a sensor speaks of."""
    return reminder.evidence is None or reminder.evidence.quantity is None
