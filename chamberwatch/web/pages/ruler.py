"""A value on its band, as a ruler: where the limits lie, and where the value is.

The band is a lighter stretch, what is harmful is hatched, and the value is the cursor of a slide
rule: a hairline with a tag. A tag inside the band is a plain box; below it is pointed to the
left, above it to the right; beyond a harm limit it is filled. So form says what colour says.
"""

from dataclasses import dataclass
from typing import Final

from chamberwatch.core.growing.band import Band
from chamberwatch.core.watch.judgement import Judgement
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.web.pages import words

# What can't be less (or more), so that no ruler is drawn beyond it. CO2: fresh air.
FLOORS: Final[dict[Quantity, float]] = {Quantity.HUMIDITY: 0.0, Quantity.CO2: 400.0}
CEILINGS: Final[dict[Quantity, float]] = {Quantity.HUMIDITY: 100.0}
# A ruler with a single limit shows this much on its safe side.
REACH: Final[dict[Quantity, float]] = {Quantity.TEMPERATURE: 20.0, Quantity.HUMIDITY: 30.0}

MARGIN: Final = 0.3
TAG_PER_CHARACTER: Final = 8.4
TAG_PADDING: Final = 14.0
LABEL_GAP: Final = 26.0


@dataclass(frozen=True, slots=True)
class Tick:
    """A limit on the ruler."""

    x: float
    label: str
    anchor: str
    harm: bool


@dataclass(frozen=True, slots=True)
class Ruler:
    """Everything a ruler shows; lengths in the drawing's units from its left end.

    Attributes:
        name: of the quantity.
        value: with unit.
        words: where it stands.
        standing: below, within or above.
        harm: beyond a harm limit.
        old: the value is not fresh and must not look so.
        width: of the whole ruler.
        x: of the value.
        tag: left end and width of the tag.
        band: ends of the lighter stretch, None without one.
        hatched: stretches that are harmful.
        ticks: the limits.
    """

    name: str
    value: str
    words: str
    standing: str
    harm: bool
    old: bool
    width: float
    x: float
    tag: tuple[float, float]
    band: tuple[float, float] | None
    hatched: tuple[tuple[float, float], ...]
    ticks: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class Scale:
    """From values to places."""

    low: float
    high: float
    width: float

    def at(self, value: float) -> float:
        """Return the place of a value, at the end if it lies beyond."""
        share = (value - self.low) / (self.high - self.low)
        return round(min(1.0, max(0.0, share)) * self.width, 1)


def scale_for(band: Band, quantity: Quantity, value: float, width: float) -> Scale:
    """Choose a stretch that shows all limits, and the value unless it is far off."""
    lows = [limit for limit in (band.harm_low, band.low) if limit is not None]
    highs = [limit for limit in (band.high, band.harm_high) if limit is not None]
    floor, ceiling = FLOORS.get(quantity), CEILINGS.get(quantity)
    reach = REACH.get(quantity, max(*highs, *lows, 1.0) / 2)
    low = min(lows) if lows else _or(floor, min(highs) - reach)
    high = max(highs) if highs else _or(ceiling, max(lows, default=low) + reach)
    spread = high - low
    low = min(low - MARGIN * spread, max(value - 0.1 * spread, low - spread))
    high = max(
        high + (MARGIN if lows else MARGIN / 2) * spread, min(value + 0.1 * spread, high + spread)
    )
    # The value may honestly lie beyond: outdoor air below 400 ppm, a wet sensor at 101 %.
    low = max(low, min(floor, value)) if floor is not None else low
    high = min(high, max(ceiling, value)) if ceiling is not None else high
    return Scale(low, high, width)


def _or(first: float | None, second: float) -> float:
    return second if first is None else first


def _stretches(
    band: Band, scale: Scale
) -> tuple[tuple[float, float] | None, tuple[tuple[float, float], ...]]:
    start = scale.at(band.low) if band.low is not None else 0.0
    end = scale.at(band.high) if band.high is not None else scale.width
    lighter = (start, end) if band.low is not None or band.high is not None else None
    hatched = []
    if band.harm_low is not None:
        hatched.append((0.0, scale.at(band.harm_low)))
    if band.harm_high is not None:
        hatched.append((scale.at(band.harm_high), scale.width))
    if lighter and lighter[1] == scale.width and band.harm_high is not None:
        lighter = (lighter[0], scale.at(band.harm_high))
    if lighter and lighter[0] == 0.0 and band.harm_low is not None:
        lighter = (scale.at(band.harm_low), lighter[1])
    return lighter, tuple(hatched)


def _ticks(band: Band, quantity: Quantity, scale: Scale) -> tuple[Tick, ...]:
    limits = [(band.low, False), (band.high, False), (band.harm_low, True), (band.harm_high, True)]
    ticks: list[Tick] = []
    for limit, harm in limits:
        if limit is None:
            continue
        x = scale.at(limit)
        crowded = any(abs(x - tick.x) < LABEL_GAP for tick in ticks)
        anchor = "end" if x > scale.width - LABEL_GAP / 2 else "middle"
        ticks.append(Tick(x, "" if crowded else words.bare(quantity, limit), anchor, harm))
    return tuple(ticks)


def ruler(judgement: Judgement, width: float, old: str = "") -> Ruler:
    """Lay a value on its band.

    Args:
        judgement: the value and its band.
        width: of the ruler, in the drawing's units.
        old: how old the value is, in words, if it is not fresh.
    """
    reading, band = judgement.reading, judgement.band
    scale = scale_for(band, reading.quantity, reading.value, width)
    value = words.amount(reading.quantity, reading.value, words.finer_for(judgement))
    x = scale.at(reading.value)
    tag_width = len(value) * TAG_PER_CHARACTER + TAG_PADDING
    # The tag may stand out over either end a little, but stays over its hairline.
    tag_x = min(max(x - tag_width / 2, -6.0), width + 6.0 - tag_width)
    lighter, hatched = _stretches(band, scale)
    return Ruler(
        name=words.NAMES[reading.quantity],
        value=value,
        words=old or words.standing_short(judgement),
        standing=judgement.standing.value,
        harm=judgement.harm,
        old=bool(old),
        width=width,
        x=x,
        tag=(round(tag_x, 1), round(tag_width, 1)),
        band=lighter,
        hatched=hatched,
        ticks=_ticks(band, reading.quantity, scale),
    )
