"""The shape of species.toml, and the faults of what has another shape.

Each key may be left out as far as the shape goes; what a new species can't do without is asked
for once the entries are put together. So whatever is at fault can be taken out, and the rest be
looked at: one fault hides no other.
"""

import copy
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import BaseModel, Field, StrictBool, ValidationError
from pydantic_core import ErrorDetails

from chamberwatch.core.errors import Fault
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.species import Mark
from chamberwatch.settings.values import Name, Number, Part
from chamberwatch.settings.wording import CURES, key_words, near, one_line, shown

LONGEST_NOTE: Final = 300
Words = str
WANTED: Final = (
    Stage.COLONISATION,
    Stage.CASE_RUN,
    Stage.PINNING,
    Stage.FRUITING,
    Stage.ANTLER,
    Stage.CONK,
)
"""The stages that want an air of their own, in the order of a life."""

OF_SPECIES: Final = ("flushes", "days_between", "efficiency_pct", "water_pct")
OF_STAGE: Final = (
    "temperature_c",
    "humidity_pct",
    "co2_ppm",
    "temperature_harm_c",
    "humidity_harm_pct",
    "co2_harm_ppm",
    "days",
    "air_changes_per_h",
    "light_lux",
)
FIGURES: Final = frozenset((*OF_SPECIES, *OF_STAGE))

WantedStage = Literal[WANTED]  # type: ignore[valid-type]
