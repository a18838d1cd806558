"""[[rotation]]: how much of a species is wanted a week, and how large its batches are."""

import difflib
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Protocol

from pydantic import BeforeValidator, Field

from chamberwatch.core.errors import Fault
from chamberwatch.core.growing.rotation.plan import LEAST_KG, MOST_KG, Wanted
from chamberwatch.core.growing.rotation.takes import lacking, unfit
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.settings.values import NAME, Number, Part


def _species(name: object) -> object:
    if isinstance(name, str) and not NAME.fullmatch(name):
        raise ValueError("Write the name of a species as it is listed, such as grey-oyster.")
    return name


def _weights(given: object) -> tuple[float, float]:
    """Return low and high; one number is both."""
    ends: list[Any] = given if isinstance(given, list) else [given, given]
    # Without a look at the type, true would be taken for 1.
    if len(ends) != len(("low", "high")) or not all(type(end) in (int, float) for end in ends):
        raise ValueError("Write low and high, such as [0.4, 0.6], or one number.")
    low, high = ends
    if not all(LEAST_KG <= end <= MOST_KG for end in ends):
        raise ValueError(f"Give {LEAST_KG:g} to {MOST_KG:g}.")
    if low > high:
        raise ValueError(f"low {low:g} is above high {high:g}; swap them.")
    return float(low), float(high)


class RotationSettings(Part):
    """What is wanted of one species."""

    species: Annotated[str, BeforeValidator(_species)]
    kg_per_week: Annotated[tuple[float, float], BeforeValidator(_weights)]
    batch_dry_g: Number = Field(ge=10.0, le=100_000.0)

    def wanted(self) -> Wanted:
        """Return it in the words of the core."""
        return Wanted(self.species, self.kg_per_week, self.batch_dry_g)


class _Wishing(Protocol):
    """The settings, which can't be known here."""

    @property
    def rotation(self) -> tuple[RotationSettings, ...]: ...


def rotation_faults(settings: _Wishing, table: SpeciesTable, path: Path) -> tuple[Fault, ...]:
    """Return what is wrong with the wishes beside the species there are.

    Args:
        settings: that hold.
        table: the species, with those of the grower.
        path: of the settings file, to name it.
    """
    return tuple(
        Fault(str(path), f"rotation[{number}].{key}", value, cure)
        for number, wish in enumerate(settings.rotation, start=1)
        for key, value, cure in _unfit(wish.wanted(), table)
    )


def _unfit(wish: Wanted, table: SpeciesTable) -> Iterator[tuple[str, str, str]]:
    """Yield key, value and cure of what is wrong with a wish."""
    name = wish.species
    if name not in table.species:
        close = difflib.get_close_matches(name, table.species, n=1, cutoff=0.6)
        near = f"Did you mean {close[0]}?" if close else f"Known: {', '.join(table.species)}."
        yield "species", f'"{name}"', f"There is no such species. {near}"
    elif words := lacking(table.species[name]):
        yield "species", f'"{name}"', words
    elif words := unfit(wish, table.species[name]):
        low, high = wish.kg_per_week
        yield "kg_per_week", f"[{low:g}, {high:g}]", words
