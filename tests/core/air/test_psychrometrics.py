"""Moist air against published tables and against two libraries."""

import csv
import math
import random
from pathlib import Path
from typing import Final

import psychrolib
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from chamberwatch.core.air.psychrometrics import (
    STANDARD_PRESSURE_PA,
    AirState,
    air_state,
    dew_point_c,
    pressure_at_altitude_pa,
    saturation_pressure_pa,
    usable_humidity_pct,
    vpd_pa,
)

REFERENCE: Final = Path(__file__).parents[2] / "reference"

# CoolProp's real-gas air against the ideal gas of ASHRAE: the largest honest differences.
HUMID_PCT: Final = 80.0
ES_PART: Final = 0.0005
VPD_PART, VPD_HUMID_PA = 0.004, 4.0
DEW_POINT_K, DEW_POINT_HUMID_K = 0.04, 0.01
WET_BULB_K: Final = 0.02
RATIO_PART: Final = 0.006
ENTHALPY_J: Final = 500.0
DENSITY_PART: Final = 0.001

ROOM_T = st.floats(-40.0, 60.0)
HUMIDITY = st.floats(0.1, 100.0)
PRESSURE = st.floats(60_000.0, 108_000.0)


def rows_of(name: str) -> list[dict[str, float]]:
    lines = (REFERENCE / name).read_text().splitlines()
    table = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [{key: float(value) for key, value in row.items()} for row in table]


def state_of_row(row: dict[str, float]) -> AirState:
    return air_state(row["t_c"], row["rh_pct"], row["p_pa"])


@pytest.fixture(scope="module")
def reference() -> list[tuple[dict[str, float], AirState]]:
    rows = rows_of("reference-psychrometrics.csv")
    assert len(rows) == 578
    return [(row, state_of_row(row)) for row in rows]


Compared = list[tuple[dict[str, float], AirState]]


# ------------------------------------------------------------ CoolProp 8.0.0, every row


def test_saturation_pressure_agrees_with_iapws95(reference: Compared) -> None:
    for row, air in reference:
        assert air.saturation_pressure_pa == pytest.approx(row["es_pa"], rel=ES_PART), row


def test_deficit_agrees_with_the_reference(reference: Compared) -> None:
    for row, air in reference:
        assert air.vpd_pa == pytest.approx(row["vpd_pa"], rel=VPD_PART, abs=0), row
        if row["rh_pct"] >= HUMID_PCT:
            assert abs(air.vpd_pa - row["vpd_pa"]) < VPD_HUMID_PA, row


def test_dew_point_agrees_with_the_reference(reference: Compared) -> None:
    for row, air in reference:
        within = DEW_POINT_HUMID_K if row["rh_pct"] >= HUMID_PCT else DEW_POINT_K
        assert abs(air.dew_point_c - row["dew_point_c"]) < within, row
        assert air.frost == (row["dew_point_c"] < 0), row


def test_wet_bulb_agrees_with_the_reference(reference: Compared) -> None:
    # Near 0 °C a wick may hold ice or water and both are right; these rows decide.
    for row, air in reference:
        assert abs(air.wet_bulb_c - row["wet_bulb_c"]) < WET_BULB_K, row


def test_mixture_agrees_with_the_reference(reference: Compared) -> None:
    for row, air in reference:
        assert air.humidity_ratio == pytest.approx(row["humidity_ratio_kg_kg"], rel=RATIO_PART)
        assert abs(air.enthalpy_j_per_kg - row["enthalpy_j_kg"]) < ENTHALPY_J, row
        assert air.density_kg_per_m3 == pytest.approx(row["density_kg_m3"], rel=DENSITY_PART)


def test_pure_water_deficit_lies_below_that_of_moist_air() -> None:
    """The enhancement factor, which we leave out, adds 0.35 to 0.46 %."""
    rows = rows_of("reference-psychrometrics-enhanced.csv")
    assert len(rows) == 578
    for row in rows:
        pure = vpd_pa(row["t_c"], row["rh_pct"])
        # Our own formula is up to 0.03 % off on top of that.
        assert row["vpd_moist_air_pa"] / pure == pytest.approx(
            row["enhancement_factor"], abs=ES_PART
        )
        assert row["vpd_moist_air_pa"] > pure


# ------------------------------------------------------------ FAO-56 (Allen et al. 1998), ch. 3


