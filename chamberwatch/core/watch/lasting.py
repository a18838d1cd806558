"""How long a misting holds, which deed an event belongs to, and what the chamber taught so far."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import median
from typing import Final

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import LEAK_PER_H
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.tracks import Points

STAYS_S: Final = 180.0
"""Below the limit for so long it is no longer noise around it; the on-delay of the reminder."""

BREAKS_S: Final = 600.0
"""A gap longer than this breaks a record off."""

TOLD_EARLY: Final = timedelta(minutes=5)
"""A deed may be told so long before the air shows it ..."""
TOLD_LATE: Final = timedelta(minutes=20)
"""... and be given a time so long after: told a quarter of an hour late, and a slow sensor."""


SOURCE_DRIFT: Final = 0.05
"""Standard deviation, as a logarithm, for a source that is not constant as the fit takes it:
respiration grows by a tenth in 1 K (Q10 of 2.5), and a chamber in a lived-in room drifts by
about half of that in a stretch."""

_Z95: Final = 1.96
_MAD_TO_SIGMA: Final = 1.4826


@dataclass(frozen=True, slots=True)
class Hold:
    """What is known of how long a misting held.

    Attributes:
        seconds: until the humidity fell below the limit, None while not known. [s]
        holding: it has not fallen below up to the end of the record, which has no break.
    """

    seconds: float | None
    holding: bool


def hold(humidity: Points, end_s: float, low_pct: float) -> Hold:
    """Return how long the humidity stayed above a limit after the end of a misting.

    Args:
        humidity: in order of time. [s], [%]
        end_s: end of the misting. [s]
        low_pct: lower limit of the band. [%]
    """
    after = [point for point in humidity if point[0] >= end_s]
    broken = any(b[0] - a[0] > BREAKS_S for a, b in pairwise([(end_s, 0.0), *after]))
    below_s: float | None = None
    last = (end_s, math.inf)
    for time_s, value in after:
        if time_s - last[0] > BREAKS_S:
            break
        if value >= low_pct:
            below_s = None
        else:
            below_s = _crossing_s(last, (time_s, value), low_pct) if below_s is None else below_s
            if time_s - below_s >= STAYS_S:
                return Hold(max(below_s - end_s, 0.0), holding=False)
        last = (time_s, value)
    return Hold(None, holding=bool(after) and not broken)


def _crossing_s(above: tuple[float, float], below: tuple[float, float], limit: float) -> float:
    """Return when a straight line between two points passes a limit. [s]."""
    if math.isinf(above[1]):
        return below[0]
    return below[0] - (below[0] - above[0]) * (limit - below[1]) / (above[1] - below[1])


def paired(starts: Mapping[int, datetime], deeds: Mapping[int, datetime]) -> Mapping[int, int]:
    """Give each event the deed nearest to it in time, each deed to one event only.

    Args:
        starts: of the events of one kind, by any number.
        deeds: times of the recorded deeds of that kind, by their ids.

    Returns:
        Deed by event; events and deeds without a partner are left out.
    """
    near = sorted(
        (abs(at - start), event, deed)
        for event, start in starts.items()
        for deed, at in deeds.items()
        if -TOLD_EARLY <= at - start <= TOLD_LATE
    )
    found: dict[int, int] = {}
    taken: set[int] = set()
    for _, event, deed in near:
        if event not in found and deed not in taken:
            found[event] = deed
            taken.add(deed)
    return found


def typical_hold_min(mistings: Sequence[Found]) -> Figure | None:
    """Return how long mistings of a chamber usually hold. [min].

    The median, with the quarter that held shortest and the quarter that held longest left out.
    What the grower said was none does not count.
    """
    known = sorted(
        m.held / timedelta(minutes=1)
        for m in mistings
        if m.kind is Kind.MISTING and m.held is not None and not m.denied
    )
    if not known:
        return None
    quarter = (len(known) - 1) // 4
    return Figure(median(known), known[quarter], known[-1 - quarter], Origin.MEASURED, len(known))


def best_air_changes(exchanges: Sequence[Exchange], declared_per_h: float | None) -> Figure:
    """Return the air changes of the closed chamber. [1/h].

    The median of what was measured. Inlet and sensor are off in the same direction each time,
    so the interval shrinks with the count only down to half of a single one's; how much the
    figures scatter is added to it, and that the source may drift.

    Args:
        exchanges: of one chamber; refused and vented ones don't count.
        declared_per_h: as the grower states it. [1/h]
    """
    known = [
        (math.log(e.per_h), math.log(e.high / e.low) / (2.0 * _Z95))
        for e in exchanges
        if not e.vented
        and e.per_h is not None
        and e.low is not None
        and e.high is not None
        and 0.0 < e.low <= e.per_h <= e.high
    ]
    if not known:
        return LEAK_PER_H if declared_per_h is None else Figure.declared(declared_per_h)
    count, middle = len(known), median(log for log, _ in known)
    single = median(sigma for _, sigma in known)
    scatter = _MAD_TO_SIGMA * median(abs(log - middle) for log, _ in known)
    off = _Z95 * math.sqrt(single**2 / min(count, 4) + scatter**2 / count + SOURCE_DRIFT**2)
    value = math.exp(middle)
    return Figure(value, value * math.exp(-off), value * math.exp(off), Origin.MEASURED, count)
