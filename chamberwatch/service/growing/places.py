"""Where batches may stand."""

from collections.abc import Iterable
from dataclasses import dataclass

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.watch.chamber import House


@dataclass(frozen=True, slots=True)
class Place:
    """A chamber, and the shelf there; None: none named. Without a chamber: outdoors."""

    chamber: str | None
    shelf: str | None = None


def check_place(house: House, place: Place) -> None:
    """Refuse a place that there is none of.

    Raises:
        UnknownNameError: no such chamber, or no such shelf in it.
        RefusedError: it is a room, in which nothing is grown.
    """
    if place.chamber is None:
        return
    chamber = house.chamber(place.chamber)
    if chamber.stage is None:
        growing = ", ".join(c.name for c in house.chambers.values() if c.stage is not None)
        raise RefusedError(
            f"{chamber.title} is a room; name the chamber that the batch stands in: "
            f"{growing or 'none'}."
        )
    if place.shelf is not None and place.shelf not in chamber.shelves:
        known = ", ".join(chamber.shelves) or "none"
        raise UnknownNameError(f"{chamber.title} has no shelf “{place.shelf}”. Known: {known}.")


def check_room(house: House, batch: Batch, others: Iterable[Batch]) -> None:
    """Refuse to put a batch on a shelf that is full.

    Raises:
        RefusedError: the text names which stand there.
    """
    chamber = house.chambers.get(batch.chamber or "")
    if batch.ended is not None or chamber is None or batch.shelf is None:
        return
    holds = chamber.shelf_holds
    there = [
        other.id
        for other in others
        if (other.chamber, other.shelf) == (batch.chamber, batch.shelf) and other.ended is None
    ]
    if holds is not None and len(there) >= holds:
        names = " and ".join(f"batch {number}" for number in sorted(there))
        raise RefusedError(
            f"Shelf “{batch.shelf}” of {chamber.title} holds {holds}, and {names} "
            f"{'stands' if len(there) == 1 else 'stand'} there. Name another shelf, or move one "
            f"first."
        )
