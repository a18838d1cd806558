"""Amounts and answers: worked cases, the tent model, and what must always hold."""

import math
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chamberwatch.core.air.figure import Figure
from chamberwatch.core.air.psychrometrics import AirState, air_state
from chamberwatch.core.air.tent import RoomAir, TentSpec, live, state_of
from chamberwatch.core.air.tent import mist as misted
from chamberwatch.core.air.tent import wet as wetted
from chamberwatch.core.watch.counsel import MistAdvice, VentAdvice, mist_advice, vent_advice
from chamberwatch.core.watch.device import Supply
from chamberwatch.core.watch.outlook import HoldAnswer, hold_answer
from chamberwatch.core.watch.situation import FURTHEST, Limit, Situation, next_visit
from tests.core.watch.situations import inlet, room, situation, today
from tests.make import NOON, TENT

BERLIN: Final = ZoneInfo("Europe/Berlin")
DEADBAND_PPM: Final = 75.0
HOUR: Final = timedelta(hours=1)
SIX: Final = today(18)


def advised(given_situation: Situation, until: datetime = SIX) -> MistAdvice:
    advice = mist_advice(given_situation, until)
    assert advice is not None
    return advice


def vented(given_situation: Situation, until: datetime = SIX) -> VentAdvice:
    advice = vent_advice(given_situation, until, DEADBAND_PPM)
    assert advice is not None
    return advice


def answered(given_situation: Situation, until: datetime = SIX) -> HoldAnswer:
    answer = hold_answer(given_situation, until)
    assert answer is not None
    return answer


# ------------------------------------------------------------ the next visit


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        pytest.param("2026-01-20T12:00+01:00", "2026-01-20T18:00+01:00", id="this evening"),
        pytest.param("2026-01-20T16:30+01:00", "2026-01-20T18:00+01:00", id="in 90 minutes"),
        pytest.param("2026-01-20T16:31+01:00", "2026-01-20T22:00+01:00", id="the one after"),
        pytest.param("2026-01-20T21:00+01:00", "2026-01-21T07:30+01:00", id="over midnight"),
        pytest.param("2026-01-20T23:59+01:00", "2026-01-21T07:30+01:00", id="just before it"),
        pytest.param("2026-01-21T00:01+01:00", "2026-01-21T07:30+01:00", id="just after it"),
        pytest.param("2026-03-28T23:00+01:00", "2026-03-29T07:30+02:00", id="clocks go forward"),
        pytest.param("2026-10-24T23:00+02:00", "2026-10-25T07:30+01:00", id="clocks go back"),
    ],
)
def test_next_visit(now: str, expected: str) -> None:
    at = datetime.fromisoformat(now)
    for zone in (UTC, BERLIN):
        found = next_visit(TENT, at.astimezone(zone), BERLIN)
        assert found == datetime.fromisoformat(expected)
        assert found.tzinfo is zone


@pytest.mark.parametrize(
    ("visit", "now", "hours"),
    [
        pytest.param(time(2, 30), "2026-03-28T23:30+00:00", 2.0, id="an hour that is left out"),
        pytest.param(time(2, 30), "2026-10-24T22:30+00:00", 2.0, id="an hour that comes twice"),
        pytest.param(time(3, 0), "2026-03-29T00:10+00:00", 24.83, id="50 min in spite of 3 - 1"),
    ],
)
def test_next_visit_on_a_night_that_clocks_change(visit: time, now: str, hours: float) -> None:
    """02:30 on 29 March is 03:30 (RFC 9636 takes the offset before); at 02:30 twice the first."""
    chamber, at = replace(TENT, visits=(visit,)), datetime.fromisoformat(now)
    for zone in (UTC, BERLIN):
        found = next_visit(chamber, at.astimezone(zone), BERLIN).astimezone(UTC)
        assert (found - at) / HOUR == pytest.approx(hours, abs=0.01)


def test_no_visits_at_all() -> None:
    assert next_visit(replace(TENT, visits=()), NOON, BERLIN) == NOON + timedelta(hours=12)


# ------------------------------------------------------------ misting


def test_nothing_judged_nothing_advised() -> None:
    free = replace(situation(), humidity=None)
    assert mist_advice(free, today(18)) is None
    assert hold_answer(free, today(18)) is None
    unmeasured = situation(co2_ppm=None)
    assert vent_advice(unmeasured, today(18), DEADBAND_PPM) is None
    unjudged = replace(situation(co2_ppm=900.0), co2_limit_ppm=None)
    assert vent_advice(unjudged, today(18), DEADBAND_PPM) is None


