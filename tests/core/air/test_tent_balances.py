"""What the balances of the tent must keep: water, energy, order, and the size of the step."""

import math
from dataclasses import fields, replace
from typing import Final

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from chamberwatch.core.air.tent import (
    AIR_J_PER_M3_K,
    CO2_G_PER_M3_PPM,
    LATENT_J_PER_G,
    RESPIRED_J_PER_G,
    RoomAir,
    Supply,
    TentSpec,
    TentState,
    evaporation_g_per_h,
    live,
    mist,
    respiration_g_per_h,
    saturated_g_per_m3,
    state_of,
    step,
    vapour_g_per_m3,
    wet,
)

ROOM: Final = RoomAir(20.0, 50.0, 425.0)
STANDING: Final = TentSpec(wet_area_m2=0.0, fruit_kg=0.0, block_kg=0.0, heat_j_per_k=1e12)
"""Nothing in it gives off water, and its temperature stands."""
LIFELESS: Final = TentSpec(fruit_kg=0.0, block_kg=0.0, film_most_g=1e6, cover_w_per_k=0.0)
"""A closed box: no heat passes, nothing breathes, nothing runs off."""
DRAWS: Final = ("temperature_c", "vapour_g_per_m3", "co2_ppm")

TEMPERATURE = st.floats(5.0, 35.0)
HUMIDITY = st.floats(10.0, 100.0)
FILM = st.floats(0.0, 50.0)


def water_g(state: TentState, spec: TentSpec) -> float:
    return state.vapour_g_per_m3 * spec.volume_m3 + state.film_g


def energy_j(state: TentState, spec: TentSpec) -> float:
    """Return the energy above dry air and liquid water at 0 °C: of warmth, and of vapour."""
    capacity = AIR_J_PER_M3_K * spec.volume_m3 + spec.heat_j_per_k
    vapour = state.vapour_g_per_m3 * spec.volume_m3
    return capacity * state.temperature_c + LATENT_J_PER_G * vapour


# ------------------------------------------------------------ conservation


@given(
    start=st.builds(state_of, TEMPERATURE, HUMIDITY, st.just(600.0), FILM),
    grams=st.floats(0.0, 60.0),
    to_air=st.floats(0.2, 0.6),
    heat_j_per_k=st.sampled_from([0.0, 500.0, 15_000.0]),
    dt_s=st.floats(0.1, 600.0),
    heat_w=st.sampled_from([0.0, 40.0, -40.0]),
)
@example(state_of(20.0, 100.0, 600.0, 0.0), 0.0, 0.3, 0.0, 60.0, -1.0)
@example(state_of(20.0, 10.0, 600.0, 0.01), 0.0, 0.3, 0.0, 600.0, 0.0)
def test_misting_then_mixing_conserves_water_and_energy(
    start: TentState, grams: float, to_air: float, heat_j_per_k: float, dt_s: float, heat_w: float
) -> None:
    """Through evaporation and condensation alike, to 1e-9, with a device that warms or cools."""
    spec = replace(LIFELESS, spray_to_air=to_air, heat_j_per_k=heat_j_per_k)
    if not heat_j_per_k:
        heat_w /= 100.0  # air alone would leave the range of any tent
    misted = mist(start, spec, grams)
    assert water_g(misted, spec) == pytest.approx(water_g(start, spec) + grams, rel=1e-9)
    assert energy_j(misted, spec) == pytest.approx(energy_j(start, spec), rel=1e-9)
    assert misted.humidity_pct <= max(start.humidity_pct, 100.0) + 1e-9
    after, lived_s = misted, 0.0
    for _ in range(5):
        after, lived_s = step(after, spec, ROOM, 0.0, dt_s, Supply(0.0, heat_w)), lived_s + dt_s
        assert water_g(after, spec) == pytest.approx(water_g(misted, spec), rel=1e-9, abs=1e-9)
        given_j = heat_w * lived_s
        assert energy_j(after, spec) - given_j == pytest.approx(
            energy_j(misted, spec), rel=1e-9, abs=1e-6
        )
        assert after.film_g >= 0.0
        assert after.humidity_pct <= 100.0 + 1e-9


