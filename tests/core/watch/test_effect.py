"""What came of a deed: clear, none, or not to be told; and the grace that follows from it."""

import random
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import timedelta
from typing import Final

import pytest

from chamberwatch.core.air.accuracy import CLASSES, DIGITAL
from chamberwatch.core.growing.patience import PATIENCE
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.advice import ASKED, CALLS, GRACE
from chamberwatch.core.watch.effect import (
    LAST,
    LONGEST,
    SHORTEST,
    Effect,
    Outcome,
    Window,
    answer_time,
    clearest,
    effect_found,
    grace_from,
    judge_effect,
    least_change,
)
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.tracks import Points
from tests.make import at

DEED_S: Final = 3600.0
WINDOW: Final = Window(DEED_S, DEED_S + 900.0, 300.0)

Air = Callable[[float], float]
"""The value so many minutes after the deed."""


def heard(
    air: Air, *, every_s: float = 30.0, noise: float = 0.0, minutes: Iterable[float] = (-30, 15)
) -> Points:
    """Return what a sensor reports from some minutes before a deed to some after it."""
    chance = random.Random(5)  # noqa: S311 - made-up noise, no secret
    first, last = (DEED_S + 60.0 * m for m in minutes)
    count = int((last - first) / every_s) + 1
    times = [first + every_s * k for k in range(count)]
    return [(t, air((t - DEED_S) / 60.0) + chance.gauss(0.0, noise)) for t in times]


def flat(value: float) -> Air:
    return lambda _: value


def rising(value: float, by: float, over_min: float, begun_min: float = 0.0) -> Air:
    """Return air that goes evenly from one value to another and stays there."""
    return lambda m: value + by * min(max((m - begun_min) / over_min, 0.0), 1.0)


def judged(call: Call, points: Points, window: Window = WINDOW) -> Effect:
    return judge_effect(call, points, window, DIGITAL)


@pytest.mark.parametrize(
    ("call", "air", "before", "after", "minutes"),
    [
        pytest.param(Call.MIST, rising(76, 9, 4), 76, 85, 3.6, id="misted: 9 % in 4 min"),
        pytest.param(Call.MIST, rising(76, 9, 0.1), 76, 85, 0.5, id="at once"),
        pytest.param(Call.MIST, rising(76, 3, 10), 76, 79, 9.0, id="slowly"),
        pytest.param(Call.VENT, rising(1400, -800, 6), 1400, 600, 5.4, id="vented"),
        pytest.param(Call.DRY_OFF, rising(97, -12, 5), 97, 85, 4.5, id="let it dry off"),
        pytest.param(Call.WARM, rising(11, 1.5, 12), 11, 12.5, 10.8, id="warmed"),
        pytest.param(Call.COOL, rising(27, -2, 12), 27, 25, 10.8, id="cooled"),
    ],
)
def test_an_effect(call: Call, air: Air, before: float, after: float, minutes: float) -> None:
    effect = judged(call, heard(air))
    assert (effect.outcome, effect.clear, effect.call) == (Outcome.CAME, True, call)
    assert effect.quantity is ASKED[call][0]
    assert effect.before == pytest.approx(before, abs=0.01)
    assert effect.after == pytest.approx(after, abs=0.15)
    assert effect.change == pytest.approx(after - before, abs=0.15)
    assert effect.minutes == pytest.approx(minutes, abs=0.6)
    assert effect.held is None


@pytest.mark.parametrize(
    ("call", "air", "noise"),
    [
        pytest.param(Call.MIST, flat(76), 0.0, id="nothing"),
        pytest.param(Call.MIST, flat(76), 0.4, id="noise"),
        pytest.param(Call.MIST, rising(78, -4, 15), 0.2, id="it went on drying"),
        pytest.param(Call.MIST, rising(76, 0.8, 5), 0.0, id="less than the sensor can tell"),
        pytest.param(Call.MIST, rising(70, 9, 45, -30), 0.1, id="on its way before, as after"),
        pytest.param(
            Call.MIST, rising(95, -19, 30, -30), 0.1, id="the way down of the one before"
        ),
        pytest.param(Call.VENT, flat(1400), 8.0, id="stale air came in"),
        pytest.param(Call.VENT, rising(1400, 200, 15), 8.0, id="CO2 went on rising"),
        pytest.param(Call.DRY_OFF, flat(97.5), 0.2, id="the room is as damp"),
        pytest.param(Call.COOL, flat(27.0), 0.03, id="as warm as before"),
    ],
)
def test_no_effect(call: Call, air: Air, noise: float) -> None:
    effect = judged(call, heard(air, noise=noise))
    assert (effect.outcome, effect.clear) == (Outcome.NONE, False)
    assert effect.before == pytest.approx(air(0), abs=max(3 * noise, 0.5))
    assert effect.minutes is None


