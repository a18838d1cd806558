"""The species table: what is shipped, with what the grower's own species.toml changes in it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from chamberwatch.core.errors import Fault, SettingsError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.species import Mark, Species, SpeciesTable, Stated, View, Wants
from chamberwatch.settings.loading import parsed
from chamberwatch.settings.species_shapes import (
    OF_SPECIES,
    OF_STAGE,
    RANGES,
    FigureShape,
    SpeciesFile,
    SpeciesShape,
    StageShape,
    ViewShape,
    Where,
    fault_at,
    shaped,
)
from chamberwatch.settings.wording import near, shown

OWN_FILE: Final = "species.toml"
YOURS: Final = "yours"
OWN_REASON: Final = "your own figure"

_LIMITS: Final[Mapping[str, tuple[float, float]]] = {
    "temperature_c": (-5.0, 45.0),
    "temperature_harm_c": (-5.0, 45.0),
    "humidity_pct": (0.0, 100.0),
    "humidity_harm_pct": (0.0, 100.0),
    "co2_ppm": (1.0, 100_000.0),
    "co2_harm_ppm": (1.0, 100_000.0),
    "days": (0.1, 1000.0),
    "air_changes_per_h": (0.0, 1000.0),
    "light_lux": (0.0, 100_000.0),
    "flushes": (1.0, 50.0),
    "days_between": (0.1, 1000.0),
    "efficiency_pct": (0.1, 1000.0),
    "water_pct": (0.0, 100.0),
}
_DEGREES: Final = frozenset({"temperature_c", "temperature_harm_c"})
# Names of other mushrooms are alike, too: only what is nearly the same was misspelt.
_ALIKE: Final = 0.75
_HARM_OF: Final = {
    "temperature_c": "temperature_harm_c",
    "humidity_pct": "humidity_harm_pct",
    "co2_ppm": "co2_harm_ppm",
}
# What may go without a source: nobody is claimed to have said it, or who did isn't remembered.
_UNSOURCED: Final = (Mark.COMMON, Mark.MEMORY)
_NO_TABLE: Final = SpeciesTable({}, {})


@cache
def shipped_species() -> SpeciesTable:
    """Return the table as it is shipped.

    Raises:
        SettingsError: it was changed and is at fault.
    """
    return _read(Path(str(files("chamberwatch") / "data" / OWN_FILE)), None)


def load_species(settings_path: Path) -> SpeciesTable:
    """Return the shipped table with what a species.toml beside the settings file changes in it.

    Raises:
        SettingsError: with every fault of that file.
    """
    file = settings_path.parent / OWN_FILE
    return _read(file, shipped_species()) if _is_there(file) else shipped_species()


def species_faults(settings_path: Path) -> tuple[Fault, ...]:
    """Return every fault of the species.toml beside the settings file."""
    try:
        load_species(settings_path)
    except SettingsError as error:
        return error.faults
    return ()


def _is_there(file: Path) -> bool:
    try:
        return file.exists()
    except OSError:  # a folder that can't be looked into: reading it says so
        return True


def _read(path: Path, base: SpeciesTable | None) -> SpeciesTable:
    raw = parsed(path)
    content, faults = shaped(path, raw)
    assembly = _Assembly(path, raw, base, faults)
    table = assembly.table(content)
    if assembly.faults:
        raise SettingsError(tuple(assembly.faults.values()))
    return table


@dataclass(slots=True)
class _Assembly:
    """A table as it is put together, entry by entry, and what is wrong with them.

    Attributes:
        path: of the file.
        raw: its content, to name places by.
        base: the table that it changes; None: it is the shipped one itself.
        faults: by place; what only follows from another is left out.
        sources: full titles by key.
        species: put together so far.
    """

    path: Path
    raw: Mapping[str, Any]
    base: SpeciesTable | None
    faults: dict[Where, Fault]
    sources: dict[str, str] = field(default_factory=dict)
    species: dict[str, Species] = field(default_factory=dict)

    def table(self, content: SpeciesFile) -> SpeciesTable:
        base = self.base or _NO_TABLE
        for key in sorted(content.sources.keys() & base.sources.keys()):
            self._wrong(("sources", key), "That source is shipped already; choose another key.")
        yours = {} if self.base is None else {YOURS: f"Your own figures, {self.path}"}
        self.sources = {**base.sources, **yours, **content.sources}
        self.species = dict(base.species)
        named: set[str] = set()
        for number, entry in enumerate(content.species):
            where: Where = ("species", number)
            if entry.name is None:
                self._wrong((*where, "name"), "Add it; it is needed.")
            elif entry.name in named:
                cure = "Two have this name; give each its own, or make them one."
                self._wrong((*where, "name"), cure, entry.name)
            else:
                named.add(entry.name)
                self.species[entry.name] = self._species(where, entry, entry.name)
        own = frozenset() if self.base is None else frozenset(named)
        return SpeciesTable(self.species, self.sources, own)

    def _wrong(self, where: Where, cure: str, value: object = None) -> None:
        if any(_within(where, known) or _within(known, where) for known in self.faults):
            return
        given = "" if value is None else shown(value)
        self.faults[where] = fault_at(self.path, self.raw, where, cure, given)

    # ------------------------------------------------------------------ one species

    def _species(self, where: Where, entry: SpeciesShape, name: str) -> Species:
        before = self.species.get(name)
        kept = before is not None
        if entry.like is not None:
            before = self._like(where, entry.like, known_already=kept)
        elif before is None:
            self._must_be_whole(where, entry)
        started = before or Species(name, name, "", {})
        stages = self._stages(where, entry.stage, started, keep=kept)
        given = {
            key: value
            for key in ("title", "latin", "soaked", "pick_when", "notes")
            if (value := getattr(entry, key)) is not None
        }
        if entry.patience is not None:
            given["patience"] = {**started.patience, **entry.patience.own()}
        for key in OF_SPECIES:
            figure = getattr(entry, key)
            if figure is not None:
                behind = getattr(started, key) if kept else None
                given[key] = self._stated((*where, key), key, figure, behind)
        return replace(started, name=name, stages=stages, **given)

    def _like(self, where: Where, like: str, *, known_already: bool) -> Species | None:
        if known_already:
            cure = "It is in the table already; take like out, or choose a name of your own."
            self._wrong((*where, "like"), cure, like)
        elif like not in self.species:
            cure = f"There is no such species.{_known(like, self.species)}"
            self._wrong((*where, "like"), cure, like)
        return self.species.get(like)

    def _must_be_whole(self, where: Where, entry: SpeciesShape) -> None:
        """Ask for what a new species can't do without; a misspelt old one looks new."""
        hint = near(str(entry.name), list(self.species), _ALIKE) if self.base else ""
        for key in ("title", "latin"):
            if getattr(entry, key) is None:
                cure = (
                    'A new species needs it; add it, or like = "shiitake" to start from another.'
                )
                self._wrong((*where, key), cure + hint)
        if not entry.stage:
            self._wrong((*where, "stage"), "A new species needs at least one [[species.stage]].")

    # ------------------------------------------------------------------ its stages

    def _stages(
        self, where: Where, entries: tuple[StageShape, ...], before: Species, *, keep: bool
    ) -> dict[Stage, Wants]:
        stages = dict(before.stages)
        named: set[Stage] = set()
        for number, entry in enumerate(entries):
            here = (*where, "stage", number)
            if entry.name is None:
                self._wrong((*here, "name"), "Add it; it is needed.")
                continue
            stage = Stage(entry.name.value)
            if stage in named:
                self._wrong((*here, "name"), "Two are this stage; make them one.", stage.value)
                continue
            named.add(stage)
            stages[stage] = self._wants(here, entry, stages.get(stage, Wants(stage)), keep=keep)
        return {stage: stages[stage] for stage in Stage if stage in stages}

    def _wants(self, where: Where, entry: StageShape, before: Wants, *, keep: bool) -> Wants:
        given: dict[str, Any] = {}
        for key in OF_STAGE:
            figure = getattr(entry, key)
            if figure is not None:
                behind = getattr(before, key) if keep else None
                given[key] = self._stated((*where, key), key, figure, behind)
        if entry.light_note is not None:
            given["light_note"] = entry.light_note
        wants = replace(before, **given)
        for key, harm in _HARM_OF.items():
            for cure in _harm_inside(getattr(wants, key), getattr(wants, harm), harm):
                self._wrong((*where, harm if harm in given else key), cure)
        return wants

    # ------------------------------------------------------------------ one figure

    def _stated(
        self, where: Where, key: str, figure: FigureShape, behind: Stated | None
    ) -> Stated:
        if not figure.views:
            self._wrong(where, f"Give it a range, such as {RANGES[key]}.")
        for number, view in enumerate(figure.views):
            self._check((*where, "views", number), key, view)
        views = tuple(map(self._view, figure.views)) + (behind.views if behind else ())
        several = len(views) > 1
        if several and not figure.reason and self.base is None:
            self._wrong(where, 'Say why the first view is used: reason = "...".')
        own = OWN_REASON if several and self.base is not None else ""
        return Stated(views or (View(None, None),), figure.reason or own)

    def _view(self, view: ViewShape) -> View:
        source = view.source or ("" if self.base is None else YOURS)
        return View(view.low, view.high, source, view.mark or Mark.COMMON, view.note)

    def _check(self, where: Where, key: str, view: ViewShape) -> None:
        least, most = _LIMITS[key]
        if view.low is None and view.high is None:
            self._wrong(where, "Give low, high or both.")
        for end, value in (("low", view.low), ("high", view.high)):
            if value is not None and not least <= value <= most:
                cure = f"Give {least:g} to {most:g}.{_of_fahrenheit(key, value)}"
                self._wrong((*where, end), cure, _plain(value))
        if view.low is not None and view.high is not None and view.low > view.high:
            self._wrong(where, f"low {view.low:g} is above high {view.high:g}; swap them.")
        if view.source is not None and view.source not in self.sources:
            cure = "There is no such source; add it under [sources]."
            self._wrong(
                (*where, "source"), cure + near(view.source, list(self.sources)), view.source
            )
        unsourced = view.source is None and (view.mark or Mark.COMMON) not in _UNSOURCED
        if unsourced and self.base is None:
            self._wrong((*where, "source"), "Name the source, or mark it common practice.")


