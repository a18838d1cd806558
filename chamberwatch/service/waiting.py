"""What may be sent now, what waits for its hour, and what is said together.

Each message is judged anew whenever it is due, so a restart or a changed setting loses none. One
that waits stays in the outbox with the time of its next chance; what has waited and is still true
goes out then, as one message if there are several. How many went out in the last hour is counted
in the outbox.
"""

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import summary_words, wording
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
from chamberwatch.core.watch.reminder import TASK_CALLS, Call, Priority, Reminder, State
from chamberwatch.core.wording import Message
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books, OutKind, OutRow, OutState
from chamberwatch.service.mornings import Mornings, next_summary, summary_on
from chamberwatch.service.nights import Nights, plain_row
from chamberwatch.service.phrasing import Phrasing
from chamberwatch.service.telling import EXPIRES_AFTER

log = logging.getLogger(__name__)

HOUR: Final = timedelta(hours=1)

COMES_WITH: Final = timedelta(hours=2)
"""What could be said so long before the summary comes with it."""

LOOK_AGAIN: Final = timedelta(minutes=15)
"""Whether there is still somebody else to hear of harm."""

SUMMARY_EXPIRES: Final = timedelta(hours=6)

AT_ANY_HOUR: Final = frozenset({OutKind.SUMMARY, OutKind.FORECAST, OutKind.TRIAL})
"""Their own time was chosen already, or somebody waits for them."""

LIVE: Final = frozenset(State) - {State.NORMAL}

