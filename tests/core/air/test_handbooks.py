"""Moist air against two libraries of real-gas and water properties, on a grid of its own.

CoolProp's humid air follows ASHRAE RP-1485, its water IAPWS-95; iapws is a second hand at water.
The tolerances are the largest honest differences of ideal gas from real gas.
"""

from collections.abc import Callable
from typing import Final

import pytest

from chamberwatch.core.air.psychrometrics import AirState, air_state, saturation_pressure_pa

ES_PART: Final = 0.0005
VPD_PART, VPD_HUMID_PA = 0.004, 4.0
DEW_POINT_K, DEW_POINT_HUMID_K = 0.04, 0.01
WET_BULB_K: Final = 0.02
RATIO_PART: Final = 0.006
ENTHALPY_J: Final = 500.0
DENSITY_PART: Final = 0.001

HUMID_PCT: Final = 80.0
KELVIN: Final = 273.15

GRID: Final = [
    air_state(temperature_c, humidity_pct, pressure_pa)
    for pressure_pa in (100_000.0, 90_000.0)
    for temperature_c in range(8, 33, 3)
    for humidity_pct in range(45, 100, 6)
]

Theirs = Callable[[str, AirState], float]


@pytest.fixture(scope="module")
def humid_air() -> Theirs:
    """Ask CoolProp's humid air for one quantity."""
    library = pytest.importorskip(
        "CoolProp.CoolProp", reason="CoolProp is not installed: pip install CoolProp"
    )

    def ask(quantity: str, air: AirState) -> float:
        state = (
            "T",
            air.temperature_c + KELVIN,
            "R",
            air.humidity_pct / 100,
            "P",
            air.pressure_pa,
        )
        return float(library.HAPropsSI(quantity, *state))

    return ask


@pytest.fixture(scope="module")
def water_pa() -> Callable[[float], float]:
    """Ask CoolProp for the saturation pressure of pure water."""
    library = pytest.importorskip(
        "CoolProp.CoolProp", reason="CoolProp is not installed: pip install CoolProp"
    )
    return lambda t: float(library.PropsSI("P", "T", t + KELVIN, "Q", 0, "Water"))


def test_grid_is_whole() -> None:
    assert len(GRID) == 2 * 9 * 10


# ------------------------------------------------------------ CoolProp


def test_saturation_pressure_is_that_of_pure_water(water_pa: Callable[[float], float]) -> None:
    for air in GRID:
        assert air.saturation_pressure_pa == pytest.approx(
            water_pa(air.temperature_c), rel=ES_PART
        ), air


def test_moist_air_holds_a_little_more_than_pure_water_says(humid_air: Theirs) -> None:
    """The enhancement factor that the pure-water convention leaves out: 0.41 to 0.46 % by the sea.

    Between 5 and 35 °C against IAPWS-95; the saturation pressure here may be 0.05 % off that.
    """
    for temperature_c in range(5, 36, 3):
        saturated = air_state(temperature_c, 100.0)
        more = humid_air("P_w", saturated) / saturated.saturation_pressure_pa - 1
        assert 0.0041 - ES_PART < more < 0.0046 + ES_PART, temperature_c


def test_deficit(water_pa: Callable[[float], float]) -> None:
    for air in GRID:
        theirs = water_pa(air.temperature_c) * (1 - air.humidity_pct / 100)
        assert air.vpd_pa == pytest.approx(theirs, rel=VPD_PART, abs=0), air
        if air.humidity_pct >= HUMID_PCT:
            assert abs(air.vpd_pa - theirs) < VPD_HUMID_PA, air


def test_dew_point(humid_air: Theirs) -> None:
    """Both give the frost point below 0 °C."""
    for air in GRID:
        limit = DEW_POINT_HUMID_K if air.humidity_pct >= HUMID_PCT else DEW_POINT_K
        assert air.dew_point_c == pytest.approx(humid_air("D", air) - KELVIN, abs=limit), air
    assert any(air.frost for air in GRID)


def test_wet_bulb(humid_air: Theirs) -> None:
    for air in GRID:
        assert air.wet_bulb_c == pytest.approx(humid_air("B", air) - KELVIN, abs=WET_BULB_K), air


def test_humidity_ratio(humid_air: Theirs) -> None:
    for air in GRID:
        assert air.humidity_ratio == pytest.approx(humid_air("W", air), rel=RATIO_PART), air


def test_enthalpy(humid_air: Theirs) -> None:
    for air in GRID:
        assert air.enthalpy_j_per_kg == pytest.approx(humid_air("Hda", air), abs=ENTHALPY_J), air


def test_density(humid_air: Theirs) -> None:
    for air in GRID:
        theirs = 1 / humid_air("Vha", air)
        assert air.density_kg_per_m3 == pytest.approx(theirs, rel=DENSITY_PART), air


# ------------------------------------------------------------ iapws


@pytest.mark.parametrize("formulation", ["IAPWS97", "IAPWS95"])
def test_saturation_pressure_by_iapws(formulation: str) -> None:
    """The industrial and the scientific formulation of water, 5 to 35 °C."""
    library = pytest.importorskip("iapws", reason="iapws is not installed: pip install iapws")
    for temperature_c in range(5, 36):
        water = getattr(library, formulation)(T=temperature_c + KELVIN, x=0)
        theirs_pa = water.P * 1e6
        assert saturation_pressure_pa(temperature_c) == pytest.approx(theirs_pa, rel=ES_PART)
