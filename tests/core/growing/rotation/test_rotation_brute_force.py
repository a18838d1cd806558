"""Small plans against all there are: every set of starts that fits is tried, shelf by shelf.

The test books shelves by itself, one by one and day by day, so that it also shows that counting
by chamber, as the search does, leaves nothing out and lets nothing in.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chamberwatch.core.growing.rotation.air import share_air
from chamberwatch.core.growing.rotation.goal import kind_of
from chamberwatch.core.growing.rotation.improve import WORK
from chamberwatch.core.growing.rotation.plan import (
    Space,
    Timing,
    UnderWay,
    Wanted,
    batch_kg,
)
from chamberwatch.core.growing.rotation.room import Stay
from chamberwatch.core.growing.rotation.solve import Ask, Solved, solved
from chamberwatch.core.growing.species import Species
from tests.core.growing.rotation.rotations import (
    COOL,
    SHY,
    STALE,
    TABLE,
    TODAY,
    WARM,
    quick,
    under_way,
    wish,
)

TENT = Space("tent", ("top",))
TWO = Space("tent", ("top", "low"))
THREE = Space("tent", ("top", "middle", "low"))
STORE = Space("store", ("floor",), takes_open=False)
CUPBOARD = Space("cupboard", ("one",))

SLOW = quick((7.0, 10.0), (9.0, 12.0))
TWICE = quick(stay=(14.0, 14.0), flushes=((4.0, 6.0, 0.7), (11.0, 14.0, 0.3)))


def ask(
    wishes: Sequence[tuple[Wanted, Timing]],
    spaces: Sequence[Space],
    weeks: int = 5,
    standing: Sequence[UnderWay] = (),
    step: int = 7,
) -> Ask:
    kinds = tuple(
        kind_of(wanted, batch_kg(TABLE.get(wanted.species), wanted.batch_dry_g), time)
        for wanted, time in wishes
    )
    return Ask(kinds, tuple(spaces), tuple(standing), TABLE, TODAY, weeks, step)


@dataclass
class Shelf:
    """One place for one batch, with the days on which it is taken."""

    chamber: int
    taken: set[int] = field(default_factory=set)


@dataclass
class Enumeration:
    """Every set of starts that fits."""

    asked: Ask
    found: Solved
    shelves: list[Shelf]
    opened: list[list[tuple[Species, range]]]
    best: float
    tried: int = 0

    def run(self) -> float:
        stays = [stay for choice in self.found.pool for stay, _ in choice.places]
        came = [list(weeks) for weeks in self.found.draft.harvest.came]
        for stay in self.found.draft.stays:
            for week, kg in self.found.draft.harvest.brings(stay):
                came[stay.kind][week] -= kg
        self._deeper(sorted(stays, key=lambda stay: (stay.on, stay)), [], came)
        return self.best

    def _deeper(self, left: Sequence[Stay], chosen: list[Stay], came: list[list[float]]) -> None:
        self.tried += 1
        harvest = replace(self.found.draft.harvest, came=came)
        self.best = min(self.best, harvest.loss(chosen, self._fullest()))
        for n, stay in enumerate(left):
            then = [list(weeks) for weeks in came]
            for week, kg in harvest.brings(stay):
                then[stay.kind][week] += kg
            # More starts only add to what goes beyond a wish, so this much is missed at least.
            if self._beyond(then) >= self.best:
                continue
            for places in self._places(stay):
                for shelf, days in places:
                    shelf.taken |= set(days)
                self.opened[stay.bed].append(self._open(stay))
                self._deeper(left[n:], [*chosen, stay], then)
                self.opened[stay.bed].pop()
                for shelf, days in places:
                    shelf.taken -= set(days)
                break

    def _beyond(self, came: list[list[float]]) -> float:
        total = 0.0
        for aimed, weeks in zip(self.found.draft.harvest.aims, came, strict=True):
            over = [
                0.5 * max(kg - max(aimed.most, want), 0.0)
                for kg, want in zip(weeks, aimed.middle, strict=True)
            ]
            total += aimed.weigh((sum(over), sum(kg * kg for kg in over)))
        return total

    def _open(self, stay: Stay) -> tuple[Species, range]:
        return TABLE.get(self.asked.names[stay.kind]), range(stay.opens, stay.end)

    def _places(self, stay: Stay) -> Iterator[list[tuple[Shelf, range]]]:
        kind, days = self._open(stay)
        beside = self.opened[stay.bed]
        limit = self.asked.spaces[stay.bed].open_at_most
        if limit is not None and any(
            sum(day in there for _, there in beside) >= limit for day in days
        ):
            return
        if any(set(days) & set(there) and not share_air(kind, other) for other, there in beside):
            return
        if stay.store == stay.bed:
            for shelf in self._free(stay.bed, range(stay.on, stay.end)):
                yield [(shelf, range(stay.on, stay.end))]
            return
        for store in self._free(stay.store, range(stay.on, stay.until)):
            for bed in self._free(stay.bed, days):
                yield [(store, range(stay.on, stay.until)), (bed, days)]

    def _free(self, chamber: int, days: range) -> list[Shelf]:
        there = [shelf for shelf in self.shelves if shelf.chamber == chamber]
        free = [shelf for shelf in there if not shelf.taken & set(days)]
        # The one left last: on a line of stays by their start that never takes more shelves.
        return sorted(free, key=lambda s: -max((d for d in s.taken if d < days[0]), default=-1))

    def _fullest(self) -> int:
        most = 0
        for chamber in range(len(self.asked.spaces)):
            taken = [shelf.taken for shelf in self.shelves if shelf.chamber == chamber]
            days = set().union(*taken)
            most += max((sum(day in each for each in taken) for day in days), default=0)
        return most


def enumerated(asked: Ask, found: Solved) -> Enumeration:
    shelves = [
        Shelf(number)
        for number, space in enumerate(asked.spaces)
        for _ in range(len(space.shelves) * space.holds)
    ]
    opened: list[list[tuple[Species, range]]] = [[] for _ in asked.spaces]
    made = Enumeration(asked, found, shelves, opened, float("inf"))
    for stay in found.under_way.values():
        places = made._free(stay.store, range(stay.on, stay.end))
        places[0].taken |= set(range(stay.on, stay.end))
        opened[stay.bed].append(made._open(stay))
    return made


CASES = [
    pytest.param(ask([(wish(COOL, 0.5), quick())], [TENT]), id="one shelf, more wanted than fits"),
    pytest.param(ask([(wish(COOL, 0.2), quick())], [TENT]), id="one shelf, little wanted"),
    pytest.param(ask([(wish(COOL, 0.2, 0.4), quick())], [TENT], 6), id="one shelf, a range"),
    pytest.param(ask([(wish(COOL, 0.3), SLOW)], [TENT], 6), id="one shelf, wide windows"),
    pytest.param(ask([(wish(COOL, 0.25), TWICE)], [TENT], 6), id="one shelf, two flushes"),
    pytest.param(ask([(wish(COOL, 0.3), TWICE)], [TWO], 4), id="two shelves, two flushes"),
    pytest.param(ask([(wish(COOL, 0.5), quick())], [TWO], 4), id="two shelves"),
    pytest.param(ask([(wish(COOL, 0.3), quick())], [THREE], 4), id="three shelves"),
    pytest.param(
        ask([(wish(COOL, 0.6), quick())], [replace(THREE, open_at_most=1)], 4),
        id="three shelves, one open",
    ),
    pytest.param(ask([(wish(COOL, 0.5), quick())], [TENT, STORE], 4), id="a shelf and a store"),
    pytest.param(
        ask([(wish(COOL, 0.5), quick())], [replace(TENT, open_at_most=1), STORE], 5),
        id="a store, one open",
    ),
    pytest.param(
        ask([(wish(COOL, 0.3), quick()), (wish(SHY, 0.3), quick())], [TENT], 4),
        id="two that share, one shelf",
    ),
    pytest.param(
        ask([(wish(COOL, 0.3), quick()), (wish(SHY, 0.2), TWICE)], [TENT], 5),
        id="a quick and a slow one",
    ),
    pytest.param(
        ask([(wish(COOL, 0.4), quick()), (wish(WARM, 0.4), quick())], [TWO], 3),
        id="two that can't share, two shelves",
    ),
    pytest.param(
        ask([(wish(COOL, 0.4), quick()), (wish(STALE, 0.4), quick())], [TWO], 3),
        id="one that likes it stale",
    ),
    pytest.param(
        ask([(wish(COOL, 0.4), quick()), (wish(WARM, 0.4), quick())], [TENT, CUPBOARD], 3),
        id="two that can't share, two chambers",
    ),
    pytest.param(
        ask([(wish(COOL, 0.5), quick())], [TENT], 5, [under_way(1, leaves=12.0)]),
        id="one under way, one shelf",
    ),
    pytest.param(
        ask(
            [(wish(COOL, 0.4), quick())],
            [TWO],
            4,
            [under_way(1, leaves=10.0, crops=((2.0, 6.0, 0.3),))],
        ),
        id="one under way that bears",
    ),
    pytest.param(
        ask([(wish(WARM, 0.4), quick())], [TWO], 4, [under_way(1, COOL, leaves=17.0)]),
        id="one under way in whose air nothing else can be opened",
    ),
    pytest.param(ask([(wish(COOL, 0.25), quick())], [TENT], 3, step=3), id="every third day"),
    pytest.param(
        ask([(wish(COOL, 0.9, dry_g=300.0), quick())], [replace(TENT, holds=2)], 4),
        id="two on a shelf",
    ),
]


@pytest.mark.parametrize("asked", CASES)
def test_a_small_plan_is_as_good_as_any(asked: Ask) -> None:
    found = solved(asked, WORK)
    made = enumerated(asked, found)
    assert found.draft.loss() == pytest.approx(made.run(), abs=1e-9)
    assert made.tried > 1


@settings(max_examples=25, deadline=None)
@given(
    kg=st.sampled_from((0.1, 0.2, 0.3, 0.5, 0.8)),
    other=st.sampled_from((None, SHY, WARM)),
    colonise=st.integers(4, 12),
    stay=st.integers(6, 16),
    late=st.integers(0, 4),
    shelves=st.integers(1, 2),
    open_at_most=st.sampled_from((None, 1)),
)
def test_any_small_plan_is_as_good_as_any_other(
    kg: float,
    other: Species | None,
    colonise: int,
    stay: int,
    late: int,
    shelves: int,
    open_at_most: int | None,
) -> None:
    time = quick((colonise, colonise + late), (stay, stay + late), ((4.0, float(stay), 1.0),))
    wishes = [(wish(COOL, kg), time)]
    if other is not None:
        wishes.append((wish(other, kg / 2.0), quick()))
    space = Space("tent", ("top", "low")[:shelves], open_at_most=open_at_most)
    asked = ask(wishes, [space], 3 if other else 4)
    found = solved(asked, WORK)
    assert found.draft.loss() == pytest.approx(enumerated(asked, found).run(), abs=1e-9)
