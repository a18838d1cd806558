"""Will it hold: worked cases, remedies that bear themselves out, and what must always be so."""

import math
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

import pytest
from hypothesis import given, settings

from chamberwatch.core.air.figure import Figure
from chamberwatch.core.air.psychrometrics import air_state
from chamberwatch.core.watch.counsel import mist_advice
from chamberwatch.core.watch.outlook import HoldAnswer, as_it_is, hold_answer, once_misted
from chamberwatch.core.watch.situation import FURTHEST, Limit, Situation
from tests.core.watch.situations import ANY, LATER, inlet, situation, today
from tests.make import NOON

HOUR: Final = timedelta(hours=1)
SIX: Final = today(18)


def answered(given_situation: Situation, until: datetime = SIX) -> HoldAnswer:
    answer = hold_answer(given_situation, until)
    assert answer is not None
    return answer


def test_where_nothing_is_judged_nothing_is_answered() -> None:
    assert hold_answer(replace(situation(), humidity=None), SIX) is None


def test_in_a_sealed_chamber_co2_rises_steadily() -> None:
    """0.5 g/h in 0.5 m3: 547 ppm/h; from 800 ppm at its limit of 1000 in 22 minutes."""
    sealed = situation(90.0, 800.0, standing_g=40.0, leak_per_h=0.0, source_g_per_h=0.5)
    answer = answered(sealed)
    assert answer.limit is Limit.CO2
    assert answer.until - NOON == pytest.approx(timedelta(minutes=21.95), abs=HOUR / 360)
    assert answer.load_share == 0.0


def test_it_holds() -> None:
    answer = answered(situation(90.0, 600.0, standing_g=40.0, source_g_per_h=0.1))
    assert (answer.holds, answer.limit, answer.until) == (True, None, today(18))
    assert (answer.mist, answer.changes_per_h, answer.load_share) == (None, None, None)
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
    assert answer.mist is not None
    assert answer.mist == mist_advice(stood, SIX)
    assert answer.mist.standing_g > 1.0
    assert (answer.mist.limit, answer.openings_share) == (None, None)
    again = answered(replace(stood, standing_g=8.0 + answer.mist.standing_g + 0.01))
    assert (again.holds, again.mist) == (True, None)


def test_smaller_openings_make_it_hold() -> None:
    stood = situation(90.0, leak_per_h=8.0)
    answer = answered(stood)
    assert answer.limit is Limit.SURFACE
    assert answer.mist is not None
    assert answer.mist.limit is Limit.SURFACE
    assert answer.changes_per_h is not None
    assert answer.openings_share == pytest.approx(answer.changes_per_h / 8.0)
    closed = situation(90.0, standing_g=500.0, leak_per_h=answer.changes_per_h)
    most = closed.balance().film_most_g
    assert answered(replace(closed, standing_g=most)).holds


def test_hardly_smaller_openings_are_not_worth_it() -> None:
    """Just a little more than the surfaces can hold: nobody closes an opening by some per cent."""
    within = answered(situation(90.0, leak_per_h=8.0)).changes_per_h
    assert within is not None
    beyond = answered(situation(90.0, leak_per_h=1.05 * within))
    assert beyond.mist is not None
    assert beyond.mist.limit is not None
    assert (beyond.changes_per_h, beyond.openings_share) == (None, None)


def test_a_misting_alone_makes_it_hold() -> None:
    answer = answered(situation(79.0, standing_g=40.0))
    assert (answer.holds, answer.until) == (False, NOON)
    assert answer.mist is not None
    assert (answer.mist.standing_g, answer.mist.limit) == (0.0, None)
    assert answer.mist.squeezes > 0


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
    answer = answered(situation(90.0, 600.0, standing_g=40.0))
    assert (answer.holds, answer.co2_ppm, answer.co2_left_out) == (True, None, True)
    assert not answered(situation(90.0, 600.0, standing_g=40.0, source_g_per_h=0.1)).co2_left_out
    assert not answered(situation(90.0, None, standing_g=40.0)).co2_left_out
    unjudged = replace(situation(90.0, 600.0, standing_g=40.0), co2_limit_ppm=None)
    assert not answered(unjudged).co2_left_out


@pytest.mark.parametrize("source_g_per_h", [None, 0.0, 0.1, 5.0])
@pytest.mark.parametrize("ppm", [1000.0, 1001.0, 5000.0])
@pytest.mark.parametrize("hours", [0.0, 1.0, 48.0])
def test_co2_above_its_limit_never_holds(
    source_g_per_h: float | None, ppm: float, hours: float
) -> None:
    stood = situation(90.0, ppm, standing_g=40.0, source_g_per_h=source_g_per_h)
    answer = answered(stood, NOON + timedelta(hours=hours))
    assert (answer.holds, answer.limit, answer.until) == (False, Limit.CO2, NOON)
    assert answer.co2_high
    assert answer.co2_left_out is (source_g_per_h is None)