@pytest.mark.parametrize(
    ("temperature_c", "kpa"),
    [(5, 0.872), (10, 1.228), (15, 1.705), (18, 2.064), (20, 2.338), (25, 3.168), (30, 4.243)],
)
def test_saturation_pressure_is_that_of_fao56_table_2_3(temperature_c: float, kpa: float) -> None:
    # Tetens' equation 11 is up to 0.11 % off; the table prints three decimals.
    got = saturation_pressure_pa(temperature_c) / 1000
    assert got == pytest.approx(kpa, rel=0.0011, abs=0.0005)


def test_fao56_example_3() -> None:
    """FAO-56 example 3: T 24.5 and 15.0 °C give 3.075, 1.705, mean 2.39 kPa."""
    warm, cool = saturation_pressure_pa(24.5), saturation_pressure_pa(15.0)
    assert warm / 1000 == pytest.approx(3.075, abs=0.003)
    assert cool / 1000 == pytest.approx(1.705, abs=0.002)
    assert (warm + cool) / 2000 == pytest.approx(2.39, abs=0.005)
    assert saturation_pressure_pa(19.75) / 1000 == pytest.approx(2.30, abs=0.005)


def test_fao56_example_4() -> None:
    """FAO-56 example 4 (from memory): 25.6 °C dry, 19.5 wet, 87.9 kPa give 1.91 kPa.

    Its psychrometer constant is that of a real instrument, ours the thermodynamic wet bulb.
    """
    humidity = 100 * 1910.0 / saturation_pressure_pa(25.6)
    assert air_state(25.6, humidity, 87_900.0).wet_bulb_c == pytest.approx(19.5, abs=0.1)


def test_fao56_examples_5_and_6() -> None:
    """FAO-56 examples 5 and 6 (from memory): 18 °C/82 % and 25 °C/54 %: ea 1.70, VPD 0.91."""
    morning, noon = air_state(18.0, 82.0), air_state(25.0, 54.0)
    vapour = (morning.vapour_pressure_pa + noon.vapour_pressure_pa) / 2
    assert vapour / 1000 == pytest.approx(1.70, abs=0.005)
    assert (morning.vpd_pa + noon.vpd_pa) / 2000 == pytest.approx(0.91, abs=0.006)


# ------------------------------------------------------------ ASHRAE Fundamentals 2017, ch. 1


@pytest.mark.parametrize(("temperature_c", "pa"), [(5.0, 872.6), (25.0, 3169.7), (50.0, 12_351.3)])
def test_saturation_pressure_is_that_of_ashrae_table_3(temperature_c: float, pa: float) -> None:
    assert saturation_pressure_pa(temperature_c) == pytest.approx(pa, rel=300e-6)


@pytest.mark.parametrize(
    ("temperature_c", "ratio", "kj_per_kg"), [(5.0, 0.005425, 18.639), (25.0, 0.020173, 76.504)]
)
def test_saturated_air_is_that_of_ashrae_table_2(
    temperature_c: float, ratio: float, kj_per_kg: float
) -> None:
    air = air_state(temperature_c, 100.0)
    assert air.humidity_ratio == pytest.approx(ratio, rel=RATIO_PART)
    assert air.enthalpy_j_per_kg / 1000 == pytest.approx(kj_per_kg, rel=0.01)


def test_dry_air_is_that_of_ashrae_table_2() -> None:
    """Dry air at 25 °C: 25.148 kJ/kg, 0.8443 m3/kg; ours is never quite dry (0.1 %)."""
    air = air_state(25.0, 0.0)
    without_water = air.enthalpy_j_per_kg - air.humidity_ratio * 2.547e6
    assert without_water / 1000 == pytest.approx(25.148, rel=0.001)
    assert 1 / air.density_kg_per_m3 == pytest.approx(0.8443, rel=0.001)


def test_ashrae_example_1() -> None:
    """Example 1: 40 °C dry and 20 °C wet bulb, read off a chart by the Handbook.

    W 0.0065, h 56.7 kJ/kg, dew point 7 °C, RH 14 %, v 0.896 m3/kg.
    """
    air = air_state(40.0, 13.98)
    assert air.wet_bulb_c == pytest.approx(20.0, abs=0.02)
    assert air.humidity_ratio == pytest.approx(0.0065, abs=0.00015)
    assert air.enthalpy_j_per_kg / 1000 == pytest.approx(56.7, abs=0.1)
    assert air.dew_point_c == pytest.approx(7.0, abs=0.5)
    # Volume is told per dry air, density is of moist air.
    assert (1 + air.humidity_ratio) / air.density_kg_per_m3 == pytest.approx(0.896, abs=0.001)


