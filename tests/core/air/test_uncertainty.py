"""How far dew point, deficit and margin may be off, against worked numbers."""

import math
from dataclasses import replace
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.air.accuracy import CLASSES, DIGITAL, Accuracy
from chamberwatch.core.air.psychrometrics import (
    HIGHEST_C,
    LOWEST_C,
    AirState,
    air_state,
    dew_point_c,
    vpd_pa,
)
from chamberwatch.core.air.uncertainty import (
    DEW_POINT_DECIMALS,
    VPD_KPA_DECIMALS,
    decimals_for,
    margin_spread_k,
    spread,
)

AIR: Final = air_state(20.0, 90.0)

ROOM_T = st.floats(-20.0, 45.0)
HUMIDITY = st.floats(5.0, 100.0)
ACCURACIES = st.builds(
    Accuracy,
    st.floats(0.0, 3.0),
    st.floats(0.0, 10.0),
    st.floats(0.0, 10.0),
    st.floats(0.0, 300.0),
    st.floats(0.0, 0.3),
    st.floats(0.0, 3.0),
)


def same_everywhere(temperature_k: float, humidity_pct: float) -> Accuracy:
    """Return an accuracy that is no worse above 90 %."""
    return Accuracy(temperature_k, humidity_pct, humidity_pct)


# Worked by first-order propagation at 20 °C and 90 % with CoolProp 8.0.0, each to its last digit.


@pytest.mark.parametrize(
    ("humidity_pct", "temperature_k", "dew_point_k", "vpd", "margin_k", "low_pa", "high_pa"),
    [
        pytest.param(0.5, 0.1, 0.13, 12, 0.09, 222, 246, id="laboratory"),
        pytest.param(1.8, 0.2, 0.37, 42, 0.32, 192, 276, id="1.8 %"),
        pytest.param(2.0, 0.2, 0.41, 47, 0.35, 187, 281, id="2 %"),
        pytest.param(3.0, 0.3, 0.61, 70, 0.53, 164, 304, id="3 %"),
        pytest.param(5.0, 0.5, 1.01, 117, 0.89, 117, 351, id="5 %"),
    ],
)
def test_spread_at_20_c_and_90_pct(
    humidity_pct: float,
    temperature_k: float,
    dew_point_k: float,
    vpd: float,
    margin_k: float,
    low_pa: float,
    high_pa: float,
) -> None:
    accuracy = same_everywhere(temperature_k, humidity_pct)
    got = spread(AIR, accuracy)
    assert (got.temperature_k, got.humidity_pct) == (temperature_k, humidity_pct)
    assert got.dew_point_k == pytest.approx(dew_point_k, abs=0.005)
    assert got.vpd_pa == pytest.approx(vpd, abs=0.5)
    assert margin_spread_k(AIR, accuracy, None) == pytest.approx(margin_k, abs=0.005)
    assert AIR.vpd_pa - got.vpd_pa == pytest.approx(low_pa, abs=0.5)
    assert AIR.vpd_pa + got.vpd_pa == pytest.approx(high_pa, abs=0.5)
    assert got.co2_ppm is None


def test_each_sensitivity_at_20_c_and_90_pct() -> None:
    """By CoolProp 8.0.0: 0.177 K and 23.4 Pa for each %RH, 0.987 K and 14.5 Pa for each K."""
    by_humidity = spread(AIR, same_everywhere(0.0, 1.0))
    by_temperature = spread(AIR, same_everywhere(1.0, 0.0))
    assert by_humidity.dew_point_k == pytest.approx(0.177, abs=0.0005)
    assert by_humidity.vpd_pa == pytest.approx(23.4, abs=0.05)
    assert by_temperature.dew_point_k == pytest.approx(0.987, abs=0.0005)
    assert by_temperature.vpd_pa == pytest.approx(14.5, abs=0.05)


