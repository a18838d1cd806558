"""Validating as much as there is, so that one fault does not hide another.

What is at fault is taken out (a needed key gets a stand-in) and the rest is looked at again,
until it holds. What holds in the end is of use only where nothing was found.
"""

import copy
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from chamberwatch.core.watch.device import Kind
from chamberwatch.settings.devices import AMOUNTS
from chamberwatch.settings.models import Settings

ROUNDS_AT_MOST: Final = 50
ENTRY: Final = 2
"""Parts of a place that is a whole entry of a list, such as the second [[sensor]]."""

# For keys that can't be left out, so that the rest of their entry is looked at too.
_STAND_INS: Final[dict[str, Any]] = {
    "name": "x",
    "to": "x",
    "url": "http://x",
    "chamber": "x",
    "kind": "fan",
    "topic": "x",
    "at": "/x",
    "reads": {"temperature": {"at": "/x"}},
    "species": "x",
    "kg_per_week": 1.0,
    "batch_dry_g": 100.0,
    "hours": "07:00-22:00",
    "from": "2026-01-01",
    "until": "2199-12-31",
}
_WHOLE: Final[dict[str, tuple[str, ...]]] = {
    "chamber": ("name",),
    "sensor": ("name", "chamber", "topic", "reads"),
    "notify": ("name", "to"),
    "device": ("name", "chamber", "kind"),
    "wired": ("name", "kind"),
    "rotation": ("species", "kg_per_week", "batch_dry_g"),
}
_OF_WIRED: Final[dict[str, Any]] = {"kind": "sht4x"}
"""Stand-ins that are others for a sensor on wires."""

# A sensor's payload, reads and time are judged together: a fault in one makes others look wrong.
_TOGETHER: Final = ("payload", "reads", "time")
# And so are a device's kind, amount and cycle.
_OF_DEVICES: Final = ("kind", *AMOUNTS.values(), "windows", "on", "every")


@dataclass(frozen=True, slots=True)
class Found:
    """One fault: where in the file, of what kind, and what stood there."""

    where: tuple[int | str, ...]
    kind: str
    given: object
    message: str
    context: Mapping[str, Any]


def validated(content: Mapping[str, Any]) -> tuple[Settings | None, list[Found]]:
    """Return the settings of what holds, and every fault."""
    rest = copy.deepcopy(dict(content))
    found: list[Found] = []
    for _ in range(ROUNDS_AT_MOST):
        try:
            return Settings.model_validate(rest), found
        except ValidationError as error:
            new = [_found(detail) for detail in error.errors()]
        for fault in new:
            if not any(_follows(fault, known) for known in found):
                found.append(fault)
        # From the end, so that the numbers of what stands before stay right.
        for fault in sorted(new, key=_numbers, reverse=True):
            _take_out(rest, fault)
    return None, found


def _found(detail: ErrorDetails) -> Found:
    where = detail["loc"]
    if where[-1] == "[key]" and "reads" in where:
        where = where[:-1]
    message = detail["msg"].removeprefix("Value error, ")
    return Found(where, detail["type"], detail["input"], message, detail.get("ctx", {}))


def _numbers(fault: Found) -> list[int]:
    return [part for part in fault.where if isinstance(part, int)]


def _follows(new: Found, known: Found) -> bool:
    """Tell whether a fault only follows from one that was found before."""
    n = len(new.where)
    if known.where[:n] != new.where:
        return False
    if n != ENTRY or len(known.where) == n:
        return True
    return known.kind == "extra_forbidden" or known.where[ENTRY] in (*_TOGETHER, *_OF_DEVICES)


def _take_out(rest: dict[str, Any], fault: Found) -> None:
    *path, last = fault.where
    parent: Any = rest
    for part in path:
        parent = _inside(parent, part)
    if isinstance(parent, dict):
        parent.pop(last, None)
        if path and last in _STAND_INS and fault.kind != "extra_forbidden":
            parent[last] = _stand_in(str(path[0]), str(last))
    elif isinstance(parent, list) and isinstance(last, int):
        entry = len(path) == 1
        if entry and fault.kind == "value_error" and isinstance(parent[last], dict):
            _make_fit(parent[last])
        elif entry:
            # The entries after it keep their numbers.
            section = str(path[0])
            parent[last] = {key: _stand_in(section, key) for key in _WHOLE[section]}
        else:
            del parent[last]


def _stand_in(section: str, key: str) -> Any:  # noqa: ANN401 - any TOML value
    others = _OF_WIRED if section == "wired" else {}
    return copy.deepcopy(others.get(key, _STAND_INS[key]))


def _make_fit(entry: dict[str, Any]) -> None:
    """Take out what an entry was found wrong in as a whole; its other keys are kept."""
    for key in ("shelves", "vent_air_changes_per_h", "outdoors"):
        entry.pop(key, None)
    if "kind" in entry:
        for key in _OF_DEVICES:
            entry.pop(key, None)
        entry |= {"kind": Kind.FAN.value, AMOUNTS[Kind.FAN]: 1.0}
    if "reads" in entry:
        for key in _TOGETHER:
            entry.pop(key, None)
        entry["reads"] = copy.deepcopy(_STAND_INS["reads"])


def _inside(here: Any, part: int | str) -> Any:  # noqa: ANN401 - any TOML value
    try:
        return here[part]
    except (KeyError, IndexError, TypeError):
        return None
