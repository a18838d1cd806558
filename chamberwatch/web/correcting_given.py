"""What the API takes to put right what was told of a batch."""

from collections.abc import Set
from dataclasses import fields, replace
from datetime import datetime
from typing import Any, Final

from pydantic import Field

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.told import Telling
from chamberwatch.web.given import Given, Id
from chamberwatch.web.growing_given import (
    Count,
    Flush,
    Grams,
    InContainer,
    Name,
    Note,
    WeightText,
    When,
    Words,
    one_weight,
    place_of,
)
from chamberwatch.web.problems import ProblemError

_OF_START: Final = frozenset(field.name for field in fields(Start)) - {"split_from"}
_OF_TELLING: Final = frozenset(field.name for field in fields(Telling)) - {"kind"}


class CorrectIn(Given):
    """What was wrong in an entry; what is not given stays as it was told, so no default counts."""

    at: When | None = Field(default=None, description="a day or a time with zone")
    note: Note = ""
    chamber: Name | None = None
    shelf: Name | None = None
    weight_g: Grams | None = None
    weight: WeightText | None = None
    flush: Flush | None = None
    stage: Stage | None = None
    sign: Words = ""
    species: Name = ""
    container: InContainer = Container.BAG
    count: Count = 1
    substrate: Words = ""
    strain: Words = ""
    spawn: Words = ""
    wet_g: Grams | None = None
    wet: WeightText | None = None
    dry_g: Grams | None = None
    dry: WeightText | None = None
    moisture_pct: float | None = Field(default=None, gt=0.0, lt=100.0)
    parent: Id | None = None

    def start(self, old: Start) -> Start:
        """Return a start with what was wrong put right.

        Raises:
            ProblemError: a field that a start has not, or a weight twice.
            RefusedError: a weight that is none.
        """
        said = self._said(EntryKind.STARTED, _OF_START | {"at", "chamber", "shelf"})
        return replace(old, **{name: said[name] for name in said.keys() & _OF_START})

    def place(self, old: Entry) -> Place | None:
        """Return where a batch was put when it was started; None: as it was told.

        Raises:
            ProblemError: a shelf without a chamber.
        """
        if not {"chamber", "shelf"} & self.model_fields_set:
            return None
        chamber = self.chamber if "chamber" in self.model_fields_set else old.chamber
        return place_of(chamber, self.shelf)

    def telling(self, old: Entry, at: datetime | None) -> Telling:
        """Return an entry with what was wrong put right.

        Raises:
            ProblemError: a field that such an entry has not, or a weight twice.
            RefusedError: a weight that is none.
        """
        said = self._said(old.kind, _OF_TELLING)
        # Another chamber has other shelves.
        fresh = {"shelf": None, **said} if "chamber" in said else said
        kept = {name: getattr(old, name) for name in _OF_TELLING - {"at"}}
        return Telling(**{**kept, **fresh, "kind": old.kind, "at": at})

    def _said(self, kind: EntryKind, known: Set[str]) -> dict[str, Any]:
        said = {name: getattr(self, name) for name in sorted(self.model_fields_set)}
        if not said:
            raise ProblemError(422, "not-valid", "Give at least one field that was wrong.")
        for name in ("weight", "wet", "dry"):
            if name in said:
                said[f"{name}_g"] = one_weight(said.get(f"{name}_g"), said.pop(name), name)
        for name in said:
            if name not in known:
                raise ProblemError(422, "not-valid", f"“{kind}” has no {name}. Leave it out.")
        return said
