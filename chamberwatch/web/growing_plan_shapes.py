"""What the API takes and gives about tasks and the plan of starts."""

from collections.abc import Iterable
from datetime import date
from typing import Annotated, Final

from pydantic import BaseModel, Field

from chamberwatch.core.growing.rotation import Wanted
from chamberwatch.core.growing.task import TaskKind
from chamberwatch.service.growing.duties import TaskNow
from chamberwatch.service.growing.rotating import PlanNow
from chamberwatch.web.given import Given
from chamberwatch.web.problems import ProblemError
from chamberwatch.web.shapes import Moment

WEEKS: Final = 12
FEWEST_WEEKS: Final = 1
MOST_WEEKS: Final = 26
MOST_SPECIES: Final = 12

Kilograms = Annotated[float, Field(gt=0.0, le=100.0, allow_inf_nan=False)]


class TaskOut(BaseModel):
    """One thing that can be done today."""

    key: str = Field(description="stays the same while it waits")
    kind: TaskKind
    batch: int | None = Field(description="null with a start")
    species: str
    chamber: str | None
    shelf: str | None
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


class RotationOut(BaseModel):
    """A plan."""

    @classmethod
    def of(cls, planned: PlanNow) -> "RotationOut":
        """Write a plan."""
        return cls()
