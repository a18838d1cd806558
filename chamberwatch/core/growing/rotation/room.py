"""Room for batches: what stands where on which day, and whether one more fits.

Shelves of a chamber are alike, and a batch stays on its shelf for as long as it is in its
chamber. So it is enough that never more stand in a chamber than its shelves take: then they can
be dealt out in the order in which batches come. Counts of all days are packed into one whole
number, 16 bits a day, so that a stay is booked by one addition and checked by one more.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from chamberwatch.core.growing.rotation.air import colonising_c, fruiting_c, overlaps, share_air
from chamberwatch.core.growing.rotation.plan import Space
from chamberwatch.core.growing.species import Species

_BITS: Final = 16
_TOP: Final = 1 << (_BITS - 1)
_FIELD: Final = (1 << _BITS) - 1

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


class Need(NamedTuple):
    """What one more batch needs, made ready to be checked again and again.

    A count to which the top bit less the room is added has its top bit up on days that are full.

    Attributes:
        bed: number of the chamber where it fruits.
        store: where it colonises.
        apart: species that may not be open beside it.
        open_add: to be added to the open ones in its bed.
        open_top: the top bits of its days there.
        open_field: all bits of these.
        bed_add: to be added to all in its bed.
        bed_top: the top bits of its days there.
        store_add: likewise in its store.
        store_top: likewise.
    """

    bed: int
    store: int
    apart: tuple[int, ...]
    open_add: int
    open_top: int
    open_field: int
    bed_add: int
    bed_top: int
    store_add: int
    store_top: int


@dataclass(frozen=True, slots=True)
class Grounds:
    """What does not change while a plan is made.

    Attributes:
        spaces: the chambers.
        species: all that is wanted or stands there.
        days: how many there are.
        apart: by species, those that can't be open in the same chamber.
        rooms: how many batches each chamber takes.
        open_rooms: how many open ones each takes.
        ones: a one for each day before one, by that day.
    """

    spaces: tuple[Space, ...]
    species: tuple[Species, ...]
    days: int
    apart: tuple[tuple[int, ...], ...]
    rooms: tuple[int, ...]
    open_rooms: tuple[int, ...]
    ones: tuple[int, ...]

    def mask(self, since: int, until: int) -> int:
        """Return a one for each day of a stay that ends after today."""
        return self.ones[min(until, self.days)] ^ self.ones[min(max(since, 0), self.days)]

    def need(self, stay: Stay) -> Need:
        """Return what a batch needs, made ready to be checked."""
        bed, store = stay.bed, stay.store
        fruiting = self.mask(stay.opens, stay.end)
        in_bed = self.mask(stay.on, stay.end) if store == bed else fruiting
        stored = self.mask(stay.on, stay.until)
        return Need(
            bed,
            store,
            self.apart[stay.kind],
            (_TOP - self.open_rooms[bed]) * fruiting,
            fruiting * _TOP,
            fruiting * _FIELD,
            (_TOP - self.rooms[bed]) * in_bed,
            in_bed * _TOP,
            (_TOP - self.rooms[store]) * stored,
            stored * _TOP,
        )

    def beds(self, kind: int) -> tuple[int, ...]:
        """Return the chambers whose air suits it open."""
        wants = fruiting_c(self.species[kind])
        return tuple(
            number
            for number, space in enumerate(self.spaces)
            if self.rooms[number]
            and self.open_rooms[number]
            and overlaps(wants, space.temperature_c)
        )

    def stores(self, kind: int, bed: int) -> tuple[int, ...]:
        """Return the chambers that suit it sealed: stores for sealed ones first, then its bed."""
        wants = colonising_c(self.species[kind])
        found = [
            number
            for number, space in enumerate(self.spaces)
            if self.rooms[number] and overlaps(wants, space.temperature_c)
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
    ones = [0]
    for day in range(days):
        ones.append(ones[-1] | 1 << (_BITS * day))
    rooms = tuple(min(len(space.shelves) * space.holds, NO_LIMIT) for space in spaces)
    open_rooms = tuple(_open_room(space) for space in spaces)
    return Grounds(tuple(spaces), tuple(species), days, apart, rooms, open_rooms, tuple(ones))


def _open_room(space: Space) -> int:
    if not space.takes_open:
        return 0
    return NO_LIMIT if space.open_at_most is None else min(space.open_at_most, NO_LIMIT)


@dataclass(slots=True)
class Room:
    """How many stand where, day by day."""

    grounds: Grounds
    taken: list[int]
    opened: list[int]
    by_kind: list[list[int]]

    def copy(self) -> "Room":
        """Return another with the same in it."""
        kinds = [list(kinds) for kinds in self.by_kind]
        return Room(self.grounds, list(self.taken), list(self.opened), kinds)

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

    def fits(self, need: Need) -> bool:
        """Tell whether one more has room, in air that suits it."""
        return not self.hindrance(need)

    def hindrance(self, need: Need) -> str:
        """Return what stands in the way of one more: open, air, shelf or store; empty: nothing."""
        bed, store = need.bed, need.store
        if (self.opened[bed] + need.open_add) & need.open_top:
            return OPEN
        if need.apart:
            kinds = self.by_kind[bed]
            # Only who is there on one of these days can be in the way.
            if any(kinds[other] & need.open_field for other in need.apart):
                return AIR
        if (self.taken[bed] + need.bed_add) & need.bed_top:
            return SHELF
        if store != bed and (self.taken[store] + need.store_add) & need.store_top:
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


def empty_room(grounds: Grounds) -> Room:
    """Return a room with nothing in it."""
    chambers = range(len(grounds.spaces))
    kinds = [[0] * len(grounds.species) for _ in chambers]
    return Room(grounds, [0 for _ in chambers], [0 for _ in chambers], kinds)


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