@pytest.mark.parametrize(
    ("from_pct", "least_g", "most_g"),
    [
        pytest.param(80.0, 0.4, 1.2, id="80 to 87.5 %"),
        pytest.param(76.0, 0.4, 1.2, id="76 to 87.5 %"),
    ],
)
def test_the_air_itself_is_short_of_a_gram(from_pct: float, least_g: float, most_g: float) -> None:
    """0.4 to 1.2 g in 0.5 m3 at 20 °C, gone in eight minutes: true, and useless by itself."""
    stood = situation(from_pct)
    advice = advised(stood)
    taken = advice.into_air_g * stood.known.spray_share.value
    # To whole squeezes of a gram, of which the air takes 0.4.
    assert least_g - 0.2 <= taken <= most_g + 0.2
    assert advice.squeezes == round(advice.into_air_g)
    dry = replace(stood.known, wet_area_m2=Figure.declared(0.0))
    alone = answered(replace(stood, known=dry, air=air_state(20.0, 85.0)))
    assert timedelta(minutes=5) < alone.until - NOON < timedelta(minutes=10)


def test_to_hold_till_six_takes_what_is_carried_off() -> None:
    """3.7 g/h at 87.5 % against a room at 45 % for six hours: a bit less at the limit of 80 %."""
    advice = advised(situation())
    assert advice.carried_off_g_per_h == pytest.approx(3.68, abs=0.05)
    assert advice.limit is None
    assert advice.holds_until == advice.wanted_until == today(18)
    assert 0.6 * 6 * 3.0 < advice.standing_g < 1.3 * 6 * 3.7
    assert advice.by_hand


def test_fourteen_grams_an_hour_cannot_be_held_by_hand() -> None:
    """4 changes an hour in a room at 50 % carry off 14.1 g/h at 90 %."""
    leaky = replace(situation(leak_per_h=4.0), room=room(20.0, 50.0), humidity=(88.0, 92.0))
    advice = advised(leaky)
    assert advice.carried_off_g_per_h == pytest.approx(14.1, rel=0.03)
    assert advice.limit is Limit.SURFACE
    assert not advice.by_hand
    assert advice.holds_until < NOON + timedelta(minutes=15)


def test_walls_that_hold_too_little_for_so_long() -> None:
    advice = advised(situation(leak_per_h=1.5), NOON + timedelta(hours=30))
    assert advice.limit is Limit.WATER
    assert advice.by_hand
    assert today(16) < advice.holds_until < advice.wanted_until


def test_what_a_spray_leaves_on_the_walls_counts() -> None:
    """Of each gram the air takes 0.4; what stands in the end is the same however it came."""
    stood = situation(60.0)
    advice = advised(stood)
    other = advised(replace(stood, known=replace(stood.known, spray_share=Figure.declared(1.0))))
    lost = advice.into_air_g * 0.6
    assert lost > 2.0
    assert advice.standing_g + lost == pytest.approx(other.standing_g, abs=1.0)


@pytest.mark.parametrize(
    "stood",
    [
        pytest.param(situation(), id="as assumed"),
        pytest.param(situation(62.0), id="very dry"),
        pytest.param(situation(volume_m3=0.05), id="a tub of 50 L"),
        pytest.param(situation(volume_m3=4.0), id="4 m3"),
        pytest.param(replace(situation(), humidity=(60.0, 80.0), air=air_state(20, 55)), id="low"),
        pytest.param(situation(leak_per_h=2.0), id="leaky"),
    ],
)
def test_a_tent_bears_it_out(stood: Situation) -> None:
    """A tent that is as the advice takes it: humidity after 15 min, and until when it holds."""
    known, until = stood.known, today(16)
    spec = TentSpec(
        volume_m3=known.volume_m3,
        wet_area_m2=known.wet_area_m2.value,
        film_most_g=120.0 * known.wet_area_m2.value,
        fruit_kg=0.0,
        block_kg=0.0,
        spray_to_air=known.spray_share.value,
        cover_w_per_k=1e6,
        heat_j_per_k=1e9,
    )
    advice = advised(stood, until)
    around = RoomAir(20.0, 45.0, 430.0)
    state = state_of(20.0, stood.air.humidity_pct, 430.0, 0.0)
    state = wetted(misted(state, spec, advice.into_air_g), spec, advice.standing_g)
    soon = live(state, spec, around, known.leak_per_h.value, 6.0, 150)
    assert soon.humidity_pct == pytest.approx(advice.reach_pct, abs=1.0)
    state, minutes = soon, 15
    assert stood.humidity is not None
    while state.humidity_pct >= stood.humidity[0] and minutes < 1000:
        state = live(state, spec, around, known.leak_per_h.value, 6.0, 10)
        minutes += 1
    if advice.limit is None:
        assert minutes >= 240 - 5
    else:
        assert minutes == pytest.approx((advice.holds_until - NOON) / HOUR * 60, rel=0.15, abs=15)


