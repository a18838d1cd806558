"""Learning the ways of each chamber from its record, a minute at a time.

Only the rounds' thread looks; everybody may ask. All of it can be lost: it is drawn again from
what is kept, the last two days at the start.
"""

import threading
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.knowledge import Knowledge, assumed
from chamberwatch.core.air.tent import vapour_g_per_m3
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.astray import Trust, should_hold
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.device import supply, working_in
from chamberwatch.core.watch.doubt import Doubt
from chamberwatch.core.watch.falling import Falling, held_to_falling
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.lasting import TOLD_LATE
from chamberwatch.core.watch.ledger import Ledger, Minute, balance_of, passed, put
from chamberwatch.core.watch.lessons import Lesson, knowledge_from, lesson_of
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.record import Record, Stood
from chamberwatch.service.books import Book, Books, Span
from chamberwatch.service.speaking import PAIR, doubted_in, speaker

REMEMBERED: Final = timedelta(hours=48)
TRAVEL: Final = timedelta(seconds=60)
"""A reading may be so long on its way; a younger minute may be half empty."""

LEARN_FROM: Final = timedelta(days=7)
_MINUTE_S: Final = 60.0
_AT_MOST: Final = int(REMEMBERED / timedelta(minutes=1)) + 10
ROOM_PCT: Final = 45.0
"""Humidity of a room in winter that nothing measures (common practice: 30 to 60 %)."""

UNSAID_G: Final = 10.0
"""Water of a misting that nobody put a number to (common practice: a dozen squeezes)."""

_STILL_WET: Final = timedelta(hours=6)
_NOTED_EVERY: Final = 15
"""Minutes from one look ahead to the next, while none is being held against the air."""


@dataclass(frozen=True, slots=True)
class _Poured:
    """Water that was put down: told in a deed, or seen in the record and told by nobody. [g]."""

    at: datetime
    grams: float
    action: int | None = None
    found: int | None = None


@dataclass(slots=True)
class _Mind:
    """What is remembered of one chamber.

    Attributes:
        known: its ways.
        ledger: where the water stands.
        minutes: its air.
        lessons: of each misting, by the id of the find.
        looked: up to when the record was taken in.
        booked: ids of the deeds that are in the ledger.
        fresh: water of the deeds that are not there yet, by id. [g]
        seen: ids of the finds that nobody had told when they came to the ledger.
        unsaid: when each of those began, until the deed behind it is told.
        held: how long the last misting held.
        falling: what falling air shows of leakage.
        trust: whether forecasts from all that have held.
        forgotten: what is older is not learnt from, for it led astray; None: nothing did.
    """

    known: Knowledge
    ledger: Ledger = field(default_factory=Ledger)
    minutes: deque[Stood] = field(default_factory=lambda: deque(maxlen=_AT_MOST))
    lessons: dict[int, Lesson] = field(default_factory=dict)
    looked: datetime | None = None
    booked: set[int] = field(default_factory=set)
    fresh: dict[int, float] = field(default_factory=dict)
    seen: set[int] = field(default_factory=set)
    unsaid: dict[int, datetime] = field(default_factory=dict)
    held: timedelta | None = None
    falling: Falling = field(default_factory=Falling)
    trust: Trust = field(default_factory=Trust)
    forgotten: datetime | None = None

    @property
    def believed(self) -> Knowledge:
        """Its ways, held to what the air has shown since they were learnt."""
        return held_to_falling(_held_to_the_air(self.known, self.ledger), self.falling)


