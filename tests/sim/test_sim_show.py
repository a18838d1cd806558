"""The invented tent: the same life for the same seed, a believable week, and a reminder soon."""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Final

import pytest

from chamberwatch.core.air.tent import TentState
from chamberwatch.sim.show import ENOUGH_PCT, WANTED_PCT, Report, TentShow, reports

START: Final = datetime(2026, 1, 12, 14, tzinfo=UTC)
MINUTE: Final = timedelta(minutes=1)
WEEK: Final = timedelta(days=7)
SEEDS: Final = (1, 2, 3, 4, 5)


def dry(state: TentState) -> bool:
    return state.humidity_pct < WANTED_PCT


def stale(state: TentState) -> bool:
    return state.co2_ppm > 1000.0


def lived(show: TentShow, minutes: int) -> list[TentState]:
    """Let minutes pass and return the state after each."""
    states: list[TentState] = []
    for _ in range(minutes):
        show.advance_to(show.time + MINUTE)
        states.append(show.state)
    return states


def spells(states: list[TentState], bad: Callable[[TentState], bool], longer_than: int) -> int:
    """Count the stretches that last more than so many minutes."""
    count = length = 0
    for state in states:
        length = length + 1 if bad(state) else 0
        count += length == longer_than + 1
    return count


def values(report: Report) -> dict[str, float]:
    told: dict[str, float] = json.loads(report.payload)
    return {name: value for name, value in told.items() if name != "time"}


# ------------------------------------------------------------ what is reported


def test_three_sensors_report_each_minute() -> None:
    told = TentShow(1, START).advance_to(START + 2 * MINUTE)
    assert [report.topic for report in told] == ["tent/middle", "tent/top", "room/shelf"] * 2
    assert [report.time for report in told] == [START + MINUTE] * 3 + [START + 2 * MINUTE] * 3
    for report in told:
        body = json.loads(report.payload)
        assert datetime.fromisoformat(body["time"]) == report.time
        assert report.values == len(body) - 1
        wanted = {"temperature", "humidity"} | ({"co2"} if report.topic != "tent/top" else set())
        assert set(values(report)) == wanted
        assert body["humidity"] == round(body["humidity"], 1)
        assert body["temperature"] == round(body["temperature"], 1)
        assert isinstance(body.get("co2", 0), int)


def test_sensors_stay_close_to_the_air() -> None:
    show = TentShow(3, START)
    for _ in range(500):
        middle, top, _ = map(values, show.advance_to(show.time + MINUTE))
        assert abs(middle["temperature"] - show.state.temperature_c) < 0.4
        assert abs(middle["humidity"] - show.state.humidity_pct) < 2.5
        assert abs(middle["co2"] - show.state.co2_ppm) < 40
        assert abs(top["humidity"] - show.state.humidity_pct) < 3.5
        assert max(middle["humidity"], top["humidity"]) <= 100.0


def test_the_same_seed_lives_the_same_life() -> None:
    day = START + timedelta(days=1)
    at_once = TentShow(7, START).advance_to(day)
    by_parts, show = [], TentShow(7, START)
    while show.time < day:
        by_parts += show.advance_to(min(show.time + timedelta(minutes=7, seconds=20), day))
    assert by_parts == at_once == list(reports(7, START, day, MINUTE))
    assert TentShow(8, START).advance_to(day) != at_once


def test_nothing_is_told_before_its_time() -> None:
    show = TentShow(1, START)
    assert show.advance_to(START + timedelta(seconds=59)) == []
    assert show.advance_to(START - timedelta(days=1)) == []
    assert show.time == START


def test_a_finer_step_reports_more_often() -> None:
    told = list(reports(1, START, START + MINUTE, timedelta(seconds=5)))
    assert len(told) == 3 * 12
    assert told[-1].time == START + MINUTE


def test_the_room_has_a_winters_day() -> None:
    show = TentShow(1, START)
    rooms = []
    for _ in range(3 * 1440):
        show.advance_to(show.time + MINUTE)
        rooms.append(show.room())
    assert all(18.0 <= room.temperature_c <= 21.0 for room in rooms)
    assert all(35.0 <= room.humidity_pct <= 50.0 for room in rooms)
    assert all(500.0 <= room.co2_ppm <= 1100.0 for room in rooms)
    # Nothing jumps from one minute to the next.
    assert all(abs(b.co2_ppm - a.co2_ppm) < 10 for a, b in pairwise(rooms))
    assert all(abs(b.temperature_c - a.temperature_c) < 0.1 for a, b in pairwise(rooms))


# ------------------------------------------------------------ a week, and what comes after


@pytest.mark.parametrize("seed", SEEDS)
def test_a_week_is_mostly_well_with_dry_spells_and_stale_nights(seed: int) -> None:
    show = TentShow(seed, START - WEEK)
    states = lived(show, 7 * 1440)
    well = sum(not dry(s) and not stale(s) for s in states) / len(states)
    assert 0.7 < well < 0.97
    assert 1 <= spells(states, dry, 3) <= 15
    assert 3 <= spells(states, stale, 5) <= 25
    assert max(state.humidity_pct for state in states) <= 100.0 + 1e-9
    assert all(13.0 < state.temperature_c < 24.0 for state in states)


