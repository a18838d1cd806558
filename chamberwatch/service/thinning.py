"""Once a night: what is old is dropped, in transactions so short that no intake waits for them.

What readings came to stays for ever; a reading goes only once it is summed up. Nothing goes by a
clock that no time service vouches for, or that has not gone on evenly for a week. It can be broken
off at any moment, and goes on the next night.
"""

import json
import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.thinning import (
    AHEAD_AT_MOST,
    FIRST,
    Steady,
    next_limit,
    old_before,
    rest_s,
    seen,
)
from chamberwatch.service.ports import Clock
from chamberwatch.service.thinned_books import ThinnedBook, ThinnedBooks

log = logging.getLogger(__name__)

STEADY: Final = "clock seen at night"
"""Name of the kept text that says how steady the clock is."""

PAIRED: Final = timedelta(minutes=2)
"""Readings of so long before the day that stays are left: what is summed up of its first minutes
is reckoned with them."""
MESSAGES_STAY: Final = timedelta(days=366)
"""Messages are part of the log of a week looked back on; for a year at least."""
LINKS_STAY: Final = timedelta(days=7)
"""A link lives for two days from when it was made."""
UNDATED_STAY: Final = 1_000_000
"""A week of eight quantities every five seconds, heard while nobody knew the time."""


@dataclass(frozen=True, slots=True)
class Thinned:
    """What one night came to.

    Attributes:
        readings: how many were dropped.
        others: how many rows of other kinds.
        before: readings of before this may be dropped; None: nothing was to be.
        waits: why old readings stay for now; empty: they don't.
        longest_s: the longest that the database was held. [s]
        whole: it came to its end.
    """

    readings: int = 0
    others: int = 0
    before: datetime | None = None
    waits: str = ""
    longest_s: float = 0.0
    whole: bool = True


UNTRUSTED: Final = (
    "Old readings stay for now: no time service vouches for the clock. Set it: timedatectl "
    "set-ntp true, and look at the network."
)
NOT_YET: Final = (
    "Old readings stay for now: the clock must have gone on evenly for a week of nights first."
)


@dataclass(slots=True)
class Thinning:
    """Drops what is old; used by one thread at a time.

    Attributes:
        books: where it lies.
        clock: the time, and whether it can be believed.
        keep: how long readings stay.
    """

    books: ThinnedBooks
    clock: Clock
    keep: timedelta
    _limit: int = field(default=FIRST, init=False)
    _longest_s: float = field(default=0.0, init=False)

    def night(self, stopping: threading.Event) -> Thinned:
        """Drop what is old, until it is done or told to stop.

        Raises:
            StorageError: the database can't be written; what went is gone, the rest goes later.
        """
        self._longest_s, now = 0.0, self.clock.now()
        if not self.clock.synchronised():
            return Thinned(waits=UNTRUSTED if self._is_any_old(now) else "")
        if not self._seen(now).enough:
            return Thinned(waits=NOT_YET if self._is_any_old(now) else "")
        with self.books.read() as book:
            before = self._old_before(book, now)
        readings = self._readings(before, stopping) if before is not None else 0
        others = self._others(now, stopping)
        whole = not stopping.is_set()
        return Thinned(readings, others, before, "", self._longest_s, whole)

    # ------------------------------------------------------------ whether anything may go

    def _seen(self, now: datetime) -> Steady:
        with self.books.write() as book:
            steady = seen(_steady(book.kept.text(STEADY)), now)
            book.kept.keep_text(STEADY, _written(steady))
        return steady

    def _is_any_old(self, now: datetime) -> bool:
        with self.books.read() as book:
            return self._old_before(book, now) is not None

    def _old_before(self, book: ThinnedBook, now: datetime) -> datetime | None:
        """Return before when readings are old; None: there is none so old."""
        oldest = book.thinning.oldest()
        before = old_before(now, book.thinning.newest(now + AHEAD_AT_MOST), self.keep)
        if before is None or oldest is None or oldest >= before - PAIRED:
            return None
        return before

    # ------------------------------------------------------------ what goes

    def _readings(self, before: datetime, stopping: threading.Event) -> int:
        total = 0
        while not stopping.is_set():
            with self.books.write() as book:
                day = book.summing.drop_before(before) - PAIRED

            def drop(book: ThinnedBook, limit: int, day: datetime = day) -> int:
                return book.thinning.readings(day, limit)

            gone = self._bit_by_bit(drop, stopping)
            total += gone
            if not gone:
                break
        return total

    def _others(self, now: datetime, stopping: threading.Event) -> int:
        messages = now - max(self.keep, MESSAGES_STAY)
        return sum(
            self._bit_by_bit(drop, stopping)
            for drop in (
                lambda book, limit: book.thinning.messages(messages, limit),
                lambda book, limit: book.thinning.links(now - LINKS_STAY, limit),
                lambda book, limit: book.thinning.undated(UNDATED_STAY, limit),
            )
        )

    def _bit_by_bit(
        self, drop: Callable[[ThinnedBook, int], int], stopping: threading.Event
    ) -> int:
        """Drop in short transactions until nothing is left; leave room for others in between."""
        total = 0
        while not stopping.is_set():
            limit = self._limit
            # From within, when the lock is ours, to the end, when all of it is on the disk.
            with self.books.write() as book:
                began_s = self.clock.monotonic()
                gone = drop(book, limit)
            took_s = self.clock.monotonic() - began_s
            self._longest_s = max(self._longest_s, took_s)
            self._limit = next_limit(limit, took_s)
            total += gone
            if gone < limit:
                break
            self.clock.wait(stopping, rest_s(took_s))
        return total


def _steady(text: str | None) -> Steady | None:
    """Return what was kept; None: nothing, or nothing that can be read."""
    try:
        since, last = map(datetime.fromisoformat, json.loads(text or ""))
        return Steady(since, last)
    except (ValueError, TypeError):
        return None


def _written(steady: Steady) -> str:
    return json.dumps([steady.since.isoformat(), steady.last.isoformat()])
