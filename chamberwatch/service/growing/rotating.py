"""The plan of starts: made from what is wanted, where there is room, and what is under way."""

import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, dry_g
from chamberwatch.core.growing.due import Due, DueKind, Window, dues
from chamberwatch.core.growing.own_times import OwnTimes, learnt
from chamberwatch.core.growing.rotation.plan import (
    WEEKS,
    Awaited,
    Plan,
    PlannedStart,
    Space,
    Timing,
    UnderWay,
    Wanted,
)
from chamberwatch.core.growing.rotation.promise import (
    Promise,
    cut,
    promise,
    put_off,
    where_free,
)
from chamberwatch.core.growing.rotation.saying import plan_words
from chamberwatch.core.growing.rotation.search import plan
from chamberwatch.core.growing.rotation.takes import batch_kg, timing
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.service.books import Book, Books
from chamberwatch.service.growing.duties import Batches
from chamberwatch.service.growing.promised import keep, kept
from chamberwatch.service.ports import Clock

OPEN_WHERE_PEOPLE_LIVE: Final = 2
"""One or two open blocks at a time are what people fruit in a living space without a duct (common
practice)."""

NOT_KNOWN: Final = timedelta(weeks=52)
"""Of a batch of which nobody can say when it is spent the place counts as taken for so long."""

NOTHING_WANTED: Final = (
    "Nothing is wanted, so nothing can be planned. Add a [[rotation]] to the settings, with "
    "species, kg_per_week and batch_dry_g, or ask with a wish of your own."
)


SUPPOSED_AT_MOST: Final = 4

ANOTHER_ONE: Final = "Another plan is being reckoned just now. Try again in a few seconds."


@dataclass(frozen=True, slots=True)
class PlanNow:
    """A plan, and what is said of it.

    Attributes:
        plan: what to start when, and what comes of it.
        words: sentences about it.
        asked: the wish that it is for.
        made: the day on which it was planned. Its starts that were made since are left out; weeks
            and words are as they were foretold on that day.
    """

    plan: Plan
    words: tuple[str, ...]
    asked: tuple[Wanted, ...]
    made: date

    @property
    def wish_kg(self) -> tuple[float, float]:
        """Return least and most that is wished of all species together, a week. [kg]."""
        ends = [each.kg_per_week for each in self.asked]
        return sum(low for low, _ in ends), sum(high for _, high in ends)

    @property
    def short_weeks(self) -> frozenset[date]:
        """Return the Mondays of the weeks in which less comes than is wished."""
        return self.plan.short_weeks(self.wish_kg[0])


@dataclass(frozen=True, slots=True)
class RotatingParts:
    """What the rotation is made from.

    Attributes:
        record: knows the batches.
        table: the species.
        house: the chambers.
        books: keep the plan that is kept to.
        clock: the time.
        zone: days are those of it.
    """

    record: Batches
    table: SpeciesTable
    house: House
    books: Books
    clock: Clock
    zone: tzinfo


_Known = tuple[Mapping[int, Batch], date]
"""What a supposed plan was made from, beside the wish."""


