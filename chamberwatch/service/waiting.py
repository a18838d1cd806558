"""What may be sent now, and what waits for its hour.

Each message is judged anew whenever it is due, so a restart or a changed setting loses none. One
that waits stays in the outbox with the time of its next chance; what has waited and is still true
goes out then, as one message if there are several. How many went out in the last hour is counted
in the outbox.
"""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.watch.hours import (
    AT_ONCE,
    Manner,
    Wake,
    back_at,
    floor,
    is_away,
    next_opening,
    speaks,
)
from chamberwatch.core.watch.reminder import Call, Priority
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books, OutKind, OutRow, OutState
from chamberwatch.service.mornings import Mornings, next_summary, summary_on
from chamberwatch.service.nights import Nights
from chamberwatch.service.phrasing import Phrasing
from chamberwatch.service.telling import EXPIRES_AFTER
from chamberwatch.service.together import Together

log = logging.getLogger(__name__)

HOUR: Final = timedelta(hours=1)

COMES_WITH: Final = timedelta(hours=2)
"""What could be said so long before the summary comes with it."""

LOOK_AGAIN: Final = timedelta(minutes=15)
"""Whether there is still somebody else to hear of harm."""

A_WHILE: Final = timedelta(minutes=5)
"""What nobody looked at for so long, since the daemon was down, has waited too."""

AT_ANY_HOUR: Final = frozenset({OutKind.SUMMARY, OutKind.FORECAST, OutKind.TRIAL})
"""Their own time was chosen already, or somebody waits for them."""

NOT_WANTED: Final = "this address is told of graver things only"
NO_USE_LATER: Final = "an early word, and nobody could be told then"


@dataclass(frozen=True, slots=True)
class Waiting:
    """Decides for each address what is sent now. Only the delivery uses it.

    Attributes:
        books: what is kept.
        board: what was last heard.
        manners: how each address wants to be spoken to; one that is not named: at once.
        nights: what was foretold.
        mornings: what a summary holds.
        phrasing: words for what waited, as it is by then.
        zone: of the site.
    """

    books: Books
    board: Board
    manners: Mapping[str, Manner]
    nights: Nights
    mornings: Mornings
    phrasing: Phrasing
    zone: tzinfo

    def begin(self, now: datetime) -> None:
        """Look at all that waits for its hour anew: the hours may be others than they were."""
        with self.books.write() as book:
            for address in self.manners:
                for row in book.outbox.waiting(address):
                    if row.next_try > now and row.tries == 0:
                        book.outbox.save(replace(row, next_try=now))

    def summaries(self, book: Book, now: datetime) -> Sequence[str]:
        """Return the addresses whose summary is due."""
        return [a for a, m in self.manners.items() if self.mornings.due(book, a, m, now)]

    def sort(self, book: Book, address: str, now: datetime, *, down: bool = False) -> None:
        """Put off what can't be said to an address now, and say together what has waited.

        What is due at the address after this may be sent.

        Args:
            book: to write in.
            address: which.
            now: the time.
            down: it can't be reached just now, so that only harm is tried, and nothing summed up.
        """
        manner = self.manners.get(address)
        if manner is None:
            return
        desk = _Desk(self, book, address, manner, now)
        if down:
            desk.sort_grave()
        else:
            desk.sort(summary=self.mornings.due(book, address, manner, now))

    def nobody_there(self, now: datetime) -> bool:
        """Tell whether everybody is away; a screen is nobody."""
        people = [manner for manner in self.manners.values() if manner != AT_ONCE]
        return all(is_away(manner.hours, now) for manner in people)


