"""Looking ahead in each chamber, keeping what was foretold, and telling of it early.

The rounds' thread looks; the faces ask for what it saw last. What is foretold lies in the book, so
that a restart keeps it, and with it how good forecasts were so far. Kept is one forecast of each
dry-out, the one at which a notice is due: so the record is of just what notices say.
"""

import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import ahead_words
from chamberwatch.core.watch.advice import CALLS, in_grace, served, usual_grace
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.foretold import (
    SINCE_DAYS,
    Foreseen,
    Foretold,
    Outcome,
    Since,
    TrackRecord,
    ends,
    news,
    timely,
    track_record,
)
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Priority
from chamberwatch.core.wording import Message
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books, OutKind, OutRow, OutState, Span
from chamberwatch.service.coming import OLD_AFTER, Calm, Coming, calm, gap_of, limit_of
from chamberwatch.service.gathering import moment, thinned
from chamberwatch.service.ports import Clock
from chamberwatch.service.rows import to_send
from chamberwatch.service.speaking import in_doubt

EVERY_S: Final = 120.0
"""So often is looked ahead; a forecast is no finer than some minutes."""

_KEPT: Final = 500
LAST_SHOWN: Final = 20

NO_LONGER: Final = "no longer true"


@dataclass(frozen=True, slots=True)
class AheadNow:
    """What is known of a chamber's next hours, and how good that was so far.

    Attributes:
        early: how long before a limit the grower wants to know; None: nothing is told or kept.
        coming: limits that will be reached, the soonest first.
        records: of each quantity of which anything was foretold.
        last: the newest forecasts that were kept.
    """

    early: timedelta | None
    coming: tuple[Foreseen, ...]
    records: Mapping[Quantity, TrackRecord]
    last: tuple[Foretold, ...]


@dataclass(frozen=True, slots=True)
class ForeseeingParts:
    """What looking ahead is made of.

    Attributes:
        books: where everything is kept.
        clock: the time.
        house: what the grower declared.
        board: what was last heard.
        addresses: names of those who are told.
        zone: for times of day in messages.
        wake_delivery: set when there is something to send.
        graces: how long after a deed a call is not asked for again, in a chamber.
    """

    books: Books
    clock: Clock
    house: House
    board: Board
    addresses: tuple[str, ...]
    zone: tzinfo
    wake_delivery: threading.Event
    graces: Callable[[str, Call], timedelta] = usual_grace