def _of_fahrenheit(key: str, value: float) -> str:
    """Ask whether degrees of another scale were meant, where that makes sense."""
    celsius = (value - 32.0) / 1.8
    most = _LIMITS[key][1]
    if key not in _DEGREES or not most < value <= most * 1.8 + 32.0:
        return ""
    return f" Was that in °F? {value:g} °F is {celsius:.0f} °C."


def _plain(number: float) -> float:
    """Return a number as it was written, as far as that can be told."""
    return int(number) if number.is_integer() else number


def _within(inner: Where, outer: Where) -> bool:
    return inner[: len(outer)] == outer


def _known(given: str, names: Mapping[str, object]) -> str:
    return near(given, list(names), _ALIKE) or f" Known: {', '.join(names)}."


def _harm_inside(band: Stated | None, harm: Stated | None, key: str) -> Iterator[str]:
    """Yield a cure for each harm limit that lies inside the band."""
    if band is None or harm is None:
        return
    if harm.high is not None and band.high is not None and harm.high < band.high:
        yield (
            f"The harm limit {harm.high:g} lies below the band's end {band.high:g}; give {key} "
            f"a high of {band.high:g} or more."
        )
    if harm.low is not None and band.low is not None and harm.low > band.low:
        yield (
            f"The harm limit {harm.low:g} lies above the band's beginning {band.low:g}; give "
            f"{key} a low of {band.low:g} or less."
        )
