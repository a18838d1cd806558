"""The water that stands, minute by minute, against the film of a tent."""

from dataclasses import replace
from datetime import timedelta
from typing import Final

import pytest

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.holding import FILM_MOST_G_PER_M2
from chamberwatch.core.air.knowledge import Knowledge, assumed
from chamberwatch.core.air.tent import (
    RoomAir,
    TentSpec,
    TentState,
    live,
    state_of,
    vapour_g_per_m3,
)
from chamberwatch.core.watch.device import Supply
from chamberwatch.core.watch.ledger import (
    SLOPE_OVER,
    Ledger,
    Minute,
    balance_of,
    passed,
    put,
    standing_now_g,
)
from tests.make import at

ROOM: Final = RoomAir(20.0, 45.0, 430.0)
ROOM_VAPOUR: Final = vapour_g_per_m3(20.0, 45.0)
MEASURED: Final = replace(
    assumed(0.5, 1.0),
    wet_area_m2=Figure(0.5, 0.4, 0.6, Origin.MEASURED, 3),
    standing_share=Figure(1.0, 0.9, 1.1, Origin.MEASURED, 3),
)
SPEC: Final = TentSpec(
    volume_m3=0.5,
    wet_area_m2=0.5,
    film_most_g=0.5 * FILM_MOST_G_PER_M2,
    fruit_kg=0.0,
    block_kg=0.0,
    cover_w_per_k=1e6,
    heat_j_per_k=1e9,
)


def minute(number: float, humidity_pct: float) -> Minute:
    return Minute(at(number), humidity_pct, 20.0, vapour_g_per_m3(20.0, humidity_pct), ROOM_VAPOUR)


def booked(
    ledger: Ledger, humidities: list[float], known: Knowledge, low_pct: float | None = 80.0
) -> Ledger:
    for number, humidity in enumerate(humidities):
        ledger = passed(ledger, minute(number, humidity), known, low_pct)
    return ledger


# ------------------------------------------------------------ against the tent model


@pytest.mark.parametrize("every_min", [1, 5], ids=["each minute", "a slow sensor"])
@pytest.mark.parametrize(
    ("film_g", "leak_per_h"),
    [
        pytest.param(40.0, 1.0, id="lasts the night"),
        pytest.param(25.0, 2.0, id="dries"),
        pytest.param(15.0, 0.5, id="hardly dries"),
    ],
)
def test_standing_water_follows_the_film(film_g: float, leak_per_h: float, every_min: int) -> None:
    """Within a quarter of the film, or 2 g once it is thin, over eight hours of drying."""
    known = replace(MEASURED, leak_per_h=Figure.declared(leak_per_h))
    state = state_of(20.0, 90.0, 430.0, film_g)
    ledger = Ledger(film_g)
    for number in range(0, 8 * 60, every_min):
        ledger = passed(ledger, minute(number, state.humidity_pct), known, 80.0)
        assert ledger.standing_g == pytest.approx(state.film_g, rel=0.25, abs=2.0), number
        state = live(state, SPEC, ROOM, leak_per_h, 6.0, 10 * every_min)


def test_an_overstated_misting_is_found_out() -> None:
    """40 g were booked, 10 g stood: when the air falls, the ledger comes down to what is wet."""
    state: TentState = state_of(20.0, 90.0, 430.0, 10.0)
    ledger = Ledger(40.0)
    for number in range(6 * 60):
        ledger = passed(ledger, minute(number, state.humidity_pct), MEASURED, 80.0)
        state = live(state, SPEC, ROOM, 1.0, 6.0, 10)
    assert state.film_g < 1.0
    assert ledger.standing_g < 2.0


# ------------------------------------------------------------ one by one


def test_put_counts_its_share_and_runs_off() -> None:
    balance = balance_of(minute(0, 85.0), MEASURED)
    half = replace(MEASURED, standing_share=Figure.declared(0.5))
    before = Ledger(5.0, (minute(0, 85.0),), ((1.0, 2.0),))
    assert put(before, 20.0, half, balance) == Ledger(15.0)
    assert put(before, 500.0, half, balance) == Ledger(60.0)


def test_balance_counts_leakage_and_devices() -> None:
    balance = balance_of(replace(minute(0, 85.0), supply=Supply(3.0, 12.0)), MEASURED)
    assert (balance.air_changes_per_h, balance.devices_g_per_h) == (4.0, 12.0)
    assert (balance.wet_area_m2, balance.room_vapour_g_per_m3) == (0.5, ROOM_VAPOUR)


def test_a_fan_carries_off_only_in_the_minutes_it_runs() -> None:
    """Ten minutes of 6 /h beyond 1 /h of leakage carry off seven times as much as without."""
    calm, fanned, known = Ledger(40.0), Ledger(40.0), assumed(0.5, 1.0)
    for number in range(20):
        each = minute(number, 85.0)
        calm = passed(calm, each, known, 60.0)
        supply = Supply(6.0) if number >= 10 else Supply()
        fanned = passed(fanned, replace(each, supply=supply), known, 60.0)
    lost, calm_lost = 40.0 - fanned.standing_g, 40.0 - calm.standing_g
    assert lost == pytest.approx(calm_lost * (9 + 10 * 7) / 19, rel=0.001)