@pytest.mark.parametrize(
    ("stood", "squeezes", "most_g"),
    [
        pytest.param(situation(96.0), 0, 25.0, id="above the band already"),
        pytest.param(situation(100.0), 0, 25.0, id="saturated"),
        pytest.param(situation(90.0, standing_g=50.0), 0, 0.0, id="wet enough"),
        pytest.param(situation(volume_m3=0.01), 0, 5.0, id="10 L"),
        pytest.param(replace(situation(), room=room(20.0, 95.0)), 2, 0.0, id="a wetter room"),
        pytest.param(replace(situation(), room=room(25.0, 75.0)), 2, 0.0, id="warmer and damp"),
        pytest.param(
            replace(situation(), supply=Supply(0.0, 30.0)), 2, 0.0, id="a humidifier sees to it"
        ),
        pytest.param(situation(leak_per_h=1e-6), 2, 0.0, id="hardly any fresh air"),
        pytest.param(situation(90.0, standing_g=500.0), 0, 0.0, id="more than can stand"),
    ],
)
def test_mist_at_the_edges(stood: Situation, squeezes: int, most_g: float) -> None:
    advice = advised(stood)
    assert advice.squeezes == squeezes
    assert 0.0 <= advice.standing_g <= most_g
    assert advice.holds_until <= advice.wanted_until


def test_no_water_where_nothing_can_be_wet() -> None:
    bare = situation()
    bare = replace(bare, known=replace(bare.known, wet_area_m2=Figure.declared(0.0)))
    advice = advised(bare)
    assert (advice.standing_g, advice.limit) == (0.0, Limit.SURFACE)


# ------------------------------------------------------------ venting


def test_vent_as_worked_out() -> None:
    """12 + 1 changes an hour, 1500 to 750 ppm, inlet 430: 60/13 ln(1070/320) = 5.57 min: six."""
    advice = vented(situation(90.0, 1500.0, source_g_per_h=0.0))
    assert (advice.minutes, advice.reachable, advice.aim_ppm) == (6, True, 750.0)
    assert advice.reach_ppm == pytest.approx(430 + 1070 * math.exp(-13 * 0.1), abs=0.5)
    # 73 % of the air replaced by air at 45 %.
    assert advice.humidity_pct == pytest.approx(90 - 45 * (1 - math.exp(-1.3)), abs=0.5)
    assert advice.back_until is None
    assert advice.mist is not None


def test_when_the_co2_is_back() -> None:
    """0.5 g/h in 0.5 m3: 547 ppm/h, ends at 430 + 547 at 1 /h; at 0.5 /h it passes 1000 ppm."""
    calm = vented(situation(90.0, 1500.0, source_g_per_h=0.5))
    assert calm.back_until is None
    stood = situation(90.0, 1500.0, leak_per_h=0.5, source_g_per_h=0.5)
    advice = vented(stood)
    end = 430 + 546.6 / 0.5
    hours = math.log((end - advice.reach_ppm) / (end - 1000)) / 0.5
    expected = NOON + timedelta(minutes=advice.minutes, hours=hours)
    assert advice.back_until is not None
    assert abs(advice.back_until - expected) < timedelta(minutes=1)


def test_in_a_sealed_chamber_co2_rises_steadily() -> None:
    """0.5 g/h in 0.5 m3: 547 ppm/h; from 800 ppm at its limit of 1000 in 22 minutes."""
    sealed = situation(90.0, 800.0, standing_g=40.0, leak_per_h=0.0, source_g_per_h=0.5)
    answer = answered(sealed)
    assert answer.limit is Limit.CO2
    assert answer.until - NOON == pytest.approx(timedelta(minutes=21.95), abs=HOUR / 360)
    assert answer.load_share == 0.0


