"""patience: how long and how far a quantity may be outside before anything is said.

The same in a [[chamber]] and, for a species of one's own, in a [[species]].
"""

from collections.abc import Mapping
from datetime import timedelta
from enum import StrEnum
from typing import Annotated, Final

from pydantic import Field

from chamberwatch.core.growing.patience import OwnPatience
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.settings.values import Length, Number, Part, between

_CURE: Final = "Give 10 s to 6 h."
Delay = Annotated[Length, between(timedelta(seconds=10), timedelta(hours=6), _CURE)]
Realarm = Annotated[
    Length, between(timedelta(minutes=5), timedelta(hours=24), "Give 5 min to 24 h.")
]


class AskedPriority(StrEnum):
    """How much it matters that a band is left; harm is always high."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


class QuantityPatience(Part):
    """Of one quantity; what is left out is as usual."""

    deadband: Number | None = Field(default=None, ge=0.0, le=1000.0)
    on_delay: Delay | None = None
    off_delay: Delay | None = None
    harm_on_delay: Delay | None = None
    realarm: Realarm | None = None
    priority: AskedPriority | None = None

    def own(self) -> OwnPatience:
        """Return it in the words of the core."""
        asked = self.priority
        return OwnPatience(
            deadband=self.deadband,
            on_delay=self.on_delay,
            off_delay=self.off_delay,
            harm_on_delay=self.harm_on_delay,
            realarm=self.realarm,
            priority=int(Priority[asked.name]) if asked is not None else None,
        )


class PatienceSettings(Part):
    """Of each quantity that is judged."""

    temperature: QuantityPatience | None = None
    humidity: QuantityPatience | None = None
    co2: QuantityPatience | None = None

    def own(self) -> Mapping[str, OwnPatience]:
        """Return what was asked for, by quantity."""
        asked = {name: getattr(self, name) for name in type(self).model_fields}
        return {name: part.own() for name, part in asked.items() if part is not None}
