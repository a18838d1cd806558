"""The tent model against worked numbers, and what its balances must keep."""

from dataclasses import replace
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.air.tent import (
    RoomAir,
    TentSpec,
    TentState,
    evaporation_g_per_h,
    mist,
    respiration_g_per_h,
    state_of,
    step,
)

BARE: Final = TentSpec(volume_m3=0.5, wet_area_m2=0.0, fruit_kg=0.0, block_kg=0.0)
"""Nothing in it gives off water or CO2."""
ROOM: Final = RoomAir(20.0, 50.0, 425.0)
FRUIT_G_PER_KG_H: Final = 0.29
G_PER_PPM_M3: Final = 1.8295e-3


def breathing(co2_g_per_h: float, volume_m3: float = 0.5) -> TentSpec:
    return replace(BARE, volume_m3=volume_m3, fruit_kg=co2_g_per_h / FRUIT_G_PER_KG_H)


def lived(state: TentState, spec: TentSpec, room: RoomAir, n: float, minutes: float) -> TentState:
    """Let minutes pass in steps of six seconds."""
    for _ in range(round(minutes * 10)):
        state = step(state, spec, room, n, 6.0)
    return state


def water_g(state: TentState, spec: TentSpec) -> float:
    return state.vapour_g_per_m3 * spec.volume_m3 + state.film_g


# ------------------------------------------------------------ worked numbers


@pytest.mark.parametrize(("n", "minutes"), [(4.0, 2.0), (1.0, 8.0)])
def test_humidity_falls_from_90_to_85(n: float, minutes: float) -> None:
    """(90 - 50) e^(-n t) = 85 - 50: t = ln(40/35) / n = 2.003 min at 4 /h, 8.01 at 1 /h."""
    after = lived(state_of(20.0, 90.0, 425.0, 0.0), BARE, ROOM, n, minutes)
    assert after.humidity_pct == pytest.approx(85.0, abs=0.02)


@pytest.mark.parametrize(
    ("g_per_h", "closed_ppm", "excess"),
    [
        (0.1, 109, {1: 109, 4: 27, 8: 14}),
        (0.3, 328, {1: 328, 4: 82, 8: 41}),
        (1.0, 1093, {1: 1093, 4: 273, 8: 137}),
        (3.0, 3280, {1: 3280, 4: 820, 8: 410}),
    ],
)
def test_co2_builds_up(g_per_h: float, closed_ppm: float, excess: dict[int, float]) -> None:
    """Gas law at 20 °C and 101 325 Pa: 1 g of CO2 in 0.5 m3 is 1093 ppm."""
    spec, start = breathing(g_per_h), state_of(20.0, 90.0, 425.0, 0.0)
    assert step(start, spec, ROOM, 0.0, 3600.0).co2_ppm - 425 == pytest.approx(closed_ppm, abs=0.6)
    for n, ppm in excess.items():
        at_last = step(start, spec, ROOM, n, 1e6).co2_ppm
        assert at_last - 425 == pytest.approx(ppm, abs=0.6), n


def test_co2_in_a_small_tub() -> None:
    """0.5 kg of mushrooms (0.145 g/h) in 50 L gain about 1590 ppm/h; 4 /h keep them 400 above."""
    spec, start = breathing(0.145, volume_m3=0.05), state_of(20.0, 90.0, 425.0, 0.0)
    assert step(start, spec, ROOM, 0.0, 3600.0).co2_ppm - 425 == pytest.approx(1590, rel=0.005)
    assert step(start, spec, ROOM, 4.0, 1e6).co2_ppm - 425 == pytest.approx(400, rel=0.01)


@pytest.mark.parametrize(
    ("inlet_ppm", "g_per_h", "minutes"),
    [(425.0, 0.0, 1.71), (700.0, 0.0, 2.89), (425.0, 1.0, 1.75)],
)
def test_purge(inlet_ppm: float, g_per_h: float, minutes: float) -> None:
    """From 2500 to 800 ppm at 60 /h: t = ln((C0 - C_end) / (C - C_end)) / n."""
    room = replace(ROOM, co2_ppm=inlet_ppm)
    start = state_of(20.0, 90.0, 2500.0, 0.0)
    after = step(start, breathing(g_per_h), room, 60.0, minutes * 60)
    # The minutes are rounded to 0.01, in which 4 ppm go.
    assert after.co2_ppm == pytest.approx(800.0, abs=4.0)


