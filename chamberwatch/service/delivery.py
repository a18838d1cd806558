"""Bringing messages from the outbox to people.

A message to a phone service cannot be delivered exactly once: the row is marked *sending* before
the call, so after a crash we know which may have gone out. Such a row is not sent again when it
is of low or medium priority, and once more, with "perhaps again", when it is high.

Each address has a thread of its own while there is something to send (`posting`), so that a
service that hangs holds up nobody else; and one that failed waits with all its messages
(`reaching`).
"""

import logging
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core import wording
from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reminder import TASK_CALLS, Call, Priority, Reminder
from chamberwatch.service.books import Book, Books, OutKind, OutRow, OutState
from chamberwatch.service.ports import Answering, Clock, Links, Messenger, Outcome
from chamberwatch.service.posting import ENDED_WITHIN_S, Posts
from chamberwatch.service.reaching import (
    first_of,
    hold_back,
    keep_reach,
    reach_of,
    release,
    soonest,
)
from chamberwatch.service.telling import EXPIRES_AFTER
from chamberwatch.service.together import holds, unfold
from chamberwatch.service.waiting import Waiting

log = logging.getLogger(__name__)

LOOK_AGAIN_S: Final = 60.0
PICTURE_TRIES: Final = 2
"""A picture goes with so many tries: a bad line may be too thin for it."""

_OFFERED: Final[Mapping[Call, tuple[Answering, ...]]] = {
    Call.MIST: (Answering.MISTED, Answering.SEEN, Answering.LATER),
    Call.VENT: (Answering.VENTED, Answering.SEEN, Answering.LATER),
    Call.REFILL: (Answering.REFILLED, Answering.SEEN, Answering.LATER),
    # What grows waits till tomorrow anyway; half an hour more is no use to anybody.
    **dict.fromkeys(TASK_CALLS, (Answering.SEEN,)),
}
_OFFERED_ELSE: Final = (Answering.SEEN, Answering.LATER)


def still_true(row: OutRow, reminder: Reminder | None, now: datetime) -> bool:
    """Tell whether a message still says something a person should hear."""
    if row.expires is not None and now >= row.expires:
        return False
    return holds(row, reminder)


@dataclass(frozen=True, slots=True)
class DeliveryParts:
    """What the delivery is made of.

    Attributes:
        books: what is kept.
        clock: the time.
        messengers: by the name of the address.
        zone: for times of day.
        wake: set when there is something to send.
        waiting: knows what may be said when; None: all that is due is sent at once.
        picture: makes the picture of a message (PNG); None: there are none.
    """

    books: Books
    clock: Clock
    messengers: Mapping[str, Messenger]
    zone: tzinfo
    wake: threading.Event
    waiting: Waiting | None = None
    picture: Callable[[OutRow, Reminder | None], bytes | None] | None = None


