"""What a species wants of its air in each stage, how long that takes, and who says so.

Every figure keeps all the views that sources have of it, with how each was read; the first view
is the one that is used, and where there is more than one a reason says why.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.patience import OwnPatience


class Mark(StrEnum):
    """How well a figure is known to us."""

    READ = "read"
    COPY = "read in a copy"
    TRADE = "trade note"
    MEMORY = "from memory"
    COMMON = "common practice"
    RECKONED = "reckoned"


UNSAID: Final = frozenset({Mark.COMMON, Mark.COPY})
"""What a sentence leaves out beside the name of a source; the table of species says it."""


@dataclass(frozen=True, slots=True)
class View:
    """What one source says of one figure, in the unit of the figure.

    Attributes:
        low: lower end; None: not limited on that side.
        high: upper end; None: not limited on that side.
        source: key in `SpeciesTable.sources`; empty with common practice.
        mark: how it was read.
        note: for which strains, under which conditions.
    """

    low: float | None
    high: float | None
    source: str = ""
    mark: Mark = Mark.COMMON
    note: str = ""


@dataclass(frozen=True, slots=True)
class Stated:
    """All that is stated of one figure.

    Attributes:
        views: the one that is used comes first.
        reason: why it is that one; empty where there is only one.
    """

    views: tuple[View, ...]
    reason: str = ""

    @property
    def used(self) -> View:
        """Return the view that is used."""
        return self.views[0]

    @property
    def low(self) -> float | None:
        """Return its lower end."""
        return self.used.low

    @property
    def high(self) -> float | None:
        """Return its upper end."""
        return self.used.high


@dataclass(frozen=True, slots=True)
class Wants:
    """What a species wants in one stage.

    Attributes:
        stage: which.
        temperature_c: of the air. [°C]
        humidity_pct: as published, measured at the substrate. [%]
        co2_ppm: of the air. [ppm]
        temperature_harm_c: beyond these the crop is hurt. [°C]
        humidity_harm_pct: likewise. [%]
        co2_harm_ppm: likewise. [ppm]
        days: how long the stage lasts. [d]
        air_changes_per_h: shown, never alarmed on: it depends on the load. [1/h]
        light_lux: shown, never alarmed on. [lx]
        light_note: hours a day, colour.
    """

    stage: Stage
    temperature_c: Stated | None = None
    humidity_pct: Stated | None = None
    co2_ppm: Stated | None = None
    temperature_harm_c: Stated | None = None
    humidity_harm_pct: Stated | None = None
    co2_harm_ppm: Stated | None = None
    days: Stated | None = None
    air_changes_per_h: Stated | None = None
    light_lux: Stated | None = None
    light_note: str = ""


@dataclass(frozen=True, slots=True)
class Species:
    """One species.

    Attributes:
        name: short, as in commands and addresses, such as grey-oyster.
        title: common name, such as Grey oyster.
        latin: scientific name.
        stages: in the order of its life; resting, spent and contaminated have no wants.
        flushes: how many.
        days_between: from the harvest of a flush to that of the next. [d]
        efficiency_pct: biological efficiency over all flushes, fresh / dry substrate. [%]
        water_pct: water in the fresh crop. [%]
        soaked: whether blocks are soaked between flushes (common practice).
        pick_when: by what one sees that it is ready, in a few words.
        notes: what a grower should know, a sentence each.
        patience: how long and how far its air may be outside, where that is not as usual; by
            quantity.
    """

    name: str
    title: str
    latin: str
    stages: Mapping[Stage, Wants]
    flushes: Stated | None = None
    days_between: Stated | None = None
    efficiency_pct: Stated | None = None
    water_pct: Stated | None = None
    soaked: bool = False
    pick_when: str = ""
    notes: tuple[str, ...] = ()
    patience: Mapping[str, OwnPatience] = field(default_factory=dict)

    @property
    def fruits_at_c(self) -> float | None:
        """Return the middle of the temperatures at which it fruits; None: not stated. [°C]."""
        for stage in (Stage.FRUITING, Stage.CONK):
            wants = self.stages.get(stage)
            stated = wants.temperature_c if wants is not None else None
            if stated is not None and stated.low is not None and stated.high is not None:
                return (stated.low + stated.high) / 2.0
        return None


@dataclass(frozen=True, slots=True)
class SpeciesTable:
    """All species there are, and the sources of their figures.

    Attributes:
        species: by name, in the order they are listed.
        sources: full titles by key.
        own: names of species that the grower added or changed.
    """

    species: Mapping[str, Species]
    sources: Mapping[str, str]
    own: frozenset[str] = field(default_factory=frozenset)

    def get(self, name: str) -> Species:
        """Return a species.

        Raises:
            UnknownNameError: no such species; the text lists what there is.
        """
        try:
            return self.species[name]
        except KeyError:
            known = ", ".join(self.species)
            raise UnknownNameError(f"There is no species “{name}”. Known: {known}.") from None

    def known(self, name: str) -> Species:
        """Return a species, one without any figures where the table has lost it.

        What was recorded of it still counts when the grower takes a species of his own out again.
        """
        return self.species.get(name) or Species(name, name, "", {})
