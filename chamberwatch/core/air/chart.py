"""The lines and regions of a psychrometric chart, as points of temperature and water.

Temperature goes across in °C, the humidity ratio upwards in grams of water per kg of dry air. All
is cut to a window whose lower edge is dry air, so that what is drawn is what was reckoned.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final, NamedTuple

from chamberwatch.core.air.mist import air_dose
from chamberwatch.core.air.mixing import mixed
from chamberwatch.core.air.psychrometrics import (
    AirState,
    ratio_of_wet_bulb,
    saturation_pressure_pa,
)

G_PER_KG: Final = 1000.0
COLDEST_C: Final = -30.0
WARMEST_C: Final = 50.0
"""Points beyond these are no air a chamber or its room has, and stretch no window."""

_ROOM_C: Final = 1.5  # between the outermost point and the edge
_LEAST_C: Final = 12.0  # a narrower window makes a mountain of noise
_ROOM_ABOVE: Final = 1.08
_LEAST_G: Final = 6.0
_STEPS: Final = 48  # of a curve: less than a tenth of a line's width from the truth
_HALVINGS: Final = 40


class Point(NamedTuple):
    """One air: temperature [°C] and humidity ratio [g/kg]."""

    temperature_c: float
    water_g_per_kg: float


Line = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Window:
    """What a chart shows, and at which pressure.

    Attributes:
        low_c: temperature at its left edge. [°C]
        high_c: temperature at its right edge. [°C]
        most_g_per_kg: humidity ratio at its upper edge; the lower one is dry air. [g/kg]
        pressure_pa: of the air. [Pa]
    """

    low_c: float
    high_c: float
    most_g_per_kg: float
    pressure_pa: float

    def holds(self, point: Point) -> bool:
        """Tell whether a point lies within."""
        t, water = point
        return self.low_c <= t <= self.high_c and 0.0 <= water <= self.most_g_per_kg


@dataclass(frozen=True, slots=True)
class Sector:
    """Air between two temperatures and two humidities; None: not limited on that side.

    Attributes:
        low_c: from here on. [°C]
        high_c: up to here. [°C]
        low_pct: from this relative humidity on. [%]
        high_pct: up to this one. [%]
    """

    low_c: float | None = None
    high_c: float | None = None
    low_pct: float | None = None
    high_pct: float | None = None


def point_of(air: AirState) -> Point:
    """Return where an air lies on the chart."""
    return Point(air.temperature_c, air.humidity_ratio * G_PER_KG)


def water_g_per_kg(temperature_c: float, humidity_pct: float, pressure_pa: float) -> float:
    """Return the humidity ratio of air, infinite where such air would be steam. [g/kg].

    Args:
        temperature_c: dry bulb, -90 to 150. [°C]
        humidity_pct: relative humidity, 0 to 100. [%]
        pressure_pa: of the air. [Pa]

    Source: ASHRAE Fundamentals (2017) ch. 1 eqn. 20.
    """
    vapour = saturation_pressure_pa(temperature_c) * humidity_pct / 100.0
    if vapour >= pressure_pa:
        return math.inf
    return G_PER_KG * 0.621945 * vapour / (pressure_pa - vapour)


def window_for(points: Iterable[Point], pressure_pa: float) -> Window:
    """Return a window that shows all of these points with some room around them.

    Args:
        points: to be seen; those no chamber has are left out.
        pressure_pa: of the air. [Pa]
    """
    seen = [p for p in points if COLDEST_C <= p.temperature_c <= WARMEST_C]
    warm = [p.temperature_c for p in seen] or [18.0]
    low, high = min(warm) - _ROOM_C, max(warm) + _ROOM_C
    short = max(_LEAST_C - (high - low), 0.0) / 2.0
    low, high = math.floor(low - short), math.ceil(high + short)
    wettest = max((p.water_g_per_kg for p in seen), default=0.0)
    wanted = max(wettest * _ROOM_ABOVE, _LEAST_G)
    # Above the saturation line there is nothing to see.
    most = min(wanted, water_g_per_kg(high, 100.0, pressure_pa))
    return Window(float(low), float(high), math.ceil(most * 2.0) / 2.0, pressure_pa)


def wettest_dew_point_c(window: Window) -> float:
    """Return the dew point of the wettest air in a window. [°C]."""
    return _leaves_at(window, 100.0)


def humidity_line(window: Window, humidity_pct: float) -> Line:
    """Return the line of one relative humidity, as far as it lies in the window."""
    end = _leaves_at(window, humidity_pct)
    return _curve(window.low_c, end, lambda t: water_g_per_kg(t, humidity_pct, window.pressure_pa))


def wet_bulb_line(window: Window, wet_bulb_c: float) -> Line:
    """Return the line of one wet bulb, from saturation down to dry air; empty where it isn't seen.

    Below 0 °C it is the wet bulb over ice.
    """

    def water(temperature_c: float) -> float:
        return G_PER_KG * ratio_of_wet_bulb(wet_bulb_c, temperature_c, window.pressure_pa)

    start, end = max(wet_bulb_c, window.low_c), window.high_c
    # The line falls all the way: cut it where it comes in from above, and where it is dry.
    if water(start) > window.most_g_per_kg:
        start = _turns(lambda t: window.most_g_per_kg - water(t), start, end)
    if water(end) < 0.0:
        end = _turns(lambda t: -water(t), start, end)
    if end - start < 1e-3:
        return ()
    line = _curve(start, end, water)
    return tuple(Point(t, min(max(w, 0.0), window.most_g_per_kg)) for t, w in line)


def region(window: Window, sector: Sector) -> Line:
    """Return the outline of a sector as far as it lies in the window; empty where none does.

    It runs along the lower humidity from cold to warm and back along the higher one.
    """
    low = max(window.low_c, _or(sector.low_c, window.low_c))
    high = min(window.high_c, _or(sector.high_c, window.high_c))
    if low >= high:
        return ()
    edges = [_edge(window, pct, low, high) for pct in (sector.low_pct or 0.0, _top(sector))]
    return (*edges[0], *reversed(edges[1]))


def misting_line(air: AirState, humidity_pct: float) -> Line:
    """Return the way of air that takes up mist and gives the heat itself, up to a humidity.

    It keeps its wet bulb; empty where the air is that humid already.
    """
    # A dose has the end of that way; the volume does not change where it lies.
    end_c = air_dose(air, humidity_pct, 1.0).end_temperature_c
    if end_c >= air.temperature_c:
        return ()
    wet_bulb = air.wet_bulb_c
    line = _curve(
        air.temperature_c,
        end_c,
        lambda t: G_PER_KG * ratio_of_wet_bulb(wet_bulb, t, air.pressure_pa),
    )
    return (point_of(air), *line[1:])


def mixing_line(a: AirState, b: AirState) -> Line:
    """Return the mixtures of two airs, from the one to the other."""
    mixtures = (mixed(a, b, share / 12.0) for share in range(13))
    return tuple(Point(m.temperature_c, m.humidity_ratio * G_PER_KG) for m in mixtures)


def patch(window: Window, air: AirState, off_c: float, off_pct: float) -> Line:
    """Return the four-cornered region in which air that was read may truly lie.

    Args:
        window: of the chart.
        air: as read.
        off_c: ± of its temperature. [K]
        off_pct: ± of its humidity. [%]
    """
    return region(
        window,
        Sector(
            air.temperature_c - off_c,
            air.temperature_c + off_c,
            max(air.humidity_pct - off_pct, 0.0),
            min(air.humidity_pct + off_pct, 100.0),
        ),
    )


def _or(value: float | None, other: float) -> float:
    return other if value is None else value


def _top(sector: Sector) -> float:
    return 100.0 if sector.high_pct is None else sector.high_pct


def _leaves_at(window: Window, humidity_pct: float) -> float:
    """Return where a line of humidity leaves the window: at the top, or at the right. [°C]."""

    def above(temperature_c: float) -> float:
        water = water_g_per_kg(temperature_c, humidity_pct, window.pressure_pa)
        return water - window.most_g_per_kg

    if above(window.high_c) <= 0.0:
        return window.high_c
    return _turns(above, window.low_c, window.high_c)


def _edge(window: Window, humidity_pct: float, low_c: float, high_c: float) -> Line:
    """Return a line of humidity between two temperatures, level with the top once beyond it."""
    leaves = _leaves_at(window, humidity_pct)
    top = window.most_g_per_kg

    def water(temperature_c: float) -> float:
        return min(water_g_per_kg(temperature_c, humidity_pct, window.pressure_pa), top)

    if leaves <= low_c or leaves >= high_c:
        return _curve(low_c, high_c, water)
    return (*_curve(low_c, leaves, water), Point(high_c, top))


def _curve(start: float, end: float, water: Callable[[float], float]) -> Line:
    places = (start + (end - start) * step / _STEPS for step in range(_STEPS + 1))
    return tuple(Point(t, water(t)) for t in places)


def _turns(rising: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising function passes 0, by halving; an end where it doesn't."""
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if rising(middle) < 0.0 else (low, middle)
    return (low + high) / 2.0
