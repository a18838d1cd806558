"""The lines and regions of the chart, against CoolProp and against the handbook's table.

Reference: CoolProp 8 HAPropsSI (ASHRAE RP-1485 real-gas moist air). The chart takes air as an
ideal gas without the enhancement factor, as all of the core does; at most 0.6 % of the water at
warm temperatures and sea level, the tolerance of the other tests of the humidity ratio.
"""

import math
from itertools import pairwise
from typing import Final

import pytest
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.air.chart import (
    Line,
    Point,
    Sector,
    Window,
    humidity_line,
    misting_line,
    mixing_line,
    patch,
    point_of,
    region,
    water_g_per_kg,
    wet_bulb_line,
    wettest_dew_point_c,
    window_for,
)
from chamberwatch.core.air.mixing import mixed
from chamberwatch.core.air.psychrometrics import (
    air_state,
    pressure_at_altitude_pa,
    saturation_pressure_pa,
)

RATIO_PART: Final = 0.006
WET_BULB_K: Final = 0.02
KELVIN: Final = 273.15
SEA: Final = 101_325.0

ALTITUDES = [pytest.param(m, id=f"{m} m") for m in (-400.0, 0.0, 500.0, 1500.0, 2800.0)]


def window(pressure_pa: float = SEA, low: float = 5.0, high: float = 30.0) -> Window:
    return Window(low, high, 20.0, pressure_pa)


def reference_g_per_kg(temperature_c: float, humidity_pct: float, pressure_pa: float) -> float:
    return 1000.0 * float(
        HAPropsSI("W", "T", temperature_c + KELVIN, "P", pressure_pa, "R", humidity_pct / 100.0)
    )


def reference_wet_bulb_c(point: Point, pressure_pa: float) -> float:
    """Return the wet bulb of the air that is read off at a point: its temperature and humidity.

    By the humidity, not by the water: half a per cent of water between real and ideal gas would
    come out as 0.06 K of wet bulb where it is warm.
    """
    ratio = point.water_g_per_kg / 1000.0
    vapour = pressure_pa * ratio / (0.621945 + ratio)
    humidity = vapour / saturation_pressure_pa(point.temperature_c)
    return float(
        HAPropsSI("B", "T", point.temperature_c + KELVIN, "P", pressure_pa, "R", humidity) - KELVIN
    )


# ------------------------------------------------------------ against CoolProp


@pytest.mark.parametrize("altitude_m", ALTITUDES)
@pytest.mark.parametrize("humidity_pct", [10.0, 40.0, 70.0, 90.0, 100.0])
def test_humidity_lines_lie_where_the_reference_has_them(
    altitude_m: float, humidity_pct: float
) -> None:
    shown = window(pressure_at_altitude_pa(altitude_m))
    line = humidity_line(shown, humidity_pct)
    assert len(line) > 20
    for t, water in line[::6]:
        assert water == pytest.approx(
            reference_g_per_kg(t, humidity_pct, shown.pressure_pa), rel=RATIO_PART
        )


@pytest.mark.parametrize("altitude_m", ALTITUDES)
@pytest.mark.parametrize("wet_bulb_c", [6.0, 12.0, 18.0, 24.0])
def test_air_on_a_wet_bulb_line_has_that_wet_bulb(altitude_m: float, wet_bulb_c: float) -> None:
    shown = window(pressure_at_altitude_pa(altitude_m))
    # The first point is saturated, where rounding may put it a hair above the line.
    for point in wet_bulb_line(shown, wet_bulb_c)[1:20:3]:
        assert abs(reference_wet_bulb_c(point, shown.pressure_pa) - wet_bulb_c) < WET_BULB_K


