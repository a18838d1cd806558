"""The rows of signs above a chart: what was done, what is told of a batch, what people were told.

The signs are those of the log (`web/event_signs.py`), a reminder's bar as long as it lasted. Signs
on one another are one, and say how many.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from markupsafe import escape

from chamberwatch.core.sentence import straight
from chamberwatch.service.chart import Mark, MarkKind
from chamberwatch.web.event_signs import PATHS
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.chart_paper import LEFT, PER_LETTER, Frame, text
from chamberwatch.web.pages.week_says import SAYS

LANE: Final = 20.0
TIMES: Final = "\N{MULTIPLICATION SIGN}"
PER_HAIR: Final = 14.0
"""Lines through all panels are left out where they would lie closer than this."""
PER_SIGN: Final = 14.0
"""A row with more signs than have so much room only says how many there are."""
TOGETHER: Final = 12.0
"""Signs closer than this are drawn as one."""

LANES: Final[tuple[tuple[str, frozenset[MarkKind]], ...]] = (
    (marked("done"), frozenset({MarkKind.DEED, MarkKind.FOUND})),
    (marked("batch"), frozenset({MarkKind.GROWING})),
    (marked("asked"), frozenset({MarkKind.REMINDER})),
)
"""Marks by what they tell of, from the top."""


def of(marks: Iterable[Mark], kinds: frozenset[MarkKind]) -> list[Mark]:
    """Return the marks of these kinds."""
    return [mark for mark in marks if mark.kind in kinds]


def deed_hairs(marks: Iterable[Mark], frame: Frame, foot: float) -> Iterator[str]:
    """Draw a faint line through all panels where something was done."""
    places = sorted({frame.x(mark.at.timestamp()) for mark in of(marks, LANES[0][1])})
    if places and len(places) <= (frame.right - LEFT) / PER_HAIR:
        lines = "".join(f"M{x:g} {frame.top:g}V{foot:g}" for x in places)
        yield f'<path class="hair" d="{lines}"/>'


def lane(name: str, marks: Sequence[Mark], frame: Frame, end: datetime) -> Iterator[str]:
    """Draw one row, its name before it."""
    middle = frame.top + LANE / 2
    yield f'<g class="lane {name}">{text("lane-name", LEFT - 7, middle + 4, _(name), "end")}'
    signs = list(_signs(marks, frame, end))
    if len(signs) > (frame.right - LEFT) / PER_SIGN:
        many = _(SAYS["many"], number=len(marks))
        yield f"{text('mark-word', LEFT + 4, middle + 4, many)}</g>"
        return
    taken = float(LEFT)
    for number, sign in enumerate(signs):
        title = f"<title>{escape(straight(sign.text))}</title>"
        yield f'<g class="mark {sign.kind.value}">{title}{_shape(sign, middle)}'
        after = signs[number + 1].x if number + 1 < len(signs) else frame.right
        word, ends = _word(sign, taken, after, frame.right, middle + 4)
        taken = max(taken, sign.until, ends)
        yield f"{word}</g>"
    yield "</g>"


def _word(sign: "_Sign", taken: float, after: float, right: float, y: float) -> tuple[str, float]:
    """Write a sign's word within its frame, behind it, or before it at the right end.

    Args:
        sign: which.
        taken: so far from the left other signs, their frames and words reach.
        after: where the next sign begins.
        right: end of the panel.
        y: foot of the letters.

    Returns:
        The word, empty where it has no room, and where it ends.
    """
    long = len(sign.word) * PER_LETTER
    framed = sign.until > sign.x
    starts = max(sign.until, sign.x + 3) + 4 if framed else sign.x + 8
    before = sign.x - (4 if framed else 8)
    # A frame that began earlier may still last, or the next begin within this one.
    if taken <= sign.x and min(sign.until, after) - sign.x > long + 8:
        return text("bar-word", sign.x + 5, y, sign.word), sign.until
    if taken <= starts and starts + long < after - 10:
        return text("mark-word", starts, y, sign.word), starts + long
    if starts + long >= right - 10 and taken + 6 < before - long:
        return text("mark-word", before, y, sign.word, "end"), sign.x
    return "", sign.x


@dataclass(slots=True)
class _Sign:
    """One or several marks that lie too close to be told apart."""

    kind: MarkKind
    x: float
    until: float
    words: list[str]
    text: str

    @property
    def word(self) -> str:
        count = len(self.words)
        if count == 1:
            return self.words[0]
        times = f"{TIMES}{count}"
        return f"{self.words[0]} {times}" if len(set(self.words)) == 1 else times


def _signs(marks: Sequence[Mark], frame: Frame, end: datetime) -> Iterator[_Sign]:
    """Yield signs from the left; marks that would lie on one another are one."""
    sign: _Sign | None = None
    for mark in marks:
        x = frame.x(mark.at.timestamp())
        until = frame.x((mark.until or end).timestamp()) if mark.kind is MarkKind.REMINDER else x
        close = sign is not None and x - sign.x < TOGETHER
        if sign is not None and close and mark.kind is sign.kind:
            sign.words.append(mark.word)
            sign.until = max(sign.until, until)
            sign.text = f"{sign.text}; {mark.text}"
            continue
        if sign is not None:
            yield sign
        sign = _Sign(mark.kind, x, until, [mark.word], mark.text)
    if sign is not None:
        yield sign


def _shape(sign: _Sign, y: float) -> str:
    if sign.kind is MarkKind.REMINDER:
        width = round(max(3.0, sign.until - sign.x), 1)
        path, place = f"M{sign.x:g} {y - 7:g}h{width:g}v14h-{width:g}z", ""
    else:
        path, place = PATHS[sign.kind.value], f' transform="translate({sign.x:g} {y:g})"'
    return f'<path class="sign {sign.kind.value}" d="{path}"{place}/>'
