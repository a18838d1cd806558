"""A value on its band: a short upright scale, and the last hours as a line that leads up to it.

Line and scale share one axis, as on a recorder with its pen. The band is a lighter stretch across
both, what is harmful is hatched, and the value is a hairline with a tag. A tag inside the band is
a plain box; below it is pointed downwards, above it upwards; beyond a harm limit it is filled. So
form says what colour says.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from chamberwatch.core.growing.band import Band
from chamberwatch.core.watch.course import Points
from chamberwatch.core.watch.judgement import Judgement
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.web import words
from chamberwatch.web.figures import Figures
from chamberwatch.web.pages.trace import Scale, Trace, trace

# What can't be less (or more), so that no ruler is drawn beyond it. CO2: fresh air.
FLOORS: Final[dict[Quantity, float]] = {Quantity.HUMIDITY: 0.0, Quantity.CO2: 400.0}
CEILINGS: Final[dict[Quantity, float]] = {Quantity.HUMIDITY: 100.0}
# A ruler with a single limit shows this much on its safe side.
REACH: Final[dict[Quantity, float]] = {Quantity.TEMPERATURE: 20.0, Quantity.HUMIDITY: 30.0}

HEIGHT: Final = 46.0
MARGIN: Final = 0.3
TAG_PER_CHARACTER: Final = 8.8
TAG_PADDING: Final = 10.0
TAG_HALF: Final = 9.0
LABEL_GAP: Final = 9.5


@dataclass(frozen=True, slots=True)
class Tick:
    """A limit on the ruler."""

    y: float
    label: str
    harm: bool


@dataclass(frozen=True, slots=True)
class Ruler:
    """Everything a ruler shows; lengths in the drawing's units, downwards from its top.

    Attributes:
        key: name of the quantity in the API.
        name: of the quantity, in words.
        value: with unit.
        spread: its ±; empty where none is known.
        words: where it stands.
        standing: below, within or above.
        harm: beyond a harm limit.
        old: the value is not fresh and must not look so.
        height: of the whole ruler.
        y: of the value.
        tag: middle of the tag, and its width.
        band: ends of the lighter stretch, None without one.
        hatched: stretches that are harmful.
        ticks: the limits.
        trace: the last hours.
    """

    key: str
    name: str
    value: str
    spread: str
    words: str
    standing: str
    harm: bool
    old: bool
    height: float
    y: float
    tag: tuple[float, float]
    band: tuple[float, float] | None
    hatched: tuple[tuple[float, float], ...]
    ticks: tuple[Tick, ...]
    trace: Trace


@dataclass(frozen=True, slots=True)
class Shown:
    """What a ruler shows beside a value and its band.

    Attributes:
        figures: how values are written.
        now: the right end of the line.
        pieces: the last hours, cut at the gaps.
        spread: ± of the value; empty where none is known.
        old: how old the value is, in words, if it is not fresh.
    """

    figures: Figures
    now: datetime
    pieces: tuple[Points, ...] = ()
    spread: str = ""
    old: str = ""


def scale_for(band: Band, quantity: Quantity, values: Sequence[float], height: float) -> Scale:
    """Choose a stretch that shows all limits, and the values unless they are far off."""
    lows = [limit for limit in (band.harm_low, band.low) if limit is not None]
    highs = [limit for limit in (band.high, band.harm_high) if limit is not None]
    floor, ceiling = FLOORS.get(quantity), CEILINGS.get(quantity)
    reach = REACH.get(quantity, max(*highs, *lows, 1.0) / 2)
    low = min(lows) if lows else _or(floor, min(highs) - reach)
    high = max(highs) if highs else _or(ceiling, max(lows, default=low) + reach)
    spread, least, most = high - low, min(values), max(values)
    low = min(low - MARGIN * spread, max(least - 0.1 * spread, low - spread))
    high = max(
        high + (MARGIN if lows else MARGIN / 2) * spread, min(most + 0.1 * spread, high + spread)
    )
    # The value may honestly lie beyond: outdoor air below 400 ppm, a wet sensor at 101 %.
    low = max(low, min(floor, least)) if floor is not None else low
    high = min(high, max(ceiling, most)) if ceiling is not None else high
    return Scale(low, high, height)


def _or(first: float | None, second: float) -> float:
    return second if first is None else first


def _stretches(
    band: Band, scale: Scale
) -> tuple[tuple[float, float] | None, tuple[tuple[float, float], ...]]:
    """Return the ends of the good stretch and of the harmful ones, upper end first."""
    top = scale.at(band.high) if band.high is not None else 0.0
    foot = scale.at(band.low) if band.low is not None else scale.height
    lighter = (top, foot) if band.low is not None or band.high is not None else None
    hatched = []
    if band.harm_low is not None:
        hatched.append((scale.at(band.harm_low), scale.height))
    if band.harm_high is not None:
        hatched.append((0.0, scale.at(band.harm_high)))
    if lighter and band.high is None and band.harm_high is not None:
        lighter = (scale.at(band.harm_high), lighter[1])
    if lighter and band.low is None and band.harm_low is not None:
        lighter = (lighter[0], scale.at(band.harm_low))
    return lighter, tuple(hatched)


def _ticks(band: Band, quantity: Quantity, scale: Scale, figures: Figures) -> tuple[Tick, ...]:
    limits = [(band.low, False), (band.high, False), (band.harm_low, True), (band.harm_high, True)]
    ticks: list[Tick] = []
    for limit, harm in limits:
        if limit is None:
            continue
        y = scale.at(limit)
        crowded = any(abs(y - tick.y) < LABEL_GAP for tick in ticks if tick.label)
        ticks.append(Tick(y, "" if crowded else bare(figures, quantity, limit), harm))
    return tuple(ticks)


def bare(figures: Figures, quantity: Quantity, limit: float) -> str:
    """Write a limit of a band in the liked unit: no unit, no empty decimals."""
    if quantity is Quantity.TEMPERATURE:
        limit = round(figures.shown_in.temperature_of(limit), 1)
    return figures.said(words.bare(quantity, limit))


def ruler(judgement: Judgement, shown: Shown, height: float = HEIGHT) -> Ruler:
    """Lay a value on its band.

    Args:
        judgement: the value and its band.
        shown: what is shown beside them.
        height: of the ruler, in the drawing's units.
    """
    reading, band, figures = judgement.reading, judgement.band, shown.figures
    values = [reading.value, *(value for piece in shown.pieces for _, value in piece)]
    scale = scale_for(band, reading.quantity, values, height)
    value = figures.amount(reading.quantity, reading.value, words.finer_for(judgement))
    y = scale.at(reading.value)
    lighter, hatched = _stretches(band, scale)
    return Ruler(
        key=reading.quantity.value,
        name=words.named(reading.quantity),
        value=value,
        spread="" if shown.old else shown.spread,
        words=shown.old or figures.said(words.standing_short(judgement)),
        standing=judgement.standing.value,
        harm=judgement.harm,
        old=bool(shown.old),
        height=height,
        y=y,
        # The tag stays beside the scale, over its hairline.
        tag=(
            round(min(max(y, TAG_HALF), height - TAG_HALF), 1),
            round(len(value) * TAG_PER_CHARACTER + TAG_PADDING, 1),
        ),
        band=lighter,
        hatched=hatched,
        ticks=_ticks(band, reading.quantity, scale, figures),
        trace=trace(shown.pieces, shown.now, scale),
    )
