"""Whether what was learnt of a chamber has led astray: air that was to hold for hours, and didn't.

From time to time, in air that nobody touched, it is noted how long it should hold. If the air
then falls below its limit in less than a third of that time, with no deed in between, what was
learnt was wrong, or the chamber is another one now: a slot was left open, the crop was harvested.
Once may be chance. After two in a row all that was learnt is forgotten: the chamber is taken to be
as such chambers usually are, with no water that anybody could count on, and is learnt anew from
then on.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.air.holding import held
from chamberwatch.core.air.knowledge import Knowledge
from chamberwatch.core.watch.ledger import Ledger, Minute, balance_of, slope_per_h, standing_now_g

LEAST: Final = timedelta(hours=2)
"""Nothing shorter is held against what was learnt."""

SHARE: Final = 1.0 / 3.0
TIMES: Final = 2
SURE_AFTER: Final = timedelta(minutes=45)
"""A venting that nobody told of is found by then, and would explain a fall."""

LOOKED_AHEAD: Final = timedelta(hours=8)
SETTLED: Final = timedelta(minutes=20)
"""So long after a deed the air is still on its way."""

_STAYS: Final = 3
"""Minutes in a row below the limit: noise crosses it to and fro."""


@dataclass(frozen=True, slots=True)
class Promise:
    """How long the air should hold.

    Attributes:
        at: when it was noted.
        holds: so long, or longer.
        fell: when it fell below the limit before its time; None while it holds.
    """

    at: datetime
    holds: timedelta
    fell: datetime | None = None


@dataclass(frozen=True, slots=True)
class Trust:
    """How what was learnt has stood up.

    Attributes:
        promise: that is open.
        failed: promises in a row that were broken.
        below: minutes in a row below the limit.
    """

    promise: Promise | None = None
    failed: int = 0
    below: int = 0

    @property
    def astray(self) -> bool:
        """Tell whether what was learnt is to be forgotten."""
        return self.failed >= TIMES

    def free_at(self, time: datetime, deeds: Sequence[datetime]) -> bool:
        """Tell whether a new promise can be noted: none is open, the air is well and at rest."""
        quiet = not any(time - SETTLED <= deed <= time for deed in deeds)
        return self.promise is None and self.below == 0 and quiet

    def noted(self, at: datetime, holds: timedelta) -> "Trust":
        """Note how long the air should hold, if that is for hours."""
        return self if holds < LEAST else replace(self, promise=Promise(at, holds))

    def passed(self, time: datetime, *, too_dry: bool, deeds: Sequence[datetime]) -> "Trust":
        """Take in one more minute.

        Args:
            time: of the minute.
            too_dry: the air is below its limit.
            deeds: when anything was done, told or found, in any order.
        """
        going = replace(self, below=self.below + 1 if too_dry else 0)
        promise = self.promise
        if promise is None:
            return going
        until = promise.fell or time
        if any(promise.at <= deed <= until for deed in deeds):
            return replace(going, promise=None)
        if promise.fell is None:
            return _looked_at(going, promise, time)
        if time < promise.fell + SURE_AFTER:
            return going
        return replace(going, promise=None, failed=self.failed + 1)


def _looked_at(trust: Trust, promise: Promise, time: datetime) -> Trust:
    """Return what a minute makes of an open promise, with the minutes below counted already."""
    if time >= promise.at + promise.holds * SHARE:
        return replace(trust, promise=None, failed=0)
    if trust.below < _STAYS:
        return trust
    return replace(trust, promise=replace(promise, fell=time))


def should_hold(ledger: Ledger, minute: Minute, known: Knowledge, low_pct: float) -> timedelta:
    """Return how long the air should stay above a limit by all that is believed of it.

    Args:
        ledger: the water that stands.
        minute: the air.
        known: the chamber's ways.
        low_pct: the limit. [%]
    """
    balance = balance_of(minute, known)
    standing_g = ledger.standing_g
    if len(ledger.recent) > 1:
        per_h = balance.humidity_of(slope_per_h(ledger.recent))
        seen = minute.humidity_pct, per_h
        standing_g = standing_now_g(standing_g, balance, known, seen, low_pct)
    most = LOOKED_AHEAD / timedelta(minutes=1)
    return timedelta(minutes=held(balance, minute.humidity_pct, standing_g, low_pct, most).minutes)
