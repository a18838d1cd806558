"""The paper of the chart: its scale, axes and lines, before anything stands on it."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.air.chart import (
    Line,
    Point,
    Sector,
    Window,
    humidity_line,
    region,
    water_g_per_kg,
    wet_bulb_line,
    wettest_dew_point_c,
)
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.web.figures import Figures
from chamberwatch.web.pages.labels import Box, Label, Placer
from chamberwatch.web.words import GAP

WIDTH: Final = 360.0
HEIGHT: Final = 356.0
PLOT: Final = Box(32.0, 34.0, 332.0, 318.0)
"""Where the lines are; around it stand the figures of the axes."""

LETTERS: Final = 11.0
TICK_ROOM: Final = 26.0
"""Figures of an axis stand at least so far apart, from middle to middle, across."""
ROW_ROOM: Final = 15.0
HUMIDITIES: Final = tuple(range(10, 101, 10))

DEW_POINTS: Final[dict[TemperatureUnit, tuple[int, ...]]] = {
    TemperatureUnit.CELSIUS: (*range(50, 10, -2), 10, 5, 0, -10, -20),
    TemperatureUnit.FAHRENHEIT: (*range(120, 50, -5), 50, 40, 30, 20, 0),
}
"""Round dew points of each unit: the colder, the closer they lie, and the fewer have a mark."""

_STEPS: Final = (1.0, 2.0, 5.0, 10.0, 20.0)


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark of an axis and its figure."""

    x: float
    y: float
    label: Label | None


@dataclass(frozen=True, slots=True)
class Paper:
    """The lines of a chart; every `d` is the path of one line.

    Attributes:
        ground: all air there can be.
        humidity: of each relative humidity but saturation.
        saturation: the strong line.
        wet_bulbs: faint ones.
        across: marks of the temperature.
        up: marks of the humidity ratio, at the right.
        dew: marks of the dew point, at the left.
        named: figures of the lines of humidity.
    """

    ground: str
    humidity: tuple[str, ...]
    saturation: str
    wet_bulbs: tuple[str, ...]
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    dew: tuple[Tick, ...]
    named: tuple[Label, ...]


@dataclass(frozen=True, slots=True)
class Scale:
    """From air to places in the drawing."""

    window: Window

    def x(self, temperature_c: float) -> float:
        """Return how far across a temperature lies."""
        low, high = self.window.low_c, self.window.high_c
        return PLOT.left + (temperature_c - low) / (high - low) * (PLOT.right - PLOT.left)

    def y(self, water_g_per_kg: float) -> float:
        """Return how far down a humidity ratio lies."""
        share = water_g_per_kg / self.window.most_g_per_kg
        return PLOT.bottom - share * (PLOT.bottom - PLOT.top)

    def place(self, point: Point) -> tuple[float, float]:
        """Return where a point lies."""
        return round(self.x(point.temperature_c), 1), round(self.y(point.water_g_per_kg), 1)

    def path(self, line: Line, *, closed: bool = False) -> str:
        """Return a line as a path, empty for one of no points."""
        if not line:
            return ""
        places = "L".join(f"{x:g} {y:g}" for x, y in map(self.place, line))
        return f"M{places}{'Z' if closed else ''}"


def paper(scale: Scale, placer: Placer, figures: Figures) -> Paper:
    """Draw the lines of the chart, and reserve the room of its figures."""
    window = scale.window
    return Paper(
        ground=scale.path(region(window, Sector()), closed=True),
        humidity=tuple(scale.path(humidity_line(window, pct)) for pct in HUMIDITIES[:-1]),
        saturation=scale.path(humidity_line(window, 100.0)),
        wet_bulbs=tuple(_wet_bulbs(scale, figures.shown_in)),
        across=tuple(_across(scale, placer, figures)),
        up=tuple(_up(scale, placer, figures)),
        dew=tuple(_dew(scale, placer, figures)),
        named=tuple(_named(scale, placer)),
    )


def celsius_of(value: float, shown_in: ShownIn) -> float:
    """Return what a temperature in the liked unit is in °C; the liked one is straight in it."""
    zero, one = shown_in.temperature_of(0.0), shown_in.temperature_of(1.0)
    return (value - zero) / (one - zero)


def even(low: float, high: float, at_least: float) -> Iterator[float]:
    """Yield even values from low to high that are at least so far apart."""
    step = next((each for each in _STEPS if each >= at_least), _STEPS[-1])
    value = math.ceil(low / step - 1e-9) * step
    while value <= high + 1e-9:
        yield value
        value += step


def temperatures(window: Window, shown_in: ShownIn, room: float) -> Iterator[tuple[float, float]]:
    """Yield even temperatures of the liked unit with their °C, `room` apart in the drawing."""
    low, high = shown_in.temperature_of(window.low_c), shown_in.temperature_of(window.high_c)
    per_unit = (PLOT.right - PLOT.left) / (high - low)
    for value in even(low, high, room / per_unit):
        yield value, celsius_of(value, shown_in)


def _across(scale: Scale, placer: Placer, figures: Figures) -> Iterator[Tick]:
    for value, celsius in temperatures(scale.window, figures.shown_in, TICK_ROOM):
        x = scale.x(celsius)
        label = placer.fixed(x, PLOT.bottom + 15.0, "middle", figures.number(value, 0))
        yield Tick(round(x, 1), PLOT.bottom, label)


def _up(scale: Scale, placer: Placer, figures: Figures) -> Iterator[Tick]:
    most = scale.window.most_g_per_kg
    per_gram = (PLOT.bottom - PLOT.top) / most
    for value in even(0.0, most, 2.0 * ROW_ROOM / per_gram):
        y = scale.y(value)
        label = placer.fixed(PLOT.right + 6.0, y + 4.0, "start", figures.number(value, 0))
        yield Tick(PLOT.right, round(y, 1), label)


def _dew(scale: Scale, placer: Placer, figures: Figures) -> Iterator[Tick]:
    """Yield marks where air of a round dew point lies, the warmest first: they lie far apart."""
    window, figure_at = scale.window, -math.inf
    for value in DEW_POINTS[figures.shown_in.temperature]:
        celsius = celsius_of(value, figures.shown_in)
        if celsius > wettest_dew_point_c(window):
            continue
        y = scale.y(water_g_per_kg(celsius, 100.0, window.pressure_pa))
        label = None
        if y - figure_at >= ROW_ROOM:
            label = placer.fixed(PLOT.left - 6.0, y + 4.0, "end", figures.number(value, 0))
            figure_at = y
        yield Tick(PLOT.left, round(y, 1), label)


def _wet_bulbs(scale: Scale, shown_in: ShownIn) -> Iterator[str]:
    for _, celsius in temperatures(scale.window, shown_in, TICK_ROOM):
        path = scale.path(wet_bulb_line(scale.window, celsius))
        if path:
            yield path


def _named(scale: Scale, placer: Placer) -> Iterator[Label]:
    """Yield the figures of the lines of humidity, where they leave the drawing."""
    for pct in reversed(HUMIDITIES):
        x, y = scale.place(humidity_line(scale.window, pct)[-1])
        at_top = y <= PLOT.top + 0.5
        label = (
            placer.fixed(x, PLOT.top - 5.0, "middle", f"{pct}{GAP}%")
            if at_top
            else placer.fixed(PLOT.right - 3.0, y - 3.0, "end", f"{pct}{GAP}%")
        )
        if label is not None:
            yield label
