"""Where a batch may be put, as a list to choose from."""

from collections.abc import Iterable
from dataclasses import dataclass

from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.service.growing.places import Place
from chamberwatch.web.language import _
from chamberwatch.web.pages.growing.typed import OUTDOORS, place_value


@dataclass(frozen=True, slots=True)
class Spot:
    """One place of the list. `full`: no room, by what the settings say a shelf holds."""

    value: str
    label: str
    full: bool


@dataclass(frozen=True, slots=True)
class Spots:
    """The places of one chamber."""

    title: str
    spots: tuple[Spot, ...]


def spots(house: House, batches: Iterable[Batch], here: Batch | None = None) -> tuple[Spots, ...]:
    """Return every place there is, chamber by chamber, and last of all none.

    Args:
        house: what the grower declared.
        batches: all there are; they take up room.
        here: the batch that is to be moved; where it stands already is not offered.
    """
    others = [batch for batch in batches if here is None or batch.id != here.id]
    grow = (chamber for chamber in house.chambers.values() if chamber.stage is not None)
    found = [Spots(chamber.title, _of(chamber, others, here)) for chamber in grow]
    if here is None or here.chamber is not None:
        found.append(
            Spots(_("Elsewhere"), (Spot(OUTDOORS, _("in no chamber (outdoors, say)"), False),))
        )
    return tuple(each for each in found if each.spots)


def _of(chamber: Chamber, others: Iterable[Batch], here: Batch | None) -> tuple[Spot, ...]:
    on = [batch.shelf for batch in others if batch.chamber == chamber.name]
    shelves = [
        Spot(
            place_value(Place(chamber.name, shelf)),
            f"{chamber.title}: {shelf}",
            chamber.shelf_holds is not None and on.count(shelf) >= chamber.shelf_holds,
        )
        for shelf in chamber.shelves
        if not _stands(here, chamber.name, shelf)
    ]
    if not _stands(here, chamber.name, None):
        words = (
            _("%(chamber)s, no shelf named", chamber=chamber.title)
            if chamber.shelves
            else chamber.title
        )
        shelves.append(Spot(place_value(Place(chamber.name)), words, False))
    return tuple(shelves)


def _stands(here: Batch | None, chamber: str, shelf: str | None) -> bool:
    return here is not None and (here.chamber, here.shelf) == (chamber, shelf)


def first_free(found: Iterable[Spots], prefer: str = "") -> str:
    """Return the first place with room, in the chamber of that title where it has some."""
    groups = sorted(found, key=lambda each: each.title != prefer)
    free = (spot.value for each in groups for spot in each.spots if not spot.full)
    return next(free, OUTDOORS)