@pytest.mark.parametrize("altitude_m", ALTITUDES)
def test_the_corners_of_a_band_lie_where_the_reference_has_them(altitude_m: float) -> None:
    pressure = pressure_at_altitude_pa(altitude_m)
    outline = region(window(pressure), Sector(13.0, 20.0, 80.0, 95.0))
    corners = (outline[0], outline[len(outline) // 2 - 1], outline[len(outline) // 2], outline[-1])
    wanted = ((13.0, 80.0), (20.0, 80.0), (20.0, 95.0), (13.0, 95.0))
    for (t, water), (wanted_c, wanted_pct) in zip(corners, wanted, strict=True):
        assert t == pytest.approx(wanted_c)
        assert water == pytest.approx(
            reference_g_per_kg(wanted_c, wanted_pct, pressure), rel=RATIO_PART
        )


@pytest.mark.parametrize("altitude_m", ALTITUDES)
def test_a_misting_keeps_the_wet_bulb_and_ends_at_its_humidity(altitude_m: float) -> None:
    pressure = pressure_at_altitude_pa(altitude_m)
    air = air_state(20.0, 70.0, pressure)
    line = misting_line(air, 92.0)
    assert line[0] == point_of(air)
    started = reference_wet_bulb_c(line[0], pressure)
    for point in line[::8]:
        assert abs(reference_wet_bulb_c(point, pressure) - started) < WET_BULB_K
    t, water = line[-1]
    assert water == pytest.approx(reference_g_per_kg(t, 92.0, pressure), rel=RATIO_PART)


# ASHRAE Fundamentals (2017) ch. 1, Table 2: humidity ratio of saturated air at 101 325 Pa.
@pytest.mark.parametrize(
    ("temperature_c", "g_per_kg"), [(5.0, 5.425), (25.0, 20.173)], ids=["5 °C", "25 °C"]
)
def test_saturation_agrees_with_the_handbook(temperature_c: float, g_per_kg: float) -> None:
    assert water_g_per_kg(temperature_c, 100.0, SEA) == pytest.approx(g_per_kg, rel=RATIO_PART)


def test_the_worked_example_of_the_handbook_lies_on_its_wet_bulb_line() -> None:
    """ASHRAE Fundamentals (2017) ch. 1 example 1: 40 °C, wet bulb 20 °C: 6.5 g/kg read off."""
    shown = Window(15.0, 40.0, 20.0, SEA)
    end = wet_bulb_line(shown, 20.0)[-1]
    assert end.temperature_c == 40.0
    assert end.water_g_per_kg == pytest.approx(6.5, abs=0.15)


# ------------------------------------------------------------ cut to the window


@pytest.mark.parametrize(
    ("humidity_pct", "ends"),
    [pytest.param(100.0, 20.0, id="at the top"), pytest.param(10.0, 30.0, id="at the right")],
)
def test_a_line_ends_where_it_leaves_the_window(humidity_pct: float, ends: float) -> None:
    shown = Window(5.0, 30.0, water_g_per_kg(20.0, 100.0, SEA), SEA)
    line = humidity_line(shown, humidity_pct)
    assert line[-1].temperature_c == pytest.approx(ends, abs=1e-6)
    assert all(shown.holds(Point(t, w - 1e-9)) for t, w in line)
    assert wettest_dew_point_c(shown) == pytest.approx(20.0, abs=1e-6)


@pytest.mark.parametrize(
    ("wet_bulb_c", "first_c", "seen"),
    [
        pytest.param(12.0, 12.0, True, id="from the saturation line"),
        pytest.param(2.0, 5.0, True, id="from the left edge"),
        pytest.param(26.0, 29.16, True, id="from the top"),
        pytest.param(35.0, 0.0, False, id="warmer than all"),
        pytest.param(-12.0, 0.0, False, id="drier than dry air"),
    ],
)
def test_a_wet_bulb_line_is_cut(wet_bulb_c: float, first_c: float, seen: bool) -> None:
    line = wet_bulb_line(window(), wet_bulb_c)
    assert bool(line) is seen
    if seen:
        assert line[0].temperature_c == pytest.approx(first_c, abs=0.01)
        assert all(window().holds(point) for point in line)
        assert all(a.water_g_per_kg >= b.water_g_per_kg for a, b in pairwise(line))


@pytest.mark.parametrize(
    ("sector", "seen"),
    [
        pytest.param(Sector(), True, id="all air there can be"),
        pytest.param(Sector(low_c=28.0), True, id="at the edge, flat at the top"),
        pytest.param(Sector(None, 12.0, 70.0), True, id="humid and cool"),
        pytest.param(Sector(high_pct=70.0), True, id="dry"),
        pytest.param(Sector(low_c=31.0), False, id="too warm to be seen"),
        pytest.param(Sector(high_c=5.0), False, id="too cold to be seen"),
    ],
)
def test_a_region_stays_in_the_window(sector: Sector, seen: bool) -> None:
    outline = region(window(), sector)
    assert bool(outline) is seen
    assert all(window().holds(point) for point in outline)


def test_a_region_is_flat_from_where_its_edge_leaves_the_window() -> None:
    outline = region(window(), Sector(20.0, 30.0, 90.0, 100.0))
    tops = [p.temperature_c for p in outline if p.water_g_per_kg > 20.0 - 1e-6]
    assert min(tops) == pytest.approx(wettest_dew_point_c(window()), abs=1e-6)
    assert max(tops) == 30.0


def area(outline: Line) -> float:
    turned = (*outline[1:], outline[0])
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, turned, strict=True))) / 2


