"""From which batch another came, and how old its line is."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Batch, Start

# Common practice: a culture taken on and on from itself slows down and yields less.
OLD_LINE: Final = 4

_NTH: Final = dict(enumerate(("fourth", "fifth", "sixth", "seventh", "eighth"), OLD_LINE))


def generation(batches: Mapping[int, Batch], number: int) -> int:
    """Return the generation of a batch: 1 when it came from a kit or bought spawn.

    Spawn taken from a batch makes one more; what is split from a batch is as old as that.
    A parent that isn't in `batches` counts as a first generation.
    """
    return 1 + sum(
        batches[each].start.split_from is None and batches[each].start.parent is not None
        for each in (number, *ancestors(batches, number))
    )


def ancestors(batches: Mapping[int, Batch], number: int) -> tuple[int, ...]:
    """Return the batches that one came from, by spawn or by splitting, nearest first."""
    return tuple(_above(batches, number))


def check_origin(batches: Mapping[int, Batch], start: Start, at: datetime) -> None:
    """Refuse a start from a batch that there is none of, or that is not older.

    Raises:
        RefusedError: the text says what would work.
    """
    for number in (start.parent, start.split_from):
        if number is None:
            continue
        if number not in batches:
            raise RefusedError(f"There is no batch {number} to come from. Name one that there is.")
        if batches[number].started > at:
            raise RefusedError(
                f"Batch {number} was started on {batches[number].started:%-d %B}, later than "
                "this one, which can't come from it. Correct the date, or name an older batch."
            )


def check_circle(batches: Mapping[int, Batch], number: int, start: Start) -> None:
    """Refuse a batch that comes from itself.

    Raises:
        RefusedError: the text names the batches.
    """
    parent = start.parent
    if parent is not None and number in (parent, *ancestors(batches, parent)):
        raise RefusedError(
            f"Batch {number} can't come from batch {parent}: that would make it come from itself. "
            "Name another batch, or none."
        )


def check_offspring(batches: Mapping[int, Batch], number: int) -> None:
    """Refuse a batch that is younger than what came from it.

    Raises:
        RefusedError: the text names the first of those.
    """
    whole = batches[number]
    for batch in batches.values():
        from_it = number in (batch.start.parent, batch.start.split_from)
        if from_it and batch.started < whole.started:
            raise RefusedError(
                f"Batch {batch.id} came from batch {number} and was started earlier, on "
                f"{batch.started:%-d %B}. Correct the start of batch {batch.id} first."
            )


def old_line(number: int) -> str:
    """Return what to know of a line in its n-th generation, empty while it is young."""
    if number < OLD_LINE:
        return ""
    which = f"{_NTH[number]} generation" if number in _NTH else f"generation {number}"
    return (
        f"{which} from the same culture; many growers start from fresh spawn after three or "
        "four (common practice)"
    )


def _above(batches: Mapping[int, Batch], number: int) -> Iterator[int]:
    # A parent is older than its child, so no circle can come up; one all the same would never end.
    passed = {number}
    while True:
        start = batches[number].start
        above = start.parent if start.split_from is None else start.split_from
        if above is None or above in passed or above not in batches:
            return
        yield above
        passed.add(above)
        number = above
