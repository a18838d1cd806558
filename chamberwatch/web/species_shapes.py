"""What the API gives of species: every figure with all that is said of it, and by whom."""

from collections.abc import Mapping
from typing import Final

from pydantic import BaseModel, Field

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.species import Mark, Species, SpeciesTable, Stated, View, Wants

Sources = Mapping[str, str]

OF_STAGE: Final[Mapping[str, str]] = {
    "temperature_c": "°C",
    "temperature_harm_c": "°C",
    "humidity_pct": "%",
    "humidity_harm_pct": "%",
    "co2_ppm": "ppm",
    "co2_harm_ppm": "ppm",
    "days": "d",
    "air_changes_per_h": "1/h",
    "light_lux": "lx",
}
"""Figures of a stage with their units."""


class ViewOut(BaseModel):
    """What one source says of a figure."""

    low: float | None = Field(description="null: not limited on that side")
    high: float | None = Field(description="null: not limited on that side")
    source: str | None = Field(description="full title; null: nobody is claimed to have said it")
    mark: Mark = Field(description="how it was read")
    note: str

    @classmethod
    def of(cls, view: View, sources: Sources) -> "ViewOut":
        """Write a view with the title of its source."""
        title = sources.get(view.source, view.source) or None
        return cls(low=view.low, high=view.high, source=title, mark=view.mark, note=view.note)


class StatedOut(BaseModel):
    """All that is said of one figure; the first view is the one that is used."""

    unit: str
    low: float | None
    high: float | None
    views: list[ViewOut]
    reason: str = Field(description="why the first is used, where there is more than one")

    @classmethod
    def of(cls, stated: Stated | None, unit: str, sources: Sources) -> "StatedOut | None":
        """Write a figure, null where nothing is said of it."""
        if stated is None:
            return None
        return cls(
            unit=unit,
            low=stated.low,
            high=stated.high,
            views=[ViewOut.of(view, sources) for view in stated.views],
            reason=stated.reason,
        )


class WantsOut(BaseModel):
    """What a species wants in one stage."""

    stage: Stage
    temperature_c: StatedOut | None
    temperature_harm_c: StatedOut | None
    humidity_pct: StatedOut | None = Field(description="as published, at the substrate")
    humidity_harm_pct: StatedOut | None
    co2_ppm: StatedOut | None
    co2_harm_ppm: StatedOut | None
    days: StatedOut | None
    air_changes_per_h: StatedOut | None = Field(description="shown, never judged")
    light_lux: StatedOut | None = Field(description="shown, never judged")
    light_note: str

    @classmethod
    def of(cls, wants: Wants, sources: Sources) -> "WantsOut":
        """Write the wants of a stage."""
        figures = {
            name: StatedOut.of(getattr(wants, name), unit, sources)
            for name, unit in OF_STAGE.items()
        }
        return cls.model_validate(
            {"stage": wants.stage, "light_note": wants.light_note, **figures}
        )


class SpeciesOut(BaseModel):
    """One species with all its figures."""

    name: str
    title: str
    latin: str
    own: bool = Field(description="added or changed in the grower's own species.toml")
    stages: list[WantsOut] = Field(description="in the order of its life")
    flushes: StatedOut | None
    days_between: StatedOut | None = Field(description="from one harvest to the next")
    efficiency_pct: StatedOut | None = Field(description="all fresh weight / dry substrate")
    water_pct: StatedOut | None = Field(description="in the fresh crop")
    soaked: bool = Field(description="whether blocks are soaked between flushes")
    pick_when: str
    notes: list[str]

    @classmethod
    def of(cls, species: Species, table: SpeciesTable) -> "SpeciesOut":
        """Write a species."""
        sources = table.sources
        return cls(
            name=species.name,
            title=species.title,
            latin=species.latin,
            own=species.name in table.own,
            stages=[WantsOut.of(wants, sources) for wants in species.stages.values()],
            flushes=StatedOut.of(species.flushes, "", sources),
            days_between=StatedOut.of(species.days_between, "d", sources),
            efficiency_pct=StatedOut.of(species.efficiency_pct, "%", sources),
            water_pct=StatedOut.of(species.water_pct, "%", sources),
            soaked=species.soaked,
            pick_when=species.pick_when,
            notes=list(species.notes),
        )


class SpeciesTableOut(BaseModel):
    """All species there are."""

    species: list[SpeciesOut]

    @classmethod
    def of(cls, table: SpeciesTable) -> "SpeciesTableOut":
        """Write the table in its order."""
        return cls(species=[SpeciesOut.of(each, table) for each in table.species.values()])