@pytest.mark.parametrize("hour", [0, 6, 14, 20])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_reminder_is_due_soon_and_the_show_goes_on(seed: int, hour: int) -> None:
    start = START.replace(hour=hour)
    show = TentShow(seed, start - timedelta(hours=12))
    show.advance_to(start)
    before = show.state
    show.forget_from(start)
    assert show.state == before, "the air does not jump"
    soon = lived(show, 30)
    assert spells(soon, dry, 3) + spells(soon, stale, 5) >= 1
    # Nobody answers: the grower comes at last, and the air is well again for a good while.
    later = lived(show, 40)
    assert sum(not dry(s) and not stale(s) for s in later) >= 20


@pytest.mark.parametrize("seed", SEEDS)
def test_it_is_not_the_last_reminder(seed: int) -> None:
    show = TentShow(seed, START)
    show.forget_from(START)
    lived(show, 70)
    assert spells(lived(show, 24 * 60), lambda s: dry(s) or stale(s), 3) >= 1


def test_he_comes_only_after_his_patience() -> None:
    show = TentShow(1, START)
    show.forget_from(START)
    states = lived(show, 80)
    out = next(i for i, state in enumerate(states) if dry(state))
    back = next(i for i, state in enumerate(states) if i > out and not dry(state))
    assert 25 <= back - out <= 32


def test_leaving_the_front_open_waits_for_its_time() -> None:
    calm, forgetful = TentShow(1, START), TentShow(1, START)
    forgetful.forget_from(START + 10 * MINUTE)
    assert lived(calm, 10) == lived(forgetful, 10)
    assert lived(calm, 5)[-1].humidity_pct > lived(forgetful, 5)[-1].humidity_pct


# ------------------------------------------------------------ what a person does


def forgotten(minutes: int = 20) -> TentShow:
    show = TentShow(2, START)
    show.forget_from(START)
    lived(show, minutes)
    return show


def test_misting_dampens_the_air_and_closes_the_front() -> None:
    show = forgotten()
    assert dry(show.state)
    show.mist(12.0)
    after = lived(show, 60)
    assert not any(dry(state) for state in after[1:])


def test_a_misting_is_two_squeezes_and_wet_walls() -> None:
    """Damp air gets two squeezes of a gram, 0.3 of which evaporate; the walls get the rest."""
    show = TentShow(2, START)
    before, volume = show.state, show.spec.volume_m3
    show.mist(12.0)
    air_g = (show.state.vapour_g_per_m3 - before.vapour_g_per_m3) * volume
    assert air_g == pytest.approx(0.6)
    assert show.state.film_g == pytest.approx(before.film_g + 11.4)


def test_drier_air_is_sprayed_until_it_is_damp() -> None:
    show = forgotten()
    before = show.state
    show.mist(40.0)
    assert ENOUGH_PCT <= show.state.humidity_pct < ENOUGH_PCT + 4.0
    assert show.state.film_g > before.film_g + 35.0
    # A little water is all sprayed, and it is not enough.
    show = forgotten()
    show.mist(2.5)
    assert show.state.film_g == pytest.approx(before.film_g + 0.7 * 2.5)
    assert show.state.humidity_pct < 87.0


def test_amounts_that_are_known_are_kept_to() -> None:
    show = forgotten()
    before = show.state
    show.spray(3.0, 20.0)
    assert show.state.film_g == pytest.approx(before.film_g + 0.7 * 3.0 + 20.0)
    after = lived(show, 60)
    assert not any(dry(state) for state in after[8:]), "the front is closed"


def test_venting_freshens_the_air() -> None:
    show = TentShow(2, START)
    show.state = TentState(19.0, show.state.vapour_g_per_m3, 1500.0, 15.0)
    show.vent(5.0)
    freshened = lived(show, 5)[-1].co2_ppm
    assert freshened < 700.0
    # Then the front is closed, and the blocks breathe on.
    assert lived(show, 10)[-1].co2_ppm > freshened - 5.0


def test_an_answer_starts_his_patience_anew() -> None:
    show = forgotten(20)
    show.vent(1.0)
    # Nobody has misted: the wet walls alone have to bring the air back, and he keeps away.
    film = show.state.film_g
    lived(show, 15)
    assert show.state.film_g < film


def test_stale_air_is_vented_before_it_is_misted() -> None:
    show = TentShow(4, START)
    show.forget_from(START)
    show.patience = timedelta(0)
    show.mist(10.0)  # closes the front
    show.state = TentState(19.0, show.state.vapour_g_per_m3, 1800.0, 5.0)
    states = lived(show, 12)
    assert states[-1].co2_ppm < 1000.0
    assert states[-1].film_g > 5.0
    assert not dry(states[-1])
