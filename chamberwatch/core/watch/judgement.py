"""A value held against a band."""

from dataclasses import dataclass
from enum import StrEnum

from chamberwatch.core.growing.band import Band
from chamberwatch.core.watch.reading import Reading


class Standing(StrEnum):
    """Where a value stands against its band."""

    BELOW = "below"
    WITHIN = "within"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a reading says against the band of its chamber.

    Attributes:
        reading: the value judged.
        where: the place of its sensor, in words.
        band: what it was held against.
        standing: below, within or above.
        by: how far outside, in the unit of the quantity; 0 within.
        harm: whether it lies beyond a harm limit.
    """

    reading: Reading
    where: str
    band: Band
    standing: Standing
    by: float
    harm: bool


def judge(reading: Reading, where: str, band: Band) -> Judgement:
    """Hold a reading against a band."""
    value = reading.value
    standing, by = Standing.WITHIN, 0.0
    low, high = band.edges
    if low is not None and value < low:
        standing, by = Standing.BELOW, low - value
    elif high is not None and value > high:
        standing, by = Standing.ABOVE, value - high
    harm = (band.harm_low is not None and value < band.harm_low) or (
        band.harm_high is not None and value > band.harm_high
    )
    return Judgement(reading, where, band, standing, by, harm)
