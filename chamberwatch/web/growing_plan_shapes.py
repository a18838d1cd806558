"""What the API takes and gives about tasks and the plan of starts."""

from collections.abc import Iterable
from datetime import date
from typing import Annotated, Final

from pydantic import BaseModel, Field

from chamberwatch.core.growing.rotation.plan import (
    LEAST_KG,
    MOST_KG,
    MOST_WEEKS,
    WEEKS,
    Awaited,
    Gives,
    PlannedStart,
    Slots,
    Wanted,
    WeekExpectation,
)
from chamberwatch.core.growing.task import TaskKind
from chamberwatch.service.growing.duties import TaskNow
from chamberwatch.service.growing.rotating import PlanNow
from chamberwatch.web.given import Given
from chamberwatch.web.problems import ProblemError
from chamberwatch.web.shapes import Moment

FEWEST_WEEKS: Final = 1
MOST_SPECIES: Final = 12

Kilograms = Annotated[float, Field(ge=LEAST_KG, le=MOST_KG, allow_inf_nan=False)]


class TaskOut(BaseModel):
    """One thing that can be done today."""

    key: str = Field(description="stays the same while it waits")
    kind: TaskKind
    batch: int | None = Field(description="null with a start")
    species: str
    chamber: str | None
    shelf: str | None
    times: int = Field(description="how many batches to start; 1 with everything else")
    low: Moment = Field(description="best done from then ...")
    high: Moment = Field(description="... to then")
    overdue: bool
    own_batches: int = Field(description="so many finished batches of yours are in the window")
    source: str
    title: str
    body: str

    @classmethod
    def of(cls, shown: TaskNow) -> "TaskOut":
        """Write a task with its words."""
        task = shown.task
        return cls(
            key=task.key,
            kind=task.kind,
            batch=task.batch,
            species=task.species,
            chamber=task.chamber,
            shelf=task.shelf,
            times=task.times,
            low=task.window.low,
            high=task.window.high,
            overdue=shown.overdue,
            own_batches=task.count,
            source=task.source,
            title=shown.title,
            body=shown.body,
        )


class TasksOut(BaseModel):
    """What can be done today, what spoils soonest first."""

    tasks: list[TaskOut]

    @classmethod
    def of(cls, shown: Iterable[TaskNow]) -> "TasksOut":
        """Write tasks in their order."""
        return cls(tasks=[TaskOut.of(each) for each in shown])


class WantedIn(Given):
    """What is wanted of one species."""

    species: str = Field(min_length=1, max_length=200, description="its name in the table")
    kg_per_week: list[Kilograms] = Field(
        min_length=2, max_length=2, description="fresh, at least and at most"
    )
    batch_dry_g: float = Field(
        ge=10.0, le=100_000.0, allow_inf_nan=False, description="dry substrate in one batch"
    )

    def wanted(self) -> Wanted:
        """Return it in the words of the core.

        Raises:
            ProblemError: low and high are swapped.
        """
        low, high = self.kg_per_week
        if low > high:
            raise ProblemError(
                422, "not-valid", f"kg_per_week: {low:g} is above {high:g}. Swap them."
            )
        return Wanted(self.species, (low, high), self.batch_dry_g)


class RotationIn(Given):
    """A wish to be tried."""

    wanted: list[WantedIn] = Field(min_length=1, max_length=MOST_SPECIES)
    weeks: int = Field(default=WEEKS, ge=FEWEST_WEEKS, le=MOST_WEEKS)

    def asked(self) -> tuple[Wanted, ...]:
        """Return the wish in the words of the core.

        Raises:
            ProblemError: the same species twice, or low and high swapped.
        """
        asked = tuple(each.wanted() for each in self.wanted)
        if len({each.species for each in asked}) < len(asked):
            raise ProblemError(
                422, "not-valid", "The same species is wanted twice. Make them one."
            )
        return asked


class RangeOut(BaseModel):
    """From low to high."""

    low: float
    high: float

    @classmethod
    def of(cls, ends: tuple[float, float], digits: int = 2) -> "RangeOut":
        """Write a range, no finer than it is good for."""
        low, high = ends
        return cls(low=round(low, digits), high=round(high, digits))


class PlaceOut(BaseModel):
    """Where a batch stands."""

    chamber: str
    shelf: str = Field(description="empty where the chamber names none")

    @classmethod
    def of(cls, place: tuple[str, str]) -> "PlaceOut":
        """Write a place."""
        chamber, shelf = place
        return cls(chamber=chamber, shelf=shelf)