@pytest.mark.parametrize("seed", range(40))
def test_noise_is_no_effect(seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311 - made-up noise, no secret
    points = [(t, v + chance.gauss(0.0, 0.5)) for t, v in heard(flat(80.0))]
    assert judged(Call.MIST, points).outcome is Outcome.NONE


@pytest.mark.parametrize(
    ("points", "window"),
    [
        pytest.param([], WINDOW, id="never heard"),
        pytest.param(heard(flat(76), minutes=(0.5, 15)), WINDOW, id="only afterwards"),
        pytest.param(heard(flat(76), minutes=(-30, -6)), WINDOW, id="silent since before"),
        pytest.param(heard(flat(76), minutes=(-30, 0)), WINDOW, id="silent from then on"),
        pytest.param(heard(flat(76), minutes=(-30, 9)), WINDOW, id="silent in the end"),
        pytest.param(
            [p for p in heard(flat(76)) if not 60 < p[0] - DEED_S < 420], WINDOW, id="a gap"
        ),
        pytest.param(heard(flat(98.2)), WINDOW, id="saturated: it can't rise"),
    ],
)
def test_what_cannot_be_told(points: Points, window: Window) -> None:
    assert judged(Call.MIST, points, window).outcome is Outcome.UNKNOWN


def test_an_effect_that_was_seen_needs_no_more_hearing() -> None:
    assert judged(Call.MIST, heard(rising(76, 9, 2), minutes=(-10, 4))).clear


def test_a_sensor_heard_only_since_a_moment_before() -> None:
    assert judged(Call.MIST, heard(rising(76, 9, 2), minutes=(-2, 15))).clear


def test_a_sensor_that_speaks_every_five_minutes() -> None:
    seldom = replace(WINDOW, longest_gap_s=660.0)
    assert judged(Call.MIST, heard(rising(76, 9, 4), every_s=300.0), seldom).clear
    assert judged(Call.MIST, heard(flat(76), every_s=300.0), seldom).outcome is Outcome.NONE


@pytest.mark.parametrize(
    ("late_min", "outcome"),
    [
        pytest.param(8.0, Outcome.CAME, id="told eight minutes late"),
        pytest.param(18.0, Outcome.CAME, id="told 18 minutes late"),
        pytest.param(26.0, Outcome.NONE, id="too long before to be this one"),
    ],
)
def test_a_deed_that_was_told_late(late_min: float, outcome: Outcome) -> None:
    """It rose by 9 % in 2 min, and fell by 0.25 % a minute from then on."""

    def air(minute: float) -> float:
        since = minute + late_min
        if since <= 0.0:
            return 76.0
        return 76.0 + 4.5 * since if since < 2.0 else 85.0 - 0.25 * (since - 2.0)

    effect = judged(Call.MIST, heard(air, noise=0.1))
    assert effect.outcome is outcome
    if effect.clear:
        assert effect.change == pytest.approx(9.0, abs=0.7)
        assert effect.minutes == pytest.approx(2.0, abs=0.8)


def test_a_steady_way_up_is_no_deed_told_late() -> None:
    assert judged(Call.MIST, heard(rising(70, 12, 30, -30))).outcome is Outcome.NONE


@pytest.mark.parametrize(
    ("quantity", "value", "accuracy", "least"),
    [
        pytest.param(Quantity.HUMIDITY, 76.0, "digital", 1.0, id="humidity"),
        pytest.param(Quantity.HUMIDITY, 93.0, "digital", 1.5, id="humid"),
        pytest.param(Quantity.HUMIDITY, 76.0, "basic", 2.5, id="a cheap sensor"),
        pytest.param(Quantity.CO2, 1000.0, "digital", 50.0, id="CO2"),
        pytest.param(Quantity.TEMPERATURE, 20.0, "digital", 0.1, id="temperature"),
    ],
)
def test_what_a_sensor_may_wander(
    quantity: Quantity, value: float, accuracy: str, least: float
) -> None:
    assert least_change(quantity, CLASSES[accuracy], value) == pytest.approx(least)


NONE: Final = Effect(Call.MIST, Outcome.NONE, 76.0, 76.4, 1.0)
SOME: Final = Effect(Call.MIST, Outcome.CAME, 76.0, 79.0, 1.0, 3.0)
MUCH: Final = Effect(Call.MIST, Outcome.CAME, 75.0, 84.0, 1.0, 2.0)
FOUND: Final = Effect(Call.MIST, Outcome.CAME, 75.0, 76.0, 0.0, 2.0)
UNHEARD: Final = Effect(Call.MIST, Outcome.UNKNOWN)


@pytest.mark.parametrize(
    ("seen", "expected"),
    [
        pytest.param([], None, id="no sensor"),
        pytest.param([NONE, SOME, MUCH], MUCH, id="the clearest"),
        pytest.param([MUCH, FOUND], FOUND, id="beyond all noise"),
        pytest.param([UNHEARD, SOME], SOME, id="one saw it"),
        pytest.param([NONE, UNHEARD], UNHEARD, id="one might have seen it"),
        pytest.param([NONE, NONE], NONE, id="none did"),
    ],
)
def test_several_sensors(seen: list[Effect], expected: Effect | None) -> None:
    assert clearest(seen) == expected


@pytest.mark.parametrize(
    ("effect", "value", "undone"),
    [
        pytest.param(NONE, 76.5, False, id="as it was"),
        pytest.param(NONE, 77.2, True, id="it came later"),
        pytest.param(
            Effect(Call.VENT, Outcome.NONE, 1400.0, 1390.0, 60.0), 1330.0, True, id="CO2"
        ),
        pytest.param(UNHEARD, 90.0, False, id="not known from where"),
    ],
)
def test_later_readings_may_show_it_after_all(effect: Effect, value: float, undone: bool) -> None:
    assert effect.undone(value) is undone


MISTING: Final = Found(
    1, "tent", Kind.MISTING, at(1), at(5), 7, None, 76.0, 85.0, 1.5, held=timedelta(minutes=11)
)
VENTING: Final = Found(2, "tent", Kind.VENTING, at(0), at(6), 8, None, 90, 76, -2, 1400.0, 620.0)


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        pytest.param(
            MISTING,
            Effect(Call.MIST, Outcome.CAME, 76.0, 85.0, 0.0, 4.0, timedelta(minutes=11)),
            id="a misting",
        ),
        pytest.param(
            VENTING, Effect(Call.VENT, Outcome.CAME, 1400.0, 620.0, 0.0, 6.0), id="a venting"
        ),
        pytest.param(
            replace(VENTING, co2_after_ppm=None),
            Effect(Call.DRY_OFF, Outcome.CAME, 90, 76, 0.0, 6.0),
            id="without a CO2 sensor",
        ),
        pytest.param(replace(VENTING, co2_after_ppm=1450.0), None, id="it rose all the same"),
        pytest.param(replace(MISTING, humidity_before_pct=None), None, id="not measured"),
    ],
)
def test_what_was_found_in_the_record(found: Found, expected: Effect | None) -> None:
    assert effect_found(found) == expected


