"""What a good plan is: how much of the wish comes, week by week, and what lies beside it.

Of each species the shortfall below the middle of its wish counts, and half of what goes beyond
the upper end, as a part of all that is wanted of it. These parts are squared before they are
added, so that no species starves for the sake of another. Plans that are about as good by that
differ by how even their weeks are and how many bring nothing, by starts and how late they are, by
starts off the weekday of the plan, by days that white batches wait, and by shelves.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

from chamberwatch.core.growing.rotation.plan import WEEK_D, Timing, Wanted
from chamberwatch.core.growing.rotation.room import Stay

BEYOND: Final = 0.5
"""A kg too much is half as bad as a kg too little (our choice)."""

UNEVEN: Final = 0.03
"""What the mean square of the shortfalls of single weeks weighs beside the squared shortfall of
all together; so do those below."""

EMPTY_WEEK: Final = 1e-3
OFF_DAY: Final = 1e-4
A_DAY_WAITED: Final = 1e-4
A_START: Final = 1e-5
A_DAY_LATER: Final = 2e-5
A_SHELF: Final = 1e-6

HARDLY: Final = 0.05
"""Less than this part of what is wanted is no harvest."""

_NOTHING_KG: Final = 1e-9
"""What rounding leaves of a week in which nothing can be wanted. [kg]"""

WAIT_D: Final = 14
"""A batch may wait sealed for so long after it is white through (common practice). [d]"""


@dataclass(frozen=True, slots=True)
class Kind:
    """What is wanted of one species, in whole days.

    Attributes:
        wanted: the wish.
        kg: what a batch brings, least and most. [kg]
        white: when it is most likely white through, and when for certain, after the start. [d]
        stay: how long it may stay open. [d]
        flushes: first and last day after opening, and part of the crop.
    """

    wanted: Wanted
    kg: tuple[float, float]
    white: tuple[int, int]
    stay: int
    flushes: tuple[tuple[int, int, float], ...]

    @property
    def middle_kg(self) -> float:
        """Return what a batch brings by the middle. [kg]."""
        return sum(self.kg) / 2.0

    @property
    def apart_d(self) -> float:
        """Return how far apart starts are that bring the middle of the wish. [d]."""
        return WEEK_D * self.middle_kg / (sum(self.wanted.kg_per_week) / 2.0)

    @property
    def whole(self) -> int:
        """Return the longest from start to clearing out, with waiting. [d]."""
        return max(self.white[0] + WAIT_D, self.white[1]) + self.stay

    def dated(self, number: int, on: int, wait: int, chambers: tuple[int, int]) -> Stay:
        """Return the stay of a batch.

        Args:
            number: of this kind.
            on: day of its start.
            wait: days that it waits after it is most likely white.
            chambers: where it colonises and fruits.
        """
        opens = on + self.white[0] + wait
        until = max(opens, on + self.white[1])
        return Stay(number, on, opens, until, until + self.stay, *chambers)

    def windows(self, stay: Stay) -> Iterable[tuple[int, int, float]]:
        """Return first and last day of each flush, and its part of the crop."""
        return ((stay.opens + low, stay.until + high, part) for low, high, part in self.flushes)


def kind_of(wanted: Wanted, kg: tuple[float, float], time: Timing) -> Kind:
    """Return a wish in whole days.

    Args:
        wanted: the wish.
        kg: what a batch brings, least and most. [kg]
        time: how long it takes.
    """
    low, high = time.colonise_days
    flushes = tuple((math.floor(f.low), math.ceil(f.high), f.share) for f in time.flushes)
    white = (math.ceil((low + high) / 2.0), math.ceil(high))
    return Kind(wanted, kg, white, math.ceil(time.stay_days[1]), flushes)


Dated = tuple[int, int, float]
"""First day, last day, and how much within them."""


def by_week(windows: Iterable[Dated], first: int, weeks: int) -> list[float]:
    """Spread amounts evenly over their windows and add them up by week.

    Args:
        windows: in days from today.
        first: day of the first Monday, not after today.
        weeks: how many; what lies outside is left out.
    """
    found = [0.0] * weeks
    for low, high, amount in windows:
        each = amount / (high - low + 1)
        for day in range(max(low, first), min(high + 1, first + weeks * WEEK_D)):
            found[(day - first) // WEEK_D] += each
    return found


@dataclass(frozen=True, slots=True)
class Aim:
    """What to aim at for one kind, by week. [kg].

    Attributes:
        kind: which.
        least: of the wish, as far as starts from today on can bring it.
        middle: likewise, and as far as starts within the plan do.
        most: upper end of the wish.
        whole: all that is aimed at.
        squares: sum of the squares of that, by week. [kg²]
    """

    kind: Kind
    least: tuple[float, ...]
    middle: tuple[float, ...]
    most: float
    whole: float
    squares: float

    def miss(self, week: int, kg: float) -> float:
        """Return what is missed in one week. [kg]."""
        middle = self.middle[week]
        if kg < middle:
            return middle - kg
        return BEYOND * (kg - self.most) if kg > self.most else 0.0

    def missed(self, came: Sequence[float]) -> tuple[float, float]:
        """Return what is missed of the wish: in all, and the sum of squares by week. [kg, kg²]."""
        weeks = [self.miss(week, kg) for week, kg in enumerate(came)]
        return sum(weeks), sum(kg * kg for kg in weeks)

    def weigh(self, missed: tuple[float, float]) -> float:
        """Return how bad that is: 1 where nothing comes at all, and a little for unevenness."""
        whole, squares = missed
        return (whole / self.whole) ** 2 + UNEVEN * squares / self.squares


@dataclass(frozen=True, slots=True)
class Calendar:
    """The weeks of a plan.

    Attributes:
        first: day of the first Monday, not after today.
        weeks: how many are planned.
        all: how many are reckoned with, up to the end of the last batch.
    """

    first: int
    weeks: int
    all: int

    @property
    def days(self) -> int:
        """Return how many days, from today on, are planned."""
        return self.first + self.weeks * WEEK_D


def aim(kind: Kind, number: int, under_way: Sequence[float], calendar: Calendar) -> Aim:
    """Return what to aim at.

    What a steady rate of starts before today would have brought is left out of the least, as
    nobody can bring it any more. It is left out of the middle only until first flushes come: so
    a plan begins soon, with a little more. What starts after the plan bring is left out at its
    end: else it would ask for a heap of batches in the last week.

    Args:
        kind: which.
        number: of the kind.
        under_way: what batches under way bring, by week. [kg]
        calendar: the weeks.
    """
    before = _steady(kind, number, range(-kind.whole - WEEK_D, 0), calendar)
    after = _steady(
        kind, number, range(calendar.days, calendar.first + calendar.all * WEEK_D), calendar
    )
    low, high = kind.wanted.kg_per_week
    middle = (low + high) / 2.0
    begun = [_part(1.0 - part) for part in before]
    least = tuple(min(low, uw + low * part) for uw, part in zip(under_way, begun, strict=True))
    first = kind.flushes[0][2]
    wished = tuple(
        _part(1.0 - late) * min(middle, uw + middle * part / first)
        for uw, part, late in zip(under_way, begun, after, strict=True)
    )
    squares = sum(kg * kg for kg in wished)
    return Aim(kind, least, wished, high, sum(wished) or 1.0, squares or 1.0)


def _part(value: float) -> float:
    return min(max(value, 0.0), 1.0)


def _steady(kind: Kind, number: int, days: range, calendar: Calendar) -> list[float]:
    """Return which part of a full harvest comes each week from a start on each of these days."""
    total = [0.0] * calendar.all
    for on in days:
        stay = kind.dated(number, on, 0, (0, 0))
        for week, part in enumerate(by_week(kind.windows(stay), calendar.first, calendar.all)):
            total[week] += part / WEEK_D
    return total


@dataclass(slots=True)
class Harvest:
    """What comes of a plan, and how good that is.

    Attributes:
        aims: by kind.
        calendar: the weeks.
        came: by kind and week. [kg]
    """

    aims: tuple[Aim, ...]
    calendar: Calendar
    came: list[list[float]]
    _known: dict[tuple[int, int, int], tuple[tuple[int, float], ...]] = field(default_factory=dict)

    def brings(self, stay: Stay) -> tuple[tuple[int, float], ...]:
        """Return the weeks in which a batch bears, and how much. [kg]."""
        key = (stay.kind, stay.opens, stay.until)
        if key not in self._known:
            kind = self.aims[stay.kind].kind
            weeks = by_week(kind.windows(stay), self.calendar.first, self.calendar.all)
            self._known[key] = tuple(
                (week, part * kind.middle_kg) for week, part in enumerate(weeks) if part
            )
        return self._known[key]

    def add(self, stay: Stay, sign: int = 1) -> None:
        """Count a batch in, or with -1 out again."""
        came = self.came[stay.kind]
        for week, kg in self.brings(stay):
            came[week] += sign * kg

    def gain(self, stay: Stay, missed: tuple[float, float]) -> float:
        """Return by how much one more batch betters its species.

        Args:
            stay: of the batch.
            missed: of the wish now.
        """
        aimed, came = self.aims[stay.kind], self.came[stay.kind]
        middle, most = aimed.middle, aimed.most
        whole, squares = missed
        # Written out, as this is where a search spends its time: `Aim.miss` before and after.
        for week, kg in self.brings(stay):
            now, want = came[week], middle[week]
            before = want - now if now < want else BEYOND * (now - most) if now > most else 0.0
            now += kg
            after = want - now if now < want else BEYOND * (now - most) if now > most else 0.0
            whole += after - before
            squares += after * after - before * before
        return aimed.weigh(missed) - aimed.weigh((whole, squares)) - self.cost(stay)

    def missed(self, kind: int) -> tuple[float, float]:
        """Return what is missed of the wish for one kind: in all, and the sum of squares."""
        return self.aims[kind].missed(self.came[kind])

    def cost(self, stay: Stay) -> float:
        """Return what a start weighs: more late, off the weekday of the plan, or if it waits."""
        waits = stay.opens - stay.on - self.aims[stay.kind].kind.white[1]
        off = OFF_DAY if stay.on % WEEK_D else 0.0
        return A_START + off + A_DAY_WAITED * max(waits, 0) + A_DAY_LATER * stay.on

    def loss(self, stays: Iterable[Stay], shelves: int) -> float:
        """Return how far a plan is from what is wanted; less is better.

        Args:
            stays: of it, counted in already.
            shelves: how many it fills at the fullest.
        """
        missed = sum(aimed.weigh(self.missed(kind)) for kind, aimed in enumerate(self.aims))
        costs = sum(self.cost(stay) for stay in stays)
        return missed + EMPTY_WEEK * self.empty() + costs + A_SHELF * shelves

    def empty(self) -> int:
        """Return how many weeks bring next to nothing, after the first that can bring enough."""
        wished = [sum(aimed.middle[week] for aimed in self.aims) for week in self._shown()]
        came = [sum(kind[week] for kind in self.came) for week in self._shown()]
        return sum(
            1
            for want, kg in zip(wished, came, strict=True)
            if want > _NOTHING_KG and kg < HARDLY * want
        )

    def _shown(self) -> range:
        return range(self.calendar.weeks)
