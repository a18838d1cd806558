"""Taking in messages: read, judge, keep, then acknowledge.

One thread runs this and nothing else writes readings. Rows wait in memory with no open
transaction; readings, how far each rule has come, reminder moves and outbox rows are committed
together, and only then are the messages acknowledged, in order of arrival. Whatever the process
dies of in between, the broker sends the unacknowledged messages again and they lead to the same
moves, because the rules stand where the last commit left them.
"""

import logging
import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final

from chamberwatch.core.errors import BadPayloadError, StorageError
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import EPOCH, Quantity, Reading, Reject, Undated
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books
from chamberwatch.service.correcting import Corrector
from chamberwatch.service.judging import AHEAD_AT_MOST, OLD_AFTER, Judging
from chamberwatch.service.ports import (
    Acknowledger,
    Arrival,
    Clock,
    Incoming,
    LinkUp,
    Reader,
    Said,
)
from chamberwatch.service.telling import Teller

log = logging.getLogger(__name__)

ROWS_AT_MOST: Final = 500
QUIET_S: Final = 0.25
"""A resumed queue has run dry when all is acknowledged and nothing comes for this long."""
CATCH_UP_AT_MOST_S: Final = 120.0
"""Traffic without a pause never lets the queue look dry; after this long it is taken to be."""
CATCH_UP_BEFORE_END_AT_MOST_S: Final = 600.0
"""The same where the end is told: what waited for days takes a slow card a while. [s]"""
RETRY_S: Final = 1.0
EXCERPT: Final = 200
WRITTEN: Final = datetime(2025, 1, 1, tzinfo=UTC)
"""A clock that shows a time before there was this program is wrong, even at the first start."""


@dataclass(slots=True)
class Pending:
    """What waits for the next commit."""

    arrivals: list[Arrival] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    undated: list[Undated] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)
    since_s: float | None = None

    def anything(self) -> bool:
        """Tell whether there is something to commit or acknowledge."""
        return bool(self.arrivals or self.readings or self.undated or self.rejects)


@dataclass(frozen=True, slots=True)
class IntakeParts:
    """What the intake is made of.

    Attributes:
        books: where everything is kept.
        reader: understands payloads.
        acknowledger: tells the broker.
        clock: the time.
        house: what the grower declared.
        board: where the newest readings hang.
        teller: moves reminders.
        commit_every: longest wait for a commit.
        window: how many messages the broker hands out before it waits for us.
        wake_delivery: set when there is something to send.
        silent_until: readings up to this time bring states up to date and are never spoken of.
        corrector: knows what readings are worth; None: an own one.
    """

    books: Books
    reader: Reader
    acknowledger: Acknowledger
    clock: Clock
    house: House
    board: Board
    teller: Teller
    commit_every: timedelta
    window: int
    wake_delivery: threading.Event
    silent_until: datetime | None = None
    corrector: Corrector | None = None