def test_co2_that_will_be_at_its_limit_is_not_high_yet() -> None:
    later = answered(situation(90.0, 900.0, standing_g=40.0, source_g_per_h=1.0))
    assert (later.limit, later.co2_high) == (Limit.CO2, False)
    both = answered(situation(76.0, 1400.0))
    assert (both.limit, both.until, both.co2_high) == (Limit.WATER, NOON, True)


@pytest.mark.parametrize(
    ("ppm", "limit_ppm", "stale"),
    [
        pytest.param(999.0, 1000.0, False, id="below"),
        pytest.param(1000.0, 1000.0, True, id="at its limit"),
        pytest.param(1400.0, 1000.0, True, id="above"),
        pytest.param(1400.0, None, False, id="not judged"),
    ],
)
def test_a_stale_room_is_told(ppm: float, limit_ppm: float | None, stale: bool) -> None:
    stood = replace(situation(90.0, 900.0), inlet_ppm=inlet(ppm), co2_limit_ppm=limit_ppm)
    assert answered(stood).room_stale is stale


@pytest.mark.parametrize(
    ("stood", "too_wet"),
    [
        pytest.param(
            situation(97.0, standing_g=40.0, leak_per_h=0.2), True, id="above, and stays"
        ),
        pytest.param(situation(90.0, standing_g=40.0), False, id="in its band"),
        pytest.param(situation(97.0, standing_g=40.0, leak_per_h=2.0), False, id="comes down"),
        pytest.param(situation(97.0), False, id="above, and dries out"),
        pytest.param(
            situation(97.0, 1200.0, standing_g=40.0, leak_per_h=0.2), True, id="and stale"
        ),
        pytest.param(situation(97.0, 1200.0), False, id="stale now, dries out"),
    ],
)
def test_too_wet(stood: Situation, too_wet: bool) -> None:
    answer = answered(stood)
    assert answer.too_wet is too_wet
    assert not (answer.too_wet and answer.mist is not None)


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


def test_the_air_alone_is_gone_in_minutes() -> None:
    stood = replace(situation(), air=air_state(20.0, 85.0))
    dry = replace(stood.known, wet_area_m2=Figure.declared(0.0))
    alone = answered(replace(stood, known=dry))
    assert timedelta(minutes=5) < alone.until - NOON < timedelta(minutes=10)


# ------------------------------------------------------------ whatever may come


@settings(max_examples=60, deadline=None)
@given(ANY, LATER)
def test_an_answer_always_makes_sense(stood: Situation, until: datetime) -> None:
    answer = answered(stood, until)
    assert NOON <= answer.until <= until
    assert answer.holds == (answer.limit is None)
    assert 0.0 <= answer.humidity_pct <= 100.0 + 1e-9
    assert answer.co2_ppm is None or 0.0 < answer.co2_ppm < 1e6
    if answer.mist is not None:
        assert answer.mist.squeezes > 0 or answer.mist.standing_g > 0.0 or answer.mist.limit
    assert answer.openings_share is None or 0.0 <= answer.openings_share <= 1.0
    assert answer.load_share is None or 0.0 <= answer.load_share <= 1.0
    assert not (answer.too_wet and answer.mist is not None)
    if stood.co2_ppm is not None and stood.co2_ppm >= 1000.0:
        assert not answer.holds
        assert answer.co2_high


# ------------------------------------------------------------ how it would go


def test_the_course_meets_the_low_limit_when_the_answer_says() -> None:
    of = replace(situation(), standing_g=12.0)
    answer = answered(of)
    assert answer.limit is Limit.WATER
    assert of.humidity is not None
    line = as_it_is(of, SIX)
    assert (line[0].at, line[0].humidity_pct) == (of.now, of.air.humidity_pct)
    below = next(each for each in line if each.humidity_pct < of.humidity[0])
    assert timedelta(0) <= below.at - answer.until <= timedelta(minutes=6)


def test_the_course_once_misted_holds_as_long_as_the_advice_says() -> None:
    of = replace(situation(), standing_g=0.0)
    advice = mist_advice(of, SIX)
    assert advice is not None
    assert of.humidity is not None
    assert advice.limit is None
    line = once_misted(of, SIX, advice)
    assert line[0].humidity_pct == advice.first_pct
    assert min(each.humidity_pct for each in line) >= of.humidity[0]
    assert line[-1].at >= SIX - timedelta(minutes=5)


@pytest.mark.parametrize("hours", [0.2, 3.0, 48.0])
def test_a_course_is_short_enough_to_be_drawn(hours: float) -> None:
    line = as_it_is(situation(), NOON + hours * HOUR)
    assert 2 <= len(line) <= 600
    assert line[-1].at <= NOON + hours * HOUR
