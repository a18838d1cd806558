"""One question, one answer in days: what is under way comes first, then starts are searched."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from chamberwatch.core.growing.rotation.goal import WAIT_D, Calendar, Harvest, Kind, aim, by_week
from chamberwatch.core.growing.rotation.improve import Choice, Draft, choices, search
from chamberwatch.core.growing.rotation.plan import WEEK_D, Space, UnderWay
from chamberwatch.core.growing.rotation.room import (
    Held,
    Room,
    Stay,
    dealt,
    empty_room,
    grounds,
)
from chamberwatch.core.growing.species import SpeciesTable


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
        one_air: as if all species could share a chamber.
    """

    kinds: tuple[Kind, ...]
    spaces: tuple[Space, ...]
    under_way: tuple[UnderWay, ...]
    table: SpeciesTable
    today: date
    weeks: int
    step: int = 1
    one_air: bool = False

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
    """

    draft: Draft
    pool: tuple[Choice, ...]
    planned: tuple[Stay, ...]
    under_way: Mapping[int, Stay]


def solved(ask: Ask, work: int) -> Solved:
    """Return the best plan that is found.

    Args:
        ask: what is wanted.
        work: how much to improve it; 0: not at all.
    """
    calendar = ask.calendar
    days = calendar.first + calendar.all * WEEK_D
    ground = grounds(ask.spaces, [ask.table.known(name) for name in ask.names], days)
    if ask.one_air:
        ground = replace(ground, apart=((),) * len(ask.names))
    room = empty_room(ground)
    under_way = _settled(ask, room)
    came = [
        by_week(_middles(ask, kind, under_way), calendar.first, calendar.all) for kind in ask.kinds
    ]
    aims = tuple(aim(kind, n, came[n], calendar) for n, kind in enumerate(ask.kinds))
    pool = choices(room.grounds, ask.kinds, calendar, ask.step)
    draft = search(Draft(room, Harvest(aims, calendar, came)), pool, work)
    planned = tuple(sorted(draft.stays, key=lambda stay: (stay.on, stay.opens, stay)))
    return Solved(draft, pool, planned, under_way)


def _middles(
    ask: Ask, kind: Kind, under_way: Mapping[int, Stay]
) -> Iterator[tuple[int, int, float]]:
    for batch in ask.under_way:
        if batch.species == kind.wanted.species:
            for low, high, least, most in crops(ask, batch, under_way[batch.batch]):
                yield low, high, (least + most) / 2.0


def crops(ask: Ask, batch: UnderWay, stay: Stay) -> Iterator[tuple[int, int, float, float]]:
    """Return the flushes of a batch under way: first and last day, least and most. [kg].

    Nothing comes before today, and nothing of one that is not opened.
    """
    if is_stuck(batch, stay):
        return
    late = _late(ask, batch, stay)
    for flush in batch.harvests:
        low = max(ask.day(flush.low) + late, 0)
        yield low, max(ask.day(flush.high) + late, low), flush.kg_low, flush.kg_high


def is_stuck(batch: UnderWay, stay: Stay) -> bool:
    """Tell whether a sealed batch in a chamber finds no room to be opened."""
    return not batch.open and batch.opens is not None and stay.bed < 0 <= stay.store


def _late(ask: Ask, batch: UnderWay, stay: Stay) -> int:
    """Return by how many days it is opened later than its window says."""
    if batch.open or batch.opens is None or stay.bed < 0:
        return 0
    return stay.until - max(ask.day(batch.opens.high), 0)


def _settled(ask: Ask, room: Room) -> dict[int, Stay]:
    """Book the batches under way: those that are open, then sealed ones as they become ready."""
    chambers = {space.chamber: number for number, space in enumerate(ask.spaces)}
    order = sorted(ask.under_way, key=lambda u: (not u.open, _ready(ask, u), u.batch))
    found = {u.batch: _standing(ask, u, chambers.get(u.chamber or "", -1)) for u in order}
    # Each holds the place where it stands, before any of them is moved.
    for stay in found.values():
        room.book(stay)
    for batch in order:
        room.book(found[batch.batch], -1)
        found[batch.batch] = _opening(ask, batch, found[batch.batch], room)
        room.book(found[batch.batch])
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
        for bed in beds:
            opening = Stay(stay.kind, 0, opens, until, stay.end + until - high, stay.store, bed)
            if room.fits(room.grounds.need(opening)):
                return opening
    return stay


def shelved(ask: Ask, found: Solved) -> tuple[dict[int, Held], ...]:
    """Return who stands on which shelf of each chamber from when to when.

    Twice the place in `planned`, or after those in `under_way`, is the key of a batch where it
    began; one more where it was moved to be opened.

    Args:
        ask: what was wanted.
        found: the plan.
    """
    shelves = {u.batch: u.shelf or "" for u in ask.under_way}
    batches = [(stay, "") for stay in found.planned]
    batches += [(stay, shelves[batch]) for batch, stay in found.under_way.items()]
    return tuple(_shelved(space, n, batches) for n, space in enumerate(ask.spaces))


def _shelved(space: Space, chamber: int, batches: Sequence[tuple[Stay, str]]) -> dict[int, Held]:
    held = []
    for key, (stay, shelf) in enumerate(batches):
        if stay.store == chamber:
            until = stay.end if stay.bed == chamber else stay.until
            held.append(Held(stay.on, until, shelf, 2 * key))
        elif stay.bed == chamber:
            held.append(Held(stay.opens, stay.end, "", 2 * key + 1))
    shelves = dealt(space, held)
    return {h.key: h._replace(shelf=shelves[h.key]) for h in held if h.key in shelves}
