"""Summaries of readings, by the minute, quarter-hour, hour and day; exact at any moment.

What is not summed up yet, or not rightly any more, is answered from the readings themselves;
but of a line that need not be whole at once only the newest of that.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from operator import itemgetter
from typing import Any, Final

from sqlalchemy import Connection, literal, select

from chamberwatch.core.review.covering import (
    DAY_S,
    MINUTE_S,
    QUARTER_S,
    Piece,
    cover,
    level_for,
    without,
)
from chamberwatch.core.review.reckoning import Counted, Tally, counted, together, with_derived
from chamberwatch.core.review.summary import Columns, Level, Summary
from chamberwatch.service.books import Span
from chamberwatch.storage.columns import from_micros, to_micros
from chamberwatch.storage.sampled import CODES, Sampled, only
from chamberwatch.storage.summed import S_US, Window, edge, window
from chamberwatch.storage.summed_tables import SUMMARIES, SUMMED_SENSORS, UNSUMMED
from chamberwatch.storage.summing import TALLY

_LONGEST_CHUNK_US: Final = DAY_S * S_US
_C: Final = SUMMARIES.c
_BARE: Final = (*TALLY[:4], literal(0), literal(0), literal(0))
_MICRO: Final = timedelta(microseconds=1)
MINUTE_US: Final = MINUTE_S * S_US


class SqlSummaries:
    """What readings came to."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection
        self._sampled = Sampled(connection)

    def within(
        self, sensors: Sequence[str], quantity: str, level: Level, span: Span
    ) -> Sequence[Summary]:
        """Return what the samples of a span came to, oldest first, empty stretches left out.

        Several sensors count together. A stretch that lies only partly in the span counts those of
        its samples that lie in it.
        """
        length_s = round(level.value.total_seconds())
        found = self.columns(sensors, (quantity,), length_s, span)[quantity]
        return list(
            map(
                Summary,
                [from_micros(start * S_US) for start in found.start_s],
                found.number,
                found.least,
                found.mean,
                found.most,
                found.within,
                found.below,
                found.above,
            )
        )

    def columns(
        self,
        sensors: Sequence[str],
        quantities: Sequence[str],
        step_s: int,
        span: Span,
        *,
        judged: bool = True,
        raw_at_most: timedelta | None = None,
    ) -> Mapping[str, Columns]:
        """Return the same for several quantities at once, in steps of whole minutes.

        Args:
            sensors: counted together.
            quantities: by the names that the API has for them.
            step_s: length of the stretches. [s]
            span: samples of this span count.
            judged: whether to tell how many lay within the band; it takes longer, above all
                after another band was set.
            raw_at_most: so much of what is not summed up is read, the newest, to the full day;
                what is older is left out. None: all of it, however long that takes.
        """
        start_us, end_us = to_micros(span.start), to_micros(span.end)
        raw_us = None if raw_at_most is None else raw_at_most // _MICRO
        known = select(SUMMED_SENSORS.c.id).where(SUMMED_SENSORS.c.name.in_(sensors))
        numbers = self._connection.execute(known).scalars().all()
        asked = _Asked(sensors, numbers, quantities, step_s, start_us, end_us, judged, raw_us)
        found: _Found = {name: [] for name in quantities}
        held = window(self._connection)
        good = list(self._good(held, asked))
        longest_s = level_for(step_s) or MINUTE_S
        for start_s, end_s in good:
            for piece in cover(start_s, end_s, longest_s):
                self._summed(found, asked, piece)
        self._read(found, asked, held, good)
        return {name: _columns(rows) for name, rows in found.items()}

    def left_out(self, span: Span, raw_at_most: timedelta) -> Span | None:
        """Return from when to when `columns` leaves something out; None: it leaves out nothing."""
        start_us, end_us = to_micros(span.start), to_micros(span.end)
        raw_us = raw_at_most // _MICRO
        asked = _Asked((), (), (), MINUTE_S, start_us, end_us, judged=False, raw_us=raw_us)
        held = window(self._connection)
        gaps = _gaps(held, asked, list(self._good(held, asked)))
        until_us = next((until for _, until, read in self._pieces(asked, gaps) if not read), None)
        if until_us is None:
            return None
        for first_us, last_us in gaps:
            heard_s = edge(self._connection, newest=False, from_s=first_us // S_US)
            if heard_s is not None and heard_s * S_US < min(last_us, until_us):
                return Span(from_micros(max(first_us, heard_s * S_US)), from_micros(until_us))
        return None

    def _read(
        self,
        found: "_Found",
        asked: "_Asked",
        held: Window,
        good: Sequence[tuple[int, int]],
    ) -> None:
        """Add what is not summed up, from the readings."""
        rules = self._sampled.rules(asked.sensors)
        step_us = asked.step_s * S_US
        for stretch_us in self._raw_pieces(held, asked, good):
            _put(
                found,
                self._sampled.counted(asked.sensors, asked.quantities, rules, stretch_us, step_us),
            )
        gone_us = min(asked.end_us, held.gone_s * S_US)
        if asked.start_us < gone_us:
            late = self._sampled.late(asked.sensors, asked.start_us, gone_us)
            made = only(with_derived(late, asked.quantities, rules.pressure_pa), asked.quantities)
            _put(found, counted(made, rules.held, asked.start_us, gone_us, step_us))

    # ------------------------------------------------------------ which parts answer it

    def _good(self, held: Window, asked: "_Asked") -> Iterator[tuple[int, int]]:
        """Yield the whole minutes of a span whose summaries are right, as stretches. [s]."""
        start_s = max(-(-asked.start_us // MINUTE_US) * MINUTE_S, held.from_s)
        end_s = min(asked.end_us // MINUTE_US * MINUTE_S, held.until_s)
        wrong = (
            select(UNSUMMED.c.start_s)
            .where(UNSUMMED.c.start_s > start_s - QUARTER_S, UNSUMMED.c.start_s < end_s)
            .order_by(UNSUMMED.c.start_s)
        )
        if not asked.judged:
            wrong = wrong.where(~UNSUMMED.c.counting)
        return without(start_s, end_s, self._connection.execute(wrong).scalars().all())

    def _raw_pieces(
        self, held: Window, asked: "_Asked", good: Sequence[tuple[int, int]]
    ) -> Iterator[tuple[int, int]]:
        """Yield what is left, the newest first, in stretches of at most a day. [us]."""
        for start_us, until_us, read in self._pieces(asked, _gaps(held, asked, good)):
            if not read:
                return
            yield start_us, until_us

    def _pieces(
        self, asked: "_Asked", gaps: Sequence[tuple[int, int]]
    ) -> Iterator[tuple[int, int, bool]]:
        """Yield the days of all gaps, the newest first, and whether each is read. [us]."""
        left_us = asked.raw_us
        for first_us, last_us in reversed(gaps):
            for start_us, until_us in self._days(first_us, last_us):
                yield start_us, until_us, left_us is None or left_us > 0
                if left_us is not None:
                    left_us -= until_us - start_us

    def _days(self, first_us: int, last_us: int) -> Iterator[tuple[int, int]]:
        """Yield the days of a gap, the newest first, without most in which nothing was heard."""
        while first_us < last_us:
            # A year of which nothing is summed up yet, or in which nothing was heard.
            if last_us - first_us > _LONGEST_CHUNK_US:
                heard_s = edge(self._connection, newest=True, before_s=-(-last_us // S_US))
                last_us = min(last_us, first_us if heard_s is None else (heard_s + 1) * S_US)
            start_us = max(first_us, (last_us - 1) // _LONGEST_CHUNK_US * _LONGEST_CHUNK_US)
            if start_us < last_us:
                yield start_us, last_us
            last_us = start_us

    def _summed(self, found: "_Found", asked: "_Asked", piece: Piece) -> None:
        """Add what is summed up."""
        start: Any = _C.start_s
        if asked.step_s != piece.length_s:
            # The remainder of a time before 1970 is negative; this makes it count upwards too.
            start = start - (start % asked.step_s + asked.step_s) % asked.step_s
        rows = (
            select(start.label("begins"), _C.quantity, *(TALLY if asked.judged else _BARE))
            .where(
                _C.length_s == piece.length_s,
                _C.start_s >= piece.start_s,
                _C.start_s < piece.end_s,
                _C.quantity.in_([CODES[name] for name in asked.quantities]),
                _C.sensor.in_(asked.numbers),
            )
            .group_by("begins", _C.quantity)
        )
        put = {CODES[name]: of.append for name, of in found.items()}
        for row in self._connection.execute(rows).all():
            put[row[1]](row)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked: of whom, what, in which steps [s], from when to when [us], how fully.

    Of what is not summed up at most `raw_us` is read; None: all of it. [us]
    """

    sensors: Sequence[str]
    numbers: Sequence[int]
    quantities: Sequence[str]
    step_s: int
    start_us: int
    end_us: int
    judged: bool
    raw_us: int | None


_Row = Sequence[Any]
"""Where a stretch begins [s], of which quantity it tells, and its tally."""

_Found = dict[str, list[_Row]]


def _gaps(
    held: Window, asked: _Asked, good: Sequence[tuple[int, int]]
) -> Sequence[tuple[int, int]]:
    """Return what lies between the good stretches, oldest first. [us]."""
    at_us, found = max(asked.start_us, held.gone_s * S_US), []
    for first_us, last_us in [
        *((first * S_US, last * S_US) for first, last in good),
        (asked.end_us, asked.end_us),
    ]:
        if at_us < first_us:
            found.append((at_us, first_us))
        at_us = max(at_us, last_us)
    return found


def _put(found: _Found, parts: Iterable[Counted]) -> None:
    for start_us, _, name, tally in parts:
        found[name].append((start_us // S_US, name, *tally))


def _columns(rows: list[_Row]) -> Columns:
    """Return parts of an answer in columns; several of one stretch count together."""
    rows.sort(key=itemgetter(0))
    whole: list[_Row] = []
    for row in rows:
        if whole and whole[-1][0] == row[0]:
            parts = (Tally._make(each[2:]) for each in (whole.pop(), row))
            whole.append((row[0], row[1], *together(parts)))
        else:
            whole.append(row)
    if not whole:
        return Columns()
    start_s, _, *columns = zip(*whole, strict=True)
    return Columns(start_s, *columns)