@pytest.mark.parametrize(("volumes", "replaced"), [(1, 0.632), (3, 0.950), (5, 0.993)])
def test_so_many_volumes_replace_so_much(volumes: float, replaced: float) -> None:
    start = state_of(20.0, 50.0, 1425.0, 0.0)
    after = step(start, BARE, ROOM, volumes, 3600.0)
    assert (1425.0 - after.co2_ppm) / 1000 == pytest.approx(replaced, abs=0.0005)


def test_mist_dose() -> None:
    """0.5 m3 at 20 °C from 80 to 92 %: 0.12 x 2339 Pa x 0.5 / (461.5 x 293.15) = 1.037 g."""
    spec = replace(BARE, spray_to_air=1.0)
    after = mist(state_of(20.0, 80.0, 425.0, 0.0), spec, 1.037)
    assert after.humidity_pct == pytest.approx(92.0, abs=0.02)
    assert after.film_g == 0.0


def test_part_of_the_mist_wets_the_walls() -> None:
    start = state_of(20.0, 60.0, 425.0, 2.0)
    after = mist(start, TentSpec(spray_to_air=0.3), 5.0)
    assert after.film_g == pytest.approx(2.0 + 3.5)
    assert after.vapour_g_per_m3 == pytest.approx(start.vapour_g_per_m3 + 3.0)
    assert after.co2_ppm == start.co2_ppm


def test_what_is_too_much_runs_off() -> None:
    after = mist(state_of(20.0, 99.0, 425.0, 55.0), TentSpec(film_most_g=60.0), 500.0)
    assert after.film_g == 60.0
    assert after.humidity_pct == pytest.approx(100.0)


@pytest.mark.parametrize(("humidity_pct", "g_per_h"), [(90.0, 8.7), (50.0, 74.0)])
def test_evaporation_of_a_square_metre(humidity_pct: float, g_per_h: float) -> None:
    """Shah 2002, natural convection, coefficients from memory; 20 °C."""
    spec = replace(BARE, wet_area_m2=1.0)
    state = state_of(20.0, humidity_pct, 425.0, spec.film_most_g)
    assert evaporation_g_per_h(spec, state) == pytest.approx(g_per_h, rel=0.005)


def test_evaporation_needs_a_deficit_and_a_wet_surface() -> None:
    wet = replace(BARE, wet_area_m2=1.0)
    assert evaporation_g_per_h(wet, state_of(20.0, 100.0, 425.0, 30.0)) == 0.0
    assert evaporation_g_per_h(wet, state_of(20.0, 50.0, 425.0, 0.0)) == 0.0
    assert evaporation_g_per_h(replace(wet, fruit_kg=1.0), state_of(20.0, 50.0, 425.0, 0.0)) > 0


def test_respiration() -> None:
    """0.29 g/(kg h) of fruit and 0.05 of block at 20 °C, 2.5 times as much 10 K above."""
    spec = replace(BARE, fruit_kg=1.0, block_kg=2.0)
    assert respiration_g_per_h(spec, 20.0) == pytest.approx(0.39)
    assert respiration_g_per_h(spec, 30.0) == pytest.approx(0.39 * 2.5)
    assert respiration_g_per_h(spec, 10.0) == pytest.approx(0.39 / 2.5)


# ------------------------------------------------------------ what always holds

TEMPERATURE = st.floats(5.0, 35.0)
HUMIDITY = st.floats(10.0, 100.0)
FILM = st.floats(0.0, 50.0)


@given(t=TEMPERATURE, room_t=TEMPERATURE, humidity=HUMIDITY, film=FILM, dt=st.floats(0.0, 600.0))
def test_a_closed_tent_keeps_its_water(
    t: float, room_t: float, humidity: float, film: float, dt: float
) -> None:
    spec = TentSpec(fruit_kg=0.0, film_most_g=1000.0)
    start = state_of(t, humidity, 600.0, film)
    after = step(start, spec, replace(ROOM, temperature_c=room_t), 0.0, dt)
    assert water_g(after, spec) == pytest.approx(water_g(start, spec), abs=1e-9)
    assert after.film_g >= 0.0


