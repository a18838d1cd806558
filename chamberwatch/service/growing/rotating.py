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
    Awaited,
    Plan,
    PlannedStart,
    Space,
    Timing,
    UnderWay,
    Wanted,
    batch_kg,
    timing,
)
from chamberwatch.core.growing.rotation.promise import Promise, promise
from chamberwatch.core.growing.rotation.saying import plan_words
from chamberwatch.core.growing.rotation.search import plan
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.service.growing.duties import Batches
from chamberwatch.service.ports import Clock

WEEKS: Final = 12

OPEN_WHERE_PEOPLE_LIVE: Final = 2
"""One or two open blocks at a time are what people fruit in a living space without a duct (common
practice)."""

NOT_KNOWN: Final = timedelta(weeks=52)
"""Of a batch of which nobody can say when it is spent the place counts as taken for so long."""

NOTHING_WANTED: Final = (
    "Nothing is wanted, so nothing can be planned. Add a [[rotation]] to the settings, with "
    "species, kg_per_week and batch_dry_g, or ask with a wish of your own."
)


@dataclass(frozen=True, slots=True)
class PlanNow:
    """A plan, and what is said of it.

    Attributes:
        plan: what to start when, and what comes of it.
        words: sentences about it.
        asked: the wish that it is for.
    """

    plan: Plan
    words: tuple[str, ...]
    asked: tuple[Wanted, ...]


class Rotating:
    """Plans the starts. Safe to ask from any thread."""

    def __init__(
        self,
        record: Batches,
        table: SpeciesTable,
        house: House,
        wanted: Sequence[Wanted],
        clock: Clock,
        zone: tzinfo,
    ) -> None:
        """Begin with the wish of the settings; days are those of `zone`."""
        self._record = record
        self._table = table
        self._house = house
        self._wanted = tuple(wanted)
        self._clock = clock
        self._zone = zone
        self._turn = threading.Lock()
        self._promise: Promise | None = None

    def plan(self, wanted: Sequence[Wanted] | None = None, weeks: int = WEEKS) -> PlanNow:
        """Return the plan for a wish, for that of the settings where none is given.

        That of the settings is the one that is kept to this week.

        Raises:
            UnknownNameError: no such species.
            RefusedError: nothing is wanted, or it can't be planned; the text says what is missing.
        """
        asked = self._wanted if wanted is None else tuple(wanted)
        if not asked:
            raise RefusedError(NOTHING_WANTED)
        batches = self._record.batches()
        made = self._planned(asked, batches, weeks)
        if wanted is None:
            self.renew()
            last = self._today() + timedelta(weeks=weeks)
            made = replace(made, starts=tuple(s for s in self.starts() if s.on < last))
        return PlanNow(made, plan_words(made, self._table), asked)

    def starts(self) -> tuple[PlannedStart, ...]:
        """Return the starts that the wish of the settings asks for, the next first.

        As they were planned when `renew` was last called: a plan takes seconds on a small
        computer, and a page must not wait for it. While every place is taken none is due.
        """
        if self._promise is None:
            return ()
        batches, today = self._record.batches(), self._today()
        left = self._promise.left(batches.values())
        if self._has_room(batches):
            return left
        tomorrow = today + timedelta(days=1)
        return tuple(replace(start, on=max(start.on, tomorrow)) for start in left)

    def renew(self) -> None:
        """Plan the starts anew, if the plan does not stand any more; may take seconds."""
        with self._turn:
            batches, today = self._record.batches(), self._today()
            if self._promise is None or not self._promise.holds(batches.values(), today):
                self._promise = promise(self._afresh(batches), batches.values(), today)

    def _afresh(self, batches: Mapping[int, Batch]) -> tuple[PlannedStart, ...]:
        if not self._wanted:
            return ()
        try:
            return self._planned(self._wanted, batches, WEEKS).starts
        except (RefusedError, UnknownNameError):
            # Said at the start and to whoever asks for the plan; the rounds go on without it.
            return ()

    def _has_room(self, batches: Mapping[int, Batch]) -> bool:
        """Tell whether one more batch can stand anywhere today."""
        rooms = spaces(self._house)
        names = {room.chamber for room in rooms}
        there = sum(b.ended is None and b.chamber in names for b in batches.values())
        return there < sum(len(room.shelves) * room.holds for room in rooms)

    def _planned(
        self, asked: tuple[Wanted, ...], batches: Mapping[int, Batch], weeks: int
    ) -> Plan:
        own = learnt(batches.values())
        timings = {
            name: found
            for name in dict.fromkeys(each.species for each in asked)
            if (found := timing(self._table.get(name), own)) is not None
        }
        rooms = spaces(self._house)
        under_way = tuple(
            self._under_way(batch, own, rooms) for batch in batches.values() if not batch.ended
        )
        return plan(asked, rooms, under_way, self._table, self._today(), weeks, timings)

    # ------------------------------------------------------------------ what is under way

    def _under_way(self, batch: Batch, own: OwnTimes, rooms: Sequence[Space]) -> UnderWay:
        species, now = self._table.known(batch.start.species), self._clock.now()
        ahead = dues(batch, species, own, now)
        spent = [due.window for due in ahead if due.kind is DueKind.SPENT]
        opens = [due.window for due in ahead if due.kind in (DueKind.OPEN, DueKind.CASE)]
        room = next((room for room in rooms if room.chamber == batch.chamber), None)
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
