"""Harm limits on a chart: soft lines with strokes on the harmful side, strong where crossed.

Colour is for what left its limits; a limit that nothing came near is part of the calm ground.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from chamberwatch.core.shown_in import ShownIn
from chamberwatch.service.chart import BandThen, ChartLine
from chamberwatch.web.language import _
from chamberwatch.web.pages.chart_lines import Bands, outside, runs
from chamberwatch.web.pages.chart_paper import Frame, text
from chamberwatch.web.pages.chart_scale import shown
from chamberwatch.web.pages.week_says import SAYS

PER_STROKE: Final = 7.0
STROKE: Final = 4.0
"""How far a stroke reaches to the left and into the harm."""
SEEN: Final = 4.0
"""What was crossed for a moment only is drawn as wide as this."""
ROOM_FOR_WORDS: Final = 80.0

Crossed = tuple[float, float, float]
"""From when to when [s since 1970], and the limit."""


def crossed(line: ChartLine, bands: Iterable[BandThen]) -> Iterator[Crossed]:
    """Yield when the least of a line lay below a harm limit, then when the most lay above one."""
    held = list(bands)
    lows = [replace(b, low=b.harm_low, high=None, harm_low=None, harm_high=None) for b in held]
    highs = [replace(b, low=None, high=b.harm_high, harm_low=None, harm_high=None) for b in held]
    for values, only in ((line.least, lows), (line.most, highs)):
        own = Bands.among(only, line.quantity)
        for run in runs(line, values):
            for piece in outside(run, own):
                limits = (own.limit_left(*point) for point in piece)
                limit = next(each for each in limits if each is not None)
                yield piece[0][0], piece[-1][0], limit


def harm(
    bands: Sequence[BandThen], lines: Sequence[ChartLine], frame: Frame, shown_in: ShownIn
) -> Iterator[str]:
    """Draw the harm limits that lie within the panel; the words once, where there is room."""
    said = False
    for band in bands:
        for limit, low in ((band.harm_low, True), (band.harm_high, False)):
            if limit is None:
                continue
            value = shown(band.quantity, limit, shown_in)
            if not frame.values.low < value < frame.values.high:
                continue
            y = frame.y(value)
            x1, x2 = frame.x(band.start.timestamp()), frame.x(band.end.timestamp())
            yield f'<path class="harm" d="{fence(x1, x2, y, low=low)}"/>'
            if not said and x2 - x1 > ROOM_FOR_WORDS:
                said = True
                yield _words(x1, y, frame, low=low)
    for line in lines:
        for start, end, limit in crossed(line, bands):
            y, x1 = frame.y(shown(line.quantity, limit, shown_in)), frame.x(start)
            x2 = max(frame.x(end), x1 + SEEN)
            yield f'<path class="harm crossed" d="M{x1:g} {y:g}H{round(x2, 1):g}"/>'


def fence(x1: float, x2: float, y: float, *, low: bool) -> str:
    """Return a line with strokes on its harmful side: beneath a low limit, above a high one."""
    count = int((x2 - x1 - STROKE) / PER_STROKE) + 1
    places = (round(x1 + STROKE + n * PER_STROKE, 1) for n in range(count))
    into = STROKE if low else -STROKE
    strokes = "".join(f"M{x:g} {y:g}l{-STROKE:g} {into:g}" for x in places)
    return f"M{x1:g} {y:g}H{x2:g}{strokes}"


def _words(x: float, y: float, frame: Frame, *, low: bool) -> str:
    """Write what the line means, in the harm where there is room, else on the other side."""
    if low:
        at = y + 15 if frame.foot - y > 18 else y - 4
    else:
        at = y - 7 if y - frame.top > 18 else y + 13
    return text("harm-word", x + 5, at, _(SAYS["harmBelow"] if low else SAYS["harmAbove"]))
