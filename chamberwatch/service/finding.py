"""Looking for mistings and ventings in what was read, and keeping what is found.

The record of each chamber is worked through in pieces, from where the last look ended up to
what is safely in the book. Only the rounds' thread looks. How far it came is kept with what was
found, in one transaction; an event that begins or lies where one of its kind is kept already is
the same one, so that nothing is kept twice whatever is looked at again.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.watch.action import Action
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.found import DEEDS, Exchange, Found, Kind
from chamberwatch.core.watch.lasting import TOLD_LATE, Hold, hold, paired
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.steps import Step, steps
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books, Span
from chamberwatch.service.exchanging import Calm, Exchanging, calm_stretches, long_ventings
from chamberwatch.service.gathering import PAIR, busiest, moment, record_of, seconds
from chamberwatch.service.ports import Clock
from chamberwatch.service.speaking import air_sensors, doubted_in

EVERY: Final = timedelta(minutes=3)
"""A chamber is looked at when so much more of its record is there."""

ON_THE_WAY: Final = timedelta(seconds=60)
"""So long a reading may be on its way, besides what it waits in memory for its commit."""

BACKLOG: Final = timedelta(days=7)
"""How far back the first look goes: what is older says little of the chamber as it is now."""

PIECE: Final = timedelta(hours=2)
CONTEXT: Final = timedelta(minutes=45)
"""Record before a piece that shows what was usual then."""

SETTLED: Final = timedelta(minutes=10)
"""Record that must follow an event before it is kept: both its kinds are judged by 8 min."""

AGAIN: Final = timedelta(minutes=5)
"""Seen with more of the record, an event's end may move by so much."""

SAME: Final = timedelta(minutes=2)
HELD_AT_MOST: Final = timedelta(hours=24)
HELD_MARGIN: Final = timedelta(minutes=5)
CALM_BACK: Final = timedelta(hours=8)
DEEDS_LOOKED_AT: Final = 200
LONGEST_VENTING_MIN: Final = 180.0

PIECES_AT_ONCE: Final = 8
TURN_S: Final = 0.1
"""After so long no further piece is begun in this round. [s]"""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A part of one chamber's record: news of it lies from `start` on; it ends at `end`."""

    chamber: str
    start: datetime
    end: datetime

    @property
    def sure(self) -> datetime:
        """Up to here everything about it is known."""
        return self.end - SETTLED


class Finding:
    """Looks for mistings and ventings of all chambers that something grows in."""

    def __init__(
        self,
        books: Books,
        house: House,
        clock: Clock,
        board: Board,
        commit_every: timedelta = timedelta(seconds=30),
    ) -> None:
        """Begin where the last life of the daemon ended."""
        self._unstored = commit_every + ON_THE_WAY
        self._books = books
        self._house = house
        self._clock = clock
        self._board = board
        self._looked: dict[str, datetime] = {}
        self._above: dict[int, datetime] = {}
        """Mistings that held up to some time, by id."""
        self._ended: set[int] = set()
        """Mistings whose hold will never be known, by id."""
        back = clock.now() - BACKLOG
        with books.read() as book:
            for chamber in house.chambers.values():
                if chamber.stage is not None:
                    text = book.kept.text(_key(chamber.name))
                    self._looked[chamber.name] = _read_time(text, back)

    def look(self) -> bool:
        """Work on for a moment; return whether there is more to do at once.

        Raises:
            StorageError: the book can't be used.
        """
        begun_s = self._clock.monotonic()
        for _ in range(PIECES_AT_ONCE):
            piece = self._next()
            if piece is None:
                return False
            self._work(piece)
            if self._clock.monotonic() - begun_s > TURN_S:
                break
        return self._next() is not None

    def _next(self) -> _Piece | None:
        """Return the piece of the chamber that is furthest behind."""
        safe = self._clock.now() - self._unstored
        newest = {name: r.time for (name, _), r in self._board.newest().items()}
        behind: list[tuple[datetime, _Piece]] = []
        for name, looked in self._looked.items():
            heard = [newest[s.name] for s in air_sensors(self._house, name) if s.name in newest]
            # Not beyond what was heard: after an outage the past may still be on its way.
            end = min(max(heard), safe) if heard else looked
            if end - looked >= EVERY:
                behind.append((looked, _Piece(name, looked, min(end, looked + PIECE))))
        return min(behind, key=lambda pair: pair[0])[1] if behind else None

    # ------------------------------------------------------------ one piece

    def _work(self, piece: _Piece) -> None:
        doubted = doubted_in(self._board.doubts(), *PAIR, Quantity.CO2)
        with self._books.read() as book:
            known = list(book.found.within(piece.chamber, _around(piece)))
            span = Span(piece.start - CONTEXT, piece.end)
            seen = steps(record_of(book, self._house, piece.chamber, span, doubted))
            deeds = book.actions.recent(piece.chamber, DEEDS_LOOKED_AT)
            fresh = [_found(piece.chamber, s) for s in seen if _is_news(s, piece, known)]
            named = _named([*known, *fresh], deeds, piece)
            holds = self._holds(book, named, piece, doubted)
            exchanges = self._exchanges(book, named, piece, doubted)
        with self._books.write() as book:
            for found, later in zip([*known, *fresh], holds, strict=True):
                _keep(book, found, later)
            for exchange in exchanges:
                book.exchanges.add(exchange)
            book.kept.keep_text(_key(piece.chamber), piece.end.isoformat())
        self._looked[piece.chamber] = piece.end
        if fresh or exchanges or holds != known:
            self._board.stir()

    def _holds(
        self, book: Book, found: Sequence[Found], piece: _Piece, doubted: frozenset[str]
    ) -> list[Found]:
        """Return the events with the holds that are known by now."""
        band = self._house.chambers[piece.chamber].band(Quantity.HUMIDITY, Place.AIR)
        if band is None or band.low is None:
            return list(found)
        starts = sorted(f.start for f in found if f.kind is Kind.MISTING)
        later: list[Found] = []
        for event in found:
            following = min((s for s in starts if s > event.start), default=None)
            until = piece.end if following is None else min(following, piece.end)
            if self._may_be_told(event, piece):
                above = self._above.get(event.id, event.end)
                span = Span(max(above, event.end), until)
                heard = busiest(book, self._house, piece.chamber, span, PAIR, doubted)
                points = heard.points if heard else ()
                result = hold(points, seconds(span.start), band.low)
                event = self._with_hold(event, span, result, over=following is not None)
            later.append(event)
        return later

    def _may_be_told(self, event: Found, piece: _Piece) -> bool:
        return (
            event.kind is Kind.MISTING
            and event.held is None
            and event.id not in self._ended
            and event.end > piece.end - HELD_AT_MOST
        )

    def _with_hold(self, event: Found, span: Span, result: Hold, *, over: bool) -> Found:
        if result.seconds is not None:
            # What was above until then is part of the hold.
            held = span.start - event.end + timedelta(seconds=round(result.seconds))
            return replace(event, held=held)
        if event.id and (over or not result.holding):
            self._ended.add(event.id)
        elif event.id:
            self._above[event.id] = max(span.start, span.end - HELD_MARGIN)
        return event

    def _exchanges(
        self, book: Book, found: Sequence[Found], piece: _Piece, doubted: frozenset[str]
    ) -> list[Exchange]:
        """Return the air changes of the stretches that have become ready."""
        if not air_sensors(self._house, piece.chamber, Quantity.CO2):
            return []
        events = [f for f in sorted(found, key=lambda f: f.start) if not f.denied]
        back = Span(piece.sure - CALM_BACK, piece.sure)
        done = book.exchanges.within(piece.chamber, Span(back.start - CALM_BACK, piece.end))
        fitting = Exchanging(self._house, piece.chamber, doubted)
        fits = [
            fitting.of(book, span, vented=False)
            for span in calm_stretches(events, Calm(back, done))
        ]
        vented = {e.start for e in done if e.vented}
        fits += [
            fitting.of(book, span, vented=True)
            for span in long_ventings(events)
            # One that was told to be longer is fitted when all of it is there.
            if back.start < span.end <= piece.sure
            and not any(abs(start - span.start) < SAME for start in vented)
        ]
        return [exchange for exchange in fits if exchange is not None]


