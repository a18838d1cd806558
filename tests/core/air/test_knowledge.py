"""What a misting teaches of a chamber: the ways of a tent that are hidden from the learner."""

import math
import random
from dataclasses import replace
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.holding import FILM_MOST_G_PER_M2, Balance, course
from chamberwatch.core.air.knowledge import (
    LEAK_PER_H,
    SPRAY_SHARE,
    VENT_PER_H,
    Aftermath,
    Knowledge,
    Taught,
    assumed,
    learnt,
    pooled,
    spray_share_of,
    standing_after,
    taught_by,
)
from chamberwatch.core.air.tent import RoomAir, TentSpec, TentState, live, state_of

ROOM: Final = RoomAir(20.0, 45.0, 430.0)


def tent(area_m2: float, volume_m3: float = 0.5) -> TentSpec:
    """Return a tent that has wet walls and a steady temperature, and nothing else."""
    return TentSpec(
        volume_m3=volume_m3,
        wet_area_m2=area_m2,
        film_most_g=area_m2 * FILM_MOST_G_PER_M2,
        fruit_kg=0.0,
        block_kg=0.0,
        cover_w_per_k=1e6,
        heat_j_per_k=1e9,
    )


def record(
    spec: TentSpec, state: TentState, leak_per_h: float, minutes: int, step_min: int
) -> list[float]:
    seen = [state.humidity_pct]
    for _ in range(minutes // step_min):
        state = live(state, spec, ROOM, leak_per_h, 6.0, 10 * step_min)
        seen.append(state.humidity_pct)
    return seen


def aftermath(seen: list[float], step_min: int, standing_g: float) -> Aftermath:
    room = state_of(ROOM.temperature_c, ROOM.humidity_pct, 430.0, 0.0).vapour_g_per_m3
    return Aftermath(tuple(seen), float(step_min), standing_g, 20.0, room)


HIDDEN: Final = [
    pytest.param(0.5, 1.0, 1.0, 25.0, id="as assumed"),
    pytest.param(0.25, 0.8, 1.0, 12.0, id="less wet"),
    pytest.param(1.0, 1.2, 2.0, 30.0, id="wetter and leakier"),
    pytest.param(0.7, 0.7, 0.6, 40.0, id="slow, and much runs off"),
    pytest.param(0.25, 0.8, 1.0, 24.0, id="as wet as so little wall can be"),
]
"""Wet area [m2], share of the water that counts, air changes [1/h], water put down [g]."""


@pytest.mark.parametrize(("area_m2", "share", "leak_per_h", "put_g"), HIDDEN)
def test_a_course_without_noise_teaches_the_ways(
    area_m2: float, share: float, leak_per_h: float, put_g: float
) -> None:
    """The whole course, from wet walls to dry ones, with the leakage known to 10 % from CO2."""
    spec, start = tent(area_m2), state_of(20.0, 88.0, 430.0, put_g * share)
    seen = record(spec, start, leak_per_h, 600, 5)
    known = replace(
        assumed(0.5),
        leak_per_h=Figure(leak_per_h, leak_per_h * 0.8, leak_per_h * 1.25, Origin.MEASURED, 3),
    )
    taught = taught_by(aftermath(seen, 5, put_g), known)
    assert taught.wet_area_m2 == pytest.approx(area_m2, rel=0.10)
    assert taught.standing_share == pytest.approx(share, rel=0.10)
    assert taught.leak_per_h == pytest.approx(leak_per_h, rel=0.10)
    assert taught.rms_pct < 0.5


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("area_m2", "share", "leak_per_h", "put_g"), HIDDEN)
def test_a_noisy_course_teaches_them_roughly(
    area_m2: float, share: float, leak_per_h: float, put_g: float, seed: int
) -> None:
    """Noise of 0.5 % on every point, and leakage that the CO2 says 15 % wrong."""
    chance = random.Random(f"{area_m2} {seed}")  # noqa: S311 - no secret
    spec, start = tent(area_m2), state_of(20.0, 88.0, 430.0, put_g * share)
    seen = record(spec, start, leak_per_h, 600, 5)
    noisy = [min(one + chance.gauss(0.0, 0.5), 100.0) for one in seen]
    said = leak_per_h * chance.choice([0.85, 1.15])
    known = replace(
        assumed(0.5), leak_per_h=Figure(said, said * 0.75, said * 1.35, Origin.MEASURED, 2)
    )
    taught = taught_by(aftermath(noisy, 5, put_g), known)
    assert taught.wet_area_m2 == pytest.approx(area_m2, rel=0.35)
    assert taught.standing_share == pytest.approx(share, rel=0.35)
    assert taught.leak_per_h == pytest.approx(leak_per_h, rel=0.35)


