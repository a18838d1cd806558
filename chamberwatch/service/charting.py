"""Charts: lines of any span at the fitting level, with the bands beneath and what happened."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from typing import Final

from chamberwatch.core.air.derived import DERIVED
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.review.covering import level_for
from chamberwatch.core.review.reckoning import Samples, with_derived
from chamberwatch.core.review.summary import Columns
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.reading import API_NAMES, EPOCH, UNITS, Quantity, Reading
from chamberwatch.service.books import Book, Books, Span
from chamberwatch.service.chart import Chart, ChartLine
from chamberwatch.service.chart_marks import Marking
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.series import MEASURED, PAIRED_WITHIN

STEPS_S: Final = (60, 300, 900, 1800, 3600, 7200, 14_400, 86_400, 604_800)
"""What a line is summed up in. [s]"""

FINE_ENOUGH: Final = 720
"""A line of more points looks no finer on any screen, and takes longer on its way."""

WORK_AT_MOST: Final = 2400
"""An answer takes milliseconds: about as long for a point of a line, on its way out, as for two
summaries of each sensor that are read."""

READINGS_UP_TO: Final = timedelta(hours=3)
"""A longer chart never shows single readings."""

RAW_AT_MOST: Final = timedelta(days=3)
"""So much of what is not summed up is read for one chart, the newest of it: about a second with
three sensors that speak every five seconds. What is older is a gap until it is summed up, which
takes minutes for a week and two hours for a year, after a release that sums up anew or after
readings of long ago were corrected."""

LOOKED_AT: Final = 30
"""So many readings show whether more than one sensor speaks, as a rule."""

GAP_STEPS: Final = 2.5
"""A line breaks where it is silent for longer than so many steps."""

POINTS_AT_MOST: Final = 5000
_SECOND: Final = timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class Charting:
    """Answers what a chart shows."""

    books: Books
    house: House
    bands: BandsThen
    marking: Marking

    def chart(
        self, chamber: str, quantities: Sequence[str], span: Span, points: int = 1000
    ) -> Chart:
        """Return lines of at most so many points, whatever the span.

        What is not summed up yet is drawn for its newest days; before them the line has a gap, and
        `left_out` says so.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: no such quantity, or an empty span.
        """
        self.house.chamber(chamber)
        _check(quantities, span, points)
        air = self.house.air_sensors(chamber)
        with self.books.read() as book:
            lines = self._readings(book, air, quantities, span, points)
            step_s, left_out = 0, None
            if lines is None:
                step_s = step_for(span, points)
                left_out = book.summaries.left_out(span, RAW_AT_MOST)
                lines = _summed(book, air, quantities, span, step_s)
            return Chart(
                chamber,
                span,
                step_s * _SECOND,
                lines,
                self.bands.bands(book, chamber, quantities, span),
                self.marking.marks(book, chamber, span),
                self.marking.nights(span),
                left_out,
            )

    def _readings(
        self, book: Book, air: Sequence[str], quantities: Sequence[str], span: Span, points: int
    ) -> tuple[ChartLine, ...] | None:
        """Return lines of single readings, None where summaries show more.

        Readings of several sensors would make a line that jumps between them.
        """
        if span.end - span.start > READINGS_UP_TO:
            return None
        wide = Span(span.start - PAIRED_WITHIN, span.end + PAIRED_WITHIN)
        first = book.readings.within(air, _needed(quantities)[0], wide, LOOKED_AT)
        if len({reading.sensor for reading in first}) > 1:
            return None
        rows = [
            reading
            for quantity in _needed(quantities)
            for reading in book.readings.within(air, quantity, wide, points + 1)
        ]
        heard = {reading.sensor for reading in rows}
        if len(heard) > 1 or any(
            sum(r.quantity is quantity for r in rows) > points for quantity in Quantity
        ):
            return None
        samples = with_derived(_samples(rows), quantities, self.house.pressure_pa)
        gap_s = max(
            (self.house.sensors[name].unheard_after.total_seconds() for name in heard),
            default=0.0,
        )
        start, end = ((time - EPOCH) / _SECOND for time in (span.start, span.end))
        by_name = {quantity: said for (_, quantity), said in samples.items()}
        return tuple(
            _line(name, _single(by_name.get(name), start, end), gap_s, gap_s / 2)
            for name in quantities
        )


def step_for(span: Span, points: int) -> int:
    """Return how long the stretches of a chart are, so that there are not too many. [s]."""
    length_s = (span.end - span.start) / _SECOND
    for step_s in STEPS_S:
        drawn, read = length_s / step_s, length_s / (level_for(step_s) or step_s)
        if drawn <= min(points, FINE_ENOUGH) and 2 * drawn + read <= WORK_AT_MOST:
            return step_s
    weeks = -(-length_s // (STEPS_S[-1] * points))
    return STEPS_S[-1] * max(1, round(weeks))


def _check(quantities: Sequence[str], span: Span, points: int) -> None:
    if not quantities:
        raise RefusedError("Nothing is asked for. Name a quantity, such as humidity_pct.")
    for name in quantities:
        if name not in DERIVED and (name not in MEASURED or not _summed_up(name)):
            known = ", ".join([*filter(_summed_up, MEASURED), *DERIVED])
            raise RefusedError(f"There is no line of “{name}”. Known: {known}.")
    if span.start >= span.end:
        raise RefusedError("The chart must begin before it ends. Swap the two times.")
    if not 2 <= points <= POINTS_AT_MOST:
        raise RefusedError(f"A line has 2 to {POINTS_AT_MOST} points; ask for so many.")


def _summed_up(name: str) -> bool:
    """Tell whether it is a name by which summaries are kept: those that say the unit."""
    return name not in set(Quantity)


def _unit(name: str) -> str:
    return DERIVED[name].unit if name in DERIVED else UNITS[MEASURED[name]]


# ---------------------------------------------------------------------- lines of summaries


def _summed(
    book: Book, air: Sequence[str], quantities: Sequence[str], span: Span, step_s: int
) -> tuple[ChartLine, ...]:
    found = book.summaries.columns(
        air, quantities, step_s, span, judged=False, raw_at_most=RAW_AT_MOST
    )
    return tuple(
        _line(name, _stretches(found[name], step_s), step_s * GAP_STEPS, step_s)
        for name in quantities
    )


_Columns = tuple[list[float], list[float | None], list[float | None], list[float | None]]
"""When [s since 1970], the least, the mean and the most."""


def _stretches(found: Columns, step_s: int) -> _Columns:
    half = step_s / 2
    return [start + half for start in found.start_s], [*found.least], [*found.mean], [*found.most]


def _line(name: str, columns: _Columns, gap_s: float, off_s: float) -> ChartLine:
    """Return a line that breaks where nothing was heard for longer than a gap."""
    at, *values = columns
    breaks = [n for n, (one, other) in enumerate(pairwise(at), 1) if other - one > gap_s]
    for n in reversed(breaks):
        at.insert(n, at[n - 1] + off_s)
        for column in values:
            column.insert(n, None)
    return ChartLine(name, _unit(name), tuple(at), *map(tuple, values))


# ---------------------------------------------------------------------- lines of readings


def _needed(quantities: Sequence[str]) -> Sequence[Quantity]:
    """Return what has to be read for these quantities."""
    derived = any(name in DERIVED for name in quantities)
    wanted = {MEASURED[name] for name in quantities if name in MEASURED}
    pair = {Quantity.TEMPERATURE, Quantity.HUMIDITY} if derived else set()
    return [quantity for quantity in Quantity if quantity in wanted | pair]


def _samples(rows: Sequence[Reading]) -> Mapping[tuple[str, str], Samples]:
    """Return readings of one sensor as samples."""
    found: dict[tuple[str, str], tuple[list[int], list[float]]] = {}
    for row in rows:
        times, values = found.setdefault((row.sensor, API_NAMES[row.quantity]), ([], []))
        times.append((row.time - EPOCH) // timedelta(microseconds=1))
        values.append(row.value)
    return {line: Samples(*lists) for line, lists in found.items()}


def _single(said: Samples | None, start_s: float, end_s: float) -> _Columns:
    every = zip(*said, strict=True) if said is not None else ()
    within = [(at_us / 1e6, value) for at_us, value in every if start_s <= at_us / 1e6 < end_s]
    values = [value for _, value in within]
    return [at for at, _ in within], [*values], [*values], [*values]
