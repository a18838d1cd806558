"""Room for batches: what stands where on which day, and whether one more fits.

Shelves of a chamber are alike, and a batch stays on its shelf for as long as it is in its
chamber. So it is enough that never more stand in a chamber than its shelves take: then they can
be dealt out in the order in which batches come. Counts of all days are packed into one whole
number, 16 bits a day, so that a stay is booked by one addition and checked by one more.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from chamberwatch.core.growing.rotation import Space, colonising_c, fruiting_c, overlaps, share_air
from chamberwatch.core.growing.species import Species

_BITS: Final = 16
_TOP: Final = 1 << (_BITS - 1)

NO_LIMIT: Final = _TOP - 1
"""More batches than any chamber takes."""


class Stay(NamedTuple):
    """A batch from its start to its end, in days from today.

    Attributes:
        kind: number of its species.
        on: it is started.
        opens: it is opened, if it is white through by then.
        until: it has left its place in the store, for then it is white through for certain.
        end: its place is free again.
        store: number of the chamber where it colonises; -1: in none.
        bed: number of the chamber where it fruits; -1: in none.
    """

    kind: int
    on: int
    opens: int
    until: int
    end: int
    store: int
    bed: int


@dataclass(frozen=True, slots=True)
class Grounds:
    """What does not change while a plan is made.

    Attributes:
        spaces: the chambers.
        species: all that is wanted or stands there.
        days: how many there are.
        apart: by species, those that can't be open in the same chamber.
        ones: a one for each day.
    """

    spaces: tuple[Space, ...]
    species: tuple[Species, ...]
    days: int
    apart: tuple[tuple[int, ...], ...]
    ones: int

    def room(self, chamber: int) -> int:
        """Return how many batches a chamber takes."""
        space = self.spaces[chamber]
        return min(len(space.shelves) * space.holds, NO_LIMIT)

    def open_room(self, chamber: int) -> int:
        """Return how many open ones it takes."""
        space = self.spaces[chamber]
        limit = NO_LIMIT if space.open_at_most is None else space.open_at_most
        return min(limit, self.room(chamber)) if space.takes_open else 0

    def mask(self, since: int, until: int) -> int:
        """Return a one for each day of a stay; nothing for one that is empty."""
        first, last = max(since, 0), min(until, self.days)
        if last <= first:
            return 0
        return (self.ones & ((1 << (_BITS * (last - first))) - 1)) << (_BITS * first)

    def beds(self, kind: int) -> tuple[int, ...]:
        """Return the chambers whose air suits it open."""
        wants = fruiting_c(self.species[kind])
        return tuple(
            number
            for number, space in enumerate(self.spaces)
            if self.open_room(number) and overlaps(wants, space.temperature_c)
        )

    def stores(self, kind: int, bed: int) -> tuple[int, ...]:
        """Return the chambers that suit it sealed: stores for sealed ones first, then its bed."""
        wants = colonising_c(self.species[kind])
        found = [
            number
            for number, space in enumerate(self.spaces)
            if self.room(number) and overlaps(wants, space.temperature_c)
        ]
        return tuple(sorted(found, key=lambda n: (self.spaces[n].takes_open, n != bed, n)))


def grounds(spaces: Sequence[Space], species: Sequence[Species], days: int) -> Grounds:
    """Return the grounds of a plan.

    Args:
        spaces: the chambers.
        species: all that is wanted or stands there.
        days: over which shelves are booked.
    """
    apart = tuple(
        tuple(n for n, other in enumerate(species) if n != k and not share_air(one, other))
        for k, one in enumerate(species)
    )
    ones = sum(1 << (_BITS * day) for day in range(days))
    return Grounds(tuple(spaces), tuple(species), days, apart, ones)


@dataclass(slots=True)
class Room:
    """How many stand where, day by day."""

    grounds: Grounds
    taken: list[int] = field(default_factory=list)
    opened: list[int] = field(default_factory=list)
    by_kind: list[list[int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin empty."""
        count = len(self.grounds.spaces)
        self.taken, self.opened = [0] * count, [0] * count
        self.by_kind = [[0] * len(self.grounds.species) for _ in range(count)]

    def copy(self) -> "Room":
        """Return another with the same in it."""
        made = Room(self.grounds)
        made.taken, made.opened = list(self.taken), list(self.opened)
        made.by_kind = [list(kinds) for kinds in self.by_kind]
        return made

    def book(self, stay: Stay, sign: int = 1) -> None:
        """Put a batch in, or with -1 take it out again."""
        bed, store = stay.bed, stay.store
        if store == bed >= 0:
            self.taken[bed] += sign * self.grounds.mask(stay.on, stay.end)
        elif store >= 0:
            self.taken[store] += sign * self.grounds.mask(stay.on, stay.until)
        if bed < 0:
            return
        fruiting = sign * self.grounds.mask(stay.opens, stay.end)
        if store != bed:
            self.taken[bed] += fruiting
        self.opened[bed] += fruiting
        self.by_kind[bed][stay.kind] += fruiting

    def fits(self, stay: Stay) -> bool:
        """Tell whether one more has room, in air that suits it."""
        return self.hindrance(stay) == ""

    def hindrance(self, stay: Stay) -> str:
        """Return what stands in the way of one more: open, air, shelf or store; empty: nothing."""
        bed, store = stay.bed, stay.store
        fruiting = self.grounds.mask(stay.opens, stay.end)
        if _full(self.opened[bed], self.grounds.open_room(bed), fruiting):
            return OPEN
        # Only who is there on one of these days can be in the way.
        field_mask = fruiting * ((1 << _BITS) - 1)
        kinds = self.by_kind[bed]
        if any(kinds[other] & field_mask for other in self.grounds.apart[stay.kind]):
            return AIR
        in_bed = self.grounds.mask(stay.on, stay.end) if store == bed else fruiting
        if _full(self.taken[bed], self.grounds.room(bed), in_bed):
            return SHELF
        if store != bed:
            stored = self.grounds.mask(stay.on, stay.until)
            if _full(self.taken[store], self.grounds.room(store), stored):
                return STORE
        return ""

    def most(self, chamber: int) -> int:
        """Return how many stand there at the fullest."""
        packed, most = self.taken[chamber], 0
        while packed:
            most = max(most, packed & (_TOP - 1))
            packed >>= _BITS
        return most


