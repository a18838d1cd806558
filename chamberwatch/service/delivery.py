"""Bringing messages from the outbox to people.

A message to a phone service cannot be delivered exactly once: the row is marked *sending* before
the call, so after a crash we know which may have gone out. Such a row is not sent again when it
is of low or medium priority, and once more, with "perhaps again", when it is high.
"""

import logging
import threading
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import wording
from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reminder import TASK_CALLS, Call, Priority, Reminder, State
from chamberwatch.service.books import Books, OutRow, OutState
from chamberwatch.service.ports import Answering, Clock, Links, Messenger, Outcome

log = logging.getLogger(__name__)

LOOK_AGAIN_S: Final = 60.0
FIRST_WAIT: Final = timedelta(seconds=30)
LONGEST_WAIT: Final = timedelta(hours=1)

_OFFERED: Final[Mapping[Call, tuple[Answering, ...]]] = {
    Call.MIST: (Answering.MISTED, Answering.SEEN, Answering.LATER),
    Call.VENT: (Answering.VENTED, Answering.SEEN, Answering.LATER),
    Call.REFILL: (Answering.REFILLED, Answering.SEEN, Answering.LATER),
    # What grows waits till tomorrow anyway; half an hour more is no use to anybody.
    **dict.fromkeys(TASK_CALLS, (Answering.SEEN,)),
}
_OFFERED_ELSE: Final = (Answering.SEEN, Answering.LATER)


def wait_after(tries: int) -> timedelta:
    """Return how long to wait after the given number of failed tries: 30 s, doubled up to 1 h."""
    # 2 ** 7 * 30 s is past the hour; the cap keeps the number small for ever.
    doubled: timedelta = FIRST_WAIT * 2 ** min(tries - 1, 7)
    return min(doubled, LONGEST_WAIT)


def still_true(row: OutRow, reminder: Reminder | None, now: datetime) -> bool:
    """Tell whether a message still says something a person should hear."""
    if reminder is None or reminder.episode != row.episode or not reminder.active:
        return False
    if row.expires is not None and now >= row.expires:
        return False
    return reminder.state is State.UNACKNOWLEDGED


@dataclass(frozen=True, slots=True)
class DeliveryParts:
    """What the delivery is made of."""

    books: Books
    clock: Clock
    messengers: Mapping[str, Messenger]
    zone: tzinfo
    wake: threading.Event


class Delivery:
    """Sends what is due, tries again more slowly, drops what is no longer true."""

    def __init__(self, parts: DeliveryParts) -> None:
        """Look first at what a crash left half sent."""
        self._p = parts
        self.looked_s = parts.clock.monotonic()
        self._unsaved: OutRow | None = None
        self.recover()

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

    def _until_next_s(self) -> float:
        with self._p.books.read() as book:
            due = book.outbox.next_try()
        if due is None:
            return LOOK_AGAIN_S
        return min(max((due - self._p.clock.now()).total_seconds(), 0.0), LOOK_AGAIN_S)

    def deliver_due(self, stopping: threading.Event) -> None:
        """Send every message that is due."""
        self.looked_s = self._p.clock.monotonic()
        self._save_last()
        with self._p.books.read() as book:
            due = book.outbox.due(self._p.clock.now())
        for row in due:
            if stopping.is_set():
                return
            self._deliver(row)
            self.looked_s = self._p.clock.monotonic()

    def _deliver(self, row: OutRow) -> None:
        now = self._p.clock.now()
        messenger = self._p.messengers.get(row.address)
        with self._p.books.write() as book:
            reminder = book.reminders.get(row.reminder)
            if messenger is None or reminder is None or not still_true(row, reminder, now):
                reason = "no such address any more" if messenger is None else "no longer true"
                book.outbox.save(replace(row, state=OutState.DROPPED, error=reason))
                return
            row = replace(row, state=OutState.SENDING, tries=row.tries + 1)
            book.outbox.save(row)
        outcome = messenger.send(self._title(row), self._body(row, reminder, messenger.links))
        self._unsaved = self._after(row, outcome)
        self._save_last()

    def _save_last(self) -> None:
        """Keep how the last message went; tried again first if the file can't be written now."""
        if self._unsaved is None:
            return
        with self._p.books.write() as book:
            book.outbox.save(self._unsaved)
        self._unsaved = None

    @staticmethod
    def _title(row: OutRow) -> str:
        return (wording.PERHAPS_AGAIN if row.again else "") + row.title

    def _body(self, row: OutRow, reminder: Reminder, links: Links | None) -> str:
        if links is None:
            return row.body
        lines = [
            wording.link_line(answering.value, links.link(row.reminder, row.episode, answering))
            for answering in _OFFERED.get(reminder.call, _OFFERED_ELSE)
        ]
        return "\n".join([row.body, "", *lines])

    def _after(self, row: OutRow, outcome: Outcome) -> OutRow:
        if outcome.ok:
            log.info("Delivered to %s: %s", row.address, row.title)
            return replace(row, state=OutState.SENT, error="", sent=self._p.clock.now())
        if row.tries == 1:
            log.warning("A message to %s did not go out: %s", row.address, outcome.reason)
        next_try = self._p.clock.now() + wait_after(row.tries)
        if row.expires is not None and next_try >= row.expires:
            return replace(row, state=OutState.FAILED, error=outcome.reason)
        return replace(row, state=OutState.WAITING, next_try=next_try, error=outcome.reason)