def _key(chamber: str) -> str:
    return f"looked for mistings and ventings: {chamber}"


def _read_time(text: str | None, default: datetime) -> datetime:
    return default if text is None else max(datetime.fromisoformat(text), default)


def _around(piece: _Piece) -> Span:
    """Return the span whose kept events may have to do with a piece."""
    return Span(piece.start - HELD_AT_MOST, piece.end)


def _is_news(step: Step, piece: _Piece, known: Iterable[Found]) -> bool:
    """Tell whether a step is sure, belongs to this piece, and is not kept already."""
    start, end = moment(step.start_s), moment(step.end_s)
    if not piece.start - SETTLED - AGAIN < end <= piece.sure:
        return False
    return not any(
        k.kind is step.kind and (abs(k.start - start) <= SAME or (start < k.end and end > k.start))
        for k in known
    )


def _found(chamber: str, step: Step) -> Found:
    return Found(
        0,
        chamber,
        step.kind,
        moment(step.start_s),
        moment(step.end_s),
        humidity_before_pct=round(step.humidity_before_pct, 2),
        humidity_after_pct=round(step.humidity_after_pct, 2),
        vapour_gain_g_per_m3=round(step.vapour_gain_g_per_m3, 3),
        co2_before_ppm=_rounded(step.co2_before_ppm),
        co2_after_ppm=_rounded(step.co2_after_ppm),
    )


def _rounded(ppm: float | None) -> float | None:
    return None if ppm is None else round(ppm, 1)


def _named(found: Sequence[Found], actions: Sequence[Action], piece: _Piece) -> list[Found]:
    """Return the events with the recorded deeds that they belong to."""
    used = {f.action for f in found if f.action is not None}
    named = list(found)
    for kind, deed in DEEDS.items():
        starts = {
            i: f.start
            for i, f in enumerate(found)
            if f.kind is kind
            and f.action is None
            and f.confirmed is None
            # A deed told late, and the look that came after it.
            and f.end > piece.start - SETTLED - 2 * TOLD_LATE
        }
        deeds = {a.id: a for a in actions if a.deed is deed and a.id not in used}
        pairs = paired(starts, {number: action.at for number, action in deeds.items()})
        for i, number in pairs.items():
            named[i] = _belongs(found[i], deeds[number])
    return named


def _belongs(event: Found, action: Action) -> Found:
    """Return an event as the deed it belongs to explains it."""
    end = event.end
    if event.kind is Kind.VENTING and action.amount is not None:
        # The air has become the room's long before a long venting is over.
        minutes = min(action.amount, LONGEST_VENTING_MIN)
        end = max(end, event.start + timedelta(minutes=minutes))
    return replace(event, action=action.id, amount=action.amount, end=end)


def _keep(book: Book, before: Found, later: Found) -> None:
    """Keep a new event, or what has become known of one."""
    if later.id == 0:
        book.found.add(later)
    elif later != before:
        # Read again: the grower may have answered in the meantime.
        current = book.found.get(later.id) or before
        book.found.save(
            replace(
                current,
                action=later.action,
                amount=later.amount,
                end=later.end,
                held=later.held,
            )
        )
