"""Findings that share a cause: one message, in which the first thing to do leads.

Stale and dry air is vented before it is misted, since fresh air would carry the mist off. Warm
air is dry and grows stale faster; cold air is damp.
"""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.watch.reminder import Call

FOLLOWERS: Final[tuple[tuple[Call, tuple[Call, ...]], ...]] = (
    (Call.COOL, (Call.VENT, Call.MIST)),
    (Call.WARM, (Call.DRY_OFF,)),
    (Call.VENT, (Call.MIST, Call.DRY_OFF)),
)
"""What is done first, and what is then said beside it, in the order of doing."""


@dataclass(frozen=True, slots=True)
class Joint:
    """Calls that are told together: what leads, and what follows; none where it stands alone."""

    lead: Call
    followers: tuple[Call, ...] = ()

    @property
    def calls(self) -> tuple[Call, ...]:
        """Return all of them in the order of doing."""
        return self.lead, *self.followers


def related(call: Call) -> frozenset[Call]:
    """Return the other calls that it may be told together with."""
    groups = [(lead, *followers) for lead, followers in FOLLOWERS if call in (lead, *followers)]
    return frozenset(other for group in groups for other in group) - {call}


def joined(pressing: Collection[Call], barred: Collection[Call] = ()) -> tuple[Joint, ...]:
    """Return the calls of one chamber, those together that share a cause.

    Args:
        pressing: all that hold now.
        barred: calls that may not lead: what was answered a moment ago is not asked again
            because of something else.
    """
    left = [call for call in Call if call in pressing]
    found: list[Joint] = []
    for lead, followers in FOLLOWERS:
        beside = tuple(call for call in followers if call in left)
        if lead in left and lead not in barred and beside:
            found.append(Joint(lead, beside))
            left = [call for call in left if call not in found[-1].calls]
    return (*found, *(Joint(call) for call in left))