@pytest.mark.parametrize(
    ("stood", "reachable", "minutes"),
    [
        pytest.param(situation(90.0, 600.0), True, 0, id="fresh already"),
        pytest.param(situation(90.0, 760.0), True, 1, id="nearly"),
        pytest.param(situation(90.0, 40_000.0), True, 23, id="very stale"),
        pytest.param(
            replace(situation(90.0, 1500.0), inlet_ppm=inlet(1100.0)), False, 1, id="1100"
        ),
        pytest.param(replace(situation(90.0, 1500.0), inlet_ppm=inlet(925.0)), False, 1, id="925"),
        pytest.param(situation(90.0, 2000.0, source_g_per_h=9.0), False, 1, id="too much crop"),
        pytest.param(
            replace(situation(90.0, 5000.0), inlet_ppm=inlet(920.0)), True, 30, id="half an hour"
        ),
    ],
)
def test_vent_at_the_edges(stood: Situation, reachable: bool, minutes: int) -> None:
    advice = vented(stood)
    assert (advice.reachable, advice.minutes) == (reachable, minutes)
    assert advice.floor_ppm <= advice.reach_ppm <= (stood.co2_ppm or 0.0)


def test_no_misting_after_a_vent_that_leaves_it_humid() -> None:
    wet = replace(situation(95.0, 1200.0), room=room(20.0, 85.0))
    assert vented(wet).mist is None
    assert vented(replace(wet, humidity=None)).mist is None


def test_a_vent_with_cold_wet_air_makes_fog_and_no_more() -> None:
    cold = replace(situation(99.0, 1200.0), room=room(0.0, 99.0))
    advice = vented(cold)
    assert advice.humidity_pct <= 100.0
    assert advice.temperature_c < 20.0


# ------------------------------------------------------------ will it hold?


def test_it_holds() -> None:
    answer = answered(situation(90.0, 600.0, standing_g=40.0, source_g_per_h=0.1))
    assert (answer.holds, answer.limit, answer.until) == (True, None, today(18))
    assert (answer.add_water_g, answer.changes_per_h, answer.load_share) == (0.0, None, None)
    assert 80.0 <= answer.humidity_pct <= 95.0
    assert answer.co2_ppm == pytest.approx(430 + 109 + (170 - 109) * math.exp(-6), abs=1.0)


@pytest.mark.parametrize(
    ("stood", "until", "limit", "before", "after"),
    [
        pytest.param(
            situation(90.0), 18, Limit.WATER, 12.26, 12.24, id="dry: ln(45/35) h = 15.1 min"
        ),
        pytest.param(situation(90.0, standing_g=8.0), 18, Limit.WATER, 15.0, 12.5, id="dries"),
        pytest.param(situation(79.0), 18, Limit.WATER, 12.0, 12.0, id="below its band"),
        pytest.param(
            situation(90.0, 900.0, standing_g=40.0, source_g_per_h=1.0),
            18,
            Limit.CO2,
            12.5,
            12.0,
            id="stale first",
        ),
        pytest.param(
            situation(90.0, 1100.0, standing_g=40.0, source_g_per_h=1.0),
            18,
            Limit.CO2,
            12.0,
            12.0,
            id="stale now",
        ),
    ],
)
def test_it_does_not_hold(
    stood: Situation, until: int, limit: Limit, before: float, after: float
) -> None:
    answer = answered(stood, today(until))
    assert (answer.holds, answer.limit) == (False, limit)
    assert timedelta(hours=after) <= answer.until - today(0) <= timedelta(hours=before)


def test_water_that_is_lacking_makes_it_hold() -> None:
    stood = situation(90.0, standing_g=8.0)
    answer = answered(stood)
    assert answer.add_water_g is not None
    assert answer.add_water_g > 1.0
    assert answer.openings_share is None
    again = answered(replace(stood, standing_g=8.0 + answer.add_water_g + 0.01))
    assert again.holds