class Knowing:
    """The ways of all chambers that have a volume. Safe to ask from any thread."""

    def __init__(self, house: House, zone: tzinfo, commit_every: timedelta) -> None:
        """Begin with what was declared; readings wait up to `commit_every` to be kept."""
        self._behind = commit_every + TRAVEL
        self._house = house
        self._zone = zone
        self._lock = threading.Lock()
        self._minds = {
            c.name: _Mind(declared)
            for c in house.chambers.values()
            if (declared := declared_of(c)) is not None
        }

    def of(self, chamber: str) -> Knowledge | None:
        """Return the ways of a chamber; None where its volume is not known.

        Leakage that was assumed is held to what the air of the last hour allows, and any but a
        declared one to what falling air has shown.
        """
        with self._lock:
            mind = self._minds.get(chamber)
            return mind.believed if mind else None

    def standing_g(self, chamber: str) -> float:
        """Return the water that stands in a chamber, as far as is known. [g]."""
        with self._lock:
            mind = self._minds.get(chamber)
            return mind.ledger.standing_g + sum(mind.fresh.values()) if mind else 0.0

    def last_held(self, chamber: str) -> timedelta | None:
        """Return how long the last misting held whose end is known."""
        with self._lock:
            mind = self._minds.get(chamber)
            return mind.held if mind else None

    def did(self, action: Action) -> None:
        """Count the water of a misting at once; the ledger has it once it comes to that minute."""
        with self._lock:
            mind = self._minds.get(action.chamber)
            if mind is None or action.deed is not Deed.MISTED or action.id in mind.booked:
                return
            share = mind.known.standing_share.value
            mind.fresh[action.id] = _onto_walls_g(action, mind.known) * share

    def forget(self, chamber: str) -> None:
        """Draw the ways of a chamber anew from the book, since what was told of it was wrong."""
        if chamber not in self._minds:
            return
        declared = declared_of(self._house.chambers[chamber])
        with self._lock:
            self._minds[chamber] = _Mind(declared or self._minds[chamber].known)

    def look(self, books: Books, now: datetime, doubts: Mapping[str, Doubt] | None = None) -> None:
        """Take in what has come since the last look, of every chamber.

        Args:
            books: where everything is kept.
            now: the time.
            doubts: of each sensor that is in doubt; another one speaks in its place.

        Raises:
            StorageError: the database can't be read just now.
        """
        for name in self._minds:
            self._look(books, self._house.chambers[name], now, doubts or {})

    # -------------------------------------------------------------- one chamber

    def _look(
        self, books: Books, chamber: Chamber, now: datetime, doubts: Mapping[str, Doubt]
    ) -> None:
        until = (now - self._behind).replace(second=0, microsecond=0)
        with self._lock:
            mind = self._minds[chamber.name]
            start = mind.looked or until - REMEMBERED
            if start > until + self._behind:
                # The clock was set back: what came since is of the time it has now.
                mind.looked = start = until
                mind.falling, mind.trust = Falling(), Trust()
                while mind.minutes and mind.minutes[-1].minute.time >= until:
                    mind.minutes.pop()
        if until <= start:
            return
        week = Span(now - LEARN_FROM, now)
        with books.read() as book:
            span = Span(start, until)
            minutes = list(_minutes(book, self._house, chamber.name, span, doubts))
            every = book.found.within(chamber.name, week)
            actions = {a.id: a for a in book.actions.recent(chamber.name, 200)}
            exchanges = book.exchanges.within(chamber.name, week)
        found = [f for f in every if not f.denied]
        with self._lock:
            mind.looked = until
            self._book(mind, chamber, self._supplied(chamber, minutes), (found, actions))
            record = _since(mind.forgotten, Record(tuple(mind.minutes), found, exchanges, actions))
            lessons = dict(mind.lessons)
        self._learn(mind, chamber, record, lessons, now)

    def _supplied(self, chamber: Chamber, minutes: Sequence[Minute]) -> Sequence[Minute]:
        """Return minutes with what the devices of their chamber gave in each."""
        devices = working_in(self._house.devices, chamber.name)
        if not devices or chamber.volume_l is None:
            return minutes
        volume_m3, lasts = chamber.volume_l / 1000.0, timedelta(minutes=1)
        return [
            replace(m, supply=supply(devices, volume_m3, m.time, m.time + lasts, self._zone))
            for m in minutes
        ]

    def _book(
        self,
        mind: _Mind,
        chamber: Chamber,
        minutes: Sequence[Minute],
        deeds: tuple[Sequence[Found], dict[int, Action]],
    ) -> None:
        low = _low_limit(chamber)
        waiting = _poured(mind, *deeds)
        done = _done(*deeds)
        for minute in minutes:
            while waiting and waiting[0].at < minute.time + timedelta(minutes=1):
                self._pour(mind, waiting.pop(0), minute)
            mind.falling = mind.falling.passed(minute)
            known = held_to_falling(mind.known, mind.falling)
            mind.ledger = passed(mind.ledger, minute, known, low)
            mind.minutes.append(Stood(minute, mind.ledger.standing_g))
            if low is not None:
                self._hold_to_account(mind, chamber, minute, (low, done))

    @staticmethod
    def _hold_to_account(
        mind: _Mind, chamber: Chamber, minute: Minute, by: tuple[float, Sequence[datetime]]
    ) -> None:
        """Note how long the air should hold; forget all that was learnt where it never does."""
        low, done = by
        too_dry = minute.humidity_pct < low
        mind.trust = mind.trust.passed(minute.time, too_dry=too_dry, deeds=done)
        if mind.trust.astray:
            mind.trust, mind.ledger, mind.forgotten = Trust(), Ledger(), minute.time
            mind.known, mind.lessons = declared_of(chamber) or mind.known, {}
        if minute.time.minute % _NOTED_EVERY == 0 and mind.trust.free_at(minute.time, done):
            holds = should_hold(mind.ledger, minute, mind.believed, low)
            mind.trust = mind.trust.noted(minute.time, holds)

    @staticmethod
    def _pour(mind: _Mind, one: _Poured, minute: Minute) -> None:
        grams = one.grams
        if one.found is not None:
            mind.seen.add(one.found)
            mind.unsaid[one.found] = one.at
        if one.action is not None:
            mind.booked.add(one.action)
            mind.fresh.pop(one.action, None)
            # Told when it had been found already: only what goes beyond the guess is news.
            early = (n for n, at in mind.unsaid.items() if abs(at - one.at) <= TOLD_LATE)
            guessed = next(early, None)
            if guessed is not None:
                del mind.unsaid[guessed]
                grams = max(grams - UNSAID_G, 0.0)
        # What is from long before the first minute that is remembered has dried off.
        if one.at >= minute.time - _STILL_WET:
            balance = balance_of(minute, mind.known)
            mind.ledger = put(mind.ledger, grams, mind.known, balance)

    def _learn(
        self,
        mind: _Mind,
        chamber: Chamber,
        record: Record,
        lessons: dict[int, Lesson],
        now: datetime,
    ) -> None:
        """Draw lessons outside the lock: each takes tens of milliseconds."""
        declared, falling = declared_of(chamber) or mind.known, mind.falling
        basis = held_to_falling(knowledge_from(record, declared, ()), falling)
        mistings = [f for f in record.found if f.kind is Kind.MISTING]
        for misting in mistings[-8:]:
            lesson = lesson_of(record, misting, basis, now, lessons.get(misting.id))
            if lesson is not None:
                lessons[misting.id] = lesson
        kept = {f.id: lessons[f.id] for f in mistings if f.id in lessons}
        known = knowledge_from(record, declared, [one.taught for one in kept.values()])
        held = [f.held for f in mistings if f.held is not None]
        with self._lock:
            mind.lessons = kept
            mind.known = known
            mind.held = held[-1] if held else None