@pytest.mark.parametrize(
    ("altitude_m", "pa"),
    [
        pytest.param(-500, 107_478.0, id="table 1, below the sea"),
        pytest.param(0, 101_325.0, id="table 1, sea"),
        pytest.param(500, 95_461.0, id="table 1, 500 m"),
        pytest.param(1000, 89_875.0, id="table 1, 1000 m"),
        pytest.param(4000, 61_640.0, id="table 1, 4000 m"),
        pytest.param(1500, 84_555.9, id="eqn. 3, 1500 m"),
        pytest.param(2000, 79_495.1, id="eqn. 3, 2000 m"),
        pytest.param(2500, 74_682.4, id="eqn. 3, 2500 m"),
        pytest.param(3000, 70_108.4, id="eqn. 3, 3000 m"),
    ],
)
def test_pressure_is_that_of_ashrae_standard_atmosphere(altitude_m: float, pa: float) -> None:
    assert pressure_at_altitude_pa(altitude_m) == pytest.approx(pa, abs=1.0)


# ------------------------------------------------------------ WMO-No. 8 and IAPWS


@pytest.mark.parametrize(
    ("temperature_c", "iapws_pa", "hyland_wexler_pa", "magnus_pa"),
    [
        (5, 872.58, 872.49, 871.74),
        (10, 1228.20, 1228.00, 1226.03),
        (15, 1705.79, 1705.45, 1701.67),
        (20, 2339.32, 2338.80, 2332.60),
        (25, 3169.93, 3169.22, 3160.06),
        (30, 4246.97, 4246.03, 4233.72),
        (35, 5629.02, 5627.82, 5612.84),
    ],
)
def test_saturation_pressure_among_the_formulas(
    temperature_c: float, iapws_pa: float, hyland_wexler_pa: float, magnus_pa: float
) -> None:
    """IAPWS-95 by CoolProp, Hyland & Wexler by the ASHRAE equations, Magnus of WMO-No. 8."""
    got = saturation_pressure_pa(temperature_c)
    assert got == pytest.approx(hyland_wexler_pa, abs=0.006)
    assert got == pytest.approx(iapws_pa, rel=0.00025)
    assert got == pytest.approx(magnus_pa, rel=0.0035)


def test_ice_agrees_with_magnus_of_wmo_8() -> None:
    """WMO-No. 8 over ice, coefficients from memory: 6.112 exp(22.46 t / (272.62 + t)) hPa."""
    for t in range(-40, 0, 5):
        magnus_pa = 611.2 * math.exp(22.46 * t / (272.62 + t))
        assert saturation_pressure_pa(t) == pytest.approx(magnus_pa, rel=0.005), t


@pytest.mark.parametrize("humidity_pct", [40.0, 60.0, 80.0, 95.0])
def test_dew_point_agrees_with_the_inverted_magnus_of_wmo_8(humidity_pct: float) -> None:
    pa = saturation_pressure_pa(20.0) * humidity_pct / 100
    logarithm = math.log(pa / 611.2)
    magnus = 243.12 * logarithm / (17.62 - logarithm)
    assert dew_point_c(20.0, humidity_pct) == pytest.approx(magnus, abs=0.05)


def test_absolute_humidity_is_the_gas_law() -> None:
    """90 % at 20 °C: 2104.9 Pa / (461.5 J/(kg K) 293.15 K) = 15.56 g/m3."""
    assert air_state(20.0, 90.0).absolute_humidity_g_per_m3 == pytest.approx(15.56, abs=0.01)


# ------------------------------------------------------------ psychrolib's own solvers


def seeded_grid() -> list[tuple[float, float, float]]:
    chance = random.Random(20)  # noqa: S311 - a grid, no secret
    return [
        (chance.uniform(-20, 50), chance.uniform(1, 99.9), chance.uniform(70_000, 105_000))
        for _ in range(400)
    ]


def test_dew_point_agrees_with_psychrolib() -> None:
    for t, humidity, _ in seeded_grid():
        theirs = psychrolib.GetTDewPointFromRelHum(t, humidity / 100)
        assert dew_point_c(t, humidity) == pytest.approx(theirs, abs=0.002), (t, humidity)


