"""Where the air of a chamber was in the last day: means of a quarter of an hour, oldest first."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.service.books import Span
from chamberwatch.web.asks import History

STEP: Final = timedelta(minutes=15)
LAST: Final = timedelta(hours=24)
_AT_MOST: Final = 2 * (LAST // STEP)


@dataclass(frozen=True, slots=True)
class Spell:
    """A quarter of an hour: its middle, mean temperature [°C] and mean humidity [%]."""

    at: datetime
    temperature_c: float
    humidity_pct: float


def trail(history: History, chamber: str, now: datetime) -> tuple[Spell, ...]:
    """Return the last day of a chamber; quarters without both quantities are left out.

    Raises:
        UnknownNameError: no such chamber.
    """
    span = Span(now - LAST, now)
    warm, humid = (
        {
            point.time: point.mean
            for point in history.series(chamber, quantity, span, STEP, _AT_MOST).points
        }
        for quantity in ("temperature_c", "humidity_pct")
    )
    return tuple(
        Spell(start + STEP / 2, warm[start], humid[start]) for start in sorted(warm.keys() & humid)
    )
