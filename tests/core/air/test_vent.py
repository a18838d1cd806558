"""CO2 and fresh air against worked numbers, and what must hold for any of them."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from chamberwatch.core.air.psychrometrics import pressure_at_altitude_pa
from chamberwatch.core.air.vent import (
    changes_from_step,
    changes_needed_per_h,
    co2_after_ppm,
    co2_end_ppm,
    co2_g_per_m3_per_ppm,
    purge_min,
    rise_ppm_per_h,
)

PPM = st.floats(300.0, 20_000.0)
RISE = st.floats(0.0, 5000.0)
CHANGES = st.floats(0.01, 120.0)

# ------------------------------------------------------------ ppm and grams


@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa", "mg_per_m3"),
    [
        pytest.param(0.0, 101_325.0, 1.9635, id="0 °C"),
        pytest.param(20.0, 101_325.0, 1.8295, id="20 °C"),
        pytest.param(25.0, 101_325.0, 1.7988, id="25 °C"),
        pytest.param(20.0, 84_556.0, 1.5267, id="20 °C at 1500 m"),
    ],
)
def test_milligrams_of_a_ppm(temperature_c: float, pressure_pa: float, mg_per_m3: float) -> None:
    """M P / (R T) with 44.0095 g/mol, worked to the last digit."""
    got = co2_g_per_m3_per_ppm(temperature_c, pressure_pa)
    assert 1000 * got == pytest.approx(mg_per_m3, abs=0.00005)


@pytest.mark.parametrize(("temperature_c", "mg_per_m3"), [(25.0, 9000.0), (20.0, 9147.0)])
def test_limit_at_work_of_5000_ppm(temperature_c: float, mg_per_m3: float) -> None:
    """5000 ppm is 9000 mg/m3 (Directive 2006/15/EC, OSHA; a rounded table) at 25 °C, not at 20."""
    got = 5000 * 1000 * co2_g_per_m3_per_ppm(temperature_c)
    assert got == pytest.approx(mg_per_m3, rel=0.0007)


def test_litres_of_a_gram() -> None:
    """1 g CO2 at 20 °C is 0.5466 L, worked."""
    assert 1e-6 / co2_g_per_m3_per_ppm() * 1000 == pytest.approx(0.5466, abs=0.00005)


@pytest.mark.parametrize(("altitude_m", "factor"), [(500.0, 1.061), (1500.0, 1.198)])
def test_a_cell_that_counts_molecules_reads_low_up_high(altitude_m: float, factor: float) -> None:
    """NDIR, ideal gas: true = read x P_ref / P. Worked, ASHRAE standard atmosphere."""
    high = co2_g_per_m3_per_ppm(20.0, pressure_at_altitude_pa(altitude_m))
    assert co2_g_per_m3_per_ppm(20.0) / high == pytest.approx(factor, abs=0.0005)


def test_a_thousand_ppm_at_1500_m_reads_835() -> None:
    high = co2_g_per_m3_per_ppm(20.0, pressure_at_altitude_pa(1500.0))
    assert 1000 * high / co2_g_per_m3_per_ppm(20.0) == pytest.approx(835, abs=0.5)


# ------------------------------------------------------------ build-up


@pytest.mark.parametrize(
    ("source_g_per_h", "closed", "at_1", "at_4", "at_8"),
    [
        (0.1, 109, 109, 27, 14),
        (0.3, 328, 328, 82, 41),
        (1.0, 1093, 1093, 273, 137),
        (3.0, 3280, 3280, 820, 410),
    ],
)
def test_build_up_in_half_a_cubic_metre(
    source_g_per_h: float, closed: float, at_1: float, at_4: float, at_8: float
) -> None:
    """Excess over the inlet at 20 °C, worked to 1 ppm."""
    rise = rise_ppm_per_h(source_g_per_h, 0.5)
    assert rise == pytest.approx(closed, abs=0.5)
    for changes, excess in ((1, at_1), (4, at_4), (8, at_8)):
        assert co2_end_ppm(430.0, rise, changes) - 430.0 == pytest.approx(excess, abs=0.5)
        needed = changes_needed_per_h(430.0 + rise / changes, 430.0, rise)
        assert needed == pytest.approx(changes, rel=1e-9)


def test_air_changes_follow_load_over_volume() -> None:
    """Half a kilogram of mushrooms, 0.145 g/h; worked, to two or three digits.

    1590 ppm/h in a tub of 50 L, and 4 /h to stay 400 above the inlet; 0.4 /h in 0.5 m3.
    """
    tub, tent = rise_ppm_per_h(0.145, 0.05), rise_ppm_per_h(0.145, 0.5)
    assert tub == pytest.approx(1590, abs=5)
    assert changes_needed_per_h(830.0, 430.0, tub) == pytest.approx(4.0, abs=0.05)
    assert changes_needed_per_h(830.0, 430.0, tent) == pytest.approx(0.4, abs=0.005)


def test_warm_and_high_air_rises_faster() -> None:
    assert rise_ppm_per_h(1.0, 0.5, 25.0) == pytest.approx(2000 / 1.7988, rel=1e-4)
    assert rise_ppm_per_h(1.0, 0.5, 20.0, 84_556.0) == pytest.approx(2000 / 1.5267, rel=1e-4)


@pytest.mark.parametrize("volume_m3", [0.0, -1.0, math.nan])
def test_no_volume_is_refused(volume_m3: float) -> None:
    with pytest.raises(ValueError, match="state the chamber's"):
        rise_ppm_per_h(1.0, volume_m3)


@pytest.mark.parametrize(
    ("rise", "changes", "end"),
    [
        pytest.param(400.0, 2.0, 630.0, id="a source"),
        pytest.param(0.0, 2.0, 430.0, id="no source"),
        pytest.param(0.0, 0.0, 430.0, id="no source, sealed: what little comes in decides"),
        pytest.param(1.0, 0.0, math.inf, id="a source, sealed"),
    ],
)
def test_where_co2_settles(rise: float, changes: float, end: float) -> None:
    assert co2_end_ppm(430.0, rise, changes) == end


@pytest.mark.parametrize("changes", [-0.1, math.nan])
def test_air_changes_below_nothing_are_refused(changes: float) -> None:
    with pytest.raises(ValueError, match="state 0 or more"):
        co2_end_ppm(430.0, 100.0, changes)
    with pytest.raises(ValueError, match="state 0 or more"):
        co2_after_ppm(800.0, 430.0, 100.0, changes, 1.0)
    with pytest.raises(ValueError, match="state 0 or more"):
        purge_min(800.0, 600.0, 430.0, 100.0, changes)


@pytest.mark.parametrize(
    ("target", "inlet", "rise", "changes"),
    [
        pytest.param(1000.0, 430.0, 1140.0, 2.0, id="a source"),
        pytest.param(1000.0, 430.0, 0.0, 0.0, id="no source"),
        pytest.param(430.0, 430.0, 0.0, 0.0, id="no source, and the room at the target"),
        pytest.param(430.0, 430.0, 1.0, None, id="the room at the target"),
        pytest.param(1000.0, 1100.0, 100.0, None, id="the room above the target"),
        pytest.param(1000.0, 1100.0, 0.0, None, id="the room above the target, no source"),
    ],
)
def test_changes_that_hold_a_target(
    target: float, inlet: float, rise: float, changes: float | None
) -> None:
    assert changes_needed_per_h(target, inlet, rise) == changes


# ------------------------------------------------------------ purge


@pytest.mark.parametrize(
    ("inlet_ppm", "source_g_per_h", "minutes"),
    [
        pytest.param(425.0, 0.0, 1.71, id="fresh air"),
        pytest.param(700.0, 0.0, 2.89, id="a lived-in room"),
        pytest.param(425.0, 1.0, 1.75, id="with a source"),
    ],
)
def test_worked_purges(inlet_ppm: float, source_g_per_h: float, minutes: float) -> None:
    """2500 to 800 ppm at 60 /h, a small fan on a tent of 0.5 m3; worked to 0.01 min."""
    rise = rise_ppm_per_h(source_g_per_h, 0.5)
    got = purge_min(2500.0, 800.0, inlet_ppm, rise, 60.0)
    assert got == pytest.approx(minutes, abs=0.005)


@pytest.mark.parametrize(
    ("start", "target", "inlet", "rise", "changes", "minutes"),
    [
        pytest.param(800.0, 800.0, 430.0, 100.0, 4.0, 0.0, id="already there"),
        pytest.param(700.0, 800.0, 900.0, 100.0, 0.0, 0.0, id="already below, sealed"),
        pytest.param(2500.0, 800.0, 1100.0, 0.0, 60.0, None, id="the room is above the target"),
        pytest.param(2500.0, 800.0, 430.0, 1000.0, 2.0, None, id="the source is too strong"),
        pytest.param(2500.0, 800.0, 800.0, 0.0, 60.0, None, id="only in the end"),
        pytest.param(2500.0, 800.0, 430.0, 0.0, 0.0, None, id="sealed, no source"),
        pytest.param(2500.0, 800.0, 430.0, 10.0, 0.0, None, id="sealed, a source"),
    ],
)
def test_purges_that_take_no_time_or_no_end(
    start: float, target: float, inlet: float, rise: float, changes: float, minutes: float | None
) -> None:
    """No solution where the target is at or below inlet + source / flow."""
    assert purge_min(start, target, inlet, rise, changes) == minutes


@given(start=PPM, target=PPM, inlet=st.floats(300.0, 1500.0), rise=RISE, changes=CHANGES)
def test_a_purge_lands_on_its_target(
    start: float, target: float, inlet: float, rise: float, changes: float
) -> None:
    minutes = purge_min(start, target, inlet, rise, changes)
    assume(minutes is not None and minutes > 0)
    assert minutes is not None
    reached = co2_after_ppm(start, inlet, rise, changes, minutes / 60)
    assert reached == pytest.approx(target, rel=1e-9)


@given(start=PPM, target=PPM, inlet=st.floats(300.0, 1500.0), rise=RISE, changes=CHANGES)
def test_a_purge_is_refused_only_where_it_would_never_land(
    start: float, target: float, inlet: float, rise: float, changes: float
) -> None:
    minutes = purge_min(start, target, inlet, rise, changes)
    above = start > target
    assert (minutes is None) == (above and target <= co2_end_ppm(inlet, rise, changes))


@given(
    inlet=st.floats(300.0, 1500.0),
    rise=RISE,
    few=st.floats(0.0, 120.0),
    more=st.floats(0.0, 120.0),
)
def test_more_air_never_raises_the_end_value(
    inlet: float, rise: float, few: float, more: float
) -> None:
    few, more = sorted((few, more))
    assume(few > 0 or rise > 0 or more > 0)
    assert co2_end_ppm(inlet, rise, more) <= co2_end_ppm(inlet, rise, few)


# ------------------------------------------------------------ over time


def test_a_sealed_chamber_rises_in_a_straight_line() -> None:
    assert co2_after_ppm(600.0, 430.0, 200.0, 0.0, 3.0) == 1200.0


@given(start=PPM, rise=RISE, hours=st.floats(0.0, 24.0))
def test_hardly_any_air_is_no_jump_from_none(start: float, rise: float, hours: float) -> None:
    sealed = co2_after_ppm(start, 430.0, rise, 0.0, hours)
    for changes in (1e-300, 1e-12, 1e-9, 1e-8):
        got = co2_after_ppm(start, 430.0, rise, changes, hours)
        assert got == pytest.approx(sealed, rel=1e-6)


@given(start=PPM, inlet=PPM, rise=RISE, changes=CHANGES)
def test_in_the_end_it_settles(start: float, inlet: float, rise: float, changes: float) -> None:
    assert co2_after_ppm(start, inlet, rise, changes, 0.0) == start
    settled = co2_after_ppm(start, inlet, rise, changes, 50 / changes)
    assert settled == pytest.approx(co2_end_ppm(inlet, rise, changes), rel=1e-9)


@given(start=PPM, inlet=PPM, rise=RISE, changes=CHANGES, hours=st.floats(0.0, 10.0))
def test_two_spells_are_one_of_both(
    start: float, inlet: float, rise: float, changes: float, hours: float
) -> None:
    halfway = co2_after_ppm(start, inlet, rise, changes, hours / 3)
    twice = co2_after_ppm(halfway, inlet, rise, changes, hours * 2 / 3)
    assert twice == pytest.approx(co2_after_ppm(start, inlet, rise, changes, hours), rel=1e-9)


# ------------------------------------------------------------ from a step


@pytest.mark.parametrize(
    ("inlet_ppm", "per_h"),
    [
        pytest.param(450.0, 7.89, id="6 ln(2050 / 550)"),
        pytest.param(420.0, 7.66, id="inlet stated too low"),
        pytest.param(600.0, 9.35, id="inlet really higher"),
    ],
)
def test_worked_tracer_decay(inlet_ppm: float, per_h: float) -> None:
    """ASTM E741 (equation from memory): 2500 to 1000 ppm in 10 min, worked to 0.01 /h."""
    got = changes_from_step(2500.0, 1000.0, inlet_ppm, 10.0)
    assert got == pytest.approx(per_h, abs=0.005)


@pytest.mark.parametrize(
    ("start", "end", "inlet", "minutes"),
    [
        pytest.param(1000.0, 1000.0, 430.0, 10.0, id="no fall"),
        pytest.param(1000.0, 1200.0, 430.0, 10.0, id="a rise"),
        pytest.param(1000.0, 430.0, 430.0, 10.0, id="at the inlet"),
        pytest.param(1000.0, 420.0, 430.0, 10.0, id="past the inlet"),
        pytest.param(420.0, 410.0, 430.0, 10.0, id="below the inlet"),
        pytest.param(2500.0, 1000.0, 430.0, 0.0, id="no time"),
        pytest.param(2500.0, 1000.0, 430.0, -5.0, id="backwards"),
        pytest.param(2500.0, math.nan, 430.0, 5.0, id="not a number"),
    ],
)
def test_a_step_that_shows_no_air_changes(
    start: float, end: float, inlet: float, minutes: float
) -> None:
    assert changes_from_step(start, end, inlet, minutes) is None


@given(start=st.floats(1000.0, 20_000.0), changes=CHANGES, volumes=st.floats(0.1, 3.0))
def test_a_step_finds_the_air_changes_again(start: float, changes: float, volumes: float) -> None:
    hours = volumes / changes
    end = co2_after_ppm(start, 430.0, 0.0, changes, hours)
    assert changes_from_step(start, end, 430.0, hours * 60) == pytest.approx(changes, rel=1e-9)


@given(
    start=st.floats(700.0, 5000.0),
    inlet=st.floats(400.0, 650.0),
    rise=st.floats(0.0, 4000.0),
    per_h=st.floats(1.0, 60.0),
    minutes=st.floats(1.0, 30.0),
)
def test_air_changes_are_found_again_beside_a_source(
    start: float, inlet: float, rise: float, per_h: float, minutes: float
) -> None:
    after = co2_after_ppm(start, inlet, rise, per_h, minutes / 60.0)
    assume(inlet + 5.0 < after < start - 5.0)
    found = changes_from_step(start, after, inlet, minutes, rise)
    assert found is not None
    led = co2_after_ppm(start, inlet, rise, found, minutes / 60.0)
    assert led == pytest.approx(after, abs=0.01)
