"""Which summaries answer a stretch of time: the longest that fit, and readings for what is left.

Times and lengths are whole seconds since 1970 here, as summaries are kept.
"""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from chamberwatch.core.review.summary import Level

LENGTHS_S: Final = tuple(round(level.value.total_seconds()) for level in Level)
"""Of a minute, a quarter-hour, an hour and a day; each is a whole number of those before. [s]"""

MINUTE_S, QUARTER_S, HOUR_S, DAY_S = LENGTHS_S


class Piece(NamedTuple):
    """A part of a stretch that is answered in one way.

    Attributes:
        length_s: of the summaries that answer it. [s]
        start_s: from when on. [s]
        end_s: until before when. [s]
    """

    length_s: int
    start_s: int
    end_s: int


def level_for(step_s: int) -> int | None:
    """Return the longest length of which a step is a whole number; None: there is none. [s]."""
    fitting = [length for length in LENGTHS_S if step_s > 0 and step_s % length == 0]
    return fitting[-1] if fitting else None


def without(start_s: int, end_s: int, holes: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Yield what is left of a stretch without some of its quarter-hours, oldest first.

    Args:
        start_s: where it begins. [s]
        end_s: where it ends. [s]
        holes: where the quarter-hours begin, in order. [s]
    """
    for hole in holes:
        if start_s < hole:
            yield start_s, min(hole, end_s)
        start_s = max(start_s, hole + QUARTER_S)
    if start_s < end_s:
        yield start_s, end_s


def cover(start_s: int, end_s: int, longest_s: int) -> Iterator[Piece]:
    """Yield what answers a stretch whose summaries are all good, in order of time.

    Args:
        start_s: where it begins, a full minute. [s]
        end_s: where it ends, a full minute. [s]
        longest_s: no summaries longer than this. [s]
    """
    if start_s >= end_s:
        return
    shorter = LENGTHS_S[LENGTHS_S.index(longest_s) - 1]
    first, last = -(-start_s // longest_s) * longest_s, end_s // longest_s * longest_s
    if first >= last:
        yield from cover(start_s, end_s, shorter)
        return
    yield from cover(start_s, first, shorter)
    yield Piece(longest_s, first, last)
    yield from cover(last, end_s, shorter)
