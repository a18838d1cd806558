"""Where batches may stand."""

from collections.abc import Iterable
from dataclasses import dataclass

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.sentence import listed
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
        if not chamber.shelves:
            raise UnknownNameError(f"{chamber.title} has no shelves; leave the shelf out.")
        known = ", ".join(chamber.shelves)
        raise UnknownNameError(f"{chamber.title} has no shelf “{place.shelf}”. Known: {known}.")


def check_room(house: House, batch: Batch, others: Iterable[Batch]) -> None:
    """Refuse to put a batch on a shelf that is full.

    Raises:
        RefusedError: the text names which stand there.
    """
    chamber = house.chambers.get(batch.chamber or "")
    # One that has ended stands nowhere.
    if chamber is None or chamber.shelf_holds is None:
        return
    stand = {shelf: list[int]() for shelf in chamber.shelves}
    for other in others:
        if other.chamber == chamber.name and other.shelf in stand:
            stand[other.shelf].append(other.id)
    there = sorted(stand.get(batch.shelf or "", ()))
    if len(there) < chamber.shelf_holds:
        return
    room = [shelf for shelf, numbers in stand.items() if len(numbers) < chamber.shelf_holds]
    split = batch.start.split_from in there
    raise RefusedError(
        f"Shelf “{batch.shelf}” of {chamber.title} holds {chamber.shelf_holds}, and "
        f"{listed([f'batch {number}' for number in there])} "
        f"{'stands' if len(there) == 1 else 'stand'} there"
        f"{'; what is taken out of one counts as a batch of its own' if split else ''}. "
        + (
            f"Name another shelf ({listed(room)}), or move one first."
            if room
            else "No other shelf has room: move one first, or name no shelf."
        )
    )