class Intake:
    """The writer of readings.

    Attributes:
        looked_s: when it last came round, on the monotonic clock. [s]
        trouble: why readings can't be stored at the moment, with the cure; None: they can.
    """

    def __init__(self, parts: IntakeParts) -> None:
        """Take up where the last commit left off."""
        self._p = parts
        self._corrector = parts.corrector or Corrector(parts.house)
        self._pending = Pending()
        self._catching_up = False
        self._doubted = False
        self._caught_up_by_s = 0.0
        self._quiet_since_s: float | None = None
        self._at_once = False
        self._last_stamp: datetime | None = None
        self._stamped: tuple[Arrival, datetime, set[tuple[str, Quantity]]] | None = None
        self._furthest: timedelta | None = None
        self.looked_s = parts.clock.monotonic()
        self.trouble: str | None = None
        with parts.books.write() as book:
            self._corrector.catch_up(book)
            parts.board.remember(book.readings.newest(), book.actions.recent(None, 50))
            self._judging = Judging(
                parts.clock, parts.house, parts.board, parts.teller, book, parts.silent_until
            )
            book.readings.forget_boots(parts.clock.boot)
            self._waiting = book.readings.count_undated()[0]
            for reminder in book.reminders.all():
                if reminder.active and reminder.told is None:
                    parts.board.owe(reminder.chamber)
        newest = parts.board.newest()
        self._newest_before = max((r.time for r in newest.values()), default=None)
        self._heard_before = set(newest)

    # -------------------------------------------------------------- the loop

    def run(self, inbox: "queue.Queue[Incoming]", stopping: threading.Event) -> None:
        """Take in what comes until told to stop, then commit what waits."""
        while not stopping.is_set():
            self.looked_s = self._p.clock.monotonic()
            try:
                item = inbox.get(timeout=0.1)
            except queue.Empty:
                self._guarded(self.idle, stopping)
                continue
            self.come(item)
            if self.must_commit():
                self._guarded(self.commit, stopping)
            if self._waiting and not self._clock_doubtful():
                self._guarded(self._date_waiting, stopping)
        self._guarded(self.commit, stopping)

    def _guarded(self, work: Callable[[], None], stopping: threading.Event) -> None:
        """Do it; while the database can't be written, keep everything and try again."""
        while True:
            try:
                work()
            except StorageError as error:
                if self.trouble is None:
                    log.error("Readings can't be stored, they wait: %s", error)  # noqa: TRY400
                self.trouble = f"Readings can't be stored, they wait: {error}"
                self.looked_s = self._p.clock.monotonic()
                if stopping.wait(RETRY_S):
                    return
            else:
                if self.trouble is not None:
                    log.warning("Readings can be stored again.")
                    self.trouble = None
                return

    def come(self, item: Incoming) -> None:
        """Take in what the link handed over."""
        if isinstance(item, Arrival):
            self.take(item)
        elif isinstance(item, LinkUp):
            self.link_up(item)
        else:
            self._catching_up, self._at_once = False, self._pending.anything()

    def link_up(self, link: LinkUp) -> None:
        """Note a new connection."""
        self._catching_up = link.resumed
        at_most_s = CATCH_UP_BEFORE_END_AT_MOST_S if link.end_told else CATCH_UP_AT_MOST_S
        self._caught_up_by_s = self._p.clock.monotonic() + at_most_s
        self._quiet_since_s = None

    def idle(self) -> None:
        """Do what is due when nothing comes in."""
        now_s = self._p.clock.monotonic()
        # A bag may have been moved while every sensor of the chamber is silent.
        self._judging.follow_bands()
        if self._catching_up:
            self.commit()
            if self._quiet_since_s is None:
                self._quiet_since_s = now_s
            elif now_s - self._quiet_since_s >= QUIET_S:
                self._catching_up = False
        if self._waiting and not self._clock_doubtful():
            self._date_waiting()
        if self.must_commit():
            self.commit()

    def must_commit(self) -> bool:
        """Tell whether the rows that wait should be committed now."""
        p = self._pending
        if not self._anything():
            return False
        waited_s = 0.0 if p.since_s is None else self._p.clock.monotonic() - p.since_s
        return (
            self._judging.urgent()
            or self._at_once
            or len(p.readings) + len(p.undated) >= ROWS_AT_MOST
            or len(p.arrivals) >= self._p.window
            or waited_s >= self._p.commit_every.total_seconds()
        )

    # -------------------------------------------------------------- one message

    def take(self, arrival: Arrival) -> None:
        """Take in one message."""
        p = self._pending
        self._quiet_since_s = None
        if self._catching_up and self._p.clock.monotonic() >= self._caught_up_by_s:
            log.warning("The backlog has no end in sight; messages count as new from now on.")
            self._catching_up = False
        p.arrivals.append(arrival)
        if p.since_s is None:
            p.since_s = self._p.clock.monotonic()
        try:
            said, reasons = self._p.reader.read_all(arrival)
        except BadPayloadError as error:
            said, reasons = (), (str(error),)
        for reason in reasons:
            self._reject(arrival, reason)
        doubtful = self._clock_doubtful()
        for value in said:
            self._place(arrival, value, doubtful=doubtful)

    def _reject(self, arrival: Arrival, reason: str) -> None:
        excerpt = arrival.payload[: EXCERPT * 4].decode("utf-8", "replace")[:EXCERPT]
        self._pending.rejects.append(Reject(arrival.topic, arrival.wall, reason, excerpt))
        self._p.board.stir()

    def _place(self, arrival: Arrival, said: Said, *, doubtful: bool) -> None:
        """Decide what time a value has, and what becomes of it; `doubtful`: ours may be wrong."""
        if said.time is not None:
            # Only a clock known to be good may call another one wrong: a reading refused here
            # is acknowledged and gone.
            ahead = said.time > arrival.wall + AHEAD_AT_MOST
            if ahead and self._p.clock.synchronised():
                self._reject(
                    arrival,
                    f"{said.sensor}: its time {said.time.isoformat()} lies ahead of ours; "
                    f"set the clock of the sensor.",
                )
                return
            self._keep(Reading(said.time, said.sensor, said.quantity, said.value), arrival)
        elif arrival.retained or self._catching_up:
            self._undated(said, None, arrival.monotonic_s)
        elif doubtful:
            self._p.board.heard(said.sensor, arrival.monotonic_s)
            self._undated(said, self._p.clock.boot, arrival.monotonic_s)
        else:
            time = self._stamp_of(arrival, said)
            self._keep(Reading(time, said.sensor, said.quantity, said.value, timed=False), arrival)

    def _undated(self, said: Said, boot: str | None, arrived_s: float) -> None:
        self._pending.undated.append(
            Undated(said.sensor, said.quantity, said.value, boot, arrived_s)
        )
        self._waiting += boot is not None

    def _stamp_of(self, arrival: Arrival, said: Said) -> datetime:
        """Return the stamp of a message, one for all that it says at once."""
        series = (said.sensor, said.quantity)
        if self._stamped is None or self._stamped[0] is not arrival or series in self._stamped[2]:
            self._stamped = (arrival, self._stamp(arrival.wall), set())
        self._stamped[2].add(series)
        return self._stamped[1]

    def _stamp(self, wall: datetime) -> datetime:
        """Return a stamp that no earlier message has, so that no untimed value hides another."""
        if self._last_stamp is not None and wall <= self._last_stamp <= wall + AHEAD_AT_MOST:
            wall = self._last_stamp + timedelta(microseconds=1)
        self._last_stamp = wall
        return wall

    def _clock_doubtful(self) -> bool:
        """Tell whether our clock may be wrong: it is behind what it must have shown already."""
        clock, newest = self._p.clock, self._newest_before
        now = clock.now()
        ran = now - EPOCH - timedelta(seconds=clock.monotonic())
        self._furthest = ran if self._furthest is None else max(ran, self._furthest)
        # Readings may lie this far ahead of a good clock, so only more than that is behind. Those
        # taken in since the start don't count: a single sensor whose own clock runs ahead would
        # have all others wait. That ours was set back shows against the clock that never steps.
        behind = (
            now < WRITTEN
            or (newest is not None and now < newest - AHEAD_AT_MOST)
            or ran < self._furthest - AHEAD_AT_MOST
        )
        # Once in doubt it stays so until the kernel says otherwise: a clock that is forty
        # minutes slow passes the newest reading in forty minutes, and is no better for it.
        self._doubted = behind or self._doubted
        if self._doubted and clock.synchronised():
            # What was before a service vouched for the clock says nothing against it any more.
            self._newest_before, self._furthest, self._doubted = None, ran, False
        return self._doubted

    def _keep(self, reading: Reading, arrival: Arrival) -> None:
        """Store a reading, and judge it unless it is older than what was judged."""
        reading = self._corrector.corrected(reading)
        self._pending.readings.append(reading)
        if (series := (reading.sensor, reading.quantity)) not in self._heard_before:
            # Whoever has just set a sensor up looks for its first word, from another process too.
            self._heard_before.add(series)
            self._at_once = True
        age = arrival.wall - reading.time
        silent = self._p.silent_until
        live = age <= OLD_AFTER and (silent is None or reading.time > silent)
        if live:
            self._p.board.heard(reading.sensor, arrival.monotonic_s)
        self._judging.mistrust_future(reading, arrival.wall)
        self._judging.judge(reading, live=live)

    # -------------------------------------------------------------- commit

    def _anything(self) -> bool:
        return self._pending.anything() or self._judging.changed()

    def commit(self) -> None:
        """Keep what waits, then acknowledge it.

        Raises:
            StorageError: nothing was kept and nothing acknowledged; call again later.
        """
        p = self._pending
        if not self._anything():
            return
        with self._p.books.write() as book:
            told = self._write(book)
        self._pending, self._at_once = Pending(), False
        self._judging.written()
        self._p.acknowledger.acknowledge(p.arrivals)
        if told:
            self._p.wake_delivery.set()

    def _write(self, book: Book) -> int:
        """Put everything that waits in the book; return how many messages that made."""
        p = self._pending
        if self._corrector.catch_up(book):
            p.readings = [self._corrector.corrected(reading) for reading in p.readings]
        book.readings.add(p.readings)
        if p.undated:
            book.readings.add_undated(p.undated)
        if p.rejects:
            book.rejects.add(p.rejects)
        return self._judging.write(book)

    def _date_waiting(self) -> None:
        """Date the values that came before the clock was right, now that it is."""
        self.commit()
        now, now_s = self._p.clock.now(), self._p.clock.monotonic()
        with self._p.books.write() as book:
            dated = [
                self._corrector.corrected(
                    Reading(
                        self._stamp(now - timedelta(seconds=now_s - value.arrived_s)),
                        value.sensor,
                        value.quantity,
                        value.value,
                        timed=False,
                    )
                )
                for value in book.readings.take_waiting(self._p.clock.boot)
            ]
            book.readings.add(dated)
        self._waiting = 0
        # Judged only once they are kept: a write that fails must leave the rules as they were.
        for reading in dated:
            self._judging.judge(reading, live=False)
        log.warning("The clock is right again; %d readings were dated.", len(dated))
