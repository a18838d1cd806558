"""What happened beside the lines of a chart: deeds, what was found, reminders, entries, nights."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import log_words, mark_words
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.review.episode import episodes
from chamberwatch.core.watch.found import DEEDS
from chamberwatch.core.watch.hours import NIGHT
from chamberwatch.core.watch.reminder import TASK_CALLS
from chamberwatch.service.books import Book, Span
from chamberwatch.service.chart import Mark, MarkKind
from chamberwatch.service.growing.bands_then import BandsThen

EVERYTHING_UP_TO: Final = timedelta(days=62)
"""On a longer chart only what was told of batches is marked: the rest could not be told apart."""


@dataclass(frozen=True, slots=True)
class Marking:
    """Gathers the marks of a chart; they say what the log says.

    Attributes:
        bands: knows what was told of the batches.
        table: names the species.
        titles: of the chambers, by name.
        zone: of the site, whose nights are marked.
    """

    bands: BandsThen
    table: SpeciesTable
    titles: Mapping[str, str]
    zone: tzinfo

    def marks(self, book: Book, chamber: str, span: Span) -> tuple[Mark, ...]:
        """Return what happened in a chamber within a span, oldest first."""
        found = list(self._entries(book, chamber, span))
        if span.end - span.start <= EVERYTHING_UP_TO:
            found += _deeds(book, chamber, span)
            found += _found(book, chamber, span)
            found += _reminders(book, chamber, span)
        return tuple(sorted(found, key=lambda mark: mark.at))

    def nights(self, span: Span) -> tuple[Span, ...]:
        """Return the nights of a span, cut at its ends; none of one too long to show them."""
        if span.end - span.start > EVERYTHING_UP_TO:
            return ()
        day = span.start.astimezone(self.zone).date() - timedelta(days=1)
        last = span.end.astimezone(self.zone).date()
        found = []
        while day <= last:
            begins = datetime.combine(day, NIGHT[0], self.zone)
            day += timedelta(days=1)
            ends = datetime.combine(day, NIGHT[1], self.zone)
            start, end = max(begins, span.start), min(ends, span.end)
            if start < end:
                utc = span.start.tzinfo
                found.append(Span(start.astimezone(utc), end.astimezone(utc)))
        return tuple(found)

    def _entries(self, book: Book, chamber: str, span: Span) -> Iterator[Mark]:
        for told in self.bands.told(book):
            before = None
            for entry, batch in told:
                here = chamber in (batch.chamber, before)
                before = batch.chamber
                if here and span.start <= entry.at < span.end:
                    species = self.table.known(batch.start.species).title
                    said = log_words.entry(entry, species, self.titles)
                    words = f"{log_words.of_batch(batch.id, species)}: {said}"
                    yield Mark(MarkKind.GROWING, entry.at, None, entry.kind.value, words)


def _deeds(book: Book, chamber: str, span: Span) -> Iterator[Mark]:
    for action in book.actions.within(span):
        if action.chamber == chamber:
            words = log_words.deed(action)
            yield Mark(MarkKind.DEED, action.at, None, action.deed.value, words)


def _found(book: Book, chamber: str, span: Span) -> Iterator[Mark]:
    """Yield what nobody recorded; what the grower said no to was none."""
    for event in book.found.within(chamber, span):
        if event.action is None and not event.denied:
            words = log_words.found(event)
            yield Mark(MarkKind.FOUND, event.start, event.end, DEEDS[event.kind].value, words)


def _reminders(book: Book, chamber: str, span: Span) -> Iterator[Mark]:
    """Yield what people were asked for of its air; what the crop asks for stands on its page."""
    moves = [*book.reminders.held_at(span.start), *book.reminders.moves_within(span)]
    named = book.reminders.named(chamber, (move.reminder for move in moves))
    mine = {each.id: each for each in named if each.call not in TASK_CALLS}
    for episode in episodes(move for move in moves if move.reminder in mine):
        asked = mine[episode.reminder]
        words = mark_words.reminder(asked, episode)
        yield Mark(MarkKind.REMINDER, episode.raised, episode.ended, asked.call.value, words)
