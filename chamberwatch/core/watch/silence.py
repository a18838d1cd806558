"""Which sensors are silent, and whether it is all of them for one cause."""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

EXTRA_S: Final = 300.0
"""Where nothing at all is heard any more, so long others have to speak before it is told as one
silence: a sensor that reports seldom may just not have had its turn. [s]"""


STAGGER_S: Final = 120.0
"""Sensors that lose the same router are last heard so far apart at the most. [s]"""


@dataclass(frozen=True, slots=True)
class Silence:
    """Who is silent.

    Attributes:
        sensors: those that have not been heard for longer than they may be.
        everything: nothing has been heard of any, so that the cause is likely one.
    """

    sensors: frozenset[str]
    everything: bool = False


def silence(
    quiet_s: Mapping[str, float], limits_s: Mapping[str, float], told: Collection[str]
) -> Silence:
    """Return who is silent at this moment.

    Args:
        quiet_s: how long each sensor has not been heard. [s]
        limits_s: how long it may be quiet. [s]
        told: those whose silence is known already.
    """
    due = frozenset(name for name, quiet in quiet_s.items() if quiet > limits_s[name])
    if not due or len(quiet_s) < 2:
        return Silence(due)
    nothing_s = min(quiet_s.values())
    first_s = min(limits_s[name] for name in due)
    if len(due) == len(quiet_s) or nothing_s > first_s + EXTRA_S:
        return Silence(due, everything=True)
    known = due & frozenset(told)
    longest_s = max((quiet_s[name] for name in due - known), default=math.inf)
    if longest_s - nothing_s > STAGGER_S:
        return Silence(due)
    # Nobody has been heard since: what is known stays known, and who is new waits for the others.
    return Silence(known)
