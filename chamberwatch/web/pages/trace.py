"""The last hours of a value as a line: time to the right, a gap where nothing was heard."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.watch.course import Points

LONG: Final = timedelta(hours=6)
WIDTH: Final = 120.0


@dataclass(frozen=True, slots=True)
class Scale:
    """From values to places: the higher the value, the further up."""

    low: float
    high: float
    height: float

    def at(self, value: float) -> float:
        """Return how far below the top a value lies, at an end if it lies beyond."""
        share = (self.high - value) / (self.high - self.low)
        return round(min(1.0, max(0.0, share)) * self.height, 1)


@dataclass(frozen=True, slots=True)
class Trace:
    """A line as it is drawn.

    Attributes:
        lines: the points of each unbroken piece, as SVG writes them.
        dots: pieces of a single point.
    """

    lines: tuple[str, ...] = ()
    dots: tuple[tuple[float, float], ...] = ()


def trace(pieces: Iterable[Points], now: datetime, scale: Scale, width: float = WIDTH) -> Trace:
    """Lay out a line whose right end is `now`.

    Args:
        pieces: unbroken stretches, oldest first; what is older than `LONG` is left out.
        now: the time at the right end.
        scale: of the values.
        width: of `LONG`, in the drawing's units.
    """
    lines, dots = [], []
    for piece in pieces:
        places = [(_x(time, now, width), scale.at(value)) for time, value in piece]
        places = [place for place in places if place[0] >= 0.0]
        if len(places) == 1:
            dots.append(places[0])
        elif places:
            lines.append(" ".join(f"{x:g},{y:g}" for x, y in places))
    return Trace(tuple(lines), tuple(dots))


def _x(time: datetime, now: datetime, width: float) -> float:
    # A sensor's clock may run ahead of ours; nothing is drawn beyond now.
    return round(min(1.0, 1.0 - (now - time) / LONG) * width, 1)