def test_the_first_minute_is_only_remembered() -> None:
    assert passed(Ledger(10.0), minute(0, 85.0), MEASURED, 80.0) == Ledger(
        10.0, (minute(0, 85.0),)
    )


def test_fresh_air_goes_on_while_the_sensor_is_silent() -> None:
    """An hour at 85 % in a room at 45 %: 1 /h 0.5 m3 0.4 17.3 g/m3 = 3.5 g."""
    ledger = booked(Ledger(20.0), [85.0] * 3, MEASURED)
    after = passed(ledger, minute(62, 85.0), MEASURED, 80.0)
    assert ledger.standing_g - after.standing_g == pytest.approx(3.46, abs=0.03)
    assert (after.recent, after.given) == ((minute(62, 85.0),), ())


def test_no_water_below_nought() -> None:
    assert booked(Ledger(0.01), [85.0] * 30, MEASURED).standing_g == 0.0


def test_a_wetter_room_books_nothing() -> None:
    ledger = Ledger(10.0)
    for number in range(30):
        wet = replace(minute(number, 85.0), room_vapour_g_per_m3=17.0)
        ledger = passed(ledger, wet, MEASURED, 80.0)
    assert ledger.standing_g == 10.0


def test_a_vented_chamber_tells_nothing() -> None:
    """Losing 20 % in ten minutes it is open: the water on its walls need not be gone."""
    calm = booked(Ledger(30.0), [90.0] * 20, MEASURED)
    ledger = calm
    for number in range(20, 30):
        falling = minute(number, 90.0 - 2.0 * (number - 19))
        ledger = passed(ledger, falling, MEASURED, 80.0)
    assert ledger.given == ()
    assert 0 < len(ledger.recent) < SLOPE_OVER
    assert calm.standing_g - ledger.standing_g < 1.0


FALLING: Final = [75.0 - 0.1 * k for k in range(20)]
"""Dry walls lose half a percent a minute here; these give most of what is carried off."""


@pytest.mark.parametrize(
    ("known", "low_pct", "held_to_it"),
    [
        pytest.param(MEASURED, 60.0, True, id="a learnt area"),
        pytest.param(MEASURED, None, True, id="a learnt area, nothing judged"),
        pytest.param(assumed(0.5, 1.0), 80.0, True, id="an assumed one, below the band"),
        pytest.param(assumed(0.5, 1.0), 60.0, False, id="an assumed one, in the band"),
        pytest.param(assumed(0.5, 1.0), None, False, id="an assumed one, nothing judged"),
    ],
)
def test_what_is_seen_limits_what_can_stand(
    known: Knowledge, low_pct: float | None, held_to_it: bool
) -> None:
    """At 74 % 0.5 m2 would give 14 g/h; so little comes that hardly a tenth can be wet."""
    ledger = booked(Ledger(40.0), FALLING, known, low_pct)
    assert (ledger.standing_g < 5.0) is held_to_it


def test_a_moment_of_noise_is_not_enough() -> None:
    short = booked(Ledger(40.0), FALLING[: SLOPE_OVER + 2], MEASURED)
    assert short.standing_g > 35.0


def test_saturated_air_tells_nothing() -> None:
    assert booked(Ledger(40.0), [100.0] * 20, MEASURED).standing_g > 35.0


# ------------------------------------------------------------ this moment


@pytest.mark.parametrize(
    ("known", "humidity_pct", "per_h", "least", "most"),
    [
        pytest.param(MEASURED, 75.0, -20.0, 0.0, 3.0, id="falling: hardly any stands"),
        pytest.param(MEASURED, 75.0, 0.0, 2.0, 5.0, id="steady: a part is wet"),
        pytest.param(MEASURED, 85.0, 30.0, 40.0, 40.0, id="rising: all of it may be"),
        pytest.param(MEASURED, 75.0, -90.0, 40.0, 40.0, id="vented: nothing can be told"),
        pytest.param(assumed(0.5, 1.0), 75.0, -20.0, 0.0, 3.0, id="assumed, below the band"),
        pytest.param(assumed(0.5, 1.0), 85.0, -20.0, 40.0, 40.0, id="assumed, in the band"),
    ],
)
def test_standing_now(
    known: Knowledge, humidity_pct: float, per_h: float, least: float, most: float
) -> None:
    balance = balance_of(minute(0, humidity_pct), known)
    standing = standing_now_g(40.0, balance, known, (humidity_pct, per_h), 80.0)
    assert least <= standing <= most


def test_times_of_minutes_need_not_be_whole() -> None:
    one, other = minute(0, 85.0), minute(0.5, 85.0)
    ledger = passed(Ledger(10.0, (one,)), other, MEASURED, 80.0)
    hours = timedelta(seconds=30) / timedelta(hours=1)
    assert 10.0 - ledger.standing_g == pytest.approx(3.46 * hours, rel=0.02)
