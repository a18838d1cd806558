"""The shape of species.toml, and the faults of what has another shape.

Every key may be left out as far as the shape goes; what a new species can't do without is asked
for when the entries are put together. So what is at fault can be taken out and the rest be looked
at: one fault hides no other.
"""

import copy
from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import BaseModel, Field, StrictBool, ValidationError
from pydantic_core import ErrorDetails

from chamberwatch.core.errors import Fault
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.species import Mark
from chamberwatch.settings.patience import AskedPriority, PatienceSettings, QuantityPatience
from chamberwatch.settings.values import IN_ONE_LINE, Name, Number, Part
from chamberwatch.settings.wording import CURES, key_words, near, one_line, shown

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
_ROUNDS_AT_MOST: Final = 20

RANGES: Final[Mapping[str, str]] = {
    "flushes": "{ low = 2, high = 4 }",
    "days_between": "{ low = 10, high = 14 }",
    "efficiency_pct": "{ low = 50, high = 100 }",
    "water_pct": "{ low = 60, high = 65 }",
    "temperature_c": "{ low = 14, high = 18 }",
    "humidity_pct": "{ low = 85, high = 90 }",
    "co2_ppm": "{ high = 1000 }",
    "temperature_harm_c": "{ high = 30 }",
    "humidity_harm_pct": "{ low = 70 }",
    "co2_harm_ppm": "{ high = 2000 }",
    "days": "{ low = 10, high = 14 }",
    "air_changes_per_h": "{ low = 4, high = 8 }",
    "light_lux": "{ low = 500, high = 1000 }",
}
"""How each figure is written, by an example; not a figure of any species."""

Where = tuple[int | str, ...]
"""A place in the file as its shape has it, with `views` where only one view is written."""


class WantedStage(StrEnum):
    """The stages that want an air of their own."""

    COLONISATION = Stage.COLONISATION.value
    CASE_RUN = Stage.CASE_RUN.value
    PINNING = Stage.PINNING.value
    FRUITING = Stage.FRUITING.value
    ANTLER = Stage.ANTLER.value
    CONK = Stage.CONK.value


class ViewShape(Part):
    """What one source says."""

    low: Number | None = None
    high: Number | None = None
    source: str | None = Field(default=None, min_length=1, max_length=60)
    mark: Mark | None = None
    note: str = Field(default="", max_length=300)


class FigureShape(Part):
    """All views of one figure."""

    reason: str = Field(default="", max_length=300)
    views: tuple[ViewShape, ...] = Field(default=(), max_length=20)


class StageShape(Part):
    """One stage of a species."""

    name: WantedStage | None = None
    temperature_c: FigureShape | None = None
    humidity_pct: FigureShape | None = None
    co2_ppm: FigureShape | None = None
    temperature_harm_c: FigureShape | None = None
    humidity_harm_pct: FigureShape | None = None
    co2_harm_ppm: FigureShape | None = None
    days: FigureShape | None = None
    air_changes_per_h: FigureShape | None = None
    light_lux: FigureShape | None = None
    light_note: str | None = Field(default=None, max_length=300)


class SpeciesShape(Part):
    """One species."""

    name: Name | None = None
    like: str | None = None
    title: Annotated[str, Field(min_length=1, max_length=60), IN_ONE_LINE] | None = None
    latin: Annotated[str, Field(min_length=1, max_length=80), IN_ONE_LINE] | None = None
    soaked: StrictBool | None = None
    pick_when: str | None = Field(default=None, max_length=300)
    notes: tuple[str, ...] | None = Field(default=None, max_length=24)
    flushes: FigureShape | None = None
    days_between: FigureShape | None = None
    efficiency_pct: FigureShape | None = None
    water_pct: FigureShape | None = None
    stage: tuple[StageShape, ...] = ()
    patience: PatienceSettings | None = None


class SpeciesFile(Part):
    """Everything in the file."""

    sources: dict[str, str] = Field(default_factory=dict)
    species: tuple[SpeciesShape, ...] = ()


def shaped(path: Path, raw: Mapping[str, Any]) -> tuple[SpeciesFile, dict[Where, Fault]]:
    """Return what of a file has the right shape, and the faults of the rest by their places."""
    rest = _spelt_out(raw)
    faults: dict[Where, Fault] = {}
    for _ in range(_ROUNDS_AT_MOST):
        try:
            return SpeciesFile.model_validate(rest), faults
        except ValidationError as error:
            found = error.errors()
        for detail in found:
            where = tuple(detail["loc"])
            faults[where] = fault_at(path, raw, where, _cure(detail), _value(detail["input"]))
            _take_out(rest, where)
    return SpeciesFile(), faults