def test_wet_bulb_agrees_with_psychrolib() -> None:
    compared = 0
    for t, humidity, pressure in seeded_grid():
        theirs = psychrolib.GetTWetBulbFromRelHum(t, humidity / 100, pressure)
        # There the relation jumps from ice to water and has two solutions: each solver may find
        # another, and both are right.
        if -0.6 <= theirs <= 0.6:
            continue
        compared += 1
        ours = air_state(t, humidity, pressure).wet_bulb_c
        assert ours == pytest.approx(theirs, abs=0.002), (t, humidity, pressure)
    assert compared > 300


# ------------------------------------------------------------ what always holds


@given(t=ROOM_T, humidity=HUMIDITY, pressure=PRESSURE)
def test_wet_bulb_lies_between_dew_point_and_temperature(
    t: float, humidity: float, pressure: float
) -> None:
    assume(saturation_pressure_pa(t) < pressure)
    air = air_state(t, humidity, pressure)
    assert air.dew_point_c <= air.wet_bulb_c <= air.temperature_c
    assert air.vpd_pa >= 0
    assert air.frost == (air.dew_point_c < 0)


@given(t=ROOM_T, humidity=st.floats(100.0, 1000.0))
def test_saturated_air_is_at_its_dew_point(t: float, humidity: float) -> None:
    """Exactly so: also for sensors that say 100.3 %."""
    air = air_state(t, humidity)
    assert air.dew_point_c == air.wet_bulb_c == t
    assert air.humidity_pct == 100.0
    assert air.vpd_pa == vpd_pa(t, humidity) == 0.0


@given(t=st.floats(-40.0, 60.0), humidity=st.floats(0.1, 99.0))
def test_more_water_has_a_higher_dew_point(t: float, humidity: float) -> None:
    assert dew_point_c(t, humidity) < dew_point_c(t, humidity + 1.0)


@pytest.mark.parametrize(
    ("given_pct", "used_pct"),
    [(100.3, 100.0), (100.0, 100.0), (0.0, 0.1), (-2.0, 0.1), (55.0, 55.0), (math.inf, 100.0)],
)
def test_humidity_is_brought_into_range(given_pct: float, used_pct: float) -> None:
    assert usable_humidity_pct(given_pct) == used_pct
    assert air_state(20.0, given_pct).humidity_pct == used_pct


def test_broken_sensor_at_zero_gives_finite_air() -> None:
    air = air_state(20.0, 0.0)
    assert air.frost
    assert -70 < air.dew_point_c < -50
    assert 0 < air.wet_bulb_c < 20
    assert air.humidity_ratio > 0


@pytest.mark.parametrize("t", [-90.0, -60.0, -0.001, 0.0, 0.005, 0.01, 0.011, 60.0])
@pytest.mark.parametrize("humidity", [0.1, 50.0, 99.999, 99.9999999])
def test_edges_of_the_range(t: float, humidity: float) -> None:
    air = air_state(t, humidity)
    assert air.dew_point_c <= air.wet_bulb_c <= t
    assert air.dew_point_c == dew_point_c(t, humidity)


@pytest.mark.parametrize(
    ("t", "humidity", "pressure", "says"),
    [
        pytest.param(math.nan, 50.0, 1e5, "outside -90 to 150", id="no temperature"),
        pytest.param(math.inf, 50.0, 1e5, "outside -90 to 150", id="endless temperature"),
        pytest.param(-90.1, 50.0, 1e5, "outside -90 to 150", id="too cold"),
        pytest.param(150.1, 50.0, 1e5, "outside -90 to 150", id="too hot"),
        pytest.param(20.0, math.nan, 1e5, "look at the sensor", id="no humidity"),
        pytest.param(20.0, 50.0, math.nan, "pressure", id="no pressure"),
        pytest.param(20.0, 50.0, 0.0, "pressure", id="no air"),
        pytest.param(120.0, 100.0, 1e5, "pressure", id="steam"),
    ],
)
def test_impossible_air_is_refused(t: float, humidity: float, pressure: float, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        air_state(t, humidity, pressure)


def test_dew_point_between_ice_and_water() -> None:
    """The two formulas meet at 0.01 °C with a gap that no temperature fills; it still ends."""
    ice, water = saturation_pressure_pa(0.01), saturation_pressure_pa(0.01 + 1e-9)
    assert ice < water
    humidity = 100 * (ice + water) / 2 / saturation_pressure_pa(20.0)
    assert dew_point_c(20.0, humidity) == pytest.approx(0.01, abs=1e-4)


def test_standard_pressure_is_the_default() -> None:
    assert air_state(20.0, 50.0) == air_state(20.0, 50.0, STANDARD_PRESSURE_PA)
