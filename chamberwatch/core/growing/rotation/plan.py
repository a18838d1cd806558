"""The plan of starts that keeps a harvest coming: what it is made from, and what it says.

Windows stay windows: a plan books shelves for the longest that a batch may need them, and says
what to expect as low to high.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final, NamedTuple

from chamberwatch.core.growing.due import Window

WEEK_D: Final = 7
"""Days in a week. [d]"""

WEEKS: Final = 12
"""How far a plan looks ahead unless it is asked otherwise (our choice). [weeks]"""

MOST_WEEKS: Final = 26
"""Further than half a year nobody knows what will stand where (our choice). [weeks]"""

LEAST_KG: Final = 0.01
"""Less than this is no harvest to plan for in a week (our choice). [kg]"""

MOST_KG: Final = 100.0
"""More than this in a week is no longer a home's (our choice)."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is wanted of one species.

    Attributes:
        species: its name.
        kg_per_week: fresh weight, least and most. [kg]
        batch_dry_g: dry substrate in one batch as this grower makes it. [g]
    """

    species: str
    kg_per_week: tuple[float, float]
    batch_dry_g: float


@dataclass(frozen=True, slots=True)
class Space:
    """Where batches can stand.

    Attributes:
        chamber: its name.
        shelves: their names.
        holds: how many batches one shelf takes.
        open_at_most: open batches at once in this chamber; None: as many as the shelves take.
        temperature_c: what its air can be held at; None: whatever those in it agree on. [°C]
        takes_open: not so with a dark store for sealed bags.
    """

    chamber: str
    shelves: tuple[str, ...]
    holds: int = 1
    open_at_most: int | None = None
    temperature_c: tuple[float, float] | None = None
    takes_open: bool = True


class Awaited(NamedTuple):
    """A flush that is expected. A time counts as its day, in the zone that it carries."""

    low: date
    high: date
    kg_low: float
    kg_high: float


@dataclass(frozen=True, slots=True)
class UnderWay:
    """A batch that was started already.

    Attributes:
        batch: its number.
        species: its name.
        chamber: where it stands; None: in none, so it takes no slot.
        shelf: the shelf there.
        open: it shares the air of the chamber.
        opens: when a sealed one is ready to be opened; None: nobody can say.
        leaves: when it is cleared out.
        harvests: what is still to come of it.
    """

    batch: int
    species: str
    chamber: str | None
    shelf: str | None
    open: bool
    opens: Window | None
    leaves: Window
    harvests: tuple[Awaited, ...] = ()


@dataclass(frozen=True, slots=True)
class FlushAt:
    """One flush, counted from opening.

    Attributes:
        low: first day. [d]
        high: last day. [d]
        share: of the whole crop, 0 to 1.
    """

    low: float
    high: float
    share: float


@dataclass(frozen=True, slots=True)
class Timing:
    """How long a batch of a species takes.

    Attributes:
        colonise_days: from the start to white through, low and high. [d]
        stay_days: from opening to clearing out, low and high. [d]
        flushes: in order.
    """

    colonise_days: tuple[float, float]
    stay_days: tuple[float, float]
    flushes: tuple[FlushAt, ...]


@dataclass(frozen=True, slots=True)
class PlannedStart:
    """A batch to start.

    Attributes:
        species: its name.
        on: the day.
        colonise_at: chamber and shelf where it colonises; None: that place is still taken.
        opens_on: the day to open it, when it is most likely white through, or later.
        fruit_at: chamber and shelf where it fruits.
        leaves_on: the day by which its place is free again.
        harvests: what to expect of it.
        turn: it is the so-manieth of its species that was ever started; 0: not counted.
    """

    species: str
    on: date
    colonise_at: tuple[str, str] | None
    opens_on: date
    fruit_at: tuple[str, str]
    leaves_on: date
    harvests: tuple[Awaited, ...]
    turn: int = 0


@dataclass(frozen=True, slots=True)
class PlannedMove:
    """A sealed batch under way that is to be opened.

    Attributes:
        batch: its number.
        opens_on: the day, when it is most likely white through, or later.
        fruit_at: chamber and shelf where it fruits.
        leaves_on: the day by which its place is free again.
    """

    batch: int
    opens_on: date
    fruit_at: tuple[str, str]
    leaves_on: date


@dataclass(frozen=True, slots=True)
class WeekExpectation:
    """What to expect in a week, of batches under way and planned.

    Attributes:
        monday: its first day.
        kg_low: least, fresh. [kg]
        kg_high: most, fresh. [kg]
        by_species: the same for each of them. [kg]
    """

    monday: date
    kg_low: float
    kg_high: float
    by_species: Mapping[str, tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Gives:
    """A week in which less comes than is wanted.

    Attributes:
        week: its Monday.
        chamber: where there was no room for more; empty where that is not the reason.
        shelf: the one there that is free again first; empty where shelves are not the reason.
        species: of which too little comes.
        missing_kg: to the least that is wanted. [kg]
        why: and what would help, in words.
    """

    week: date
    chamber: str
    shelf: str
    species: str
    missing_kg: float
    why: str


@dataclass(frozen=True, slots=True)
class Slots:
    """Places that a rate of starts fills.

    Attributes:
        store: of sealed batches, for the low and the high rate.
        fruiting: of open ones.
    """

    store: tuple[float, float]
    fruiting: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Plan:
    """What to start when, and what comes of it.

    Attributes:
        starts: by day.
        weeks: what to expect in each.
        gives: weeks in which less comes than is wanted.
        starts_per_week: how many the wish takes, by species, low and high.
        slots: how many places that fills, by species.
        meets: nothing gives.
        helps: what would help where something gives, the cheapest first, in words.
        stuck: batches under way that find no room to be opened in time, by number.
        moves: where the sealed batches under way are opened.
    """

    starts: tuple[PlannedStart, ...]
    weeks: tuple[WeekExpectation, ...]
    gives: tuple[Gives, ...]
    starts_per_week: Mapping[str, tuple[float, float]]
    slots: Mapping[str, Slots]
    meets: bool
    helps: tuple[str, ...] = ()
    stuck: tuple[int, ...] = ()
    moves: tuple[PlannedMove, ...] = ()

    def short_weeks(self, least_kg: float) -> frozenset[date]:
        """Return the Mondays of the weeks in which less comes than is wished.

        Those that give, where it may be one species of several; and those in which not even the
        most is enough of all together, also where no start can change that any more.

        Args:
            least_kg: the least that is wished of all species together, a week. [kg]
        """
        lean = {week.monday for week in self.weeks if week.kg_high < least_kg}
        return frozenset(lean | {each.week for each in self.gives})