# ------------------------------------------------------------------ the grace


def told(minutes: float) -> Action:
    return Action(7, "tent", Deed.MISTED, at(minutes), "", at(minutes), "page")


@pytest.mark.parametrize(
    ("action", "minutes"),
    [
        pytest.param(None, 4.0, id="nobody told: from where it began"),
        pytest.param(told(-3.0), 8.0, id="told before: what the person needs counts"),
        pytest.param(told(9.0), 4.0, id="told late"),
    ],
)
def test_the_time_to_an_effect(action: Action | None, minutes: float) -> None:
    assert answer_time(MISTING, action) == timedelta(minutes=minutes)


def minutes_of(*minutes: float) -> list[timedelta]:
    return [timedelta(minutes=m) for m in minutes]


@pytest.mark.parametrize(
    ("times", "call", "lag_s", "grace_min"),
    [
        pytest.param((), Call.MIST, 0.0, 15.0, id="nothing known yet"),
        pytest.param((4, 4), Call.MIST, 0.0, 15.0, id="too little"),
        pytest.param((7, 7, 7), Call.MIST, 0.0, 9.0, id="7 min and the off-delay of 2"),
        # Median 4, the others 1 min off: 4 + 2 x 1.48 + 2.
        pytest.param((3, 4, 5), Call.MIST, 0.0, 8.97, id="and twice the spread"),
        pytest.param((1, 1, 1), Call.MIST, 0.0, 8.0, id="a squeeze is there at once"),
        pytest.param((6, 6, 6), Call.VENT, 210.0, 12.5, id="a slow sensor, 3 min off-delay"),
        pytest.param((40, 40, 40), Call.VENT, 0.0, 30.0, id="at most half an hour"),
        pytest.param((60,) * 20 + (7,) * LAST, Call.MIST, 0.0, 9.0, id="only the last ones"),
    ],
)
def test_the_grace(times: tuple[float, ...], call: Call, lag_s: float, grace_min: float) -> None:
    grace = grace_from(minutes_of(*times), call, timedelta(seconds=lag_s))
    assert grace / timedelta(minutes=1) == pytest.approx(grace_min, abs=0.01)
    assert SHORTEST <= grace <= LONGEST


def test_what_is_looked_at_is_what_is_asked() -> None:
    assert {of: call for call, of in ASKED.items()} == CALLS
    assert all(quantity in PATIENCE for quantity, _ in ASKED.values())
    assert SHORTEST < GRACE < LONGEST