NOT_WANTED: Final = "this address is told of graver things only"
NO_USE_LATER: Final = "an early word, and nobody could be told then"
WITHIN: Final = "said within another message"


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
                    if row.next_try > now and has_waited(row):
                        book.outbox.save(replace(row, next_try=now))

    def due(self, now: datetime) -> Sequence[OutRow]:
        """Return what is to be sent now, the gravest first; what has to wait is put off."""
        with self.books.read() as book:
            summaries = [a for a, m in self.manners.items() if self.mornings.due(book, a, m, now)]
            if not summaries and not book.outbox.due(now):
                return ()
        with self.books.write() as book:
            for address in self.manners:
                _Desk(self, book, address, now).sort(summary=address in summaries)
            return book.outbox.due(now)

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
    now: datetime

    @property
    def manner(self) -> Manner:
        return self.parts.manners[self.address]

    def sort(self, *, summary: bool) -> None:
        """Put off what can't be said now, and say together what has waited."""
        rows = self.book.outbox.waiting(self.address)
        due = [row for row in rows if row.next_try <= self.now]
        open_ = [row for row in due if not self._put_off(row)]
        # A summary speaks of all that waits, also of what may not be said by itself yet.
        gathered = self.book.outbox.waiting(self.address) if summary else open_
        waited = [row for row in gathered if _foldable(row)]
        if waited or summary:
            self._together(waited, summary=summary)
        self._not_too_many()

    # ---------------------------------------------------------------- when

    def _put_off(self, row: OutRow) -> bool:
        """Put a message off if it can't be said now, or drop it; return whether it was."""
        if row.kind in AT_ANY_HOUR:
            return False
        if row.priority < self.manner.least:
            self._end(row, OutState.DROPPED, NOT_WANTED)
            return True
        until = self._until(row)
        if until is None:
            return False
        if row.kind is OutKind.EARLY:
            self._end(row, OutState.DROPPED, NO_USE_LATER)
        else:
            self._wait(row, until)
        return True

    def _until(self, row: OutRow) -> datetime | None:
        """Return when a message may be said; None: now."""
        manner, now, zone = self.manner, self.now, self.parts.zone
        back = back_at(manner.hours, now)
        grave = row.priority is Priority.HIGH
        if grave and back is not None:
            return None if self.parts.nobody_there(now) else min(back, now + LOOK_AGAIN)
        foretold = self._foretold(row)
        if speaks(manner.hours, Priority.MEDIUM if grave else row.priority, now, zone):
            return None if grave or manner.wake is Wake.ALWAYS else foretold
        sleeps = manner.wake is Wake.NEVER or (
            manner.wake is Wake.FORETOLD and foretold is not None
        )
        return None if grave and not sleeps else self._next_word(row.priority)

    def _foretold(self, row: OutRow) -> datetime | None:
        reminder = self._reminder(row)
        if reminder is None or reminder.call is not Call.MIST:
            return None
        return self.parts.nights.foretold(self.book, self.address, reminder.chamber, self.now)

    def _next_word(self, priority: Priority) -> datetime:
        """Return when a priority may be said next, or comes with a summary."""
        manner, now, zone = self.manner, self.now, self.parts.zone
        said = min(priority, Priority.MEDIUM)
        opening = next_opening(manner.hours, said, now, zone)
        summary = next_summary(manner, now, zone)
        if opening is None or said < floor(manner.hours):
            return summary or now + EXPIRES_AFTER
        if manner.summary is None:
            return opening
        on_day = summary_on(manner, opening.astimezone(zone).date(), zone)
        with_it = on_day is not None and opening <= on_day <= opening + COMES_WITH
        return on_day if with_it and on_day is not None else opening

    def _wait(self, row: OutRow, until: datetime) -> None:
        if not has_waited(row):
            log.info("Waits for %s until %s: %s", row.address, until.isoformat(), row.title)
        waits = replace(row, next_try=until, tries=0, expires=until + EXPIRES_AFTER)
        self.book.outbox.save(waits)

    def _end(self, row: OutRow, state: OutState, why: str) -> None:
        self.book.outbox.save(replace(row, state=state, error=why))

    def _not_too_many(self) -> None:
        """Let so many go as the hour allows; high priority always."""
        most = self.manner.most_per_hour
        if most is None:
            return
        now = self.now
        due = [r for r in self.book.outbox.waiting(self.address) if r.next_try <= now]
        fresh = [r for r in due if r.kind not in AT_ANY_HOUR and r.priority < Priority.HIGH]
        if not fresh:
            return
        sent = [
            row.sent
            for row in self.book.outbox.sent_since(now - HOUR)
            if row.address == self.address and row.sent is not None
        ]
        sent += [now] * (len(due) - len(fresh))
        for row in fresh:
            if len(sent) < most:
                sent.append(now)
            elif row.kind is OutKind.EARLY:
                self._end(row, OutState.DROPPED, NO_USE_LATER)
            else:
                self._wait(row, sent[-most] + HOUR)

    # ---------------------------------------------------------------- together

    def _together(self, waited: Sequence[OutRow], *, summary: bool) -> None:
        """Say in one message what has waited and is still true; with it what a summary says."""
        true = self._still_true(waited)
        told = self._worded([row for row in true if row.kind is not OutKind.RETURNED])
        back = [row for row in true if row.kind is OutKind.RETURNED]
        over = [row.title for row in back]
        night: Sequence[str] = ()
        if summary:
            over = self.parts.mornings.over(self.book, self.address) or over
            if told or over or self.manner.summary_always:
                night = self.parts.mornings.night(self.book, self.now)
            self.parts.mornings.done(self.book, self.address, self.now)
        if len(told) == 1:
            self._within(back)
            self._alone(*told[0], summary_words.beside(over, night))
        elif not summary and not told and len(back) == 1:
            self._alone(back[0], Message(back[0].title, back[0].body), ())
        elif told or over or night:
            self._within([*back, *(row for row, _ in told)])
            self._one_for_all(told, summary_words.summary([w for _, w in told], over, night))

    def _within(self, rows: Iterable[OutRow]) -> None:
        for row in rows:
            self._end(row, OutState.FOLDED, WITHIN)

    def _one_for_all(self, told: Sequence[tuple[OutRow, Message]], words: Message) -> None:
        priority = max((row.priority for row, _ in told), default=Priority.LOW)
        until = self.now + SUMMARY_EXPIRES
        row = plain_row(
            self.address, words, OutKind.SUMMARY, self.now, expires=until, priority=priority
        )
        self.book.outbox.add([row])

    def _alone(self, row: OutRow, words: Message, beside: Iterable[str]) -> None:
        """Say the one thing that waited, with its links; what else there is stands below."""
        body = "\n".join([words.body, *beside])
        # As if it were new: it has waited long enough.
        fresh = replace(
            row,
            title=words.title,
            body=body,
            next_try=row.created,
            expires=self.now + EXPIRES_AFTER,
        )
        self.book.outbox.save(fresh)

    def _still_true(self, rows: Sequence[OutRow]) -> list[OutRow]:
        """Return what is still to be said, once for each cause; the rest is ended."""
        true: dict[tuple[OutKind, int], OutRow] = {}
        oldest = min((row.created for row in rows), default=self.now)
        said = {
            (row.reminder, row.episode): row.sent
            for row in self.book.outbox.sent_since(oldest)
            if row.address == self.address and row.sent is not None
        }
        for row in rows:
            told = said.get((row.reminder, row.episode)) if row.reminder else None
            again = row.kind is OutKind.REMINDER and told is not None and told > row.created
            key = (row.kind, row.reminder or -row.id)
            if again:
                self._end(row, OutState.FOLDED, WITHIN)
            elif not holds(row, self._reminder(row)):
                self._end(row, OutState.DROPPED, "no longer true")
            else:
                if key in true:
                    self._end(true[key], OutState.FOLDED, WITHIN)
                true[key] = row
        return list(true.values())

    def _worded(self, rows: Sequence[OutRow]) -> list[tuple[OutRow, Message]]:
        """Return each message in the words of this moment, the gravest first."""
        asked = [(row, self._reminder(row)) for row in rows]
        now_words = self._words_of(r for row, r in asked if row.kind is OutKind.REMINDER)
        said = []
        for row, reminder in asked:
            words = now_words.get(row.reminder) if row.kind is OutKind.REMINDER else None
            priority = reminder.priority if words is not None and reminder else row.priority
            graver = replace(row, priority=priority)
            said.append((graver, words or Message(row.title, row.body)))
        return sorted(said, key=lambda pair: (-pair[0].priority, pair[0].created, pair[0].id))

    def _words_of(self, reminders: Iterable[Reminder | None]) -> dict[int, Message]:
        """Return the words of reminders about the air and its sensors, by their id."""
        chambers = {r.chamber for r in reminders if r is not None and r.call not in TASK_CALLS}
        live = self.book.reminders.all(LIVE) if chambers else ()
        newest = self.parts.board.newest()
        words: dict[int, Message] = {}
        for chamber in chambers:
            here = [r for r in live if r.chamber == chamber and r.call not in TASK_CALLS]
            shown = self.parts.phrasing.gravest_first(here, newest)
            vent = next((s for s in shown if s.reminder.call is Call.VENT), None)
            for each in shown:
                # The part of the misting leads nowhere where the venting is not beside it.
                lean = each.body.startswith(wording.MIST_AFTER) and vent is not None
                said = vent if lean and vent is not None else each
                words[each.reminder.id] = Message(said.title, said.body)
        return words

    def _reminder(self, row: OutRow) -> Reminder | None:
        return self.book.reminders.get(row.reminder) if row.reminder else None


def has_waited(row: OutRow) -> bool:
    """Tell whether a message was put off; one that failed is only tried again."""
    return row.tries == 0 and row.next_try > row.created


def _foldable(row: OutRow) -> bool:
    return has_waited(row) and row.kind not in AT_ANY_HOUR


def holds(row: OutRow, reminder: Reminder | None) -> bool:
    """Tell whether a message still says something that a person should hear, however late."""
    if row.kind is OutKind.REMINDER:
        return (
            reminder is not None
            and reminder.active
            and reminder.episode == row.episode
            and reminder.state is State.UNACKNOWLEDGED
        )
    if row.kind is OutKind.RETURNED:
        return reminder is not None and not reminder.active and reminder.episode == row.episode
    return True
