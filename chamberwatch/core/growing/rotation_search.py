"""The plan of starts for a wish: what to start when and where, and what comes of it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.rotation import (
    WEEK_D,
    Awaited,
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
from chamberwatch.core.growing.rotation_gives import Gap, gaps, gives, helps
from chamberwatch.core.growing.rotation_goal import (
    WAIT_D,
    Calendar,
    Harvest,
    Kind,
    aim,
    by_week,
    kind_of,
)
from chamberwatch.core.growing.rotation_improve import WORK, Choice, Draft, choices, search
from chamberwatch.core.growing.rotation_room import Grounds, Held, Room, Stay, dealt, grounds
from chamberwatch.core.growing.species import SpeciesTable

WORK_AGAIN: Final = 0
"""What would help is reckoned without improving: only the difference counts."""


def plan(
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
    kinds = tuple(_kind(each, table, timings or {}) for each in wanted)
    ask = Ask(kinds, tuple(spaces), tuple(under_way), table, today, weeks)
    return _told(ask, solved(ask, WORK), timings or {})


def _kind(wanted: Wanted, table: SpeciesTable, timings: Mapping[str, Timing]) -> Kind:
    species = table.get(wanted.species)
    time, kg = timings.get(species.name) or timing(species), batch_kg(species, wanted.batch_dry_g)
    if time is None or not kg[0]:
        raise RefusedError(lacking(species))
    return kind_of(wanted, kg, time)


# ------------------------------------------------------------------ one question, one answer


@dataclass(frozen=True, slots=True)
class Ask:
    """All that a plan is asked of.

    Attributes:
        kinds: what is wanted.
        spaces: where batches can stand.
        under_way: those that were started already.
        table: all species.
        today: the first day.
        weeks: how many to plan.
        step: days between possible starts.
    """

    kinds: tuple[Kind, ...]
    spaces: tuple[Space, ...]
    under_way: tuple[UnderWay, ...]
    table: SpeciesTable
    today: date
    weeks: int
    step: int = 1

    @property
    def names(self) -> tuple[str, ...]:
        """Return the species that are wanted, then others under way."""
        wanted = [kind.wanted.species for kind in self.kinds]
        return tuple(dict.fromkeys((*wanted, *(u.species for u in self.under_way))))

    @property
    def calendar(self) -> Calendar:
        """Return its weeks, with those up to the end of the last batch."""
        first = -self.today.weekday()
        longest = max((kind.whole for kind in self.kinds), default=0)
        last = first + self.weeks * WEEK_D + longest
        return Calendar(first, self.weeks, (last - first) // WEEK_D + 1)

    def day(self, time: date) -> int:
        """Return the number of a day; today is 0."""
        day = time.date() if isinstance(time, datetime) else time
        return (day - self.today).days


@dataclass(frozen=True, slots=True)
class Solved:
    """A plan in days from today.

    Attributes:
        draft: what is planned, with all that stands there.
        pool: what could have been started.
        planned: by day.
        under_way: the stays of batches under way, by their number.
        late: days by which each of those is opened later than expected.
        stuck: those that find no room to be opened.
    """

    draft: Draft
    pool: tuple[Choice, ...]
    planned: tuple[Stay, ...]
    under_way: Mapping[int, Stay]
    late: Mapping[int, int]
    stuck: tuple[int, ...]

    @property
    def grounds(self) -> Grounds:
        """Return what it was planned on."""
        return self.draft.room.grounds


def solved(ask: Ask, work: int = WORK_AGAIN) -> Solved:
    """Return the best plan that is found.

    Args:
        ask: what is wanted.
        work: how much to improve it.
    """
    calendar = ask.calendar
    days = calendar.first + calendar.all * WEEK_D + WEEK_D
    room = Room(grounds(ask.spaces, [ask.table.known(name) for name in ask.names], days))
    settled = _settled(ask, room)
    under_way = {number: stay for number, (stay, _) in settled.items()}
    late = {number: days_late for number, (_, days_late) in settled.items()}
    came = [
        by_week(_crops(ask, kind.wanted.species, late), calendar.first, calendar.all)
        for kind in ask.kinds
    ]
    aims = tuple(aim(kind, n, came[n], calendar) for n, kind in enumerate(ask.kinds))
    pool = choices(room.grounds, ask.kinds, calendar, ask.step)
    draft = search(Draft(room, Harvest(aims, calendar, came)), pool, work)
    planned = tuple(sorted(draft.stays, key=lambda stay: (stay.on, stay.opens, stay)))
    stuck = tuple(u.batch for u in ask.under_way if u.opens is not None and not u.open
                  and under_way[u.batch].bed < 0)
    return Solved(draft, pool, planned, under_way, late, stuck)


def _crops(ask: Ask, species: str, late: Mapping[int, int]) -> Iterator[tuple[int, int, float]]:
    for batch in ask.under_way:
        if batch.species == species:
            for low, high, least, most in _due(ask, batch, late):
                yield low, high, (least + most) / 2.0


def _due(
    ask: Ask, batch: UnderWay, late: Mapping[int, int]
) -> Iterator[tuple[int, int, float, float]]:
    """Return what comes of a batch under way; nothing comes before today."""
    for crop in batch.harvests:
        shift = late[batch.batch]
        low = max(ask.day(crop.low) + shift, 0)
        yield low, max(ask.day(crop.high) + shift, low), crop.kg_low, crop.kg_high


def _settled(ask: Ask, room: Room) -> dict[int, tuple[Stay, int]]:
    """Book the batches under way: those that are open, then sealed ones as they become ready."""
    chambers = {space.chamber: number for number, space in enumerate(ask.spaces)}
    found = {}
    order = sorted(ask.under_way, key=lambda u: (not u.open, _ready(ask, u), u.batch))
    stood = [(u, _standing(ask, u, chambers.get(u.chamber or "", -1))) for u in order]
    # Each holds the place where it stands, before any of them is moved.
    for _, stay in stood:
        room.book(stay)
    for batch, stay in stood:
        room.book(stay, -1)
        opening = _opening(ask, batch, stay, room)
        found[batch.batch] = (opening, _lateness(ask, batch, opening))
        room.book(opening)
    return found


def _ready(ask: Ask, batch: UnderWay) -> int:
    return 0 if batch.opens is None else ask.day(batch.opens.high)


def _standing(ask: Ask, batch: UnderWay, chamber: int) -> Stay:
    """Return the stay of a batch that stays where it is, and sealed if it is."""
    kind, end = ask.names.index(batch.species), max(ask.day(batch.leaves.high), 1)
    if batch.open:
        return Stay(kind, 0, 0, 0, end, chamber, chamber)
    return Stay(kind, 0, end, end, end, chamber, -1)


def _opening(ask: Ask, batch: UnderWay, stay: Stay, room: Room) -> Stay:
    """Return the stay of a sealed batch with its opening, where there is room for that in time."""
    if batch.open or batch.opens is None or stay.store < 0:
        return stay
    low, high = (max(ask.day(day), 0) for day in (batch.opens.low, batch.opens.high))
    ready = (low + high + 1) // 2
    beds = sorted(room.grounds.beds(stay.kind), key=lambda bed: bed != stay.store)
    for opens in range(ready, ready + WAIT_D + 1):
        until = max(opens, high)
        end = stay.end + until - high
        for bed in beds:
            opening = Stay(stay.kind, 0, opens, until, end, stay.store, bed)
            if room.fits(opening):
                return opening
    return stay


def _lateness(ask: Ask, batch: UnderWay, stay: Stay) -> int:
    """Return by how many days it is opened later than its window says."""
    if batch.open or batch.opens is None or stay.bed < 0:
        return 0
    return max(stay.until - max(ask.day(batch.opens.high), 0), 0)


# ------------------------------------------------------------------ dates and words


def _told(ask: Ask, found: Solved, timings: Mapping[str, Timing]) -> Plan:
    missing = gaps(found.draft.harvest)
    shelves = _dealt(ask, found)
    changes = helps(ask, found, missing) if missing else ()
    species = {kind.wanted.species: ask.table.get(kind.wanted.species) for kind in ask.kinds}
    rates = {k.wanted.species: starts_per_week(k.wanted, species[k.wanted.species])
             for k in ask.kinds}
    times = {name: timings.get(name) or timing(each) for name, each in species.items()}
    return Plan(
        starts=tuple(_starts(ask, found, shelves)),
        weeks=tuple(_weeks(ask, found)),
        gives=gives(ask, found, missing, shelves, changes),
        starts_per_week=rates,
        slots={n: slots_for(rates[n], time) for n, time in times.items() if time is not None},
        meets=not missing,
        helps=changes,
        stuck=found.stuck,
    )