def test_smaller_openings_make_it_hold() -> None:
    stood = situation(90.0, leak_per_h=8.0)
    answer = answered(stood)
    assert (answer.add_water_g, answer.limit) == (None, Limit.SURFACE)
    assert answer.changes_per_h is not None
    assert answer.openings_share == pytest.approx(answer.changes_per_h / 8.0)
    closed = situation(90.0, standing_g=500.0, leak_per_h=answer.changes_per_h)
    most = closed.balance().film_most_g
    assert answered(replace(closed, standing_g=most)).holds


def test_a_misting_alone_makes_it_hold() -> None:
    answer = answered(situation(79.0, standing_g=40.0))
    assert (answer.holds, answer.until, answer.add_water_g) == (False, NOON, 0.0)


@pytest.mark.parametrize(
    ("ppm", "source_g_per_h", "share"),
    [
        pytest.param(430.0, 1.0, (1000 - 430) / 1093, id="half the crop"),
        pytest.param(1100.0, 9.0, 0.0, id="no crop at all"),
    ],
)
def test_part_of_the_crop_would_hold(ppm: float, source_g_per_h: float, share: float) -> None:
    stood = situation(90.0, 900.0, standing_g=40.0, source_g_per_h=source_g_per_h)
    answer = answered(replace(stood, inlet_ppm=inlet(ppm)))
    assert answer.load_share == pytest.approx(share, abs=0.005)


def test_stale_air_with_no_source_only_wants_a_vent() -> None:
    answer = answered(situation(90.0, 1100.0, standing_g=40.0, source_g_per_h=0.0))
    assert (answer.limit, answer.until, answer.load_share) == (Limit.CO2, NOON, None)


def test_without_a_source_co2_is_left_out() -> None:
    answer = answered(situation(90.0, 2000.0, standing_g=40.0))
    assert (answer.holds, answer.co2_ppm) == (True, None)


def test_co2_without_a_limit_is_left_out() -> None:
    stood = situation(90.0, 2000.0, standing_g=40.0, source_g_per_h=1.0)
    answer = answered(replace(stood, co2_limit_ppm=None))
    assert answer.holds
    assert answer.co2_ppm is not None


def test_beyond_two_days_nothing_is_told_of_co2() -> None:
    """A gram in a month: it is at its limit after two days and more."""
    slow = situation(90.0, 440.0, leak_per_h=0.001, source_g_per_h=0.005, standing_g=40.0)
    assert answered(slow, NOON + timedelta(days=3)).limit is not Limit.CO2
    assert timedelta(days=2) == FURTHEST


# ------------------------------------------------------------ what must always hold

SITUATIONS: Final = st.builds(
    situation,
    humidity_pct=st.floats(40.0, 100.0),
    co2_ppm=st.none() | st.floats(380.0, 5000.0),
    standing_g=st.floats(0.0, 100.0),
    leak_per_h=st.floats(0.01, 20.0),
    source_g_per_h=st.none() | st.floats(0.0, 5.0),
    volume_m3=st.floats(0.01, 4.0),
)
AROUND: Final = st.builds(air_state, st.floats(5.0, 30.0), st.floats(20.0, 100.0))
INSIDE: Final = st.builds(air_state, st.floats(5.0, 30.0), st.floats(40.0, 100.0))
BANDS: Final = st.sampled_from([(80.0, 95.0), (60.0, 80.0), (90.0, 100.0)])
LATER: Final = st.floats(0.0, 48.0).map(lambda hours: NOON + timedelta(hours=hours))


@settings(max_examples=40, deadline=None)
@given(SITUATIONS, AROUND, INSIDE, BANDS, LATER)
def test_advice_always_makes_sense(
    stood: Situation,
    around: AirState,
    inside: AirState,
    band: tuple[float, float],
    until: datetime,
) -> None:
    stood = replace(stood, room=around, air=inside, humidity=band)
    advice = advised(stood, until)
    assert advice.standing_g >= 0.0
    assert advice.into_air_g >= 0.0
    assert advice.squeezes >= 0
    assert NOON <= advice.holds_until <= until
    assert (advice.limit is None) == (advice.holds_until == until)
    assert 0.0 <= advice.reach_pct <= 100.0 + 1e-9
    answer = answered(stood, until)
    assert NOON <= answer.until <= until
    assert answer.holds == (answer.limit is None)
    assert answer.add_water_g is None or answer.add_water_g >= 0.0
    if stood.co2_ppm is not None:
        vent = vented(stood, until)
        assert 0 <= vent.minutes <= 30
        assert vent.reach_ppm > 0.0