@dataclass(frozen=True, slots=True)
class _Desk:
    """The messages of one address at one moment, within one transaction."""

    parts: Waiting
    book: Book
    address: str
    manner: Manner
    now: datetime

    def sort_grave(self) -> None:
        """Put off what is grave and can't be said now; let everything else wait as it is."""
        for row in self.book.outbox.waiting(self.address):
            if row.next_try <= self.now and row.priority is Priority.HIGH and not row.tries:
                self._put_off(row)

    def sort(self, *, summary: bool) -> None:
        """Put off what can't be said now, and say together what has waited."""
        due = [row for row in self.book.outbox.waiting(self.address) if row.next_try <= self.now]
        open_ = self._newest_of_each([row for row in due if not self._put_off(row)])
        waited = [row for row in open_ if self._foldable(row)]
        fresh = [[row] for row in open_ if row not in waited]
        if summary:
            # It speaks of all that waits, also of what may not be said by itself yet.
            everything = self.book.outbox.waiting(self.address)
            self._summary([row for row in everything if self._foldable(row)])
            self._not_too_many(fresh)
        else:
            together = [waited] if waited else []
            if waited in self._not_too_many([*together, *fresh]):
                self._together().say(waited, (), ())

    def _summary(self, waited: Sequence[OutRow]) -> None:
        together, mornings = self._together(), self.parts.mornings
        true = together.still_true(waited)
        over = mornings.over(self.book, self.address)
        ails = mornings.ails(self.book, self.now)
        ailing = mornings.news_of(ails, self.book, self.address)
        says = bool(true or over or ailing) or self.manner.summary_always
        night = mornings.night(self.book, self.now) if says else []
        mornings.done(self.book, self.address, self.now, ails)
        together.say(true, over, night, ailing)

    def _together(self) -> Together:
        parts = self.parts
        return Together(self.book, parts.board, parts.phrasing, self.address, self.now)

    def _newest_of_each(self, rows: Sequence[OutRow]) -> list[OutRow]:
        """Leave out what a newer message about the same says as well."""
        newest = {
            (row.reminder, row.episode): row.id for row in rows if row.kind is OutKind.REMINDER
        }
        older = [
            row
            for row in rows
            if row.kind is OutKind.REMINDER and newest[row.reminder, row.episode] != row.id
        ]
        self._together().within(older)
        return [row for row in rows if row not in older]

    def _foldable(self, row: OutRow) -> bool:
        """Tell whether a message has waited; one that failed is only tried again."""
        waited = row.next_try > row.created or self.now - row.created >= A_WHILE
        return waited and row.tries == 0 and not row.again and row.kind not in AT_ANY_HOUR

    # ---------------------------------------------------------------- when

    def _put_off(self, row: OutRow) -> bool:
        """Put a message off if it can't be said now, or drop it; return whether it was."""
        if row.kind in AT_ANY_HOUR:
            return False
        # The end of harm goes to those who were told of the harm, and to nobody else.
        if row.priority < self.manner.least and row.kind is not OutKind.RETURNED:
            self._drop(row, NOT_WANTED)
            return True
        until = self._until(row)
        if until is not None:
            self._wait(row, until)
        return until is not None

    def _until(self, row: OutRow) -> datetime | None:
        """Return when a message may be said; None: now."""
        manner, now = self.manner, self.now
        back = back_at(manner.hours, now)
        grave = row.priority is Priority.HIGH
        if grave and back is not None:
            return None if self.parts.nobody_there(now) else min(back, now + LOOK_AGAIN)
        if self._closing(row):
            return now + A_WHILE
        foretold = self._foretold(row)
        said = min(row.priority, Priority.MEDIUM)
        if speaks(manner.hours, said, now, self.parts.zone):
            return None if grave or manner.wake is Wake.ALWAYS else foretold
        if grave and not self._may_sleep(foretold):
            return None
        return self._next_word(said)

    def _closing(self, row: OutRow) -> bool:
        """Tell whether what a message asks for seems to be over, and is waited for to be sure."""
        reminder = self.book.reminders.get(row.reminder) if row.reminder else None
        return reminder is not None and self.parts.phrasing.closing(reminder)

    def _may_sleep(self, foretold: datetime | None) -> bool:
        wake = self.manner.wake
        return wake is Wake.NEVER or (wake is Wake.FORETOLD and foretold is not None)

    def _foretold(self, row: OutRow) -> datetime | None:
        reminder = self.book.reminders.get(row.reminder) if row.reminder else None
        if reminder is None or reminder.call is not Call.MIST:
            return None
        return self.parts.nights.foretold(self.book, self.address, reminder.chamber, self.now)

    def _next_word(self, priority: Priority) -> datetime:
        """Return when a priority may be said next, or comes with a summary."""
        manner, now, zone = self.manner, self.now, self.parts.zone
        opening = next_opening(manner.hours, priority, now, zone)
        if opening is None or priority < floor(manner.hours):
            return next_summary(manner, now, zone) or now + EXPIRES_AFTER
        if manner.summary is None:
            return opening
        summary = summary_on(manner, opening.astimezone(zone).date(), zone)
        with_it = summary is not None and opening <= summary <= opening + COMES_WITH
        return summary if with_it and summary is not None else opening

    def _wait(self, row: OutRow, until: datetime) -> None:
        if row.kind is OutKind.EARLY:
            self._drop(row, NO_USE_LATER)
            return
        if not self._foldable(row):
            back = f"{until.astimezone(self.parts.zone):%Y-%m-%d %H:%M}"
            log.info("Waits for %s until %s: %s", row.address, back, row.title)
        waits = replace(row, next_try=until, tries=0, expires=until + EXPIRES_AFTER)
        self.book.outbox.save(waits)

    def _drop(self, row: OutRow, why: str) -> None:
        self.book.outbox.save(replace(row, state=OutState.DROPPED, error=why))

    # ---------------------------------------------------------------- how many

    def _not_too_many(self, messages: Sequence[list[OutRow]]) -> list[list[OutRow]]:
        """Let so many go as the hour allows, high priority always; put the others off.

        Args:
            messages: the rows that each message will speak of.

        Returns:
            Those that may go.
        """
        most = self.manner.most_per_hour
        if most is None:
            return list(messages)
        sent = [
            row.sent
            for row in self.book.outbox.sent_since(self.now - HOUR)
            if row.address == self.address and row.sent is not None
        ]
        go = [rows for rows in messages if any(_passes(row) for row in rows)]
        sent += [self.now] * len(go)
        for rows in messages:
            if rows in go:
                continue
            if len(sent) < most:
                go.append(rows)
                sent.append(self.now)
            else:
                for row in rows:
                    self._wait(row, sent[-most] + HOUR)
        return go


def _passes(row: OutRow) -> bool:
    return row.kind in AT_ANY_HOUR or row.priority is Priority.HIGH