@pytest.mark.parametrize(("area_m2", "share", "leak_per_h", "put_g"), HIDDEN)
def test_a_course_that_goes_on_teaches_the_same_as_one_that_is_drawn_anew(
    area_m2: float, share: float, leak_per_h: float, put_g: float
) -> None:
    chance = random.Random(f"{area_m2}")  # noqa: S311 - no secret
    spec, start = tent(area_m2), state_of(20.0, 88.0, 430.0, put_g * share)
    seen = [one + chance.gauss(0.0, 0.3) for one in record(spec, start, leak_per_h, 600, 5)]
    leak = Figure(leak_per_h, leak_per_h * 0.8, leak_per_h * 1.25, Origin.MEASURED, 3)
    known = replace(assumed(0.5), leak_per_h=leak)
    before = taught_by(aftermath(seen[:24], 5, put_g), known)
    anew = taught_by(aftermath(seen, 5, put_g), known)
    continued = taught_by(aftermath(seen, 5, put_g), known, before)
    assert continued.wet_area_m2 == pytest.approx(anew.wet_area_m2, rel=0.05)
    assert continued.standing_share == pytest.approx(anew.standing_share, rel=0.05)
    assert continued.leak_per_h == pytest.approx(anew.leak_per_h, rel=0.05)
    assert continued.rms_pct == pytest.approx(anew.rms_pct, abs=0.01)


def test_walls_that_were_never_wet_all_over_keep_their_secret() -> None:
    """13 g on 0.7 m2 wet a part of it, whatever the whole is; the water that counts is known."""
    spec, start = tent(0.7), state_of(20.0, 88.0, 430.0, 18.0 * 0.7)
    leak = Figure(0.6, 0.48, 0.75, Origin.MEASURED, 3)
    known = replace(assumed(0.5), leak_per_h=leak)
    taught = taught_by(aftermath(record(spec, start, 0.6, 600, 5), 5, 18.0), known)
    assert taught.standing_share == pytest.approx(0.7, rel=0.10)
    assert taught.leak_per_h == pytest.approx(0.6, rel=0.10)


def test_ten_minutes_teach_little() -> None:
    """While it stays near what was assumed, that is kept."""
    known = assumed(0.5)
    balance = Balance(0.5, 1.0, known.wet_area_m2.value, 20.0, 7.8)
    seen = [88.0, *(m.humidity_pct for m in course(balance, 88.0, 20.0, 10.0, 1.0))]
    taught = taught_by(replace(aftermath(seen, 1, 20.0), room_vapour_g_per_m3=7.8), known)
    assert taught.wet_area_m2 == pytest.approx(known.wet_area_m2.value, rel=0.1)
    assert taught.standing_share == pytest.approx(1.0, abs=0.1)


def test_devices_are_taken_into_account() -> None:
    """A fan and a humidifier explain the course; nothing else is to be learnt from them."""
    known = assumed(0.5)
    area = known.wet_area_m2.value
    balance = Balance(0.5, 4.0, area, 20.0, 7.8, 6.0)
    seen = [88.0, *(m.humidity_pct for m in course(balance, 88.0, 20.0, 300.0, 5.0))]
    one = replace(aftermath(seen, 5, 20.0), room_vapour_g_per_m3=7.8)
    taught = taught_by(replace(one, devices_g_per_h=6.0, devices_per_h=3.0), known)
    assert taught.wet_area_m2 == pytest.approx(area, rel=0.1)
    assert taught.leak_per_h == pytest.approx(1.0, rel=0.1)


