"""How the humidity would go till a time, drawn against its band, and what would make it hold."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from chamberwatch.core import amount_words
from chamberwatch.core.growing.band import Band
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.outlook import Foreseen, HoldAnswer
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.situation import Limit
from chamberwatch.service.books import Span
from chamberwatch.service.views import HoldNow
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _
from chamberwatch.web.pages.chart_time import time_marks
from chamberwatch.web.pages.labels import Box, Label, Placer
from chamberwatch.web.words import GAP

WIDTH: Final = 360.0
HEIGHT: Final = 190.0
PLOT: Final = Box(42.0, 12.0, 342.0, 164.0)
LETTERS: Final = 11.0
_MARKS_AT_MOST: Final = 7
_CLOSING_COUNTS: Final = 0.05


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark of an axis and its figure."""

    at: float
    label: Label | None


@dataclass(frozen=True, slots=True)
class HoldChart:
    """The drawing; lines are paths, stretches are top and height."""

    plot: Box
    band: tuple[float, float] | None
    harm: tuple[float, float] | None
    as_it_is: str
    misted: str
    hours: tuple[Tick, ...]
    values: tuple[Tick, ...]
    end: float | None
    end_y: float | None
    labels: tuple[Label, ...]
    described: str


@dataclass(frozen=True, slots=True)
class _Scale:
    start: datetime
    end: datetime
    low: float
    high: float

    def x(self, at: datetime) -> float:
        share = (at - self.start) / (self.end - self.start)
        return round(PLOT.left + share * (PLOT.right - PLOT.left), 1)

    def y(self, humidity_pct: float) -> float:
        share = (min(max(humidity_pct, self.low), self.high) - self.low) / (self.high - self.low)
        return round(PLOT.bottom - share * (PLOT.bottom - PLOT.top), 1)

    def path(self, line: tuple[Foreseen, ...]) -> str:
        places = (f"{self.x(each.at):g} {self.y(each.humidity_pct):g}" for each in line)
        return f"M{'L'.join(places)}" if line else ""


def hold_chart(chamber: Chamber, held: HoldNow, figures: Figures) -> HoldChart | None:
    """Draw a forecast; None where there is none, or no band to hold it against."""
    band, line = chamber.band(Quantity.HUMIDITY, Place.AIR), held.as_it_is
    if band is None or len(line) < 2:
        return None
    scale = _scale(band, held)
    placer = Placer(Box(PLOT.left, 0.0, PLOT.right + 2.0, PLOT.bottom - 2.0), LETTERS)
    hours = tuple(_hours(scale, placer, figures))
    values = tuple(_values(scale, placer, figures))
    ends = None if held.answer.limit is None else held.answer.until
    labels = tuple(_labels(scale, placer, held, figures))
    return HoldChart(
        plot=PLOT,
        band=_stretch(scale, band.low, band.high),
        harm=_stretch(scale, None, band.harm_low) if band.harm_low is not None else None,
        as_it_is=scale.path(line),
        misted=scale.path(held.misted),
        hours=hours,
        values=values,
        end=scale.x(ends) if ends is not None else None,
        end_y=scale.y(held.answer.humidity_pct) if ends is not None else None,
        labels=labels,
        described=_described(held, figures),
    )


def _scale(band: Band, held: HoldNow) -> _Scale:
    seen = [each.humidity_pct for each in (*held.as_it_is, *held.misted)]
    limits = [each for each in (band.low, band.high) if each is not None]
    low = 10.0 * math.floor((min([*seen, *limits]) - 3.0) / 10.0)
    first, last = held.as_it_is[0], held.as_it_is[-1]
    end = max(held.answer.asked_until, last.at)
    return _Scale(first.at, end, max(low, 0.0), 100.0)


def _stretch(scale: _Scale, low: float | None, high: float | None) -> tuple[float, float]:
    top = PLOT.top if high is None else scale.y(high)
    bottom = PLOT.bottom if low is None else scale.y(low)
    return top, round(bottom - top, 1)


