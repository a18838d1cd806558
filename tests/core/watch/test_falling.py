"""Falling air bounds the leakage from below: against the tent model, and what must not fool it."""

from dataclasses import replace
from datetime import timedelta
from typing import Final

import pytest

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import assumed
from chamberwatch.core.air.tent import RoomAir, TentSpec, live, state_of, vapour_g_per_m3
from chamberwatch.core.watch.device import NO_DEVICES, Supply
from chamberwatch.core.watch.falling import Falling, held_to_falling, least_per_h
from chamberwatch.core.watch.ledger import Minute
from tests.make import at

ROOM: Final = RoomAir(20.0, 45.0, 430.0)
SPEC: Final = TentSpec(
    volume_m3=0.5,
    wet_area_m2=0.5,
    film_most_g=60.0,
    fruit_kg=0.0,
    block_kg=0.0,
    cover_w_per_k=1e6,
    heat_j_per_k=1e9,
)


def minute(
    number: float, humidity_pct: float, room_pct: float = 45.0, supply: Supply = NO_DEVICES
) -> Minute:
    vapour, room = vapour_g_per_m3(20.0, humidity_pct), vapour_g_per_m3(20.0, room_pct)
    return Minute(at(number), humidity_pct, 20.0, vapour, room, supply=supply)


def lived(
    film_g: float, per_h: list[float], humidity_pct: float = 90.0, room_pct: float = 45.0
) -> list[Minute]:
    """Let a tent live, a minute for each number of air changes."""
    state, minutes = state_of(20.0, humidity_pct, 800.0, film_g), []
    for number, changes in enumerate(per_h):
        state = live(state, SPEC, ROOM, changes, 10.0, 6)
        minutes.append(minute(number, state.humidity_pct, room_pct))
    return minutes


def taken_in(minutes: list[Minute]) -> Falling:
    falling = Falling()
    for one in minutes:
        falling = falling.passed(one)
    return falling


@pytest.mark.parametrize("leak_per_h", [0.2, 0.5, 1.3, 2.0])
@pytest.mark.parametrize("every", [1, 3], ids=["each minute", "a slow sensor"])
def test_a_dry_tent_shows_half_of_its_leak_or_more(leak_per_h: float, every: int) -> None:
    found = taken_in(lived(0.0, [leak_per_h] * 45)[::every]).least_per_h
    assert 0.5 * leak_per_h <= found <= 0.8 * leak_per_h


@pytest.mark.parametrize("room_pct", [35.0, 45.0, 55.0])
def test_a_room_that_is_guessed_leaves_it_a_lower_bound(room_pct: float) -> None:
    """The room has 45 %; assumed is what is given."""
    found = taken_in(lived(0.0, [1.0] * 45, room_pct=room_pct)).least_per_h
    assert 0.5 <= found <= 1.0


@pytest.mark.parametrize(
    ("film_g", "per_h"),
    [
        pytest.param(40.0, [0.5] * 90, id="wet walls hold it"),
        pytest.param(0.5, [0.5] * 90, id="a little water"),
        pytest.param(40.0, [0.5] * 30 + [15.0] * 15 + [0.5] * 45, id="a venting"),
        pytest.param(0.0, [0.5] * 30 + [15.0] * 15 + [0.5] * 45, id="a venting of a dry tent"),
    ],
)
def test_it_never_says_more_than_there_is(film_g: float, per_h: list[float]) -> None:
    assert taken_in(lived(film_g, per_h)).least_per_h <= 0.5


@pytest.mark.parametrize(
    "minutes",
    [
        pytest.param([], id="nothing heard"),
        pytest.param([minute(n, 90.0 - 0.3 * n) for n in range(20)], id="too short"),
        pytest.param([minute(n, 90.0 - 0.3 * n) for n in range(0, 30, 6)], id="too few"),
        pytest.param([minute(n, 99.9 - 0.05 * n) for n in range(30)], id="nearly saturated"),
        pytest.param([minute(n, 90.0 - 0.3 * n, 85.0) for n in range(30)], id="a damp room"),
        pytest.param([minute(n, 70.0 + 0.3 * n) for n in range(30)], id="it rises"),
    ],
)
def test_what_shows_nothing(minutes: list[Minute]) -> None:
    assert least_per_h(minutes) == 0.0


def test_what_fans_gave_is_no_leakage() -> None:
    without = lived(0.0, [1.0] * 30)
    beside = [replace(one, supply=Supply(air_changes_per_h=0.6)) for one in without]
    assert least_per_h(beside) == pytest.approx(least_per_h(without) - 0.9 * 0.6, abs=1e-9)


def test_a_gap_begins_anew() -> None:
    minutes = lived(0.0, [1.0] * 50)
    assert taken_in([*minutes[:20], *minutes[30:]]).least_per_h == 0.0


def test_it_is_believed_for_a_day() -> None:
    falling = taken_in(lived(0.0, [1.0] * 40))
    assert falling.at is not None
    later = replace(minute(0, 80.0), time=falling.at + timedelta(hours=24))
    assert falling.passed(later).least_per_h == falling.least_per_h
    too_late = replace(later, time=later.time + timedelta(minutes=1))
    assert falling.passed(too_late).least_per_h == 0.0


# ------------------------------------------------------------ what is made of it

MEASURED: Final = replace(
    assumed(0.5),
    leak_per_h=Figure(0.1, 0.05, 0.2, Origin.MEASURED, 4),
    wet_area_m2=Figure(0.02, 0.01, 0.03, Origin.MEASURED, 4),
)


def test_leak_and_area_that_were_learnt_together_grow_together() -> None:
    known = held_to_falling(MEASURED, Falling(least_per_h=1.0, at=at(0)))
    leak, area = known.leak_per_h, known.wet_area_m2
    assert (leak.value, leak.low, leak.high) == (1.0, 1.0, 1.5)
    assert (area.value, area.low, area.high) == pytest.approx((0.2, 0.1, 0.3))


def test_an_area_that_was_assumed_stays() -> None:
    known = held_to_falling(assumed(0.5), Falling(least_per_h=2.5, at=at(0)))
    assert known.leak_per_h.value == 2.5
    assert known.leak_per_h.high == 3.75
    assert known.wet_area_m2 == assumed(0.5).wet_area_m2


@pytest.mark.parametrize(
    ("known", "least"),
    [
        pytest.param(MEASURED, 0.0, id="nothing fell"),
        pytest.param(MEASURED, 0.09, id="less than is known"),
        pytest.param(assumed(0.5, 0.3), 1.0, id="declared"),
    ],
)
def test_else_all_stays(known: object, least: float) -> None:
    assert held_to_falling(known, Falling(least_per_h=least)) is known  # type: ignore[arg-type]