class Foreseeing:
    """Looks ahead in every chamber that something grows in."""

    def __init__(self, parts: ForeseeingParts) -> None:
        """Begin; what is open in the book goes on."""
        self._p = parts
        self._coming = Coming(parts.house, parts.board)
        self._next_s = parts.clock.monotonic()
        self._lock = threading.Lock()
        self._seen: dict[str, tuple[datetime, tuple[Foreseen, ...]]] = {}

    # -------------------------------------------------------------- for the faces

    def ahead(self, name: str) -> AheadNow:
        """Return what is known of a chamber's next hours.

        Raises:
            UnknownNameError: no such chamber.
        """
        chamber, now = self._p.house.chamber(name), self._p.clock.now()
        with self._lock:
            at, seen = self._seen.get(name, (now, ()))
        with self._p.books.read() as book:
            kept = book.foretold.recent(name, now - SINCE_DAYS, _KEPT)
        fresh = seen if now - at <= OLD_AFTER else ()
        return AheadNow(
            early=chamber.early,
            coming=tuple(each for each in fresh if each.foretold.likely > now),
            records={
                q: _record(kept, q, now) for q in Quantity if any(f.quantity is q for f in kept)
            },
            last=tuple(kept[:LAST_SHOWN]),
        )

    # -------------------------------------------------------------- a look

    def look(self) -> None:
        """Look ahead in all chambers when it is time.

        Raises:
            StorageError: the book can't be used.
        """
        now_s = self._p.clock.monotonic()
        if now_s < self._next_s:
            return
        self._next_s = now_s + EVERY_S
        for chamber in self._p.house.chambers.values():
            if chamber.stage is not None:
                self._look_at(chamber, self._p.clock.now())

    def _look_at(self, chamber: Chamber, now: datetime) -> None:
        settling = self._p.board.settling(chamber.name, now) is not None
        with self._p.books.read() as book:
            left = calm(book, chamber.name, now)
            seen = () if settling else self._coming.of(book, chamber, left)
            mine = book.foretold.open(chamber.name)
            looked = [self._looked_at(book, each, left) for each in mine]
        with self._lock:
            before = self._seen.get(chamber.name)
            self._seen[chamber.name] = now, seen
        ended = [each for each in looked if not each.open]
        early = chamber.early
        due = [one for one in seen if early is not None and timely(one.foretold, early, now)]
        if ended or due:
            with self._p.books.write() as book:
                self._end(book, ended)
                told = [self._keep(book, chamber, one, left) for one in due]
            if any(told):
                self._p.wake_delivery.set()
        if ended or seen != (before[1] if before else ()):
            self._p.board.stir()

    # -------------------------------------------------------------- what came of it

    def _looked_at(self, book: Book, foretold: Foretold, left: Calm) -> Foretold:
        """Return a forecast with what came of it, as far as that is known by now."""
        sensor = self._p.house.sensors.get(foretold.sensor)
        if sensor is None:
            return replace(foretold, outcome=Outcome.UNKNOWN)
        chamber = self._p.house.chambers[sensor.chamber]
        limit = limit_of(chamber, foretold.quantity, foretold.side)
        doubt = self._p.board.doubts().get(sensor.name)
        span = Span(foretold.at, left.now + timedelta(seconds=1))
        points = thinned(book, sensor, foretold.quantity, span)
        outcome, came = ends(
            foretold,
            Since(
                values=[(moment(time_s), value) for time_s, value in points],
                disturbed=next((at for at in left.disturbed if at >= foretold.at), None),
                void=limit != foretold.limit or in_doubt(doubt, foretold.quantity),
                now=left.now,
                gap=gap_of(sensor),
            ),
        )
        return replace(foretold, outcome=outcome, came=came)

    @staticmethod
    def _end(book: Book, ended: Iterable[Foretold]) -> None:
        """Keep what came of forecasts; what was to be told of them and still waits is dropped."""
        over = list(ended)
        for foretold in over:
            book.foretold.save(foretold)
        chambers = {each.chamber for each in over if each.told}
        for row in book.outbox.in_state(OutState.WAITING) if chambers else ():
            if row.kind is OutKind.EARLY and row.chamber in chambers:
                book.outbox.save(replace(row, state=OutState.DROPPED, error=NO_LONGER))

    # -------------------------------------------------------------- keeping and telling

    def _keep(self, book: Book, chamber: Chamber, seen: Foreseen, left: Calm) -> bool:
        """Keep a forecast at which a notice is due; return whether a person is told."""
        foretold, now = seen.foretold, left.now
        kept = book.foretold.recent(chamber.name, now - SINCE_DAYS, _KEPT)
        same = (f for f in kept if (f.quantity, f.side) == (foretold.quantity, foretold.side))
        if not news(next(same, None), max(left.disturbed, default=None), now):
            return False
        if self._hushed(book, chamber.name, CALLS[foretold.quantity, foretold.side], now):
            return False
        record = _record(kept, foretold.quantity, now)
        book.foretold.add(replace(foretold, told=record.good))
        if record.good:
            words = ahead_words.early(chamber, seen, record, now, self._p.zone)
            book.outbox.add(self._rows(seen, words, now))
        return record.good

    def _hushed(self, book: Book, chamber: str, call: Call, now: datetime) -> bool:
        """Tell whether a notice would say what is known, was just seen to, or sees to itself."""
        if in_grace(call, self._p.board.deeds(chamber), now, self._p.graces(chamber, call)):
            return True
        if served(self._p.house.devices, chamber, call, now, self._p.zone):
            return True
        return any(
            r.active for r in book.reminders.all() if (r.chamber, r.call) == (chamber, call)
        )

    def _rows(self, seen: Foreseen, words: Message, now: datetime) -> Sequence[OutRow]:
        """Return a notice as a row for each address; it is of no use once the limit is there."""
        return [
            to_send(
                address,
                words,
                OutKind.EARLY,
                now,
                expires=seen.foretold.likely,
                priority=Priority.LOW,
                chamber=seen.foretold.chamber,
            )
            for address in self._p.addresses
        ]


def _record(kept: Iterable[Foretold], quantity: Quantity, now: datetime) -> TrackRecord:
    return track_record([f for f in kept if f.quantity is quantity], now)
