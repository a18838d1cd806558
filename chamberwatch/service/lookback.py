"""What the record has shown: mistings, ventings, air changes; and what the grower says to it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta, tzinfo
from typing import Final

from chamberwatch.core.air.figure import Figure
from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.lasting import (
    BREAKS_S,
    best_air_changes,
    hold,
    typical_hold_min,
)
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, Books, Span
from chamberwatch.service.gathering import PAIR, busiest, seconds
from chamberwatch.service.ports import Clock

LEARN_FROM: Final = timedelta(days=7)
"""What is older says little of the chamber as it is now."""

HOLDS_FROM: Final = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Shown:
    """One misting or venting, and what a person is asked or told about it.

    Attributes:
        found: the event.
        question: for one that nobody recorded and nobody has answered for; else empty.
        still_holding: of a misting: the humidity has not been below the band since.
    """

    found: Found
    question: str = ""
    still_holding: bool = False

    @property
    def recorded(self) -> bool:
        """Tell whether a recorded deed belongs to it."""
        return self.found.action is not None


@dataclass(frozen=True, slots=True)
class Mistings:
    """The mistings of a chamber, newest first, and how long one usually holds. [min]."""

    shown: Sequence[Shown]
    typical_hold_min: Figure | None


@dataclass(frozen=True, slots=True)
class AirChanges:
    """The air changes of a chamber, newest first.

    Attributes:
        exchanges: stretches of the record.
        ventings: what was found of them.
        best: of the closed chamber, from the last 7 days. [1/h]
    """

    exchanges: Sequence[Exchange]
    ventings: Sequence[Shown]
    best: Figure


@dataclass(frozen=True, slots=True)
class Lookback:
    """Answers what was found, and takes in whether it is right."""

    books: Books
    clock: Clock
    house: House
    board: Board
    zone: tzinfo

    def mistings(self, chamber: str, span: Span, limit: int) -> Mistings:
        """Return the mistings that began within a span, the newest `limit` of them.

        Raises:
            UnknownNameError: no such chamber.
        """
        declared = self.house.chamber(chamber)
        now = self.clock.now()
        with self.books.read() as book:
            found = _of(Kind.MISTING, book.found.within(chamber, span))
            lately = book.found.within(chamber, Span(now - LEARN_FROM, now))
            holding = self._holding(book, declared, lately)
        shown = [
            self._shown(f, still_holding=holding is not None and f.id == holding.id)
            for f in found[::-1][:limit]
        ]
        return Mistings(shown, typical_hold_min(lately))

    def air_changes(self, chamber: str, span: Span, limit: int) -> AirChanges:
        """Return the air changes of stretches that began within a span, the newest `limit`.

        Raises:
            UnknownNameError: no such chamber.
        """
        declared = self.house.chamber(chamber)
        now = self.clock.now()
        with self.books.read() as book:
            exchanges = book.exchanges.within(chamber, span)
            ventings = _of(Kind.VENTING, book.found.within(chamber, span))
            lately = book.exchanges.within(chamber, Span(now - LEARN_FROM, now))
        return AirChanges(
            exchanges[::-1][:limit],
            [self._shown(f) for f in ventings[::-1][:limit]],
            best_air_changes(lately, declared.air_changes_per_h),
        )

    def questions(self, chamber: str, span: Span, limit: int) -> Sequence[Shown]:
        """Return what began within a span that nobody recorded or answered for, newest first.

        At most `limit`. Reads no readings, so that a page may ask each time it is drawn.

        Raises:
            UnknownNameError: no such chamber.
        """
        self.house.chamber(chamber)
        with self.books.read() as book:
            found = book.found.within(chamber, span)
        shown = (self._shown(f) for f in reversed(found))
        return [each for each in shown if each.question][:limit]

    def confirmed(self, chamber: str, span: Span, limit: int) -> Sequence[Found]:
        """Return what began within a span and the grower said yes to, newest first.

        At most `limit`; what belongs to a recorded deed is left out, since that deed tells of it.

        Raises:
            UnknownNameError: no such chamber.
        """
        self.house.chamber(chamber)
        with self.books.read() as book:
            found = book.found.within(chamber, span)
        return [f for f in reversed(found) if f.confirmed and f.action is None][:limit]

    def answer(self, chamber: str, kind: Kind, number: int, *, was_it: bool) -> Shown:
        """Keep what the grower says to “was it?”; what was none is not learnt from any more.

        Raises:
            UnknownNameError: no such chamber, or no such event in it.
        """
        self.house.chamber(chamber)
        with self.books.write() as book:
            found = book.found.get(number)
            if found is None or found.chamber != chamber or found.kind is not kind:
                raise UnknownNameError(
                    f"There is no {kind.value} {number} in “{chamber}”. Ask for the list."
                )
            found = replace(found, confirmed=was_it)
            book.found.save(found)
        self.board.stir()
        return self._shown(found)

    def _shown(self, found: Found, *, still_holding: bool = False) -> Shown:
        question = ""
        if found.action is None and found.confirmed is None:
            clock = found.start.astimezone(self.zone).strftime("%H:%M")
            question = f"Looks like a {found.kind.value} at {clock} \N{EN DASH} was it?"
        return Shown(found, question, still_holding)

    def _holding(self, book: Book, chamber: Chamber, lately: Sequence[Found]) -> Found | None:
        """Return the misting that still holds: the newest, if the record says so."""
        mistings = _of(Kind.MISTING, lately)
        band = chamber.band(Quantity.HUMIDITY, Place.AIR)
        now = self.clock.now()
        if not mistings or band is None or band.low is None:
            return None
        newest = mistings[-1]
        if newest.held is not None or newest.end < now - HOLDS_FROM:
            return None
        span = Span(newest.end, now)
        heard = busiest(book, self.house, chamber.name, span, PAIR, ())
        points = heard.points if heard else ()
        result = hold(points, seconds(span.start), band.low)
        fresh = bool(points) and seconds(now) - points[-1][0] <= BREAKS_S
        return newest if result.holding and fresh else None


def _of(kind: Kind, found: Sequence[Found]) -> list[Found]:
    return [f for f in found if f.kind is kind]