@pytest.mark.parametrize(
    ("humidity_pct", "warmer_k", "error_pct"),
    [
        pytest.param(90.0, 1.0, 5.6, id="1 K at 90 %"),
        pytest.param(50.0, 1.0, 3.1, id="1 K at 50 %"),
        pytest.param(90.0, 0.3, 1.7, id="self-heating of 0.3 K"),
    ],
)
def test_a_sensor_that_is_not_as_warm_as_the_air(
    humidity_pct: float, warmer_k: float, error_pct: float
) -> None:
    """Worked at 20 °C with CoolProp 8.0.0; an instrument manual rounds 1 K to 6 and 3 %RH.

    As many per cent as move the dew point by as much as the temperature does.
    """
    air = air_state(20.0, humidity_pct)
    by_humidity = spread(air, same_everywhere(0.0, 1.0)).dew_point_k
    by_temperature = spread(air, same_everywhere(warmer_k, 0.0)).dew_point_k
    assert by_temperature / by_humidity == pytest.approx(error_pct, abs=0.05)


@pytest.mark.parametrize(
    ("humidity_pct", "pa", "part"),
    [
        pytest.param(95.0, 117.0, 0.4, id="95 %: 40 % of it"),
        pytest.param(98.0, 47.0, 1.0, id="98 %: all of it"),
    ],
)
def test_deficit_near_saturation_is_mostly_error(
    humidity_pct: float, pa: float, part: float
) -> None:
    """Worked with CoolProp 8.0.0 for ± 2 %RH at 20 °C."""
    air = air_state(20.0, humidity_pct)
    assert air.vpd_pa == pytest.approx(pa, abs=0.5)
    got = spread(air, same_everywhere(0.2, 2.0)).vpd_pa
    assert got / air.vpd_pa == pytest.approx(part, abs=0.005)


@pytest.mark.parametrize(
    ("air", "surface_k", "wanted_k"),
    [
        # sqrt((0.987 x 0.2)² + (0.177 x 2)² + 0.5²)
        pytest.param(AIR, 0.5, 0.644, id="a sensor at the surface adds its own"),
        # sqrt((0.987 x 0.2)² + (0.177 x 2)²)
        pytest.param(AIR, 0.0, 0.405, id="a perfect one leaves the dew point's"),
        # sqrt((0.013 x 0.2)² + (0.177 x 2)²)
        pytest.param(AIR, None, 0.354, id="the same sensor: temperature cancels"),
    ],
)
def test_margin_spread_by_kind_of_surface(
    air: AirState, surface_k: float | None, wanted_k: float
) -> None:
    assert margin_spread_k(air, DIGITAL, surface_k) == pytest.approx(wanted_k, abs=0.001)


def test_above_90_pct_the_worse_claim_holds() -> None:
    below, above = air_state(20.0, 90.0), air_state(20.0, 90.1)
    assert spread(below, DIGITAL).humidity_pct == DIGITAL.humidity_pct
    assert spread(above, DIGITAL).humidity_pct == DIGITAL.humidity_wet_pct
    assert spread(above, DIGITAL).vpd_pa > 1.4 * spread(below, DIGITAL).vpd_pa
    assert margin_spread_k(above, DIGITAL, None) > 1.4 * margin_spread_k(below, DIGITAL, None)


@pytest.mark.parametrize(
    ("name", "co2_ppm", "wanted_ppm"),
    [("digital", 1000.0, 100.0), ("basic", 1000.0, 145.0), ("probe", 400.0, 42.0)],
)
def test_co2_has_a_fixed_part_and_a_share(name: str, co2_ppm: float, wanted_ppm: float) -> None:
    """± (50 ppm + 5 % of the reading) and the like: common practice."""
    assert spread(AIR, CLASSES[name], co2_ppm).co2_ppm == pytest.approx(wanted_ppm)


@pytest.mark.parametrize("t", [-15.0, 3.0, 20.0, 35.0])
@pytest.mark.parametrize("humidity", [30.0, 60.0, 90.0])
def test_first_order_is_what_a_small_error_does(t: float, humidity: float) -> None:
    """Against the functions themselves, moved by a hundredth."""
    air = air_state(t, humidity)
    warm = spread(air, same_everywhere(0.01, 0.0))
    wet = spread(air, same_everywhere(0.0, 0.01))
    dew_warm = (dew_point_c(t + 0.01, humidity) - dew_point_c(t - 0.01, humidity)) / 2
    dew_wet = (dew_point_c(t, humidity + 0.01) - dew_point_c(t, humidity - 0.01)) / 2
    assert warm.dew_point_k == pytest.approx(dew_warm, rel=1e-3)
    assert wet.dew_point_k == pytest.approx(dew_wet, rel=1e-3)
    vpd_warm = (vpd_pa(t + 0.01, humidity) - vpd_pa(t - 0.01, humidity)) / 2
    assert warm.vpd_pa == pytest.approx(vpd_warm, rel=1e-3)
    assert wet.vpd_pa == pytest.approx(vpd_pa(t, humidity) - vpd_pa(t, humidity + 0.01), rel=1e-3)


