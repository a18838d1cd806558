"""The amounts people were last told, kept over a restart.

They say what a deed without an amount was, and what is not said again for a while.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
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

_AMOUNTS: Final = tuple(each.name for each in fields(Advised) if each.name != "at")


def dumps(told: Amounts, now: datetime) -> str:
    """Write what is young enough to matter."""
    return json.dumps(
        [
            {
                "chamber": chamber,
                "call": call.value,
                "at": advised.at.isoformat(),
                **{name: getattr(advised, name) for name in _AMOUNTS},
            }
            for (chamber, call), advised in told.items()
            if now - advised.at < FORGOTTEN_AFTER
        ]
    )


def loads(text: str | None) -> Amounts:
    """Read it again."""
    rows: list[dict[str, Any]] = json.loads(text or "[]")
    return {
        (row["chamber"], Call(row["call"])): Advised(
            datetime.fromisoformat(row["at"]), **{name: row[name] for name in _AMOUNTS}
        )
        for row in rows
    }