@given(t=TEMPERATURE, room_t=TEMPERATURE, humidity=HUMIDITY, film=FILM, dt=st.floats(0.0, 600.0))
def test_a_closed_tent_keeps_its_water(
    t: float, room_t: float, humidity: float, film: float, dt: float
) -> None:
    spec = TentSpec(fruit_kg=0.0, film_most_g=1000.0)
    start = state_of(t, humidity, 600.0, film)
    after = step(start, spec, replace(ROOM, temperature_c=room_t), 0.0, dt)
    assert water_g(after, spec) == pytest.approx(water_g(start, spec), abs=1e-9)
    assert after.film_g >= 0.0


@given(water=st.floats(0.0, 80.0), humidity=HUMIDITY, dt=st.floats(1.0, 600.0))
def test_what_a_humidifier_gives_is_all_there(water: float, humidity: float, dt: float) -> None:
    start, supply = state_of(18.0, humidity, 600.0, 5.0), Supply(water_g_per_h=water)
    after = live(start, LIFELESS, ROOM, 0.0, dt, 10, supply)
    grams = water * dt / 360.0
    assert water_g(after, LIFELESS) == pytest.approx(water_g(start, LIFELESS) + grams, rel=1e-9)
    # It comes as a liquid, which brings no heat.
    assert energy_j(after, LIFELESS) == pytest.approx(energy_j(start, LIFELESS), rel=1e-9)


def test_an_open_tent_at_rest_balances() -> None:
    """What walls and fruit give is what fresh air carries off; watts in are watts out."""
    n, spec = 4.0, TentSpec(film_most_g=1e6, wet_area_m2=5e3)
    # So much water that the wetted share hardly changes in a day.
    spec = replace(spec, wet_area_m2=0.5 * 0.2 * spec.film_most_g / 1e5)
    at = live(state_of(20.0, 85.0, 500.0, 1e5), spec, ROOM, n, 60.0, 2000)
    after = step(at, spec, ROOM, n, 60.0)
    off = n * spec.volume_m3 * (at.vapour_g_per_m3 - vapour_g_per_m3(20.0, 50.0))
    assert evaporation_g_per_h(spec, at) == pytest.approx(off, rel=1e-4)
    fruit = evaporation_g_per_h(replace(spec, wet_area_m2=0.0), at)
    assert (at.film_g - after.film_g) * 60.0 == pytest.approx(off - fruit, rel=1e-4)
    loss_w = (20.0 + n * 0.5 * AIR_J_PER_M3_K / 3600.0) * (20.0 - at.temperature_c)
    breath_w = respiration_g_per_h(spec, at.temperature_c) * RESPIRED_J_PER_G / 3600.0
    assert loss_w + breath_w == pytest.approx(off * LATENT_J_PER_G / 3600.0, rel=1e-4)


@given(fruit=st.floats(0.0, 2.0), t=TEMPERATURE, hours=st.floats(0.0, 2.0))
def test_co2_of_a_closed_tent_is_source_times_time(fruit: float, t: float, hours: float) -> None:
    spec = replace(STANDING, fruit_kg=fruit)
    after = step(state_of(t, 90.0, 500.0, 0.0), spec, ROOM, 0.0, hours * 3600)
    grams = (after.co2_ppm - 500.0) * CO2_G_PER_M3_PPM * spec.volume_m3
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
    spec, room = replace(STANDING, fruit_kg=fruit), replace(ROOM, co2_ppm=room_ppm)
    start = state_of(20.0, 90.0, start_ppm, 0.0)
    less_fan = step(start, spec, room, n, 1e7).co2_ppm
    more_fan = step(start, spec, room, n + more, 1e7).co2_ppm
    assert more_fan <= less_fan + 1e-9
    assert more_fan >= room_ppm - 1e-9


# ------------------------------------------------------------ the size of the step


