"""Which chambers need water put down, since mistings hold ever shorter: seen to in the rounds."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core import effect_words
from chamberwatch.core.air.tent import vapour_g_per_m3
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.advice import returned, untold
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.refilling import (
    BACK,
    LATELY,
    SHARE,
    Dwindled,
    Held,
    dwindled,
    short_lately,
)
from chamberwatch.core.watch.reminder import Call, Event, Evidence, Move, Priority, advance
from chamberwatch.core.wording import Message
from chamberwatch.service.books import Book, Span
from chamberwatch.service.speaking import PAIR, speaker
from chamberwatch.service.telling import Teller

EVERY: Final = timedelta(minutes=1)
"""Holds become known no sooner than the record is searched."""

DEEDS_LOOKED_AT: Final = 200

MISTINGS: Final = 40
"""So many of the last mistings are enough to hold the newest against."""

ROOM_AROUND: Final = timedelta(minutes=30)
_STEP_S: Final = 1800.0

SHORTER: Final = "mistings hold ever shorter"
OVER: Final = "refilled, or mistings hold longer again"


class Refilling:
    """Raises *refill* and returns it. Only the thread of the rounds uses it."""

    def __init__(self, house: House, teller: Teller) -> None:
        """Begin with the first round."""
        self._house = house
        self._teller = teller
        self._looked: datetime | None = None
        self._rooms: dict[int, float | None] = {}
        """Water in the air of the room by misting: it is read once. [g/m3]"""

    def write(self, book: Book, now: datetime) -> bool:
        """Look at all chambers, not more often than the record is searched.

        Returns whether a reminder moved or was told.
        """
        if self._looked is not None and timedelta(0) <= now - self._looked < EVERY:
            return False
        self._looked = now
        moved = False
        # Once for all chambers: in a house of many each has reminders of its own to be read.
        asked = {r.chamber: r for r in book.reminders.all() if r.call is Call.REFILL and r.active}
        for chamber in self._house.chambers.values():
            if chamber.stage is None:
                continue
            found = self._dwindled(book, chamber, now)
            if found is not None:
                moved |= self._settle(book, chamber, found, now)
            elif chamber.name in asked:
                book.reminders.save(*returned(asked[chamber.name], now, OVER))
                moved = True
        return moved

    def _dwindled(self, book: Book, chamber: Chamber, now: datetime) -> Dwindled | None:
        if chamber.band(Quantity.HUMIDITY, Place.AIR) is None:
            return None
        lately = _ended(book, chamber, Span(now - LATELY, now))
        for found in lately:
            # Read while it is fresh, and once.
            self._room_of(book, chamber, found)
        # Weeks of mistings are read only where the last ones give a reason to.
        if not short_lately([f.held for f in lately if f.held is not None]):
            return None
        ended = _ended(book, chamber, Span(now - BACK, now))[-MISTINGS:]
        known = [self._held(book, chamber, f) for f in ended]
        deeds = book.actions.recent(chamber.name, DEEDS_LOOKED_AT)
        refilled = next((a.at for a in deeds if a.deed is Deed.REFILLED), None)
        return dwindled(known, refilled, now)

    def _held(self, book: Book, chamber: Chamber, found: Found) -> Held:
        return Held(
            found.start,
            found.held or timedelta(),
            found.amount,
            found.humidity_after_pct,
            self._room_of(book, chamber, found),
        )

    def _room_of(self, book: Book, chamber: Chamber, found: Found) -> float | None:
        if found.id not in self._rooms:
            self._rooms[found.id] = self._room_g_per_m3(book, chamber, found.start)
        return self._rooms[found.id]

    def _room_g_per_m3(self, book: Book, chamber: Chamber, at: datetime) -> float | None:
        """Return the water in the air of the room about that time; None where nothing says so."""
        room = chamber.surrounding
        sensor = speaker(self._house, room, (), *PAIR) if room is not None else None
        if sensor is None:
            return None
        span = Span(at - ROOM_AROUND, at + ROOM_AROUND)
        warm, humid = (
            book.readings.buckets([sensor.name], quantity, span, _STEP_S, 4)
            for quantity in (Quantity.TEMPERATURE, Quantity.HUMIDITY)
        )
        if not warm or not humid:
            return None
        return vapour_g_per_m3(warm[0].mean, min(humid[0].mean, 100.0))

    def _settle(self, book: Book, chamber: Chamber, found: Dwindled, now: datetime) -> bool:
        reminder = book.reminders.of(chamber.name, Call.REFILL, "")
        moves: Sequence[Move] = ()
        if not reminder.active:
            reminder, move = advance(reminder, Event.RAISED, now, SHORTER)
            reminder = replace(reminder, priority=Priority.LOW, evidence=_evidence(found, now))
            moves = (move,)
        tell = bool(untold([reminder]))
        if tell and reminder.evidence is not None:
            words = words_of(chamber, reminder.evidence, active=True)
            book.outbox.add(self._teller.rows(reminder, words, reminder.priority, now))
            reminder = replace(reminder, told=now)
        if tell or moves:
            book.reminders.save(reminder, moves)
        return tell or bool(moves)


def _ended(book: Book, chamber: Chamber, span: Span) -> list[Found]:
    """Return the mistings of a span of which it is known how long they held, oldest first."""
    every = book.found.within(chamber.name, span)
    mistings = (f for f in every if f.kind is Kind.MISTING and not f.denied)
    return [f for f in mistings if f.held is not None]


def _evidence(found: Dwindled, now: datetime) -> Evidence:
    """Return how long mistings hold as what speaks for a reminder. [min].

    The value is how long the last ones held, the low limit the share of before that it fell
    below.
    """
    minute = timedelta(minutes=1)
    return Evidence("", None, found.now / minute, SHARE * found.before / minute, None, None, now)


def words_of(chamber: Chamber, evidence: Evidence, *, active: bool) -> Message:
    """Write the reminder to refill from what spoke for it."""
    holds_min = evidence.value or 0.0
    if not active:
        return effect_words.refilled(chamber, holds_min)
    return effect_words.refill(chamber, holds_min, (evidence.low or 0.0) / SHARE)
