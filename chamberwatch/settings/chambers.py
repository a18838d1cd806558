"""[[chamber]]: one body of air, and what the grower knows of it."""

from collections.abc import Iterator
from datetime import time, timedelta
from enum import StrEnum
from itertools import pairwise
from typing import Annotated, Self

from pydantic import Field, StrictBool, field_validator, model_validator

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.settings.patience import PatienceSettings
from chamberwatch.settings.values import (
    Length,
    Line,
    Name,
    Number,
    Part,
    TimeOfDay,
    Whole,
    between,
)


class StatedStage(StrEnum):
    """What a chamber is stated to be for; what stands in it may be in any stage."""

    COLONISATION = Stage.COLONISATION.value
    FRUITING = Stage.FRUITING.value


WetAtMost = Annotated[
    Length, between(timedelta(minutes=10), timedelta(days=3), "Give 10 min to 3 days.")
]

Early = Annotated[Length, between(timedelta(minutes=5), timedelta(hours=3), "Give 5 min to 3 h.")]


class ChamberSettings(Part):
    """One body of air."""

    name: Name
    title: Line = ""
    volume_l: Number | None = Field(default=None, gt=0.0, le=100_000.0)
    shelves: tuple[Name, ...] = Field(default=(), max_length=24)
    stage: StatedStage | None = None
    surrounding: str | None = None
    air_changes_per_h: Number | None = Field(default=None, gt=0.0, le=200.0)
    vent_air_changes_per_h: Number | None = Field(default=None, gt=0.0, le=1000.0)
    wet_area_m2: Number | None = Field(default=None, ge=0.0, le=100.0)
    squeeze_g: Number = Field(default=1.0, gt=0.0, le=50.0)
    cover_u_w_per_m2k: Number = Field(default=3.8, ge=0.1, le=20.0)
    wet_at_most: WetAtMost = timedelta(hours=6)
    visits: tuple[TimeOfDay, ...] = Field(
        default=(time(7, 30), time(18, 0), time(22, 0)), max_length=24
    )
    living_space: StrictBool = False
    shelf_holds: Whole | None = Field(default=None, ge=1, le=1000)
    open_at_most: Whole | None = Field(default=None, ge=1, le=1000)
    outdoors: StrictBool = False
    patience: PatienceSettings = PatienceSettings()
    early: Early | None = None

    @field_validator("visits")
    @classmethod
    def _through_the_day(cls, visits: tuple[time, ...]) -> tuple[time, ...]:
        if not visits:
            raise ValueError('Name at least one time of day, such as ["18:00"].')
        if len(set(visits)) < len(visits):
            raise ValueError("One time of day stands there twice; take one out.")
        if any(before > after for before, after in pairwise(visits)):
            raise ValueError("Write them in the order of the day, the earliest first.")
        return visits

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        wrong = list(self._misfits())
        if wrong:
            raise ValueError(" ".join(wrong))
        return self

    def _misfits(self) -> Iterator[str]:
        if len(set(self.shelves)) < len(self.shelves):
            yield "Two shelves have the same name; give each its own."
        taken = {place.value for place in Place} & set(self.shelves)
        if taken:
            yield f"A shelf can't be called {min(taken)}; that is a place already."
        if self.outdoors and self.stage is not None:
            yield "What is outdoors is no chamber: take out stage, or outdoors."
        if self.early is not None and self.stage is None:
            yield "early is for a chamber with a stage; a room has no limits to be early for."
        closed, open_ = self.air_changes_per_h, self.vent_air_changes_per_h
        if closed is not None and open_ is not None and open_ <= closed:
            yield (
                "vent_air_changes_per_h must be more than air_changes_per_h: the first is "
                "while it is vented, the second while it is closed."
            )

    def chamber(self) -> Chamber:
        """Return it in the words of the core."""
        return Chamber(
            name=self.name,
            title=self.title or self.name,
            stage=Stage(self.stage.value) if self.stage is not None else None,
            volume_l=self.volume_l,
            shelves=self.shelves,
            surrounding=self.surrounding,
            air_changes_per_h=self.air_changes_per_h,
            vent_air_changes_per_h=self.vent_air_changes_per_h,
            wet_area_m2=self.wet_area_m2,
            squeeze_g=self.squeeze_g,
            cover_u_w_per_m2k=self.cover_u_w_per_m2k,
            wet_at_most=self.wet_at_most,
            visits=self.visits,
            living_space=self.living_space,
            shelf_holds=self.shelf_holds,
            open_at_most=self.open_at_most,
            outdoors=self.outdoors,
            patience={Quantity(name): own for name, own in self.patience.own().items()},
            early=self.early,
        )
