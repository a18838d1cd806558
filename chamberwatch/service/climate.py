"""The air of a week, looked back on: gathers its summaries and asks the core about them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import climate_words, review_words
from chamberwatch.core.growing.band import Band
from chamberwatch.core.review import climate as air
from chamberwatch.core.review.climate import BandAt, Climate, Share, Spell
from chamberwatch.core.review.summary import Level, Summary
from chamberwatch.core.review.week import Week, asked_week
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import API_NAMES, Quantity
from chamberwatch.service.books import Book, Books, Span
from chamberwatch.service.chart import BandThen
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.ports import Clock

NAMED: Final[Mapping[Quantity, str]] = {
    quantity: API_NAMES[quantity]
    for quantity in (Quantity.HUMIDITY, Quantity.TEMPERATURE, Quantity.CO2)
}
"""What is looked back on, by the names that the API has for it."""


@dataclass(frozen=True, slots=True)
class ClimateWeek:
    """One week of a chamber's air, in figures and in words.

    Attributes:
        week: which.
        title: of the chamber.
        over: the week is; else the figures are those so far.
        climate: the figures.
        shares: a line each: the quantity, its time in band, and between which values it was.
        spells: the worst, a sentence each.
        holding: the mistings and how long they held.
        freshness: the ventings and air changes.
        changes: what to change, a paragraph each; empty: keep on like this.
    """

    week: Week
    title: str
    over: bool
    climate: Climate
    shares: tuple[tuple[str, str, str], ...]
    spells: tuple[str, ...]
    holding: str
    freshness: str
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Climates:
    """Answers how the air of a week was; changes nothing.

    Attributes:
        books: what is kept.
        clock: the time.
        house: what the grower declared.
        bands: which bands held when.
        zone: in which weeks begin.
    """

    books: Books
    clock: Clock
    house: House
    bands: BandsThen
    zone: tzinfo

    def week(self, chamber: str, name: str = "") -> ClimateWeek:
        """Return a week of a chamber.

        Args:
            chamber: its name.
            name: of the week, such as 2026-W47; empty: the present one, so far.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: that is no week, or it has not begun.
        """
        declared = self.house.chamber(chamber)
        now = self.clock.now()
        asked = asked_week(name, now, self.zone)
        with self.books.read() as book:
            found = self._climate(book, chamber, asked)
            before = self._shares(book, chamber, self._span(asked.later(-1)))
        known = max(min(now, found.end) - found.start, timedelta(0))
        return ClimateWeek(
            week=asked,
            title=declared.title,
            over=found.end <= now,
            climate=found,
            shares=tuple(_line(share, before) for share in found.shares),
            spells=tuple(climate_words.spell(s, self.zone) for s in found.spells),
            holding=climate_words.holding(found.holding),
            freshness=climate_words.freshness(found.freshness),
            changes=climate_words.changes(found, known),
        )

    def _span(self, week: Week) -> Span:
        return Span(week.start(self.zone), week.end(self.zone))

    def _quarters(
        self, book: Book, chamber: str, span: Span
    ) -> Mapping[Quantity, Sequence[Summary]]:
        sensors = self.house.air_sensors(chamber)
        return {
            q: book.summaries.within(sensors, n, Level.QUARTER, span) for q, n in NAMED.items()
        }

    def _shares(self, book: Book, chamber: str, span: Span) -> tuple[Share, ...]:
        return _heard(self._quarters(book, chamber, span))

    def _climate(self, book: Book, chamber: str, week: Week) -> Climate:
        span = self._span(week)
        quarters = self._quarters(book, chamber, span)
        shares = _heard(quarters)
        found = book.found.within(chamber, span)
        return Climate(
            chamber=chamber,
            start=span.start,
            end=span.end,
            shares=shares,
            spells=air.worst(self._spells(book, chamber, span, quarters)),
            day={s.quantity: air.typical_day(quarters[s.quantity], self.zone) for s in shares},
            holding=air.holding(found),
            freshness=air.freshness(found, book.exchanges.within(chamber, span)),
        )

    def _spells(
        self, book: Book, chamber: str, span: Span, quarters: Mapping[Quantity, Sequence[Summary]]
    ) -> Iterator[Spell]:
        """Yield the spells; only of the quarter-hours that hold one are the minutes looked at."""
        band_at = band_at_of(self.bands.bands(book, chamber, list(NAMED.values()), span))
        sensors = self.house.air_sensors(chamber)
        for quantity, name in NAMED.items():
            minutes = (
                minute
                for stretch in air.outside(quarters[quantity])
                for minute in book.summaries.within(sensors, name, Level.MINUTE, Span(*stretch))
            )
            yield from air.spells(quantity, minutes, band_at)


def _heard(quarters: Mapping[Quantity, Sequence[Summary]]) -> tuple[Share, ...]:
    shares = (air.share(quantity, rows) for quantity, rows in quarters.items())
    return tuple(share for share in shares if share is not None)


def _line(share: Share, before: Sequence[Share]) -> tuple[str, str, str]:
    then = next((each for each in before if each.quantity is share.quantity), None)
    return (
        climate_words.NAMES[share.quantity],
        climate_words.in_band(share, then),
        climate_words.span_words(share),
    )


def band_at_of(then: Sequence[BandThen]) -> BandAt:
    """Return what tells which band held at a moment."""

    def band_at(quantity: Quantity, moment: datetime) -> Band | None:
        name = NAMED[quantity]
        for each in then:
            if each.quantity == name and each.start <= moment < each.end:
                return Band(each.low, each.high, each.harm_low, each.harm_high)
        return None

    return band_at


def heading(found: ClimateWeek) -> str:
    """Name the week and the chamber."""
    so_far = "" if found.over else ", so far"
    return f"{found.title} in {found.week.name}, {review_words.days(found.week)}{so_far}"
