"""Every small plan there is, made from the question alone: days, places and loss by their words.

Nothing of the search is used here. Shelves are booked one by one and day by day, so that this
also shows that counting by chamber, as the search does, leaves nothing out and lets nothing in.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product

from chamberwatch.core.growing.rotation.plan import Space, Timing, UnderWay, Wanted
from tests.core.growing.rotation.rotations import TABLE, TODAY

BEARS_C = {"grey-oyster": (10, 21), "shiitake": (10, 21), "golden-oyster": (21.5, 29)}
"""Fruiting temperatures of the invented species; enoki beside them likes stale air."""

EVERY_DAY = tuple(range(15))
"""A white batch waits two weeks at most."""


@dataclass(frozen=True)
class Question:
    """What is wanted, where there is room, and on which days a start and its opening are tried."""

    wishes: Sequence[tuple[Wanted, Timing]]
    spaces: Sequence[Space]
    weeks: int = 4
    standing: Sequence[UnderWay] = ()
    every: int = 7
    waits: Sequence[int] = (0, 3, 7, 14)


@dataclass(frozen=True)
class Made:
    """A batch: its days, counted from today, and the chambers where it colonises and fruits."""

    kind: int
    on: int
    opens: int
    left: int
    end: int
    store: int
    bed: int


def batch(question: Question, kind: int, on: int, wait: int, places: tuple[int, int]) -> Made:
    """Return a batch of which every stage may take as long as it may."""
    time = question.wishes[kind][1]
    likely, certain = math.ceil(sum(time.colonise_days) / 2), math.ceil(time.colonise_days[1])
    opens = on + likely + wait
    left = max(opens, on + certain)
    return Made(kind, on, opens, left, left + math.ceil(time.stay_days[1]), *places)


def share_air(one: str, other: str) -> bool:
    """Tell whether two of the invented species can be open together."""
    if "enoki" in (one, other):
        return one == other
    (low, high), (least, most) = BEARS_C[one], BEARS_C[other]
    return low <= most and least <= high


# ------------------------------------------------------------------ how good a plan is


@dataclass
class Worth:
    """How far plans are from what is wanted."""

    question: Question
    weeks: int = field(init=False)
    wanted: list[list[float]] = field(init=False)
    came: list[list[float]] = field(init=False)

    def __post_init__(self) -> None:
        longest = max(batch(self.question, kind, 0, 14, (0, 0)).end for kind in self._kinds())
        self.weeks = (self.question.weeks * 7 + longest) // 7 + 1
        self.came = [self._standing(wish.species) for wish, _ in self.question.wishes]
        self.wanted = [self._wanted(kind) for kind in self._kinds()]

    def _kinds(self) -> range:
        return range(len(self.question.wishes))

    def _week_by_week(self, windows: Iterable[tuple[int, int, float]]) -> list[float]:
        """Spread each amount evenly over the days of its window; today is a Monday."""
        found = [0.0] * self.weeks
        for first, last, kg in windows:
            for day in range(first, last + 1):
                if 0 <= day < self.weeks * 7:
                    found[day // 7] += kg / (last - first + 1)
        return found

    def _standing(self, species: str) -> list[float]:
        there = [u for u in self.question.standing if u.species == species]
        return self._week_by_week(
            (
                max((crop.low.date() - TODAY).days, 0),  # type: ignore[attr-defined]
                max((crop.high.date() - TODAY).days, 0),  # type: ignore[attr-defined]
                (crop.kg_low + crop.kg_high) / 2,
            )
            for under_way in there
            for crop in under_way.harvests
        )

    def brings(self, made: Made) -> list[float]:
        """Return what a batch brings by the middle, week by week."""
        wish, time = self.question.wishes[made.kind]
        stated = TABLE.get(wish.species).efficiency_pct
        assert stated is not None
        percent = ((stated.low or 0) + (stated.high or 0)) / 2
        return self._week_by_week(
            (
                made.opens + math.floor(flush.low),
                made.left + math.ceil(flush.high),
                wish.batch_dry_g / 1000 * percent / 100 * flush.share,
            )
            for flush in time.flushes
        )

    def _wanted(self, kind: int) -> list[float]:
        """Return the middle of the wish, or what part of it can be asked of the plan.

        It is less until the first flushes of starts from today on can come, and less where it
        would take starts after the plan.
        """
        wish, time = self.question.wishes[kind]
        middle = sum(wish.kg_per_week) / 2
        first, days = time.flushes[0].share, self.question.weeks * 7
        before = self._if_steady(kind, range(-200, 0))
        after = self._if_steady(kind, range(days, days + 200))
        return [
            max(1 - late, 0) * min(middle, there + middle * max(1 - early, 0) / first)
            for there, early, late in zip(self.came[kind], before, after, strict=True)
        ]

    def _if_steady(self, kind: int, days: range) -> list[float]:
        """Return what part of a harvest a week comes of a seventh of one begun each day."""
        found = [0.0] * self.weeks
        for on in days:
            made = batch(self.question, kind, on, 0, (0, 0))
            windows = [
                (made.opens + math.floor(f.low), made.left + math.ceil(f.high), f.share / 7)
                for f in self.question.wishes[kind][1].flushes
            ]
            found = [a + b for a, b in zip(found, self._week_by_week(windows), strict=True)]
        return found

    def missed(self, kind: int, came: Sequence[float], only_beyond: bool = False) -> float:
        """Return all that is missed as a part of all that is wanted, squared, and a bit more.

        The bit is for its unevenness. A kg beyond the upper end counts half.
        """
        high = self.question.wishes[kind][0].kg_per_week[1]
        missed = [
            (0 if only_beyond else want - kg) if kg < want else max(kg - high, 0) / 2
            for want, kg in zip(self.wanted[kind], came, strict=True)
        ]
        whole, squares = sum(self.wanted[kind]), sum(want * want for want in self.wanted[kind])
        uneven = sum(kg * kg for kg in missed) / (squares or 1)
        return (sum(missed) / (whole or 1)) ** 2 + 0.03 * uneven

    def costs(self, made: Made) -> float:
        """Return a little for a start: more if it is late, off the weekday of today, or waits."""
        certain = math.ceil(self.question.wishes[made.kind][1].colonise_days[1])
        waited = max(made.opens - made.on - certain, 0)
        return 1e-5 + 2e-5 * made.on + (1e-4 if made.on % 7 else 0) + 1e-4 * waited

    def empty(self, came: Sequence[Sequence[float]]) -> int:
        """Count the weeks of the plan with less than a twentieth of what is wanted by then."""
        weeks = zip(zip(*self.wanted, strict=True), zip(*came, strict=True), strict=True)
        shown = list(weeks)[: self.question.weeks]
        return sum(sum(want) > 1e-9 and sum(kg) < sum(want) / 20 for want, kg in shown)


# ------------------------------------------------------------------ all of them


class EveryPlan:
    """Every set of starts that fits, tried."""

    def __init__(self, question: Question) -> None:
        self.question = question
        self.worth = Worth(question)
        self.tried = 0
        self.best = math.inf
        self._taken = [[0] * (len(space.shelves) * space.holds) for space in question.spaces]
        self._open: list[list[tuple[str, int]]] = [[] for _ in question.spaces]
        names = [space.chamber for space in question.spaces]
        for under_way in question.standing:
            chamber = names.index(under_way.chamber or "")
            days = _days(0, (under_way.leaves.high.date() - TODAY).days)
            shelves = self._taken[chamber]
            shelves[next(n for n, taken in enumerate(shelves) if not taken)] = days
            self._open[chamber].append((under_way.species, days))

    def least(self) -> float:
        """Return the loss of the best."""
        options = [
            batch(self.question, kind, on, wait, places)
            for on in range(0, self.question.weeks * 7, self.question.every)
            for kind, wait in product(range(len(self.question.wishes)), self.question.waits)
            for places in self._places(kind)
        ]
        ready = [(made, self.worth.brings(made), self.worth.costs(made)) for made in options]
        self._deeper(ready, self.worth.came, 0.0)
        return self.best

    def loss_of(self, plan: Sequence[Made]) -> float:
        """Return the loss of one plan; it fails where that has no room."""
        mine = EveryPlan(self.question)
        ready = [(made, mine.worth.brings(made), mine.worth.costs(made)) for made in plan]
        found = list(mine._only(ready, mine.worth.came, 0.0))
        assert found
        return found[0]

    def _places(self, kind: int) -> Iterator[tuple[int, int]]:
        """Yield every pair of chambers; here none is held at what does not suit."""
        for (bed, space), store in product(
            enumerate(self.question.spaces), range(len(self.question.spaces))
        ):
            if space.takes_open:
                yield store, bed

    def _deeper(
        self,
        options: Sequence[tuple[Made, list[float], float]],
        came: list[list[float]],
        costs: float,
    ) -> None:
        self.tried += 1
        self.best = min(self.best, self._loss(came, costs))
        for n, (made, brings, more) in enumerate(options):
            then = _added(came, made.kind, brings)
            # Whatever else is started, what is too much and what was paid stays.
            bound = (
                costs
                + more
                + sum(
                    self.worth.missed(kind, kg, only_beyond=True) for kind, kg in enumerate(then)
                )
            )
            if bound < self.best and self._air(made):
                for _ in self._stood(made):
                    self._deeper(options[n:], then, costs + more)

    def _only(
        self,
        plan: Sequence[tuple[Made, list[float], float]],
        came: list[list[float]],
        costs: float,
    ) -> Iterator[float]:
        if not plan:
            yield self._loss(came, costs)
            return
        (made, brings, more), *rest = plan
        if self._air(made):
            for _ in self._stood(made):
                yield from self._only(rest, _added(came, made.kind, brings), costs + more)

    def _loss(self, came: list[list[float]], costs: float) -> float:
        missed = sum(self.worth.missed(kind, kg) for kind, kg in enumerate(came))
        fullest = sum(_fullest(shelves) for shelves in self._taken)
        return missed + costs + 1e-3 * self.worth.empty(came) + 1e-6 * fullest

    def _air(self, made: Made) -> bool:
        """Tell whether it may be open then: not too many are, and all in the same air."""
        name, days = self._name(made), _days(made.opens, made.end)
        beside = self._open[made.bed]
        if any(days & there and not share_air(name, other) for other, there in beside):
            return False
        limit = self.question.spaces[made.bed].open_at_most
        return limit is None or all(
            sum(there >> day & 1 for _, there in beside) < limit
            for day in range(made.opens, made.end)
        )

    def _stood(self, made: Made) -> Iterator[None]:
        """Put it on every shelf on which it can stand, one after the other."""
        fruits = _days(made.opens, made.end)
        self._open[made.bed].append((self._name(made), fruits))
        if made.store == made.bed:
            yield from self._on_shelf(made.bed, _days(made.on, made.end))
        else:
            for _ in self._on_shelf(made.store, _days(made.on, made.left)):
                yield from self._on_shelf(made.bed, fruits)
        self._open[made.bed].pop()

    def _on_shelf(self, chamber: int, days: int) -> Iterator[None]:
        shelves = self._taken[chamber]
        alike = set()
        for number, taken in enumerate(shelves):
            if taken & days or taken in alike:
                continue
            alike.add(taken)
            shelves[number] = taken | days
            yield
            shelves[number] = taken

    def _name(self, made: Made) -> str:
        return self.question.wishes[made.kind][0].species


def _days(since: int, until: int) -> int:
    return (1 << until) - (1 << since)


def _fullest(shelves: Sequence[int]) -> int:
    """Return how many of these shelves are taken at the same time."""
    last = max((taken.bit_length() for taken in shelves), default=0)
    return max((sum(taken >> day & 1 for taken in shelves) for day in range(last)), default=0)


def _added(came: list[list[float]], kind: int, brings: list[float]) -> list[list[float]]:
    then = list(came)
    then[kind] = [a + b for a, b in zip(came[kind], brings, strict=True)]
    return then
