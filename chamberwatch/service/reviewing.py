"""Looking back on weeks: gathers what they left in the book, and asks the core what it says."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Final

from chamberwatch.core import review_words
from chamberwatch.core.review.calming import (
    QUANTITY_OF,
    Delays,
    Inside,
    Patiences,
    Tiring,
    delays,
    worst,
)
from chamberwatch.core.review.episode import Episode, episodes
from chamberwatch.core.review.quality import Quality, quality
from chamberwatch.core.review.record import LOOK_ON, Done, Fate, Kind, Record, Telling
from chamberwatch.core.review.week import Week, asked_week
from chamberwatch.core.watch import found
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.reading import Place
from chamberwatch.core.watch.reminder import Call, Reminder
from chamberwatch.core.watch.rule import Side
from chamberwatch.service.books import Book, Books, OutKind, OutRow, OutState, Span
from chamberwatch.service.ports import Clock

_FATES: Final[Mapping[OutState, Fate]] = {
    OutState.SENT: Fate.OUT,
    OutState.UNCERTAIN: Fate.OUT,
    OutState.WAITING: Fate.WAITING,
    OutState.SENDING: Fate.WAITING,
    OutState.FOLDED: Fate.FOLDED,
    OutState.FAILED: Fate.FAILED,
    OutState.DROPPED: Fate.DROPPED,
}
_BEST_FIRST: Final = (Fate.OUT, Fate.WAITING, Fate.FOLDED, Fate.FAILED, Fate.DROPPED)

A_DAY_S: Final = 86_400.0
BUCKETS: Final = 10


@dataclass(frozen=True, slots=True)
class TiringNow:
    """A reminder that tires, and what to do about it, in words."""

    tiring: Tiring
    reminder: Reminder
    title: str
    how: str
    advice: str


@dataclass(frozen=True, slots=True)
class WeekReview:
    """How the reminders did in one week.

    Attributes:
        week: which.
        start: its first moment.
        end: the first moment of the next.
        over: it is; else the figures are those so far.
        quality: the figures.
        worst: the three reminders that tire most, the worst first.
        titles: of the reminders that are spoken of, by their ids.
        causes: what each of `quality.by_cause` is about, in words.
    """

    week: Week
    start: datetime
    end: datetime
    over: bool
    quality: Quality
    worst: tuple[TiringNow, ...]
    titles: Mapping[int, str]
    causes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reviewing:
    """Answers how well the reminders do; changes nothing.

    Attributes:
        books: what is kept.
        clock: the time.
        house: what the grower declared, its bands as they are now.
        zone: in which weeks begin.
        terminal: name of the address that is always there, and nobody's phone.
    """

    books: Books
    clock: Clock
    house: House
    zone: tzinfo
    terminal: str

    def weeks(self, last: str = "", count: int = 1) -> tuple[WeekReview, ...]:
        """Return weeks, the newest first.

        Args:
            last: the newest of them, such as 2026-W47; empty: the present one, so far.
            count: how many.

        Raises:
            RefusedError: that is no week, or it has not begun.
        """
        now = self.clock.now()
        newest = asked_week(last, now, self.zone)
        return tuple(self._week(newest.later(-back), now) for back in range(count))

    def _week(self, week: Week, now: datetime) -> WeekReview:
        with self.books.read() as book:
            record = self._record(book, week, now)
            figures = quality(record)
            tiring = worst(record, self._patiences(), self._inside(book))
        return WeekReview(
            week=week,
            start=record.start,
            end=record.end,
            over=record.end <= now,
            quality=figures,
            worst=tuple(self._said(record.reminders[t.reminder], t) for t in tiring),
            titles={n: self._title(r) for n, r in record.reminders.items()},
            causes=tuple(review_words.about(c, self._called(c.chamber)) for c in figures.by_cause),
        )

    # -------------------------------------------------------------- from the book

    def _record(self, book: Book, week: Week, now: datetime) -> Record:
        start, end = week.start(self.zone), week.end(self.zone)
        around = Span(start - LOOK_ON, end + LOOK_ON)
        moves = [*book.reminders.held_at(around.start), *book.reminders.moves_within(around)]
        recorded = (Done(a.chamber, a.deed, a.at) for a in book.actions.within(around))
        return Record(
            start=start,
            end=end,
            now=now,
            reminders={r.id: r for r in book.reminders.all()},
            episodes=episodes(moves),
            tellings=tellings(book.outbox.within(around), self.terminal),
            deeds=(*recorded, *self._only_found(book, around)),
        )

    def _only_found(self, book: Book, span: Span) -> Iterator[Done]:
        """Yield what the readings show and nobody recorded or denied."""
        for chamber in self.house.chambers:
            for each in book.found.within(chamber, span):
                if each.action is None and not each.denied:
                    yield Done(chamber, found.DEEDS[each.kind], each.start, recorded=False)

    def _inside(self, book: Book) -> Inside:
        """Return what tells how far the air came back inside between two episodes."""

        def inside(first: Episode, second: Episode) -> float | None:
            spoke = second.evidence
            if spoke is None or spoke.quantity is None or first.ended is None:
                return None
            span = Span(first.ended, second.raised)
            buckets = book.readings.buckets([spoke.sensor], spoke.quantity, span, A_DAY_S, BUCKETS)
            low, high = spoke.low, spoke.high
            side = self._side(book, second)
            if side is Side.LOW and low is not None:
                return max((b.most - low for b in buckets), default=None)
            if side is Side.HIGH and high is not None:
                return max((high - b.least for b in buckets), default=None)
            return None

        return inside

    @staticmethod
    def _side(book: Book, episode: Episode) -> Side | None:
        reminder = book.reminders.get(episode.reminder)
        found_for = QUANTITY_OF.get(reminder.call) if reminder is not None else None
        return None if found_for is None else found_for[1]

    # -------------------------------------------------------------- from the settings

    def _patiences(self) -> Patiences:
        air = {
            (chamber.name, call): found_
            for chamber in self.house.chambers.values()
            for call in QUANTITY_OF
            if (found_ := _delays(chamber, call)) is not None
        }
        sensors = {s.name: s.unheard_after for s in self.house.sensors.values()}
        return Patiences(air, sensors)

    # -------------------------------------------------------------- in words

    def _said(self, reminder: Reminder, tiring: Tiring) -> TiringNow:
        return TiringNow(
            tiring,
            reminder,
            self._title(reminder),
            review_words.tires(tiring),
            review_words.calmed(tiring, reminder),
        )

    def _title(self, reminder: Reminder) -> str:
        return review_words.title(reminder, self._called(reminder.chamber))

    def _called(self, chamber: str) -> str:
        declared = self.house.chambers.get(chamber)
        return chamber if declared is None else declared.title


def _delays(chamber: Chamber, call: Call) -> Delays | None:
    quantity, _ = QUANTITY_OF[call]
    band, patience = chamber.band(quantity, Place.AIR), chamber.patience_for(quantity)
    return None if band is None or patience is None else delays(patience, band, call)


def tellings(rows: Iterable[OutRow], terminal: str) -> tuple[Telling, ...]:
    """Return messages as people heard them: one, however many phones it went to.

    What was written at the same moment about the same is one message. The terminal hears all of
    them at once; where anybody has a phone, what became of it there is what counts. A message
    that was only to try out a phone is none.
    """
    together: dict[tuple[object, ...], list[OutRow]] = {}
    for row in rows:
        if row.kind is not OutKind.TRIAL:
            alone = "" if row.reminder else row.title
            key = (row.kind, row.reminder, row.episode, row.chamber, row.created, alone)
            together.setdefault(key, []).append(row)
    return tuple(_telling(each, terminal) for each in together.values())


def _telling(rows: Sequence[OutRow], terminal: str) -> Telling:
    heard = [row for row in rows if row.address != terminal] or rows
    fates = {_FATES[row.state] for row in heard}
    first = rows[0]
    return Telling(
        reminder=first.reminder,
        episode=first.episode,
        kind=Kind(first.kind.value),
        chamber=first.chamber,
        priority=first.priority,
        created=first.created,
        told=min(
            (row.sent or row.created for row in heard if _FATES[row.state] is Fate.OUT),
            default=None,
        ),
        fate=next(fate for fate in _BEST_FIRST if fate in fates),
    )
