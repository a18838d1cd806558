"""Where a plan falls short of the wish, why, and what would help."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

from chamberwatch.core.growing.rotation.goal import Harvest, Kind
from chamberwatch.core.growing.rotation.plan import WEEK_D, Gives, Space
from chamberwatch.core.growing.rotation.room import Held, Stay
from chamberwatch.core.growing.rotation.solve import Ask, Solved, solved
from chamberwatch.core.growing.rotation.words import Cause, Change, Help, help_words, why_words

SLACK: Final = 0.1
"""A week that misses the least wanted by no more than this part gives nothing: no crop can be
foretold closer (our choice)."""

HELPS_FROM: Final = 0.1
"""A change helps that brings at least this part more of what comes (our choice)."""


def gaps(harvest: Harvest) -> dict[tuple[int, int], float]:
    """Return how much of the least wanted does not come, by week and kind. [kg].

    Args:
        harvest: of a plan.
    """
    return {
        (week, number): aimed.least[week] - came[week]
        for week in range(harvest.calendar.weeks)
        for number, (aimed, came) in enumerate(zip(harvest.aims, harvest.came, strict=True))
        if came[week] < aimed.least[week] - SLACK * aimed.kind.wanted.kg_per_week[0] - 1e-9
    }


# ------------------------------------------------------------------ why


def gives(
    ask: Ask, found: Solved, held: Sequence[Mapping[int, Held]], changes: Sequence[Change]
) -> tuple[Gives, ...]:
    """Return the weeks in which less comes than is wanted.

    Args:
        ask: what was wanted.
        found: the plan.
        held: who stands on which shelf, by chamber.
        changes: what would help, the cheapest first.
    """
    missing = gaps(found.draft.harvest)
    return tuple(_gives(ask, found, held, gap, kg, changes) for gap, kg in missing.items())


def _gives(
    ask: Ask,
    found: Solved,
    held: Sequence[Mapping[int, Held]],
    gap: tuple[int, int],
    kg: float,
    changes: Sequence[Change],
) -> Gives:
    week, number = gap
    cause, stay = _cause(found, week, number)
    where, shelf = "", ""
    if stay is not None:
        chamber = stay.store if cause is Cause.STORE else stay.bed
        where = ask.spaces[chamber].chamber
        if cause in (Cause.SHELF, Cause.STORE):
            shelf = _free_first(held[chamber], stay.on if stay.store == chamber else stay.opens)
    species = ask.kinds[number].wanted.species
    title = ask.table.get(species).title
    why = why_words(cause, title, kg, where, shelf)
    best = next(c for c in changes if c.kind is not Help.WISH or title in c.species)
    monday = ask.today + timedelta(days=found.draft.harvest.calendar.first + week * WEEK_D)
    return Gives(monday, where, shelf, species, kg, f"{why} {help_words(best)}")


def _cause(found: Solved, week: int, number: int) -> tuple[Cause, Stay | None]:
    """Return what stands in the way of the start that would bring most in a week, and that."""
    draft = found.draft
    can = [choice for choice in found.pool if choice.first.kind == number]
    if not can:
        return Cause.NOWHERE, None
    best = max(can, key=lambda choice: dict(draft.harvest.brings(choice.first)).get(week, 0.0))
    hindered = [(draft.room.hindrance(need), stay) for stay, need in best.places]
    if any(not hindrance for hindrance, _ in hindered):
        return Cause.LUMP, None
    hindrance, stay = hindered[0]
    return Cause(hindrance), stay


def _free_first(held: Mapping[int, Held], day: int) -> str:
    """Return the shelf that is free again first, of those taken on a day."""
    there = [stretch for stretch in held.values() if stretch.since <= day < stretch.until]
    return min(there, key=lambda h: (h.until, h.shelf)).shelf if there else ""


# ------------------------------------------------------------------ what would help


def helps(ask: Ask, found: Solved) -> tuple[Change, ...]:
    """Return what would help, the cheapest first.

    Each change is tried by planning again, with a start a week and without improving: only the
    difference counts.

    Args:
        ask: what was wanted.
        found: a plan with gaps.
    """
    if not gaps(found.draft.harvest):
        return ()
    weekly = replace(ask, step=WEEK_D)
    now = _comes(solved(weekly, 0))
    tried = [(change, _comes(solved(other, 0)) - now) for change, other in _changes(weekly)]
    useful = [replace(change, kg=kg) for change, kg in tried if kg > HELPS_FROM * now]
    return (*useful, *_smaller(ask, found))


def _comes(found: Solved) -> float:
    """Return what comes of all that is wanted, in a week that starts can reach. [kg]."""
    harvest = found.draft.harvest
    return math.fsum(
        _fits(harvest, number) * sum(aimed.kind.wanted.kg_per_week) / 2.0
        for number, aimed in enumerate(harvest.aims)
    )


def _fits(harvest: Harvest, number: int) -> float:
    """Return which part of the middle of a wish comes."""
    aimed = harvest.aims[number]
    came = sum(map(min, harvest.came[number], aimed.middle))
    return came / aimed.whole


def _changes(ask: Ask) -> Iterator[tuple[Change, Ask]]:
    titles = tuple(ask.table.get(kind.wanted.species).title for kind in ask.kinds)
    early = tuple(_cleared_early(kind) for kind in ask.kinds)
    if early != ask.kinds:
        yield Change(Help.CLEAR_EARLY), replace(ask, kinds=early)
    for n, space in enumerate(ask.spaces):
        if space.open_at_most is not None and space.takes_open:
            more = replace(space, open_at_most=space.open_at_most + 1)
            change = Change(Help.OPEN_MORE, space.chamber, space.open_at_most)
            yield change, _with(ask, n, more)
    yield Change(Help.SAME_AIR, species=titles), replace(ask, one_air=True)
    for n, space in enumerate(ask.spaces):
        more = replace(space, shelves=(*space.shelves, ""))
        yield Change(Help.SHELF, space.chamber), _with(ask, n, more)


def _with(ask: Ask, number: int, space: Space) -> Ask:
    spaces = [*ask.spaces[:number], space, *ask.spaces[number + 1 :]]
    return replace(ask, spaces=tuple(spaces))


def _cleared_early(kind: Kind) -> Kind:
    """Return a kind of which every batch goes after its first flush."""
    low, high, part = kind.flushes[0]
    kg = (kind.kg[0] * part, kind.kg[1] * part)
    return replace(kind, kg=kg, stay=high, flushes=((low, high, 1.0),))


def _smaller(ask: Ask, found: Solved) -> Iterator[Change]:
    """Return what comes of each species of which too little comes, by the week."""
    harvest = found.draft.harvest
    for number in sorted({kind for _, kind in gaps(harvest)}):
        wanted = ask.kinds[number].wanted
        kg = _fits(harvest, number) * sum(wanted.kg_per_week) / 2.0
        yield Change(Help.WISH, species=(ask.table.get(wanted.species).title,), kg=kg)
