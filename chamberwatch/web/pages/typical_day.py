"""The typical day of a week as a strip of 24 hours: how much of each lay within the band.

The clear part of an hour is the time within the band. What was below it is filled from the foot,
what was above it from the head, so that form says which side it was; an hour nobody measured is
left out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from chamberwatch.core import climate_words
from chamberwatch.core.review.climate import HourOfDay
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.web import words
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _

NONE: Final = "\N{EN DASH}"
CELL: Final = 14.0
HEIGHT: Final = 42.0


@dataclass(frozen=True, slots=True)
class Cell:
    """One hour of the strip; lengths in the drawing's units from its upper left corner.

    Attributes:
        x: of its left edge.
        below: height filled from the foot.
        above: height filled from the head.
        heard: something was measured and judged in it.
        title: the same in words.
    """

    x: float
    below: float
    above: float
    heard: bool
    title: str


@dataclass(frozen=True, slots=True)
class Strip:
    """The day of one quantity.

    Attributes:
        name: of the quantity.
        cells: 24, from midnight on.
        words: the hours in which it was outside most, for those who don't see the strip.
        rows: hour, mean and share within the band, for the table.
    """

    name: str
    cells: tuple[Cell, ...]
    words: str
    rows: tuple[tuple[str, str, str], ...]


def strips(day: Mapping[Quantity, Sequence[HourOfDay]], figures: Figures) -> tuple[Strip, ...]:
    """Return a strip for each quantity that was judged."""
    judged = ((q, hours) for q, hours in day.items() if any(h.judged for h in hours))
    return tuple(_strip(q, hours, figures) for q, hours in judged)


def _strip(quantity: Quantity, hours: Sequence[HourOfDay], figures: Figures) -> Strip:
    return Strip(
        name=words.named(quantity),
        cells=tuple(_cell(hour) for hour in hours),
        words=_words(hours),
        rows=tuple(_row(quantity, hour, figures) for hour in hours),
    )


def _cell(hour: HourOfDay) -> Cell:
    part = hour.in_band
    if part is None:
        return Cell(
            hour.hour * CELL,
            0.0,
            0.0,
            heard=False,
            title=_("%(hour)s:00: unheard", hour=f"{hour.hour:02d}"),
        )
    return Cell(
        x=hour.hour * CELL,
        below=round(HEIGHT * hour.below / hour.judged, 1),
        above=round(HEIGHT * hour.above / hour.judged, 1),
        heard=True,
        title=_(
            "%(hour)s:00: %(within)s within the band",
            hour=f"{hour.hour:02d}",
            within=climate_words.percent(part),
        ),
    )


def _words(hours: Sequence[HourOfDay]) -> str:
    parts = [(h.in_band, h.hour) for h in hours]
    outside = [(part, hour) for part, hour in parts if part is not None and part < 1.0]
    if not outside:
        return _("within the band at all hours")
    part, hour = min(outside)
    return _(
        "worst from %(hour)s:00, %(within)s within the band",
        hour=f"{hour:02d}",
        within=climate_words.percent(part),
    )


def _row(quantity: Quantity, hour: HourOfDay, figures: Figures) -> tuple[str, str, str]:
    mean = NONE if hour.mean is None else figures.amount(quantity, hour.mean)
    within = NONE if hour.in_band is None else climate_words.percent(hour.in_band)
    return f"{hour.hour:02d}:00", mean, within