class AwaitedOut(BaseModel):
    """A flush to expect of a planned batch."""

    low: date = Field(description="first day of the window ...")
    high: date = Field(description="... and its last")
    kg: RangeOut

    @classmethod
    def of(cls, awaited: Awaited) -> "AwaitedOut":
        """Write a flush."""
        return cls(
            low=_day(awaited.low),
            high=_day(awaited.high),
            kg=RangeOut.of((awaited.kg_low, awaited.kg_high)),
        )


def _day(day: date) -> date:
    return date(day.year, day.month, day.day)


class PlannedStartOut(BaseModel):
    """A batch to start."""

    species: str
    on: date = Field(description="one that is past still waits to be made")
    colonise_at: PlaceOut | None = Field(description="null: its place is still taken")
    opens_on: date
    fruit_at: PlaceOut
    leaves_on: date
    harvests: list[AwaitedOut]

    @classmethod
    def of(cls, start: PlannedStart) -> "PlannedStartOut":
        """Write a start."""
        return cls(
            species=start.species,
            on=start.on,
            colonise_at=PlaceOut.of(start.colonise_at) if start.colonise_at else None,
            opens_on=start.opens_on,
            fruit_at=PlaceOut.of(start.fruit_at),
            leaves_on=start.leaves_on,
            harvests=[AwaitedOut.of(awaited) for awaited in start.harvests],
        )


class WeekOut(BaseModel):
    """What to expect in a week, of batches under way and planned."""

    monday: date
    kg: RangeOut
    by_species: dict[str, RangeOut]

    @classmethod
    def of(cls, week: WeekExpectation) -> "WeekOut":
        """Write a week."""
        return cls(
            monday=week.monday,
            kg=RangeOut.of((week.kg_low, week.kg_high)),
            by_species={name: RangeOut.of(kg) for name, kg in week.by_species.items()},
        )


class GivesOut(BaseModel):
    """A week in which less comes than is wanted."""

    week: date = Field(description="its Monday")
    chamber: str = Field(description="that has no room for more; empty: not the reason")
    shelf: str = Field(description="the one there that is free first; empty: not the reason")
    species: str
    missing_kg: float
    why: str

    @classmethod
    def of(cls, gives: Gives) -> "GivesOut":
        """Write what gives."""
        return cls(
            week=gives.week,
            chamber=gives.chamber,
            shelf=gives.shelf,
            species=gives.species,
            missing_kg=round(gives.missing_kg, 3),
            why=gives.why,
        )


class SlotsOut(BaseModel):
    """Places that the rate of starts fills (Little's law)."""

    store: RangeOut = Field(description="of sealed batches")
    fruiting: RangeOut = Field(description="of open ones")

    @classmethod
    def of(cls, slots: Slots) -> "SlotsOut":
        """Write places."""
        return cls(store=RangeOut.of(slots.store), fruiting=RangeOut.of(slots.fruiting))


class WantedOut(BaseModel):
    """What is wanted of one species."""

    species: str
    kg_per_week: RangeOut
    batch_dry_g: float

    @classmethod
    def of(cls, wanted: Wanted) -> "WantedOut":
        """Write a wish."""
        return cls(
            species=wanted.species,
            kg_per_week=RangeOut.of(wanted.kg_per_week, 3),
            batch_dry_g=wanted.batch_dry_g,
        )


class RotationOut(BaseModel):
    """A plan of starts, and what comes of it."""

    wanted: list[WantedOut]
    made: date = Field(
        description="the day on which it was planned; starts made since are left out"
    )
    meets: bool = Field(description="the wish is met in every week")
    words: list[str]
    starts_per_week: dict[str, RangeOut]
    slots: dict[str, SlotsOut]
    starts: list[PlannedStartOut]
    weeks: list[WeekOut]
    gives: list[GivesOut]
    helps: list[str] = Field(description="what would help where something gives")
    stuck: list[int] = Field(description="batches under way that find no room to be opened")

    @classmethod
    def of(cls, planned: PlanNow) -> "RotationOut":
        """Write a plan."""
        plan = planned.plan
        return cls(
            wanted=[WantedOut.of(each) for each in planned.asked],
            made=planned.made,
            meets=plan.meets,
            words=list(planned.words),
            starts_per_week={n: RangeOut.of(rate) for n, rate in plan.starts_per_week.items()},
            slots={name: SlotsOut.of(slots) for name, slots in plan.slots.items()},
            starts=[PlannedStartOut.of(start) for start in plan.starts],
            weeks=[WeekOut.of(week) for week in plan.weeks],
            gives=[GivesOut.of(gives) for gives in plan.gives],
            helps=list(plan.helps),
            stuck=list(plan.stuck),
        )