@given(fruit=st.floats(0.0, 2.0), t=TEMPERATURE, hours=st.floats(0.0, 2.0))
def test_co2_of_a_closed_tent_is_source_times_time(fruit: float, t: float, hours: float) -> None:
    spec = replace(BARE, fruit_kg=fruit, heat_per_h=0.0)
    start = state_of(t, 90.0, 500.0, 0.0)
    after = step(start, spec, ROOM, 0.0, hours * 3600)
    grams = (after.co2_ppm - 500.0) * G_PER_PPM_M3 * spec.volume_m3
    assert grams == pytest.approx(respiration_g_per_h(spec, t) * hours, rel=1e-4, abs=1e-9)


@given(
    fruit=st.floats(0.0, 2.0),
    start_ppm=st.floats(300.0, 5000.0),
    room_ppm=st.floats(400.0, 2000.0),
    n=st.floats(0.1, 60.0),
    more=st.floats(0.0, 60.0),
)
def test_more_fan_never_raises_the_co2_end_value(
    fruit: float, start_ppm: float, room_ppm: float, n: float, more: float
) -> None:
    spec, room = replace(BARE, fruit_kg=fruit), replace(ROOM, co2_ppm=room_ppm)
    start = state_of(20.0, 90.0, start_ppm, 0.0)
    less_fan = step(start, spec, room, n, 1e7).co2_ppm
    more_fan = step(start, spec, room, n + more, 1e7).co2_ppm
    assert more_fan <= less_fan + 1e-9
    assert more_fan >= room_ppm - 1e-9


CASES: Final = [
    pytest.param(state_of(19.0, 90.0, 650.0, 15.0), ROOM, 0.7, id="closed"),
    pytest.param(state_of(19.0, 90.0, 1650.0, 15.0), ROOM, 4.0, id="leaky"),
    pytest.param(state_of(19.0, 90.0, 1650.0, 15.0), ROOM, 30.0, id="open front"),
    pytest.param(state_of(20.0, 55.0, 650.0, 30.0), ROOM, 0.7, id="wet walls, dry air"),
    pytest.param(
        state_of(16.0, 80.0, 650.0, 5.0), RoomAir(24.0, 60.0, 900.0), 8.0, id="warm room"
    ),
]


@pytest.mark.parametrize(("start", "room", "n"), CASES)
def test_the_result_hardly_depends_on_the_step(start: TentState, room: RoomAir, n: float) -> None:
    spec = TentSpec()
    coarse, fine = step(start, spec, room, n, 60.0), start
    for _ in range(60):
        fine = step(fine, spec, room, n, 1.0)
    for name in ("temperature_c", "vapour_g_per_m3", "co2_ppm"):
        begun, one, sixty = (getattr(state, name) for state in (start, coarse, fine))
        assert one - begun == pytest.approx(sixty - begun, rel=0.01), name


def test_fog_settles_on_the_walls() -> None:
    """Warm wet air that cools keeps its water, the rest stands on the walls."""
    spec, start = BARE, state_of(24.0, 98.0, 425.0, 1.0)
    after = step(start, spec, replace(ROOM, temperature_c=10.0), 0.0, 3600.0)
    assert after.temperature_c < 13.0
    assert after.humidity_pct == pytest.approx(100.0)
    assert after.film_g > 4.0
    assert water_g(after, spec) == pytest.approx(water_g(start, spec), abs=1e-9)


def test_no_more_evaporates_than_is_there() -> None:
    spec = replace(BARE, wet_area_m2=5.0, film_most_g=0.1)
    start = state_of(20.0, 30.0, 425.0, 0.05)
    after = step(start, spec, ROOM, 0.0, 600.0)
    assert after.film_g == 0.0
    assert water_g(after, spec) == pytest.approx(water_g(start, spec), abs=1e-9)


def test_dry_walls_and_no_air_leave_the_water_as_it_is() -> None:
    start = state_of(20.0, 70.0, 425.0, 0.0)
    after = step(start, BARE, ROOM, 0.0, 600.0)
    assert after.vapour_g_per_m3 == start.vapour_g_per_m3


def test_mushrooms_alone_wet_the_air_of_dry_walls() -> None:
    spec, start = replace(BARE, fruit_kg=1.0), state_of(20.0, 70.0, 425.0, 0.0)
    after = lived(start, spec, ROOM, 0.0, 30)
    assert start.humidity_pct < after.humidity_pct < 100.0
    assert after.film_g == 0.0