def _poured(mind: _Mind, found: Sequence[Found], actions: Mapping[int, Action]) -> list[_Poured]:
    """Return the water that is not in the ledger yet, oldest first."""
    told = [
        _Poured(a.at, _onto_walls_g(a, mind.known), action=a.id)
        for a in actions.values()
        if a.deed is Deed.MISTED and a.id not in mind.booked
    ]
    seen = [
        _Poured(f.start, UNSAID_G, found=f.id)
        for f in found
        if f.kind is Kind.MISTING and f.action is None and f.id not in mind.seen
    ]
    return sorted([*told, *seen], key=lambda one: one.at)


def _done(found: Sequence[Found], actions: Mapping[int, Action]) -> list[datetime]:
    """Return when anything was done to the air, as was told or as the record shows."""
    seen = [at for one in found for at in (one.start, one.end)]
    return [*seen, *(action.at for action in actions.values())]


def _since(forgotten: datetime | None, record: Record) -> Record:
    """Return what of a record may still be learnt from."""
    if forgotten is None:
        return record
    return replace(
        record,
        found=[f for f in record.found if f.start >= forgotten],
        exchanges=[e for e in record.exchanges if e.start >= forgotten],
    )


def _onto_walls_g(action: Action, known: Knowledge) -> float:
    """Return the water that a misting left standing. [g]."""
    if action.amount is None and action.standing_g is None:
        return UNSAID_G
    # What is sprayed and not taken by the air ends on the walls too.
    lost = (action.amount or 0.0) * (1.0 - known.spray_share.value)
    return lost + (action.standing_g or 0.0)


