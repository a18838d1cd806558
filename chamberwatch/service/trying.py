"""The addresses as they stand, and a test message to one of them at once."""

import logging
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import tzinfo

from chamberwatch.core import post_words
from chamberwatch.core.errors import RefusedError, StorageError, UnknownNameError
from chamberwatch.core.watch.hours import AT_ONCE, Manner, back_at
from chamberwatch.core.watch.reminder import Priority, Reminder
from chamberwatch.core.wording import Message
from chamberwatch.service.books import Book, Books, OutKind, OutRow, OutState
from chamberwatch.service.failing import overdue
from chamberwatch.service.ports import Clock, Messenger, Outcome
from chamberwatch.service.reaching import keep_reach, reach_of, release
from chamberwatch.service.rows import to_send
from chamberwatch.service.views import AddressNow, Tried

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Trying:
    """Sends test messages; the delivery goes on beside it.

    Attributes:
        books: what is kept.
        clock: the time.
        messengers: by the name of the address.
        zone: for times of day.
        wake: set when the delivery has something to do.
        picture: makes the picture of a message (PNG); None: there are none.
        manners: how each address wants to be spoken to.
    """

    books: Books
    clock: Clock
    messengers: Mapping[str, Messenger]
    zone: tzinfo
    wake: threading.Event
    picture: Callable[[OutRow, Reminder | None], bytes | None] | None = None
    manners: Mapping[str, Manner] = field(default_factory=dict)
    _under_way: set[str] = field(default_factory=set)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def all(self) -> Sequence[AddressNow]:
        """Return every address as it stands."""
        with self.books.read() as book:
            waiting = overdue(book)
            return [
                self._now(book, messenger, len(waiting.get(name, ())))
                for name, messenger in self.messengers.items()
            ]

    def _now(self, book: Book, messenger: Messenger, waiting: int) -> AddressNow:
        reach = reach_of(book, messenger.name)
        manner = self.manners.get(messenger.name, AT_ONCE)
        return AddressNow(
            name=messenger.name,
            links=messenger.links is not None,
            pictures=messenger.pictures and self.picture is not None,
            went=reach.went,
            failed=reach.failed,
            reason=reach.reason,
            failing_since=reach.since,
            waiting=waiting,
            away_until=back_at(manner.hours, self.clock.now()),
            least=manner.least,
        )

    def send(self, name: str) -> Tried:
        """Send a test message now, and wait for how it went.

        Raises:
            UnknownNameError: no such address.
            RefusedError: one is on its way there already.
        """
        messenger = self.messengers.get(name)
        if messenger is None:
            known = ", ".join(self.messengers)
            raise UnknownNameError(f"There is no address “{name}”. Known: {known}.")
        with self._alone(name):
            tried = self._send(messenger)
        self.wake.set()
        return tried

    @contextmanager
    def _alone(self, name: str) -> Iterator[None]:
        with self._lock:
            if name in self._under_way:
                raise RefusedError(
                    f"A test message to {name} is on its way already; wait a minute for it."
                )
            self._under_way.add(name)
        try:
            yield
        finally:
            with self._lock:
                self._under_way.discard(name)

    def _send(self, messenger: Messenger) -> Tried:
        row = self._row(messenger)
        picture = self.picture(row, None) if self.picture and messenger.pictures else None
        words = post_words.trial(
            row.created,
            self.zone,
            links=messenger.links is not None,
            picture=picture is not None,
        )
        row = replace(row, body=words.body)
        with self.books.write() as book:
            book.outbox.add([row])
            sending = book.outbox.in_state(OutState.SENDING)
            row = next(r for r in sending if r.kind is row.kind and r.address == row.address)
        outcome = (
            messenger.send(row.title, row.body, picture)
            if picture
            else messenger.send(row.title, row.body)
        )
        try:
            self._keep(row, outcome)
        except StorageError as error:
            log.warning("How a test message to %s went can't be kept: %s", messenger.name, error)
        return Tried(messenger.name, outcome.ok, outcome.reason, picture is not None)

    def _row(self, messenger: Messenger) -> OutRow:
        now = self.clock.now()
        words = Message(post_words.TRIAL, "")
        tried = to_send(
            messenger.name, words, OutKind.TRIAL, now, expires=now, priority=Priority.LOW
        )
        return replace(tried, state=OutState.SENDING, tries=1)

    def _keep(self, row: OutRow, outcome: Outcome) -> None:
        """Keep how it went; one that arrived shows that what waits can go."""
        now = self.clock.now()
        with self.books.write() as book:
            before = reach_of(book, row.address)
            if outcome.ok:
                keep_reach(book, row.address, before.arrived(now))
                release(book, row.address, before.again, now)
                book.outbox.save(replace(row, state=OutState.SENT, sent=now))
            else:
                keep_reach(book, row.address, before.missed(outcome, now))
                book.outbox.save(replace(row, state=OutState.FAILED, error=outcome.reason))
