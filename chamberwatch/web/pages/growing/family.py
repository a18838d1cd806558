"""From which batch another came, as a tree."""

from collections.abc import Mapping
from dataclasses import dataclass

from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.lineage import ancestors
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.web.language import _
from chamberwatch.web.pages.growing.batch_state import state_words

DEEPEST = 12
"""A tree is drawn no deeper; no culture lives so long."""


@dataclass(frozen=True, slots=True)
class Kin:
    """A batch in the tree. `how`: by spawn, by splitting, or empty for the first of a line."""

    number: int
    name: str
    how: str
    state: str
    this: bool
    children: "tuple[Kin, ...]"


def line_of(batches: Mapping[int, Batch], number: int, table: SpeciesTable) -> Kin | None:
    """Return the line of one batch: what it came from, it, and all that came of it.

    None where it came from no other and nothing came of it.
    """
    above = ancestors(batches, number)
    below = _children(batches)
    if not above and number not in below:
        return None
    path = {number, *above}
    return _kin(batches, (*above[::-1], number)[0], (below, table), number, path)


def forest(batches: Mapping[int, Batch], table: SpeciesTable) -> tuple[Kin, ...]:
    """Return every line with more than one batch, the newest line first."""
    below = _children(batches)
    roots = [n for n in batches if n in below and not ancestors(batches, n)]
    return tuple(_kin(batches, n, (below, table), None, None) for n in sorted(roots, reverse=True))


def _children(batches: Mapping[int, Batch]) -> Mapping[int, list[int]]:
    found: dict[int, list[int]] = {}
    for number in sorted(batches):
        start = batches[number].start
        above = start.parent if start.split_from is None else start.split_from
        if above is not None:
            found.setdefault(above, []).append(number)
    return found


def _kin(
    batches: Mapping[int, Batch],
    number: int,
    of: tuple[Mapping[int, list[int]], SpeciesTable],
    this: int | None,
    path: set[int] | None,
    depth: int = 0,
) -> Kin:
    below, table = of
    batch = batches[number]
    # Of what the batch came from only the way down to it is drawn; below it everything.
    wider = path is None or number == this or number not in path
    under = [n for n in below.get(number, ()) if wider or n in (path or ())]
    start = batch.start
    how = (
        ""
        if depth == 0
        else _("split off")
        if start.split_from is not None
        else _("spawn from it")
    )
    return Kin(
        number=number,
        name=table.known(start.species).title,
        how=how,
        state=state_words(batch),
        this=number == this,
        children=tuple(
            _kin(batches, n, of, this, path, depth + 1) for n in under if depth < DEEPEST
        ),
    )