CASES: Final = [
    pytest.param(state_of(19.0, 90.0, 650.0, 15.0), ROOM, 0.7, id="closed"),
    pytest.param(state_of(19.0, 90.0, 1650.0, 15.0), ROOM, 4.0, id="leaky"),
    pytest.param(state_of(19.0, 90.0, 1650.0, 15.0), ROOM, 30.0, id="open front"),
    pytest.param(state_of(20.0, 55.0, 650.0, 30.0), ROOM, 0.7, id="wet walls, dry air"),
    pytest.param(state_of(18.0, 90.0, 650.0, 0.0), ROOM, 2.0, id="dry walls"),
    pytest.param(state_of(19.0, 60.0, 650.0, 3.0), ROOM, 2.0, id="nearly dry walls"),
    pytest.param(
        state_of(16.0, 80.0, 650.0, 5.0), RoomAir(24.0, 60.0, 900.0), 8.0, id="warm room"
    ),
    pytest.param(
        state_of(20.0, 100.0, 650.0, 5.0), RoomAir(10.0, 60.0, 900.0), 0.0, id="fog on the walls"
    ),
    pytest.param(
        state_of(20.0, 100.0, 650.0, 5.0), RoomAir(12.0, 95.0, 900.0), 6.0, id="fog, and air"
    ),
]


@pytest.mark.parametrize("heat_j_per_k", [15_000.0, 3_000.0])
@pytest.mark.parametrize(("start", "room", "n"), CASES)
def test_a_minute_is_sixty_seconds(
    start: TentState, room: RoomAir, n: float, heat_j_per_k: float
) -> None:
    spec = TentSpec(heat_j_per_k=heat_j_per_k)
    coarse, fine = step(start, spec, room, n, 60.0), live(start, spec, room, n, 1.0, 60)
    for name in (*DRAWS, "film_g"):
        begun, one, sixty = (getattr(state, name) for state in (start, coarse, fine))
        assert one - begun == pytest.approx(sixty - begun, rel=0.01, abs=1e-4), name


@pytest.mark.parametrize(("start", "room", "n"), CASES)
def test_nor_do_six_hours_drift(start: TentState, room: RoomAir, n: float) -> None:
    spec = TentSpec()
    coarse = live(start, spec, room, n, 60.0, 360)
    fine = live(start, spec, room, n, 5.0, 6 * 720)
    assert coarse.temperature_c == pytest.approx(fine.temperature_c, abs=0.002)
    assert coarse.humidity_pct == pytest.approx(fine.humidity_pct, abs=0.05)
    assert coarse.co2_ppm == pytest.approx(fine.co2_ppm, abs=0.5)
    assert coarse.film_g == pytest.approx(fine.film_g, abs=0.1)


def plainly(state: TentState, spec: TentSpec, room: RoomAir, n: float, seconds: int) -> TentState:
    """Solve the balances as a textbook states them, by many small steps along the rates."""
    t, v, c, film = state.temperature_c, state.vapour_g_per_m3, state.co2_ppm, state.film_g
    capacity, volume = AIR_J_PER_M3_K * spec.volume_m3 + spec.heat_j_per_k, spec.volume_m3
    incoming, hours = vapour_g_per_m3(room.temperature_c, room.humidity_pct), 0.1 / 3600.0
    for _ in range(seconds * 10):
        at = TentState(t, v, c, film)
        fruit = evaporation_g_per_h(replace(spec, wet_area_m2=0.0), at)
        walls = evaporation_g_per_h(replace(spec, fruit_kg=0.0), at)
        if v > saturated_g_per_m3(t):  # settles within a second
            walls = (saturated_g_per_m3(t) - v) * volume * 3600.0
        breath = respiration_g_per_h(spec, t)
        loss_w = (spec.cover_w_per_k + n * volume * AIR_J_PER_M3_K / 3600.0) * (
            t - room.temperature_c
        )
        watts = (breath * RESPIRED_J_PER_G - (fruit + walls) * LATENT_J_PER_G) / 3600.0 - loss_w
        t += watts * hours * 3600.0 / capacity
        v += (n * (incoming - v) + (fruit + walls) / volume) * hours
        c += (n * (room.co2_ppm - c) + breath / (CO2_G_PER_M3_PPM * volume)) * hours
        film = max(film - walls * hours, 0.0)
    return TentState(t, v, c, film)


