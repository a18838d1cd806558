"""The invented grower's tent lives believably, and the same life each time."""

import json
from datetime import timedelta

import pytest

from chamberwatch.sim.show import TentShow
from tests.make import NOON

WEEK = timedelta(days=7)
MINUTE = timedelta(minutes=1)


def outside(show: TentShow) -> bool:
    return show.state.humidity_pct < 80.0 or show.state.co2_ppm > 1000.0


@pytest.mark.parametrize("seed", [pytest.param(n, id=f"seed {n}") for n in range(1, 4)])
def test_a_week_is_mostly_fine_with_dry_and_stale_spells(seed: int) -> None:
    show = TentShow(seed, NOON - WEEK)
    inside = dry = stale = 0
    while show.time < NOON:
        show.advance_to(show.time + MINUTE)
        inside += 80.0 <= show.state.humidity_pct <= 95.0
        dry += show.state.humidity_pct < 80.0
        stale += show.state.co2_ppm > 1000.0
    minutes = WEEK / MINUTE
    assert 0.7 < inside / minutes < 0.99
    assert dry > 60
    assert stale > 60


@pytest.mark.parametrize("seed", [pytest.param(n, id=f"seed {n}") for n in range(1, 6)])
def test_forgotten_it_leaves_the_band_soon_and_comes_back_when_called(seed: int) -> None:
    show = TentShow(seed, NOON)
    show.forget_from(NOON)
    left = back = None
    for minute in range(1, 90):
        show.advance_to(NOON + minute * MINUTE)
        if left is None and outside(show):
            left = minute
        if left is not None and back is None and not outside(show):
            back = minute
    assert left is not None
    assert left <= 30
    assert back is not None
    assert left + 20 <= back <= 80


def test_the_same_seed_lives_the_same_life() -> None:
    lives = [TentShow(7, NOON).advance_to(NOON + timedelta(hours=30)) for _ in range(2)]
    assert lives[0] == lives[1]
    assert len(lives[0]) == 30 * 60 * 3


def test_reports_are_whole_messages() -> None:
    middle, top, room = TentShow(1, NOON).advance_to(NOON + MINUTE)
    assert [r.topic for r in (middle, top, room)] == ["tent/middle", "tent/top", "room/shelf"]
    assert set(json.loads(middle.payload)) == {"time", "temperature", "humidity", "co2"}
    assert (middle.values, top.values) == (3, 2)
    assert middle.time == NOON + MINUTE


def test_a_misting_wets_and_a_vent_freshens() -> None:
    show = TentShow(1, NOON)
    show.forget_from(NOON)
    before = show.state
    show.mist()
    assert show.state.humidity_pct > before.humidity_pct + 10.0
    show.vent()
    show.advance_to(NOON + 4 * MINUTE)
    assert show.state.co2_ppm < before.co2_ppm


def test_stale_air_is_vented_when_called() -> None:
    show = TentShow(1, NOON)
    show.forget_from(NOON)
    show.state = type(show.state)(19.0, 14.0, 2500.0, 40.0)
    show.advance_to(NOON + 40 * MINUTE)
    assert show.state.co2_ppm < 1500.0
