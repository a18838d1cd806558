"""Which readings are old enough to go, by a clock that can be believed, and how many at once."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

STEADY_FOR: Final = timedelta(days=7)
"""The clock has gone on evenly for so long before anything goes by it: one that was set years
ahead by mistake is noticed in less."""
NIGHT_AT_MOST: Final = timedelta(days=3)
"""From one night to the next that is seen: a day, or a machine that was off over a weekend."""
AHEAD_AT_MOST: Final = timedelta(minutes=2)

FEWEST, FIRST, MOST = 50, 500, 20_000
"""How many rows go in one transaction."""
AIM_S: Final = 0.05
"""How long one transaction may take: an intake that wants to write waits no longer. [s]"""
REST: Final = 9.0
"""The pause after a transaction, in lengths of it: nine tenths of the time are for others."""
SHORTEST_REST_S: Final = 0.2


@dataclass(frozen=True, slots=True)
class Steady:
    """How long the clock was seen to go on from night to night.

    Attributes:
        since: the first of these nights.
        last: the newest.
    """

    since: datetime
    last: datetime

    @property
    def enough(self) -> bool:
        """Tell whether something may go by this clock."""
        return self.last - self.since >= STEADY_FOR


def seen(before: Steady | None, now: datetime) -> Steady:
    """Return how steady the clock is, seen once more; a jump begins anew.

    Args:
        before: as it was seen the last time.
        now: what it says, while a time service vouches for it.
    """
    if before is None or not timedelta(0) <= now - before.last <= NIGHT_AT_MOST:
        return Steady(now, now)
    return Steady(before.since, now)


def old_before(now: datetime, newest: datetime | None, keep: timedelta) -> datetime | None:
    """Return before which day (UTC) readings are old; None: none is.

    Counted from the newest reading where that is earlier: of a house that fell silent, the last
    that was heard stays.

    Args:
        now: what the clock says.
        newest: of the readings that are not ahead of the clock; None: there is none.
        keep: how long readings stay.
    """
    if newest is None:
        return None
    moment = (min(now, newest) - keep).astimezone(UTC)
    return moment.replace(hour=0, minute=0, second=0, microsecond=0)


def next_limit(limit: int, took_s: float) -> int:
    """Return how many rows may go in the next transaction, after one that took so long. [s]."""
    if took_s > AIM_S:
        return max(FEWEST, limit // 2)
    if took_s < AIM_S / 4:
        return min(MOST, limit * 2)
    return limit


def rest_s(took_s: float) -> float:
    """Return how long to leave the database to others after a transaction. [s]."""
    return max(SHORTEST_REST_S, REST * took_s)