def fault_at(
    path: Path, raw: Mapping[str, Any], where: Where, cure: str, value: str = ""
) -> Fault:
    """Return a fault with its place as it is written in the file."""
    return Fault(str(path), key_words(raw, _as_written(raw, where)), value, one_line(cure))


def _spelt_out(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Return a copy in which each figure is a table with a list of views."""
    content = copy.deepcopy(dict(raw))
    for species in _tables(content.get("species")):
        _spell_out(species, OF_SPECIES)
        for stage in _tables(species.get("stage")):
            _spell_out(stage, OF_STAGE)
    return content


def _tables(value: object) -> Iterator[dict[str, Any]]:
    return (e for e in value if isinstance(e, dict)) if isinstance(value, list) else iter(())


def _spell_out(entry: dict[str, Any], figures: Sequence[str]) -> None:
    for key in figures:
        given = entry.get(key)
        if isinstance(given, list):
            entry[key] = {"views": given}
        elif isinstance(given, dict) and "views" not in given:
            reason = {"reason": given.pop("reason")} if "reason" in given else {}
            entry[key] = {"views": [given], **reason}


def _as_written(raw: Any, where: Where) -> Where:  # noqa: ANN401 - any TOML value
    """Return a place without the `views` that were added to spell a figure out."""
    if "views" not in where:
        return where
    at = where.index("views")
    figure = raw
    for part in where[:at]:
        figure = figure[part]
    if isinstance(figure, list):
        return where[:at] + where[at + 1 :]
    return where if "views" in figure else where[:at] + where[at + 2 :]


def _take_out(rest: dict[str, Any], where: Where) -> None:
    *path, last = where
    parent: Any = rest
    for part in path:
        parent = parent[part]
    if isinstance(parent, list):
        # An empty one, so that the entries after it keep their numbers.
        parent[int(last)] = "" if path[-1] == "notes" else {}
    else:
        parent.pop(last, None)


def _value(given: object) -> str:
    """Write a value on one line; what holds sections is not shown."""
    sections = isinstance(given, list) and any(isinstance(part, dict) for part in given)
    return "" if sections else shown(given)


def _cure(detail: ErrorDetails) -> str:
    where, kind = tuple(detail["loc"]), detail["type"]
    last = str(where[-1])
    if kind == "extra_forbidden":
        return "There is no such key; take it out." + near(last, _keys_beside(where))
    if kind == "enum":
        words: type[StrEnum] = {"mark": Mark, "priority": AskedPriority}.get(last, WantedStage)
        known = [word.value for word in words]
        return f"Write one of {', '.join(known)}." + near(str(detail["input"]), known)
    if kind in ("model_type", "dict_type", "tuple_type"):
        return _shape(where)
    message = detail["msg"].removeprefix("Value error, ")
    return CURES[kind].format(**detail.get("ctx", {})) if kind in CURES else message


def _shape(where: Where) -> str:
    """Say how a section, a list or a figure is written."""
    key = next(part for part in reversed(where) if isinstance(part, str))
    if "patience" in where:
        return 'Write it as a section, such as patience.humidity = { on_delay = "10 min" }.'
    example = next((RANGES[str(part)] for part in where if part in RANGES), "")
    return {
        "species": "Write each as a section of its own that begins with [[species]].",
        "stage": "Write each as a section of its own that begins with [[species.stage]].",
        "sources": 'Write it as a section, [sources], with lines such as key = "full title".',
        "notes": 'Write a list, such as ["A sentence."].',
        "views": f"Write a list of ranges, such as [{example}].",
    }.get(key, f"Write a range, such as {example}.")


def _keys_beside(where: Where) -> list[str]:
    """Return the keys that would have been right in that place."""
    inside = [part for part in where[:-1] if isinstance(part, str)]
    models: dict[str, type[BaseModel]] = {
        "": SpeciesFile,
        "species": SpeciesShape,
        "stage": StageShape,
        "views": ViewShape,
        "patience": PatienceSettings,
    }
    if "patience" in inside[:-1]:
        return list(QuantityPatience.model_fields)
    model = models.get(inside[-1] if inside else "", FigureShape)
    return [*model.model_fields, *(("reason", "views") if model is ViewShape else ())]
