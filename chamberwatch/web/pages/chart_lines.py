"""The line of a chart in pieces: where it runs, how far it spread, and where it left its band."""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from chamberwatch.service.chart import BandThen, ChartLine

Point = tuple[float, float]
"""A time [s since 1970] and a value."""


@dataclass(frozen=True, slots=True)
class Bands:
    """The bands of one quantity over time, to be asked about a moment."""

    of: tuple[BandThen, ...]
    _starts: list[float] = field(default_factory=list, compare=False)

    @classmethod
    def among(cls, bands: Iterable[BandThen], quantity: str) -> "Bands":
        """Return those of a quantity, oldest first."""
        own = sorted((b for b in bands if b.quantity == quantity), key=lambda b: b.start)
        return cls(tuple(own), [b.start.timestamp() for b in own])

    def at(self, moment: float) -> BandThen | None:
        """Return the band that held; None where none did."""
        number = bisect_right(self._starts, moment) - 1
        if number < 0 or moment >= self.of[number].end.timestamp():
            return None
        return self.of[number]

    def limit_left(self, moment: float, value: float) -> float | None:
        """Return the limit beyond which a value lies; None inside."""
        band = self.at(moment)
        if band is None:
            return None
        low, high = band.edges
        if low is not None and value < low:
            return low
        return high if high is not None and value > high else None


def runs(line: ChartLine, values: Sequence[float | None] | None = None) -> Iterator[list[Point]]:
    """Yield stretches of a line's values without a gap; those of its mean for None."""
    run: list[Point] = []
    for at, value in zip(line.at, line.mean if values is None else values, strict=True):
        if value is None:
            if run:
                yield run
            run = []
        else:
            run.append((at, value))
    if run:
        yield run


def spreads(line: ChartLine) -> Iterator[tuple[list[Point], list[Point]]]:
    """Yield stretches of the least and the most, where they differ at all."""
    least: list[Point] = []
    most: list[Point] = []
    for at, low, high in zip(line.at, line.least, line.most, strict=True):
        if low is None or high is None:
            if _differ(least, most):
                yield least, most
            least, most = [], []
        else:
            least.append((at, low))
            most.append((at, high))
    if _differ(least, most):
        yield least, most


def _differ(least: Sequence[Point], most: Sequence[Point]) -> bool:
    return len(least) > 1 and any(low[1] < high[1] for low, high in zip(least, most, strict=True))


def outside(run: Sequence[Point], bands: Bands) -> list[list[Point]]:
    """Return the pieces of a run that lie outside the band, cut where they cross a limit."""
    found: list[list[Point]] = []
    left = bands.limit_left(*run[0])
    if left is not None:
        found.append([run[0]])
    for before, after in pairwise(run):
        beyond = bands.limit_left(*after)
        if left is not None and beyond != left:
            found[-1] += _crossing(before, after, left)
        if beyond is not None:
            if beyond != left:
                found.append(_crossing(before, after, beyond))
            found[-1].append(after)
        left = beyond
    return found


def beyond(least: Sequence[Point], most: Sequence[Point], bands: Bands) -> Iterator[list[Point]]:
    """Yield the parts of a spread that lie beyond the band, each as a closed outline."""
    yield from _lobes(most, least, bands, max)
    yield from _lobes(least, most, bands, min)


def _lobes(
    far: Sequence[Point],
    near: Sequence[Point],
    bands: Bands,
    inner: Callable[[float, float], float],
) -> Iterator[list[Point]]:
    """Yield outlines: along the far edge, back along the limit or the near edge beyond it."""
    edge = dict(near)
    for piece in outside(far, bands):
        limits = ((value, bands.limit_left(at, value)) for at, value in piece)
        value, limit = next((v, each) for v, each in limits if each is not None)
        if inner(value, limit) == value:
            back = [(at, inner(edge.get(at, limit), limit)) for at, _ in reversed(piece)]
            yield piece + back


def _crossing(before: Point, after: Point, limit: float) -> list[Point]:
    """Return where a straight line crosses a limit; nothing where it doesn't: the band changed."""
    (start, first), (end, second) = before, after
    if not min(first, second) <= limit <= max(first, second) or first == second:
        return []
    return [(start + (end - start) * (limit - first) / (second - first), limit)]