OPEN, AIR, SHELF, STORE = "open", "air", "shelf", "store"


def _full(count: int, room: int, days: int) -> bool:
    """Tell whether there is no room for one more on one of the days.

    With the top bit less the room added, a full day is one whose top bit comes up.
    """
    return bool((count + (_TOP - room) * days) & (days << (_BITS - 1)))


# ------------------------------------------------------------------ dealing out the shelves


class Held(NamedTuple):
    """A stretch of days that one batch stands in one chamber.

    Attributes:
        since: first day.
        until: the day it is free again.
        shelf: where it has to stand; empty: anywhere there.
        key: of the batch.
    """

    since: int
    until: int
    shelf: str
    key: int


def dealt(space: Space, held: Sequence[Held]) -> dict[int, str]:
    """Return the shelf of each; one for which there is none is missing.

    Those there today come first, then by their first day; each gets the place that was left last,
    so that others stay free for longer.

    Args:
        space: the chamber.
        held: who stands there from when to when.
    """
    free = [(0, n, shelf) for n, shelf in enumerate(space.shelves * space.holds)]
    found: dict[int, str] = {}
    order = sorted(held, key=lambda h: (h.since, h.shelf not in space.shelves, h.until, h.key))
    for stretch in order:
        fitting = [track for track in free if track[0] <= stretch.since]
        own = [track for track in fitting if track[2] == stretch.shelf] or fitting
        if own:
            _, number, shelf = max(own, key=lambda track: (track[0], -track[1]))
            free[number] = (stretch.until, number, shelf)
            found[stretch.key] = shelf
    return found