@pytest.mark.parametrize("t", [LOWEST_C, 0.0, 0.01, 40.0])
@pytest.mark.parametrize("humidity", [0.1, 50.0, 100.0])
def test_edges_of_the_range_have_a_spread(t: float, humidity: float) -> None:
    got = spread(air_state(t, humidity), DIGITAL)
    assert 0.0 < got.dew_point_k < math.inf
    assert 0.0 < got.vpd_pa < math.inf


def test_hottest_air_has_a_spread() -> None:
    got = spread(air_state(HIGHEST_C, 10.0, 600_000.0), DIGITAL)
    assert 0.0 < got.dew_point_k < math.inf


@given(t=ROOM_T, humidity=HUMIDITY, accuracy=ACCURACIES, factor=st.floats(1.0, 5.0))
def test_a_worse_sensor_never_gives_a_smaller_spread(
    t: float, humidity: float, accuracy: Accuracy, factor: float
) -> None:
    air = air_state(t, humidity)
    worse_at = {
        name: replace(accuracy, **{name: getattr(accuracy, name) * factor})
        for name in ("temperature_k", "humidity_pct", "humidity_wet_pct", "co2_ppm", "co2_share")
    }
    better = spread(air, accuracy, 1000.0)
    assert better.co2_ppm is not None
    for name, worse in worse_at.items():
        got = spread(air, worse, 1000.0)
        assert got.co2_ppm is not None
        assert got.dew_point_k >= better.dew_point_k, name
        assert got.vpd_pa >= better.vpd_pa, name
        assert got.co2_ppm >= better.co2_ppm, name
        for surface_k in (None, accuracy.surface_k):
            assert margin_spread_k(air, worse, surface_k) >= margin_spread_k(
                air, accuracy, surface_k
            ), name


# ------------------------------------------------------------ decimals


@pytest.mark.parametrize(
    ("off_by", "most", "decimals"),
    [
        pytest.param(0.047, VPD_KPA_DECIMALS, 2, id="VPD in kPa, 2 %"),
        pytest.param(0.117, VPD_KPA_DECIMALS, 1, id="VPD in kPa, 5 %"),
        pytest.param(0.012, VPD_KPA_DECIMALS, 2, id="VPD in kPa, 0.5 %"),
        pytest.param(0.0001, VPD_KPA_DECIMALS, 2, id="never finer than 0.01 kPa"),
        pytest.param(0.41, DEW_POINT_DECIMALS, 1, id="dew point, 2 %"),
        pytest.param(0.09, DEW_POINT_DECIMALS, 1, id="never finer than 0.1 °C"),
        pytest.param(1.01, DEW_POINT_DECIMALS, 0, id="dew point, 5 %"),
        pytest.param(100.0, VPD_KPA_DECIMALS, 0, id="CO2"),
        pytest.param(0.1, VPD_KPA_DECIMALS, 1, id="just a tenth"),
        pytest.param(1.0, VPD_KPA_DECIMALS, 0, id="just one"),
        pytest.param(0.0, DEW_POINT_DECIMALS, 1, id="nothing stated"),
        pytest.param(math.inf, VPD_KPA_DECIMALS, 0, id="anything is possible"),
    ],
)
def test_decimals_follow_the_spread(off_by: float, most: int, decimals: int) -> None:
    """A hygrometer allows 0.01 kPa and 0.1 °C at best (common practice)."""
    assert decimals_for(off_by, most) == decimals


def test_two_decimals_are_the_most_by_default() -> None:
    assert decimals_for(1e-9) == 2


@given(off_by=st.floats(1e-12, 1e6))
def test_last_decimal_is_never_much_finer_than_the_spread(off_by: float) -> None:
    decimals = decimals_for(off_by, 12)
    assert decimals == 0 or off_by < 10.0 ** (1 - decimals) * (1 + 1e-9)