@pytest.mark.parametrize(("start", "room", "n"), CASES)
def test_it_solves_the_balances_as_stated(start: TentState, room: RoomAir, n: float) -> None:
    """Against small steps of the stated equations, which share nothing with the exact ones."""
    spec = TentSpec(heat_j_per_k=6_000.0)
    stated, solved = plainly(start, spec, room, n, 600), live(start, spec, room, n, 60.0, 10)
    for name in (*DRAWS, "film_g"):
        begun, slow, fast = (getattr(state, name) for state in (start, stated, solved))
        assert fast - begun == pytest.approx(slow - begun, rel=0.01, abs=1e-3), name


@given(
    start=st.builds(state_of, TEMPERATURE, HUMIDITY, st.just(600.0), FILM),
    room=st.builds(RoomAir, TEMPERATURE, HUMIDITY, st.just(500.0)),
    n=st.one_of(st.just(0.0), st.floats(0.0, 200.0)),
    dt_s=st.floats(0.0, 1e7),
    heat_j_per_k=st.sampled_from([0.0, 15_000.0, 1e12]),
)
@example(state_of(20.0, 20.0, 600.0, 1e-3), ROOM, 0.0, 1e7, 0.0)
def test_no_step_is_too_long(
    start: TentState, room: RoomAir, n: float, dt_s: float, heat_j_per_k: float
) -> None:
    """However long the step: the air stays between what it was, the room, and a wet surface."""
    spec = TentSpec(heat_j_per_k=heat_j_per_k, fruit_kg=0.1, block_kg=1.0)
    after = start
    for _ in range(4):
        after = step(after, spec, room, n, dt_s)
        assert all(math.isfinite(getattr(after, field.name)) for field in fields(TentState))
        assert 0.0 < after.humidity_pct <= 100.0 + 1e-9
        assert 0.0 <= after.film_g <= spec.film_most_g
        # 1 K for the breath, and evaporation cools no deeper than some 15 K.
        coldest, warmest = sorted((start.temperature_c, room.temperature_c))
        assert coldest - 18.0 < after.temperature_c < warmest + 18.0


def test_living_is_stepping() -> None:
    start, spec, supply = state_of(19.0, 90.0, 650.0, 3.0), TentSpec(), Supply(5.0, 8.0)
    stepped = start
    for _ in range(50):
        stepped = step(stepped, spec, ROOM, 3.0, 20.0, supply)
    assert live(start, spec, ROOM, 3.0, 20.0, 50, supply) == stepped
    assert live(start, spec, ROOM, 3.0, 20.0, 0) == start


# ------------------------------------------------------------ where a balance turns


def test_fog_settles_on_the_walls() -> None:
    """Warm wet air that cools keeps its water, the rest stands on the walls."""
    spec, start = replace(LIFELESS, cover_w_per_k=20.0), state_of(24.0, 98.0, 425.0, 1.0)
    after = live(start, spec, replace(ROOM, temperature_c=10.0), 0.0, 60.0, 120)
    assert after.temperature_c < 13.0
    assert after.humidity_pct == pytest.approx(100.0, abs=0.01)
    assert after.film_g > 4.0
    assert water_g(after, spec) == pytest.approx(water_g(start, spec), abs=1e-9)


def test_settling_slows_the_cooling() -> None:
    """A gram that settles in half a cubic metre gives back 2454 J."""
    cold = replace(ROOM, temperature_c=10.0)
    spec = replace(LIFELESS, cover_w_per_k=20.0)
    damp = live(state_of(24.0, 100.0, 425.0, 0.0), spec, cold, 0.0, 60.0, 10)
    dry = live(state_of(24.0, 20.0, 425.0, 0.0), spec, cold, 0.0, 60.0, 10)
    assert damp.temperature_c > dry.temperature_c + 0.3