@pytest.mark.parametrize(
    "known",
    [
        pytest.param(assumed(0.01), id="10 L"),
        pytest.param(assumed(4.0), id="4 m3"),
        pytest.param(assumed(0.5, wet_area_m2=0.0), id="nothing that can be wet"),
        pytest.param(assumed(0.5, 1.0, 10.0, 0.5), id="all declared"),
    ],
)
def test_whatever_came_before_something_finite_is_taught(known: Knowledge) -> None:
    taught = taught_by(aftermath([95.0, 80.0, 99.0, 60.0, 60.0, 60.0], 1, 5.0), known)
    for value in (taught.wet_area_m2, taught.standing_share, taught.leak_per_h, taught.rms_pct):
        assert math.isfinite(value)
        assert value >= 0.0


# ------------------------------------------------------------ what is known at first


def test_common_practice_first() -> None:
    known = assumed(0.5)
    assert (known.leak_per_h, known.vent_per_h, known.spray_share) == (
        LEAK_PER_H,
        VENT_PER_H,
        SPRAY_SHARE,
    )
    assert known.wet_area_m2.value == pytest.approx(0.8 * 0.5 ** (2 / 3))
    assert known.wet_area_m2.origin is Origin.ASSUMED
    assert known.source_g_per_h is None


def test_what_is_declared_is_taken() -> None:
    known = assumed(0.5, 1.5, 20.0, 0.3)
    figures = (known.leak_per_h, known.vent_per_h, known.wet_area_m2)
    assert [f.value for f in figures] == [1.5, 20.0, 0.3]
    assert {f.origin for f in figures} == {Origin.DECLARED}


# ------------------------------------------------------------ several say it together


@pytest.mark.parametrize(
    ("values", "value", "count"),
    [
        pytest.param([], 2.0, 0, id="none"),
        pytest.param([3.0], 3.0, 1, id="one"),
        pytest.param([2.0, 8.0], 4.0, 2, id="two: the geometric mean"),
        pytest.param([1.0, 1.1, 1.2, 1.15, 30.0], 1.15, 5, id="an odd one out"),
    ],
)
def test_pooled(values: list[float], value: float, count: int) -> None:
    figure = pooled(values, Figure.assumed(2.0, 1.0, 3.0))
    assert figure.value == pytest.approx(value)
    assert figure.count == count
    assert figure.origin is (Origin.MEASURED if values else Origin.ASSUMED)


@given(st.lists(st.floats(0.01, 100.0), min_size=1, max_size=9))
def test_a_pool_lies_within_its_values(values: list[float]) -> None:
    figure = pooled(values, LEAK_PER_H)
    assert min(values) * (1 - 1e-9) <= figure.value <= max(values) * (1 + 1e-9)
    assert figure.low <= figure.value <= figure.high
    assert figure == pooled(values[::-1], LEAK_PER_H)


# ------------------------------------------------------------ spray and standing water


@pytest.mark.parametrize(
    ("gain", "sprayed_g", "walls_g", "share"),
    [
        pytest.param(1.6, 2.0, 0.0, 0.4, id="0.8 g of 2 g"),
        pytest.param(1.6, 2.0, 0.2, 0.3, id="some came from the walls"),
        pytest.param(0.1, 5.0, 0.0, 0.1, id="hardly any: no less than a tenth"),
        pytest.param(9.0, 2.0, 0.0, 1.0, id="more than was sprayed: all of it"),
        pytest.param(1.6, 0.0, 0.0, None, id="nothing sprayed"),
    ],
)
def test_share_of_a_spray(
    gain: float, sprayed_g: float, walls_g: float, share: float | None
) -> None:
    found = spray_share_of(gain, sprayed_g, 0.5, walls_g)
    assert found == (None if share is None else pytest.approx(share))


