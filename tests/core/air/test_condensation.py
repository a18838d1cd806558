"""Wet surfaces and drying caps, against worked numbers."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.air.condensation import (
    EVAPORATION_LEAST,
    EVAPORATION_MOST,
    INNER_FILM_W_PER_M2K,
    evaporation_coefficient,
    inner_surface_c,
    margin,
)
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.psychrometrics import air_state, vpd_pa


@pytest.mark.parametrize(
    ("u", "surface_c"),
    [
        pytest.param(0.0, 20.0, id="perfect insulation: as warm as the air"),
        pytest.param(1.0 / 0.26, 15.0, id="a thin sheet, still air on both sides: half way"),
        pytest.param(1.0 / (0.13 + 0.04), 12.353, id="a thin sheet, moving air outside"),
        pytest.param(1.0, 18.7, id="insulated"),
        pytest.param(5.5, 12.85, id="thin film"),
        pytest.param(1.0 / 0.13, 10.0, id="nothing but the film: as cold as the room"),
        pytest.param(20.0, 10.0, id="stated without films: no colder than the room"),
    ],
)
def test_surface_lies_between_air_and_room(u: float, surface_c: float) -> None:
    """ISO 6946: the inner film of 0.13 m2 K/W (from memory) takes its share, by hand."""
    assert inner_surface_c(20.0, 10.0, u) == pytest.approx(surface_c, abs=0.001)


def test_stirred_air_warms_the_surface() -> None:
    """Twice the conductance of the film, half its share: 20 - 10 x 1 / 15.38."""
    got = inner_surface_c(20.0, 10.0, 1.0, 2 * INNER_FILM_W_PER_M2K)
    assert got == pytest.approx(19.35)


@pytest.mark.parametrize(
    ("u", "film"), [(-0.1, 7.7), (math.nan, 7.7), (1.0, 0.0), (1.0, -7.7), (1.0, math.nan)]
)
def test_impossible_cover_is_refused(u: float, film: float) -> None:
    with pytest.raises(ValueError, match="state a thin sheet"):
        inner_surface_c(20.0, 10.0, u, film)


@given(air_c=st.floats(0, 40), room_c=st.floats(-10, 40), u=st.floats(0, 30))
def test_surface_never_leaves_air_and_room(air_c: float, room_c: float, u: float) -> None:
    low, high = sorted((air_c, room_c))
    assert low - 1e-9 <= inner_surface_c(air_c, room_c, u) <= high + 1e-9


@pytest.mark.parametrize(
    ("humidity_pct", "margin_k"), [(85, 2.60), (90, 1.69), (95, 0.83), (98, 0.33), (99, 0.16)]
)
def test_margin_of_a_surface_at_air_temperature(humidity_pct: float, margin_k: float) -> None:
    """At 20 °C, worked with CoolProp 8.0.0, to its last digit."""
    got = margin(air_state(20.0, humidity_pct), 20.0, 0.35, Origin.ASSUMED)
    assert got.margin_k == pytest.approx(margin_k, abs=0.005)
    assert not got.wet


@pytest.mark.parametrize(
    ("surface_c", "spread_k", "wet", "certain"),
    [
        pytest.param(20.0, 0.35, False, True, id="dry"),
        pytest.param(18.5, 0.35, False, False, id="dry, if one may believe it"),
        pytest.param(18.2, 0.35, True, False, id="wet, if one may believe it"),
        pytest.param(17.0, 0.35, True, True, id="wet"),
        pytest.param(18.311, 0.0, False, True, id="a perfect sensor can always tell"),
    ],
)
def test_wet_or_dry_and_whether_it_can_be_told(
    surface_c: float, spread_k: float, wet: bool, certain: bool
) -> None:
    """The dew point is 18.310 °C (18.311 by CoolProp 8.0.0)."""
    got = margin(air_state(20.0, 90.0), surface_c, spread_k, Origin.MEASURED)
    assert (got.wet, got.certain) == (wet, certain)
    assert (got.surface_c, got.spread_k, got.origin) == (surface_c, spread_k, Origin.MEASURED)


def test_exactly_at_the_dew_point_is_wet_and_not_certain() -> None:
    got = margin(air_state(20.0, 100.0), 20.0, 0.0, Origin.DECLARED)
    assert got.margin_k == 0.0
    assert got.wet
    assert not got.certain


@given(t=st.floats(-10, 40), humidity=st.floats(1, 100), surface=st.floats(-20, 50))
def test_wet_is_a_margin_of_nothing_or_less(t: float, humidity: float, surface: float) -> None:
    got = margin(air_state(t, humidity), surface, 0.3, Origin.MEASURED)
    assert got.wet == (got.margin_k <= 0.0) == (surface <= air_state(t, humidity).dew_point_c)


@pytest.mark.parametrize(
    ("air_speed_m_per_s", "least_pa", "most_pa"), [(0.05, 133, 333), (0.1, 67, 167), (0.2, 33, 83)]
)
def test_acceptable_evaporation_in_terms_of_deficit(
    air_speed_m_per_s: float, least_pa: float, most_pa: float
) -> None:
    """4 to 10 of Bowman 1989 (Mushroom Science XII, citing Edwards), turned into Pa, to 1 Pa."""
    for limit, pa in ((EVAPORATION_LEAST, least_pa), (EVAPORATION_MOST, most_pa)):
        pa_of_one = evaporation_coefficient(1.0, air_speed_m_per_s)
        assert limit / pa_of_one == pytest.approx(pa, abs=0.5)


def test_usual_ideal_of_a_button_mushroom_room_is_acceptable() -> None:
    """16 °C, 93 %, 0.1 m/s: 7.6 (Bowman 1989)."""
    got = evaporation_coefficient(vpd_pa(16.0, 93.0), 0.1)
    assert got == pytest.approx(7.6, abs=0.05)
    assert EVAPORATION_LEAST < got < EVAPORATION_MOST