def test_saturated_air_that_is_warmed_leaves_the_fog() -> None:
    start = state_of(16.0, 100.0, 425.0, 0.0)
    after = live(start, LIFELESS, ROOM, 0.0, 60.0, 30, Supply(heat_w=10.0))
    assert after.vapour_g_per_m3 == pytest.approx(start.vapour_g_per_m3, rel=1e-6)
    assert after.humidity_pct < 95.0
    assert after.film_g == pytest.approx(0.0, abs=1e-6)


def test_fog_that_is_blown_out_settles_first() -> None:
    """More water than the air can hold, and a fan: some of it ends on the walls."""
    start, spec = TentState(20.0, 25.0, 500.0, 5.0), TentSpec()
    after = step(start, spec, ROOM, 80.0, 60.0)
    assert after.film_g > start.film_g
    assert after.humidity_pct < 80.0


@pytest.mark.parametrize(
    ("start", "room", "n"),
    [
        pytest.param(
            state_of(26.0, 90.0, 600.0, 5.0), RoomAir(8.0, 30.0, 500.0), 4.0, id="cold and dry"
        ),
        pytest.param(
            state_of(10.0, 85.0, 600.0, 5.0), RoomAir(26.0, 60.0, 500.0), 30.0, id="warm and damp"
        ),
    ],
)
def test_air_that_fogs_and_clears_within_a_long_step(
    start: TentState, room: RoomAir, n: float
) -> None:
    """Ten minutes at once: coarse, but water does not come from nowhere."""
    spec = TentSpec(wet_area_m2=0.0, fruit_kg=0.0)
    after, fine = step(start, spec, room, n, 600.0), live(start, spec, room, n, 5.0, 120)
    assert after.film_g >= start.film_g
    assert after.temperature_c == pytest.approx(fine.temperature_c, abs=0.5)
    assert after.humidity_pct == pytest.approx(fine.humidity_pct, abs=5.0)


def test_more_water_than_the_walls_hold_runs_off() -> None:
    spec = replace(LIFELESS, film_most_g=2.0)
    after = live(state_of(24.0, 100.0, 425.0, 1.9), spec, ROOM, 0.0, 60.0, 60, Supply(0.0, -30.0))
    assert after.film_g == 2.0


def test_no_more_evaporates_than_is_there() -> None:
    spec = replace(LIFELESS, wet_area_m2=5.0, film_most_g=0.1)
    start = state_of(20.0, 30.0, 425.0, 0.05)
    after = step(start, spec, ROOM, 0.0, 600.0)
    assert after.film_g == 0.0
    assert water_g(after, spec) == pytest.approx(water_g(start, spec), abs=1e-9)


def test_the_last_of_the_film_goes_while_fruit_evaporates_on() -> None:
    spec = TentSpec(wet_area_m2=5.0, film_most_g=0.1, fruit_kg=1.0)
    start = state_of(20.0, 30.0, 425.0, 0.1)
    after = step(start, spec, ROOM, 0.0, 600.0)
    assert after.film_g == 0.0
    assert water_g(after, spec) > water_g(start, spec) + 0.1


def test_dry_walls_and_no_air_leave_the_water_as_it_is() -> None:
    start = state_of(20.0, 70.0, 425.0, 0.0)
    after = step(start, STANDING, ROOM, 0.0, 600.0)
    assert after.vapour_g_per_m3 == start.vapour_g_per_m3
    assert after.film_g == 0.0


def test_mushrooms_alone_wet_the_air_of_dry_walls() -> None:
    spec, start = replace(STANDING, fruit_kg=1.0), state_of(20.0, 70.0, 425.0, 0.0)
    after = live(start, spec, ROOM, 0.0, 6.0, 300)
    assert start.humidity_pct < after.humidity_pct < 100.0
    assert after.film_g == 0.0


def test_a_wet_tray_does_not_hold_four_changes() -> None:
    """0.1 m2 at 90 % yield about 1 g/h; four changes of 0.5 m3 carry off 14 g/h."""
    spec = replace(STANDING, wet_area_m2=0.1)
    start = wet(state_of(20.0, 90.0, 425.0, 0.0), spec, 60.0)
    after = live(start, spec, ROOM, 4.0, 60.0, 120)
    assert after.humidity_pct < 65.0
