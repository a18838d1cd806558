"""Validating as much as there is, so that one fault does not hide another.

What is at fault is taken out and the rest is looked at again, until it holds.
"""

import copy
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from chamberwatch.settings.models import Settings

ROUNDS_AT_MOST: Final = 50


@dataclass(frozen=True, slots=True)
class Found:
    """One fault: where in the file as it was read, of what kind, and what stood there."""

    where: tuple[int | str, ...]
    kind: str
    given: object
    message: str
    expected: str


class _Rest:
    """What is left of the file, and which entry of the file each entry left was."""

    def __init__(self, content: Mapping[str, Any]) -> None:
        self.content: dict[str, Any] = copy.deepcopy(dict(content))
        self._origins = {
            kind: list(range(len(entries)))
            for kind, entries in self.content.items()
            if isinstance(entries, list)
        }

    def where(self, loc: tuple[int | str, ...]) -> tuple[int | str, ...]:
        """Return a place as it was in the whole file."""
        if len(loc) > 1 and isinstance(loc[1], int) and loc[0] in self._origins:
            return (loc[0], self._origins[str(loc[0])][loc[1]], *loc[2:])
        return loc

    def take_out(self, loc: tuple[int | str, ...], kind: str) -> None:
        """Take out what is at fault: the key, or its whole entry where the key is missing."""
        parent: Any = self.content
        for part in loc[:-1]:
            parent = _inside(parent, part)
        if kind != "missing" and isinstance(parent, dict) and loc[-1] in parent:
            del parent[loc[-1]]
        elif len(loc) > 1 and isinstance(loc[1], int) and loc[0] in self._origins:
            self._drop(str(loc[0]), loc[1])
        else:
            self.content.pop(str(loc[0]), None)

    def _drop(self, kind: str, index: int) -> None:
        self.content[kind][index] = None

    def sweep(self) -> None:
        """Close the gaps that dropped entries left."""
        for kind, origins in self._origins.items():
            entries = self.content.get(kind)
            if isinstance(entries, list):
                kept = [(o, e) for o, e in zip(origins, entries, strict=True) if e is not None]
                self._origins[kind] = [origin for origin, _ in kept]
                self.content[kind] = [entry for _, entry in kept]

    def count(self, kind: str) -> int:
        """Return how many entries of a kind are left."""
        entries = self.content.get(kind)
        return len(entries) if isinstance(entries, list) else 0


def validated(content: Mapping[str, Any]) -> tuple[Settings | None, list[Found], bool]:
    """Return the settings of what holds, every fault, and whether all chambers are in them."""
    rest = _Rest(content)
    found: list[Found] = []
    chambers = rest.count("chamber")
    renamed = False
    for _ in range(ROUNDS_AT_MOST):
        try:
            settings = Settings.model_validate(rest.content)
        except ValidationError as error:
            details = error.errors()
        else:
            return settings, found, rest.count("chamber") == chambers and not renamed
        for detail in details:
            loc = tuple(part for part in detail["loc"] if part != "[key]")
            fault = _found(rest.where(loc), detail)
            if not any(_same_place(f, fault) for f in found):
                found.append(fault)
        for detail in details:
            loc = tuple(part for part in detail["loc"] if part != "[key]")
            renamed |= loc[0] == "chamber" and loc[-1] in ("name", "shelves")
            rest.take_out(loc, detail["type"])
        rest.sweep()
    return None, found, False


def _same_place(known: Found, new: Found) -> bool:
    """Tell whether a fault only follows from one already found in that place."""
    n = len(new.where)
    return known.where[:n] == new.where


def _found(where: tuple[int | str, ...], detail: ErrorDetails) -> Found:
    message = detail["msg"].removeprefix("Value error, ")
    expected = str(detail.get("ctx", {}).get("expected", ""))
    return Found(where, detail["type"], detail["input"], message, expected)


def _inside(here: Any, part: int | str) -> Any:  # noqa: ANN401 - any TOML value
    try:
        return here[part]
    except (KeyError, IndexError, TypeError):
        return None
