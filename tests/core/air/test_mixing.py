"""Mixed air against worked numbers, and what mixing must keep."""

import math
from typing import Final

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.air.mixing import Mixture, after_volumes, mixed, share_replaced
from chamberwatch.core.air.psychrometrics import AirState, air_state

RATIO_PART: Final = 0.006  # ideal gas against CoolProp
AIRS = st.builds(air_state, st.floats(-20.0, 45.0), st.floats(0.1, 100.0))


def enthalpy_j_per_kg(mixture: Mixture) -> float:
    return float(
        psychrolib.GetMoistAirEnthalpy(mixture.temperature_c, mixture.humidity_ratio),
    )


@pytest.mark.parametrize(
    ("a", "b", "share_b", "wanted"),
    [
        pytest.param(
            (5.0, 99.0), (24.0, 95.0), 0.75, (0.01477, 19.33, 104.9), id="cold on warm: fog"
        ),
        pytest.param((18.0, 50.0), (20.0, 95.0), 0.5, (0.010172, 19.01, 74.2), id="halves"),
    ],
)
def test_worked_mixtures(
    a: tuple[float, float],
    b: tuple[float, float],
    share_b: float,
    wanted: tuple[float, float, float],
) -> None:
    """Worked at 101 325 Pa with PsychroLib 2.5.0 and CoolProp 8.0.0, both airs of one pressure."""
    got = mixed(air_state(*a), air_state(*b), share_b)
    ratio, temperature_c, humidity_pct = wanted
    assert got.humidity_ratio == pytest.approx(ratio, rel=RATIO_PART)
    assert got.temperature_c == pytest.approx(temperature_c, abs=0.005)
    assert got.humidity_pct == pytest.approx(humidity_pct, rel=RATIO_PART)
    assert got.fog == (humidity_pct > 100)


@pytest.mark.parametrize(
    ("volumes", "replaced_pct"), [(0.0, 0.0), (1.0, 63.2), (3.0, 95.0), (5.0, 99.3)]
)
def test_volumes_replace_a_share_of_the_air(volumes: float, replaced_pct: float) -> None:
    """Well mixed: 1 - e^-1 = 63.2 %, 1 - e^-3 = 95.0 %, 1 - e^-5 = 99.3 %."""
    inside, room = air_state(20.0, 90.0), air_state(21.0, 40.0)
    got = after_volumes(inside, room, volumes)
    went = (inside.humidity_ratio - got.humidity_ratio) / (
        inside.humidity_ratio - room.humidity_ratio
    )
    assert 100 * went == pytest.approx(replaced_pct, abs=0.05)
    assert 100 * share_replaced(volumes) == pytest.approx(replaced_pct, abs=0.05)


def test_endless_venting_leaves_the_air_of_the_room() -> None:
    room = air_state(21.0, 40.0)
    got = after_volumes(air_state(20.0, 90.0), room, math.inf)
    assert got.temperature_c == pytest.approx(21.0, abs=1e-9)
    assert got.humidity_pct == pytest.approx(40.0, abs=1e-9)


def test_saturated_air_of_one_temperature_makes_no_fog() -> None:
    air = air_state(20.0, 100.0)
    for share in (0.0, 0.1, 1 / 3, 0.7, 1.0):
        got = mixed(air, air, share)
        assert not got.fog
        assert got.humidity_pct == pytest.approx(100.0, abs=1e-9)


def test_two_saturated_airs_make_fog() -> None:
    assert mixed(air_state(10.0, 100.0), air_state(25.0, 100.0), 0.5).fog


@pytest.mark.parametrize("share_b", [-0.01, 1.01, math.nan])
def test_impossible_share_is_refused(share_b: float) -> None:
    with pytest.raises(ValueError, match="state a part of one"):
        mixed(air_state(20.0, 50.0), air_state(10.0, 50.0), share_b)


@pytest.mark.parametrize("volumes", [-0.1, math.nan])
def test_impossible_volumes_are_refused(volumes: float) -> None:
    with pytest.raises(ValueError, match="state 0 or more"):
        after_volumes(air_state(20.0, 50.0), air_state(10.0, 50.0), volumes)


@given(a=AIRS, b=AIRS, share_b=st.floats(0.0, 1.0))
def test_mixing_keeps_water_and_energy(a: AirState, b: AirState, share_b: float) -> None:
    got = mixed(a, b, share_b)
    water = (1 - share_b) * a.humidity_ratio + share_b * b.humidity_ratio
    energy = (1 - share_b) * a.enthalpy_j_per_kg + share_b * b.enthalpy_j_per_kg
    assert got.humidity_ratio == pytest.approx(water, rel=1e-9)
    # A part of what there is to mix: enthalpy itself passes 0 below freezing.
    most = max(abs(a.enthalpy_j_per_kg), abs(b.enthalpy_j_per_kg))
    assert abs(enthalpy_j_per_kg(got) - energy) <= 1e-9 * most


@given(a=AIRS, b=AIRS, share_b=st.floats(0.0, 1.0))
def test_mixture_lies_between_its_ends(a: AirState, b: AirState, share_b: float) -> None:
    got = mixed(a, b, share_b)
    low, high = sorted((a.temperature_c, b.temperature_c))
    assert low <= got.temperature_c <= high
    low, high = sorted((a.humidity_ratio, b.humidity_ratio))
    assert low * (1 - 1e-12) <= got.humidity_ratio <= high * (1 + 1e-12)


@given(a=AIRS, b=AIRS)
def test_nothing_or_all_of_it_is_one_of_the_two(a: AirState, b: AirState) -> None:
    for share, air in ((0.0, a), (1.0, b)):
        got = mixed(a, b, share)
        assert got.temperature_c == pytest.approx(air.temperature_c, abs=1e-9)
        assert got.humidity_pct == pytest.approx(air.humidity_pct, abs=1e-6)


@given(a=AIRS, b=AIRS, first=st.floats(0.0, 3.0), second=st.floats(0.0, 3.0))
def test_venting_twice_is_venting_once_for_as_long(
    a: AirState, b: AirState, first: float, second: float
) -> None:
    once = after_volumes(a, b, first + second).humidity_ratio
    halfway = after_volumes(a, b, first).humidity_ratio
    twice = halfway + (b.humidity_ratio - halfway) * share_replaced(second)
    assert twice == pytest.approx(once, rel=1e-9)