def declared_of(chamber: Chamber) -> Knowledge | None:
    """Return what the settings say of a chamber's ways, None without a stage or a volume."""
    if chamber.stage is None or chamber.volume_l is None:
        return None
    return assumed(
        chamber.volume_l / 1000.0,
        chamber.air_changes_per_h,
        chamber.vent_air_changes_per_h,
        chamber.wet_area_m2,
    )


def _low_limit(chamber: Chamber) -> float | None:
    band = chamber.band(Quantity.HUMIDITY, Place.AIR)
    return band.low if band is not None else None


def _minutes(
    book: Book, house: House, chamber: str, span: Span, doubts: Mapping[str, Doubt]
) -> Iterator[Minute]:
    doubted = doubted_in(doubts, *PAIR)
    inside = speaker(house, chamber, doubted, *PAIR)
    if inside is None:
        return
    warm = _means(book, inside.name, Quantity.TEMPERATURE, span)
    humid = _means(book, inside.name, Quantity.HUMIDITY, span)
    around = house.chambers[chamber].surrounding
    outside = speaker(house, around, doubted, *PAIR) if around else None
    room_warm = _means(book, outside.name, Quantity.TEMPERATURE, span) if outside else {}
    room_humid = _means(book, outside.name, Quantity.HUMIDITY, span) if outside else {}
    doubted = doubted_in(doubts, Quantity.CO2)
    breathes = speaker(house, around, doubted, Quantity.CO2) if around else None
    room_co2 = _means(book, breathes.name, Quantity.CO2, span) if breathes else {}
    own = speaker(house, chamber, doubted, Quantity.CO2)
    own_co2 = _means(book, own.name, Quantity.CO2, span) if own else {}
    room_t: float | None = None
    room_h = ROOM_PCT
    for time in sorted(warm.keys() & humid.keys()):
        temperature, humidity = warm[time], min(humid[time], 100.0)
        room_t = room_warm.get(time, room_t)
        room_h = room_humid.get(time, room_h)
        yield Minute(
            time,
            humidity,
            temperature,
            vapour_g_per_m3(temperature, humidity),
            vapour_g_per_m3(temperature if room_t is None else room_t, min(room_h, 100.0)),
            room_co2.get(time),
            own_co2.get(time),
        )


def _means(book: Book, sensor: str, quantity: Quantity, span: Span) -> dict[datetime, float]:
    buckets = book.readings.buckets([sensor], quantity, span, _MINUTE_S, _AT_MOST)
    return {b.start: b.mean for b in buckets}


def _held_to_the_air(known: Knowledge, ledger: Ledger) -> Knowledge:
    leak, by = known.leak_per_h, ledger.overstated
    if leak.origin is not Origin.ASSUMED or by <= 1.0:
        return known
    held = replace(leak, value=leak.value / by, low=min(leak.low, leak.value / by))
    return replace(known, leak_per_h=held)
