"""The plan of starts for a wish: what to start when and where, what comes of it, what gives."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.rotation import (
    WEEK_D,
    Awaited,
    FlushAt,
    Gives,
    Plan,
    PlannedStart,
    Space,
    Timing,
    UnderWay,
    Wanted,
    WeekExpectation,
    batch_kg,
    lacking,
    slots_for,
    starts_per_week,
    timing,
)
from chamberwatch.core.growing.rotation_goal import WAIT_D, Calendar, Harvest, aim, by_week, kind_of
from chamberwatch.core.growing.rotation_improve import WORK, Choice, Draft, choices, search
from chamberwatch.core.growing.rotation_room import (
    AIR,
    OPEN,
    SHELF,
    STORE,
    Grounds,
    Held,
    Room,
    Stay,
    dealt,
    grounds,
)
from chamberwatch.core.growing.rotation_words import Change, help_words, why_words
from chamberwatch.core.growing.species import Species, SpeciesTable

SLACK: Final = 0.1
"""A week that misses the least wanted by no more than this part gives nothing: no crop can be
foretold closer (our choice)."""

HELPS_FROM: Final = 0.1
"""A change helps that brings at least this part of what is missing (our choice)."""


@dataclass(frozen=True, slots=True)
class _Ask:
    """All that a plan is asked of."""

    wanted: tuple[Wanted, ...]
    spaces: tuple[Space, ...]
    under_way: tuple[UnderWay, ...]
    table: SpeciesTable
    today: date
    weeks: int
    timings: Mapping[str, Timing]
    step: int = 1


def plan(  # noqa: PLR0913 - each is a thing of its own
    wanted: Sequence[Wanted],
    spaces: Sequence[Space],
    under_way: Sequence[UnderWay],
    table: SpeciesTable,
    today: date,
    weeks: int = 12,
    timings: Mapping[str, Timing] | None = None,
) -> Plan:
    """Return the best plan that is found, and what gives where it falls short of the wish.

    Args:
        wanted: what is wanted, each species once.
        spaces: where batches can stand.
        under_way: those that were started already; they hold their slots first.
        table: all species.
        today: the first day on which something can be started.
        weeks: how many to plan, from that of today.
        timings: how long batches take, where that is not as the species' figures say.

    Raises:
        RefusedError: a species has too few figures; the text says which to add.
        UnknownNameError: there is no such species.
    """
    times = {each.species: _time(table.get(each.species), timings or {}) for each in wanted}
    ask = _Ask(
        tuple(wanted), tuple(spaces), tuple(under_way), table, today, weeks, times
    )
    return solve(ask).plan()


def _time(species: Species, timings: Mapping[str, Timing]) -> Timing:
    time = timings.get(species.name) or timing(species)
    missing = lacking(species)
    if time is None or (missing and not any(batch_kg(species, 1.0))):
        raise RefusedError(missing)
    return time


# ------------------------------------------------------------------ one question, one answer


@dataclass(frozen=True, slots=True)
class _Solved:
    """A plan that was made, with what it was made from."""

    ask: _Ask
    grounds: Grounds
    calendar: Calendar
    draft: Draft
    opened: Mapping[int, Stay]
    stuck: tuple[int, ...]

    # -------------------------------------------------------------- what gives

    def missing(self) -> dict[tuple[int, int], float]:
        """Return how much of the least wanted does not come, by kind and week. [kg]."""
        return {
            (number, week): aimed.least[week] - came[week]
            for number, (aimed, came) in enumerate(
                zip(self.draft.harvest.aims, self.draft.harvest.came, strict=True)
            )
            for week in range(self.calendar.weeks)
            if came[week] < aimed.least[week] * (1.0 - SLACK) - 1e-9
        }

    def plan(self) -> Plan:
        """Return it with dates and words."""
        ask, gaps = self.ask, self.missing()
        shelves = self._shelves()
        helps = tuple(_helps(self)) if gaps else ()
        rates = {w.species: starts_per_week(w, ask.table.get(w.species)) for w in ask.wanted}
        return Plan(
            starts=tuple(self._starts(shelves)),
            weeks=tuple(self._weeks()),
            gives=tuple(self._gives(gaps, shelves, helps)),
            starts_per_week=rates,
            slots={name: slots_for(rate, ask.timings[name]) for name, rate in rates.items()},
            meets=not gaps,
            helps=helps,
            stuck=self.stuck,
        )

    def _day(self, day: int) -> date:
        return self.ask.today + timedelta(days=day)

    def _monday(self, week: int) -> date:
        return self._day(self.calendar.first + week * WEEK_D)

    # -------------------------------------------------------------- who stands where

    def _held(self, chamber: int) -> list[Held]:
        """Return who stands in a chamber from when to when; even keys: the store, odd: the bed."""
        found = []
        for key, stay, shelf in self._all():
            if stay.store == chamber:
                until = stay.end if stay.bed == chamber else stay.until
                found.append(Held(stay.on, until, shelf, 2 * key))
            elif stay.bed == chamber:
                found.append(Held(stay.opens, stay.end, "", 2 * key + 1))
        return found

    def _all(self) -> Iterator[tuple[int, Stay, str]]:
        """Return a number, the stay and the shelf, where it has one, of all batches."""
        planned = sorted(self.draft.stays)
        shelves = {u.batch: u.shelf or "" for u in self.ask.under_way}
        for key, stay in enumerate(planned):
            yield key, stay, ""
        for key, (batch, stay) in enumerate(self.opened.items(), start=len(planned)):
            yield key, stay, shelves[batch]

    def _shelves(self) -> list[dict[int, str]]:
        return [dealt(space, self._held(n)) for n, space in enumerate(self.grounds.spaces)]

    def _starts(self, shelves: Sequence[Mapping[int, str]]) -> Iterator[PlannedStart]:
        for key, stay in enumerate(sorted(self.draft.stays, key=_by_day)):
            kind = self.draft.harvest.aims[stay.kind].kind
            number = sorted(self.draft.stays).index(stay)
            number = self._numbered(key)
            store, bed = self.grounds.spaces[stay.store], self.grounds.spaces[stay.bed]
            there = shelves[stay.store][2 * number]
            moved = shelves[stay.bed].get(2 * number + 1, there)
            yield PlannedStart(
                kind.wanted.species,
                self._day(stay.on),
                (store.chamber, there),
                self._day(stay.opens),
                (bed.chamber, moved),
                self._day(stay.end),
                tuple(
                    Awaited(
                        self._day(low), self._day(high), part * kind.kg[0], part * kind.kg[1]
                    )
                    for low, high, part in kind.windows(stay)
                ),
            )