def _hours(scale: _Scale, placer: Placer, figures: Figures) -> Iterator[Tick]:
    """Yield round times of the clock on the wall, few enough to be read."""
    for mark in time_marks(Span(scale.start, scale.end), figures.zone, _MARKS_AT_MOST):
        x = scale.x(mark.at)
        yield Tick(x, placer.fixed(x, PLOT.bottom + 15.0, "middle", mark.label))


def _values(scale: _Scale, placer: Placer, figures: Figures) -> Iterator[Tick]:
    for value in range(round(scale.low), 101, 10):
        y = scale.y(value)
        text = f"{figures.number(value, 0)}{GAP}%"
        yield Tick(y, placer.fixed(PLOT.left - 5.0, y + 4.0, "end", text))


def _labels(scale: _Scale, placer: Placer, held: HoldNow, figures: Figures) -> Iterator[Label]:
    for line in (held.as_it_is, held.misted):
        for each in line:
            x, y = scale.x(each.at), scale.y(each.humidity_pct)
            placer.reserve(Box(x - 1.0, y - 1.5, x + 1.0, y + 1.5))
    answer = held.answer
    if answer.limit is not None:
        start, co2 = held.as_it_is[0].at, answer.limit is Limit.CO2
        if answer.until <= start:
            clock, why = _("now"), _("below its band")
        else:
            clock, why = (
                amount_words.about(answer.until, start, figures.zone),
                _("leaves its band"),
            )
        why = _("CO₂ at its limit") if co2 else why
        x, y = scale.x(answer.until), scale.y(answer.humidity_pct)
        found = placer.beside(x, y, [f"{clock}: {why}", clock], far=90.0, bold=True)
        yield from (each for each in (found,) if each is not None)
    for name, line in ((_("as it is"), held.as_it_is), (_("misted"), held.misted)):
        if line:
            far = line[len(line) * 2 // 3]
            found = placer.beside(scale.x(far.at), scale.y(far.humidity_pct), [name], far=60.0)
            yield from (each for each in (found,) if each is not None)


def _described(held: HoldNow, figures: Figures) -> str:
    line, said = held.as_it_is, []
    for each in (line[0], line[len(line) // 2], line[-1]):
        clock = f"{each.at.astimezone(figures.zone):%H:%M}"
        said.append(
            _(
                "%(humidity)s %% at %(clock)s",
                humidity=figures.number(each.humidity_pct, 0),
                clock=clock,
            )
        )
    tail = ""
    if held.misted:
        tail = _(
            "; misted as advised %(humidity)s %% then",
            humidity=figures.number(held.misted[-1].humidity_pct, 0),
        )
    return _("The humidity as it is: %(said)s%(tail)s.", said=", ".join(said), tail=tail)


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing that would make it hold, with its amount."""

    what: str
    amount: str


def remedies(answer: HoldAnswer, figures: Figures) -> tuple[Remedy, ...]:
    """Return what would make it hold, or hold longest; nothing where it holds as it is."""
    return tuple(_remedies(answer, figures))


def _remedies(answer: HoldAnswer, figures: Figures) -> Iterator[Remedy]:
    if answer.limit is not None and answer.co2_high:
        yield Remedy(_("vent first"), _("the CO₂ is at its limit already"))
    mist = answer.mist
    if mist is not None and mist.squeezes:
        count = amount_words.squeezes(mist.squeezes)
        yield Remedy(_("into the air"), f"{count}, {figures.weight(max(mist.into_air_g, 0.1))}")
    if mist is not None and mist.standing_g > 0.0:
        yield Remedy(_("onto walls and into the tray"), figures.weight(mist.standing_g))
    share = answer.openings_share
    if share is not None and share >= _CLOSING_COUNTS:
        part = figures.number(100.0 * share, 0)
        yield Remedy(
            _("smaller openings"),
            _("that let in %(part)s\N{NO-BREAK SPACE}%% of the air they let in now", part=part),
        )
    if answer.load_share is not None and 0.0 < answer.load_share < 1.0:
        times = figures.number(1.0 / answer.load_share, 1)
        yield Remedy(_("larger openings, for the CO₂"), _("%(times)s times as large", times=times))