class Rotating:
    """Plans the starts. Safe to ask from any thread."""

    def __init__(self, parts: RotatingParts, wanted: Sequence[Wanted]) -> None:
        """Begin with the wish of the settings."""
        self._record = parts.record
        self._table = parts.table
        self._books = parts.books
        self._clock = parts.clock
        self._zone = parts.zone
        self._rooms = spaces(parts.house)
        self._wanted = tuple(wanted)
        self._turn = threading.Lock()
        self._promise: Promise | None = None
        self._supposing = threading.Lock()
        self._supposed: dict[tuple[Wanted, ...], tuple[_Known, PlanNow]] = {}

    def plan(self, wanted: Sequence[Wanted] | None = None, weeks: int = WEEKS) -> PlanNow:
        """Return the plan for a wish, for that of the settings where none is given.

        That of the settings is the one that is kept to this week, as far as that goes. Further
        ahead, and for another wish, a plan is made from what there is now, and not kept.

        Raises:
            UnknownNameError: no such species.
            RefusedError: nothing is wanted, or it can't be planned; the text says what is missing.
        """
        asked = self._wanted if wanted is None else tuple(wanted)
        if not asked:
            raise RefusedError(NOTHING_WANTED)
        if wanted is None and weeks <= WEEKS:
            standing = self._renewed()
            shown = cut(replace(standing.plan, starts=self._left(standing)), weeks)
            return PlanNow(shown, plan_words(shown, self._table), asked, standing.made)
        made = self._planned(asked, self._record.batches(), weeks)
        return PlanNow(made, plan_words(made, self._table), asked, self._today())

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """Return the wish that stands in the settings; empty: none."""
        return self._wanted

    def suppose(self, wanted: Sequence[Wanted]) -> PlanNow:
        """Return the plan for another wish; nothing is kept of it but the last few answers.

        It takes seconds on a small computer, so one is made at a time.

        Raises:
            UnknownNameError: no such species.
            RefusedError: another one is being made, or it can't be planned.
        """
        wish, now = tuple(wanted), (self._record.batches(), self._today())
        known = self._supposed.get(wish)
        if known is not None and known[0] == now:
            return known[1]
        if not self._supposing.acquire(blocking=False):
            raise RefusedError(ANOTHER_ONE)
        try:
            made = self.plan(wish)
            while len(self._supposed) >= SUPPOSED_AT_MOST:
                del self._supposed[next(iter(self._supposed))]
            self._supposed[wish] = now, made
        finally:
            self._supposing.release()
        return made

    def under_way(self) -> tuple[UnderWay, ...]:
        """Return the batches that live, with what is still to come of each."""
        batches = self._record.batches()
        own = learnt(batches.values())
        return tuple(self._under_way(b, own) for b in batches.values() if not b.ended)

    @property
    def spaces(self) -> tuple[Space, ...]:
        """Return where batches can stand."""
        return self._rooms

    def starts(self) -> tuple[PlannedStart, ...]:
        """Return the starts that the wish of the settings asks for, the next first.

        As they were planned when `renew` was last called, here or in another process: a plan
        takes seconds on a small computer, and a page must not wait for it. While every place is
        taken none is due.
        """
        if self._promise is None and self._wanted:
            with self._books.read() as book:
                self._promise = self._standing(book)
        return () if self._promise is None else self._left(self._promise)

    def renew(self) -> None:
        """Plan the starts anew, if the plan does not stand any more; may take seconds."""
        if not self._wanted:
            return
        try:
            self._renewed()
        except (RefusedError, UnknownNameError):
            # Said at the start and to whoever asks for the plan; the rounds go on without it.
            self._promise = None

    def _renewed(self) -> Promise:
        """Return the plan that stands, made anew if none does."""
        with self._turn:
            with self._books.read() as book:
                standing = self._standing(book)
            if standing is None:
                batches, today = self._record.batches(), self._today()
                made = self._planned(self._wanted, batches, WEEKS)
                fresh = promise(made, self._wanted, self._rooms, batches.values(), today)
                with self._books.write() as book:
                    # Another process may have been sooner; what it kept is what people were told.
                    standing = self._standing(book) or fresh
                    if standing is fresh:
                        keep(book, fresh)
            self._promise = standing
            return standing

    def _standing(self, book: Book) -> Promise | None:
        """Return the plan that is kept, if it still stands."""
        found = kept(book)
        if found is None or not found.answers(self._wanted, self._rooms):
            return None
        holds = found.holds(self._record.batches().values(), self._today())
        return found if holds else None

    def _left(self, standing: Promise) -> tuple[PlannedStart, ...]:
        """Return the starts that are still to be made, put off while there is no room."""
        living = [b for b in self._record.batches().values() if b.ended is None]
        left, today = standing.left(self._record.batches().values()), self._today()
        taken = [
            (room.chamber, _shelf(batch, room) or "")
            for batch in living
            for room in self._rooms
            if room.chamber == batch.chamber
        ]
        if len(taken) < sum(len(room.shelves) * room.holds for room in self._rooms):
            return tuple(where_free(left, self._rooms, taken, today))
        return tuple(put_off(start, today + timedelta(days=1)) for start in left)

    def _planned(
        self, asked: tuple[Wanted, ...], batches: Mapping[int, Batch], weeks: int
    ) -> Plan:
        own = learnt(batches.values())
        living = (batch for batch in batches.values() if not batch.ended)
        under_way = tuple(self._under_way(batch, own) for batch in living)
        timings = {
            name: found
            for name in dict.fromkeys(each.species for each in asked)
            if (found := timing(self._table.get(name), own)) is not None
        }
        return plan(asked, self._rooms, under_way, self._table, self._today(), weeks, timings)

    # ------------------------------------------------------------------ what is under way

    def _under_way(self, batch: Batch, own: OwnTimes) -> UnderWay:
        species, now = self._table.known(batch.start.species), self._clock.now()
        ahead = dues(batch, species, own, now)
        spent = [due.window for due in ahead if due.kind is DueKind.SPENT]
        opens = [due.window for due in ahead if due.kind in (DueKind.OPEN, DueKind.CASE)]
        room = next((room for room in self._rooms if room.chamber == batch.chamber), None)
        return UnderWay(
            batch=batch.id,
            species=species.name,
            chamber=room.chamber if room else None,
            shelf=_shelf(batch, room),
            open=batch.open,
            opens=self._local(opens[0]) if batch.sealed and opens else None,
            leaves=self._local(spent[0] if spent else Window(now, now + NOT_KNOWN)),
            harvests=tuple(self._awaited(batch, ahead, timing(species, own))),
        )

    def _awaited(
        self, batch: Batch, ahead: Sequence[Due], times: Timing | None
    ) -> Iterator[Awaited]:
        """Yield what is still to come, of as many flushes as every crop brings."""
        dry, species = dry_g(batch), self._table.known(batch.start.species)
        if dry is None or times is None:
            return
        low, high = batch_kg(species, dry)
        for due in ahead:
            coming = due.kind in (DueKind.HARVEST, DueKind.FLUSH)
            if coming and due.flush <= len(times.flushes):
                share = times.flushes[due.flush - 1].share
                window = self._local(due.window)
                yield Awaited(window.low, window.high, low * share, high * share)

    def _local(self, window: Window) -> Window:
        return Window(window.low.astimezone(self._zone), window.high.astimezone(self._zone))

    def _day(self, time: datetime) -> date:
        return time.astimezone(self._zone).date()

    def _today(self) -> date:
        return self._day(self._clock.now())


# ------------------------------------------------------------------ where there is room


def spaces(house: House) -> tuple[Space, ...]:
    """Return where batches can stand: the chambers that have a stage."""
    return tuple(_space(c) for c in house.chambers.values() if c.stage is not None)


def _space(chamber: Chamber) -> Space:
    lived_in = OPEN_WHERE_PEOPLE_LIVE if chamber.living_space else None
    return Space(
        chamber=chamber.name,
        # One without shelves is one place.
        shelves=chamber.shelves or ("",),
        holds=chamber.shelf_holds or 1,
        open_at_most=chamber.open_at_most or lived_in,
        takes_open=chamber.stage is Stage.FRUITING,
    )


def _shelf(batch: Batch, room: Space | None) -> str | None:
    """Return the shelf as the plan knows it."""
    if room is None or batch.shelf in room.shelves:
        return batch.shelf
    return room.shelves[0] if len(room.shelves) == 1 else None