@given(st.floats(8.0, 24.0), st.floats(15.0, 97.0), st.floats(0.05, 1.0), st.floats(0.5, 6.0))
def test_the_patch_of_a_sensor_holds_what_it_may_be(
    t: float, rh: float, off_c: float, off_pct: float
) -> None:
    air = air_state(t, rh, SEA)
    outline = patch(window(), air, off_c, off_pct)
    assert min(p.temperature_c for p in outline) == pytest.approx(t - off_c)
    assert max(p.temperature_c for p in outline) == pytest.approx(t + off_c)
    lowest = water_g_per_kg(t - off_c, max(rh - off_pct, 0.0), SEA)
    highest = min(water_g_per_kg(t + off_c, min(rh + off_pct, 100.0), SEA), 20.0)
    assert min(p.water_g_per_kg for p in outline) == pytest.approx(min(lowest, 20.0))
    assert max(p.water_g_per_kg for p in outline) == pytest.approx(highest)
    assert area(outline) > 0.0 or lowest >= 20.0


def test_air_as_humid_already_needs_no_misting() -> None:
    assert misting_line(air_state(18.0, 92.0, SEA), 90.0) == ()


def test_mixtures_run_from_the_one_air_to_the_other() -> None:
    inside, room = air_state(18.2, 88.0, SEA), air_state(20.6, 41.0, SEA)
    line = mixing_line(inside, room)
    assert line[0] == pytest.approx(point_of(inside))
    assert line[-1] == pytest.approx(point_of(room))
    half = mixed(inside, room, 0.5)
    assert line[6] == pytest.approx((half.temperature_c, 1000.0 * half.humidity_ratio))


# ------------------------------------------------------------ the window itself


def test_a_window_shows_all_it_is_asked_to() -> None:
    points = [Point(13.0, 7.4), Point(24.0, 17.9), Point(20.6, 6.2)]
    shown = window_for(points, SEA)
    assert all(shown.holds(point) for point in points)
    assert (shown.low_c, shown.high_c) == (11.0, 26.0)
    assert 17.9 < shown.most_g_per_kg <= 20.0


@pytest.mark.parametrize(
    ("points", "low", "high"),
    [
        pytest.param([], 12.0, 24.0, id="nothing to see"),
        pytest.param([Point(18.0, 10.0)], 12.0, 24.0, id="one point"),
        pytest.param([Point(18.0, 10.0), Point(-12.0, 1.0)], -14.0, 20.0, id="frost outdoors"),
        pytest.param([Point(18.0, 10.0), Point(84.0, 300.0)], 12.0, 24.0, id="a broken sensor"),
    ],
)
def test_the_window_fits_what_is_there(points: list[Point], low: float, high: float) -> None:
    shown = window_for(points, SEA)
    assert (shown.low_c, shown.high_c) == (low, high)


def test_nothing_is_shown_above_the_saturation_of_the_warmest() -> None:
    shown = window_for([Point(-15.0, 0.9), Point(-9.0, 1.6)], SEA)
    assert shown.most_g_per_kg < 3.0


def test_water_that_would_boil_is_no_air() -> None:
    assert math.isinf(water_g_per_kg(120.0, 100.0, SEA))