class Delivery:
    """Sends what is due, tries again more slowly, drops what is no longer true."""

    def __init__(self, parts: DeliveryParts) -> None:
        """Look first at what a crash left half sent."""
        self._p = parts
        self.looked_s = parts.clock.monotonic()
        self._posts = Posts(parts.wake.set)
        self._unsaved: dict[str, tuple[OutRow, Outcome]] = {}
        self.recover()
        if parts.waiting is not None:
            parts.waiting.begin(parts.clock.now())

    def recover(self) -> None:
        """Decide about rows that were being sent when the process ended."""
        with self._p.books.write() as book:
            for row in book.outbox.in_state(OutState.SENDING):
                once_more = row.priority is Priority.HIGH and not row.again
                state = OutState.WAITING if once_more else OutState.UNCERTAIN
                reason = "" if once_more else "stopped while sending; it may have arrived"
                book.outbox.save(replace(row, state=state, again=once_more, error=reason))

    def run(self, stopping: threading.Event) -> None:
        """Deliver until told to stop; `wake` is set to stop at once."""
        try:
            while not stopping.is_set():
                self._p.wake.clear()
                wait_s = LOOK_AGAIN_S
                try:
                    self.deliver_due(stopping)
                    wait_s = self._until_next_s()
                except StorageError as error:
                    log.warning("The outbox can't be read or written just now: %s", error)
                if not stopping.is_set():
                    self._p.clock.wait(self._p.wake, wait_s)
        finally:
            self._posts.settle(ENDED_WITHIN_S)

    def _until_next_s(self) -> float:
        busy = self._posts.busy()
        with self._p.books.read() as book:
            due = soonest(book, busy) if busy else book.outbox.next_try()
        if due is None:
            return LOOK_AGAIN_S
        return min(max((due - self._p.clock.now()).total_seconds(), 0.0), LOOK_AGAIN_S)

    def deliver_due(self, stopping: threading.Event) -> None:
        """Send every message that is due; one address that takes its time is not waited for."""
        self.looked_s = self._p.clock.monotonic()
        for address in dict.fromkeys([*self._unsaved, *self._wanting()]):
            self._posts.start(address, lambda name: self._deliver_to(name, stopping))
        self._posts.settle()

    def _wanting(self) -> Iterable[str]:
        """Return the addresses to which something may be due."""
        now = self._p.clock.now()
        with self._p.books.read() as book:
            due = [row.address for row in book.outbox.due(now)]
            summaries = self._p.waiting.summaries(book, now) if self._p.waiting else ()
        return [*due, *summaries]

    def _deliver_to(self, address: str, stopping: threading.Event) -> None:
        """Send what is due to one address, the gravest first, until it fails."""
        self._save_last(address)
        while not stopping.is_set():
            # Looked up anew each time: what came while the last was sent may be graver.
            with self._p.books.write() as book:
                row = self._next(book, address)
            if row is None:
                return
            self._deliver(row)

    def _next(self, book: Book, address: str) -> OutRow | None:
        now = self._p.clock.now()
        reach = reach_of(book, address)
        if self._p.waiting is not None:
            self._p.waiting.sort(book, address, now, down=reach.down(now))
        due = [row for row in book.outbox.due(now) if row.address == address]
        hold_back(book, address, reach, now)
        return first_of(due, lambda row: reach.held(row, now))

    def _deliver(self, row: OutRow) -> None:
        now = self._p.clock.now()
        messenger = self._p.messengers.get(row.address)
        with self._p.books.write() as book:
            reminder = book.reminders.get(row.reminder) if row.reminder else None
            if messenger is None or not still_true(row, reminder, now):
                reason = "no such address any more" if messenger is None else "no longer true"
                book.outbox.save(replace(row, state=OutState.DROPPED, error=reason))
                return
            row = replace(row, state=OutState.SENDING, tries=row.tries + 1)
            book.outbox.save(row)
        self._unsaved[row.address] = row, self._send(messenger, row, reminder)
        self._save_last(row.address)

    def _send(self, messenger: Messenger, row: OutRow, reminder: Reminder | None) -> Outcome:
        title, body = self._title(row), self._body(row, reminder, messenger.links)
        wanted = messenger.pictures and row.tries <= PICTURE_TRIES
        picture = self._p.picture(row, reminder) if self._p.picture and wanted else None
        return messenger.send(title, body, picture) if picture else messenger.send(title, body)

    def _save_last(self, address: str) -> None:
        """Keep how the last message went; tried again first if the file can't be written now."""
        if address not in self._unsaved:
            return
        row, outcome = self._unsaved[address]
        now = self._p.clock.now()
        with self._p.books.write() as book:
            before = reach_of(book, address)
            reach = before.after(outcome, row, now)
            keep_reach(book, address, reach)
            reminder = book.reminders.get(row.reminder) if row.reminder else None
            book.outbox.save(self._after(row, outcome, reach.again, reminder))
            if outcome.ok:
                release(book, address, before.again, now)
            else:
                if row.kind is OutKind.SUMMARY:
                    unfold(book, row)
                hold_back(book, address, reach, now)
        del self._unsaved[address]

    @staticmethod
    def _title(row: OutRow) -> str:
        return (wording.PERHAPS_AGAIN if row.again else "") + row.title

    def _body(self, row: OutRow, reminder: Reminder | None, links: Links | None) -> str:
        if links is None or reminder is None or row.kind is not OutKind.REMINDER:
            return row.body
        lines = [
            wording.link_line(answering.value, links.link(row.reminder, row.episode, answering))
            for answering in _OFFERED.get(reminder.call, _OFFERED_ELSE)
        ]
        return "\n".join([row.body, "", *lines])

    def _after(
        self, row: OutRow, outcome: Outcome, again: datetime | None, reminder: Reminder | None
    ) -> OutRow:
        if outcome.ok:
            log.info("Delivered to %s: %s", row.address, row.title)
            return replace(row, state=OutState.SENT, error="", sent=self._p.clock.now())
        if row.tries == 1:
            log.warning("A message to %s did not go out: %s", row.address, outcome.reason)
        next_try = again or self._p.clock.now()
        if row.kind is OutKind.SUMMARY:
            # What it said is said again by itself, or in another one, once the address is reached.
            return replace(row, state=OutState.DROPPED, error=outcome.reason)
        if row.expires is not None and next_try >= row.expires:
            if row.kind is not OutKind.REMINDER or not holds(row, reminder):
                return replace(row, state=OutState.FAILED, error=outcome.reason)
            # It is still so, and nobody has heard of it: it is not given up.
            row = replace(row, expires=next_try + EXPIRES_AFTER)
        return replace(row, state=OutState.WAITING, next_try=next_try, error=outcome.reason)
