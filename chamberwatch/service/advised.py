"""The amounts people were last told, kept over a restart.

They say what a deed without an amount was, and what is not said again for a while.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from chamberwatch.core.watch.reminder import Call

KEPT_AS: Final = "advised"
FORGOTTEN_AFTER: Final = timedelta(days=2)
"""Advice as old as this has no bearing on anything any more."""


@dataclass(frozen=True, slots=True)
class Advised:
    """The amounts a person was last told.

    Attributes:
        at: when.
        into_air_g: to spray. [g]
        standing_g: to put onto walls and into trays. [g]
        vent_minutes: to leave it open. [min]
        reachable: it can be put right by hand; else it is said once and left alone for a while.
        after_vent: it was a part of what was said about venting.
        taken: a deed was recorded as done so; another one soon after was another amount.
    """

    at: datetime
    into_air_g: float | None = None
    standing_g: float | None = None
    vent_minutes: float | None = None
    reachable: bool = True
    after_vent: bool = False
    taken: bool = False


Amounts = Mapping[tuple[str, Call], Advised]
"""By chamber and call."""

_AMOUNTS: Final = ("into_air_g", "standing_g", "vent_minutes")
_FLAGS: Final = ("reachable", "after_vent", "taken")


def dumps(told: Amounts, now: datetime) -> str:
    """Write what is young enough to matter."""
    return json.dumps(
        [
            {
                "chamber": chamber,
                "call": call.value,
                "at": advised.at.isoformat(),
                **{name: getattr(advised, name) for name in (*_AMOUNTS, *_FLAGS)},
            }
            for (chamber, call), advised in told.items()
            if now - advised.at < FORGOTTEN_AFTER
        ]
    )


def loads(text: str | None) -> Amounts:
    """Read it again; nothing where it can't be read."""
    try:
        rows: list[dict[str, Any]] = json.loads(text or "[]")
        return {(str(row["chamber"]), Call(row["call"])): _advised(row) for row in rows}
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError):
        return {}


def _advised(row: dict[str, Any]) -> Advised:
    """Read one; what a former version did not keep is as usual."""
    said: dict[str, Any] = {name: _amount(row[name]) for name in _AMOUNTS if name in row}
    said |= {name: bool(row[name]) for name in _FLAGS if name in row}
    return Advised(datetime.fromisoformat(row["at"]).astimezone(UTC), **said)


def _amount(kept: float | str | None) -> float | None:
    return None if kept is None else float(kept)