@pytest.mark.parametrize(
    ("standing", "put", "carried", "gained", "expected"),
    [
        pytest.param(10.0, 20.0, 0.0, 0.0, 30.0, id="put down"),
        pytest.param(10.0, 60.0, 0.0, 0.0, 40.0, id="runs off"),
        pytest.param(50.0, 5.0, 0.0, 0.0, 50.0, id="more than fits stood already"),
        pytest.param(10.0, 0.0, 3.0, 1.0, 6.0, id="carried off and gained by the air"),
        pytest.param(10.0, 0.0, 30.0, 0.0, 0.0, id="used up"),
        pytest.param(10.0, 0.0, -3.0, 0.0, 10.0, id="a wetter room wets no walls"),
    ],
)
def test_standing_after(
    standing: float, put: float, carried: float, gained: float, expected: float
) -> None:
    assert standing_after(standing, put, carried, gained, 40.0) == pytest.approx(expected)


# ------------------------------------------------------------ the record has spoken


def test_a_silent_record_changes_nothing() -> None:
    known = assumed(0.5)
    assert (
        learnt(
            known, leak_per_h=None, vents_per_h=(), source_g_per_h=None, taught=(), spray_shares=()
        )
        == known
    )


def test_all_that_was_learnt() -> None:
    co2 = Figure(1.4, 1.2, 1.6, Origin.MEASURED, 7)
    source = Figure(0.2, 0.15, 0.25, Origin.MEASURED, 2)
    known = learnt(
        assumed(0.5),
        leak_per_h=co2,
        vents_per_h=[20.0],
        source_g_per_h=source,
        taught=[Taught(0.4, 0.9, 1.3, 0.5), Taught(0.4, 0.9, 1.3, 0.5)],
        spray_shares=[0.3],
    )
    assert known.leak_per_h.value == pytest.approx(1.3)
    assert known.leak_per_h.count == 7
    assert known.vent_per_h.value == pytest.approx(20.0)
    assert known.source_g_per_h == source
    assert known.wet_area_m2.value == pytest.approx(0.4)
    assert known.standing_share.value == pytest.approx(0.9)
    assert known.spray_share.value == pytest.approx(0.3)


def test_an_area_that_was_never_wet_all_over_stays_assumed() -> None:
    known = learnt(
        assumed(0.5),
        leak_per_h=None,
        vents_per_h=(),
        source_g_per_h=None,
        taught=[Taught(0.4, 0.9, 1.3, 0.5, all_wet=False)],
        spray_shares=(),
    )
    assert known.wet_area_m2 == assumed(0.5).wet_area_m2
    assert known.standing_share.origin is Origin.MEASURED


def test_declared_leakage_stands_against_mistings() -> None:
    known = learnt(
        assumed(0.5, 2.0),
        leak_per_h=None,
        vents_per_h=(),
        source_g_per_h=None,
        taught=[Taught(0.4, 0.9, 1.3, 0.5)],
        spray_shares=(),
    )
    assert known.leak_per_h == Figure.declared(2.0)


@pytest.mark.parametrize(
    ("taught", "expected"),
    [
        pytest.param(1.35, (1.35, 1.2, 1.6), id="inside"),
        pytest.param(1.7, (1.6, 1.2, 1.6), id="just above: held to the end"),
        pytest.param(0.3, (1.4, 1.2, 1.6), id="far off: the CO2 has the word"),
    ],
)
def test_mistings_move_the_leak_only_within_what_the_co2_gave(
    taught: float, expected: tuple[float, float, float]
) -> None:
    co2 = Figure(1.4, 1.2, 1.6, Origin.MEASURED, 7)
    known = learnt(
        assumed(0.5),
        leak_per_h=co2,
        vents_per_h=(),
        source_g_per_h=None,
        taught=[Taught(0.4, 0.9, taught, 0.1)],
        spray_shares=(),
    ).leak_per_h
    assert (known.value, known.low, known.high) == pytest.approx(expected)
    assert known.count == 7


def test_the_share_of_a_guess_says_nothing() -> None:
    known = learnt(
        assumed(0.5),
        leak_per_h=None,
        vents_per_h=(),
        source_g_per_h=None,
        taught=[Taught(0.4, 2.5, 1.0, 0.1, guessed=True), Taught(0.4, 0.8, 1.0, 0.1)],
        spray_shares=(),
    )
    assert known.standing_share.value == pytest.approx(0.8)
    assert known.standing_share.count == 1
    assert known.wet_area_m2.count == 2
