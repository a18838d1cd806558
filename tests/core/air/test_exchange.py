"""Air changes from a record of CO2: worked decays, refusals, sources."""

import math
import random
from dataclasses import replace
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chamberwatch.core.air.accuracy import DIGITAL
from chamberwatch.core.air.decay import SLOWEST_PER_H, Record
from chamberwatch.core.air.exchange import (
    DRIFTING,
    NO_CHANGE,
    TOO_FAST,
    TOO_FEW,
    TOO_SHORT,
    UNCERTAIN,
    UNEVEN,
    Curve,
    Inlet,
    Refused,
    fit,
    source_figure,
    source_g_per_h,
)
from chamberwatch.core.air.figure import Origin

INLET: Final = Inlet(450.0, 30.0)
Points = list[tuple[float, float]]


def lagged(
    per_h: float,
    start_ppm: float,
    end_ppm: float,
    lag_s: float = 0.0,
    minutes: float = 60.0,
    shown_ppm: float | None = None,
    interval_s: float = 5.0,
) -> Points:
    """What a sensor without noise shows, in closed form; at first it shows what it is told to."""
    n, shown = per_h / 3600.0, start_ppm if shown_ppm is None else shown_ppm
    points = []
    for i in range(int(minutes * 60.0 / interval_s) + 1):
        t = i * interval_s
        if lag_s:
            fading = math.exp(-t / lag_s)
            moved = (math.exp(-n * t) - fading) / (1.0 - n * lag_s)
            ppm = end_ppm + (start_ppm - end_ppm) * moved + (shown - end_ppm) * fading
        else:
            ppm = end_ppm + (start_ppm - end_ppm) * math.exp(-n * t)
        points.append((t, ppm))
    return points


def answered(points: Points, lag_s: float = 90.0, inlet: Inlet = INLET) -> Curve:
    found = fit(points, lag_s=lag_s, accuracy=DIGITAL, inlet=inlet)
    assert isinstance(found, Curve), found
    return found


@pytest.mark.parametrize("lag_s", [0.0, 0.5, 5.0])
def test_the_worked_decay_is_fitted(lag_s: float) -> None:
    # ASTM E741 decay: 2500 to 1000 ppm in ten minutes, inlet 450, no source: 7.89 /h.
    curve = answered(lagged(7.8944, 2500.0, 450.0, lag_s, minutes=20.0), lag_s)
    assert curve.per_h == pytest.approx(7.89, rel=0.003)
    assert curve.low_per_h < 7.89 < curve.high_per_h
    assert curve.end_ppm == pytest.approx(450.0, abs=3.0)
    assert curve.start_ppm == pytest.approx(2500.0, abs=6.0)
    assert curve.r2 > 0.99999
    assert curve.points == 241


@pytest.mark.parametrize("lag_s", [60.0, 75.0, 90.0, 105.0, 120.0])
@pytest.mark.parametrize(
    ("per_h", "start", "end", "minutes", "shown"),
    [
        pytest.param(1.0, 2500.0, 700.0, 90.0, None, id="slow"),
        pytest.param(4.0, 2500.0, 500.0, 40.0, 3300.0, id="sensor still up"),
        pytest.param(8.0, 2500.0, 500.0, 30.0, None, id="fast"),
        pytest.param(2.0, 500.0, 1600.0, 60.0, 1200.0, id="rising, sensor still up"),
    ],
)
def test_the_lag_does_not_matter_within_a_third(
    per_h: float, start: float, end: float, minutes: float, shown: float | None, lag_s: float
) -> None:
    curve = answered(lagged(per_h, start, end, lag_s, minutes, shown))
    assert curve.per_h == pytest.approx(per_h, rel=0.02)
    assert curve.low_per_h <= per_h <= curve.high_per_h
    assert curve.end_ppm == pytest.approx(end, abs=0.01 * abs(start - end))
    # A start that is reckoned back through a lag that may be wrong by a third is known worse.
    assert curve.start_ppm == pytest.approx(start, abs=0.1 * abs(start - end))


@settings(max_examples=25, deadline=None)
@given(st.floats(-30.0, 50.0), st.floats(0.95, 1.05))
def test_offset_and_gain_leave_the_rate_alone(offset_ppm: float, gain: float) -> None:
    points = lagged(3.0, 2500.0, 700.0, 90.0)
    plain = answered(points)
    bent = answered([(t, gain * ppm + offset_ppm) for t, ppm in points])
    assert bent.per_h == pytest.approx(plain.per_h, rel=2e-3)
    assert bent.end_ppm == pytest.approx(gain * plain.end_ppm + offset_ppm, abs=3.0)


def test_gaps_are_bridged() -> None:
    whole = lagged(3.0, 2500.0, 700.0, 90.0)
    torn = [(t, ppm) for t, ppm in whole if not 600.0 < t < 1300.0]
    assert answered(torn).per_h == pytest.approx(3.0, rel=0.02)


def test_the_clock_may_start_anywhere() -> None:
    points = lagged(3.0, 2500.0, 700.0, 90.0)
    later = [(t + 1.7e9, ppm) for t, ppm in points]
    assert answered(later).per_h == pytest.approx(answered(points).per_h, rel=1e-4)


def test_a_rate_at_which_two_test_shapes_coincide_is_no_trouble() -> None:
    # 18 /h is 1 / 200 s, the time in which a visitor's breath is taken to arrive.
    record = Record(lagged(18.0, 2500.0, 700.0, 30.0), 30.0, 450.0, 80.0)
    assert record.bend(18.0) < 0.5
    assert record.bend(18.0) == pytest.approx(record.bend(18.1), abs=0.5)


def noisy(points: Points, noise_ppm: float) -> Points:
    rng = random.Random(4)  # noqa: S311 - noise, no secret
    return [(t, ppm + rng.gauss(0.0, noise_ppm)) for t, ppm in points]


def with_a_visitor() -> Points:
    """250 ppm more in the room from the twentieth minute on, air changes 4 /h."""
    points, ppm = [], 2500.0
    for i in range(721):
        points.append((5.0 * i, ppm))
        room = 500.0 + (250.0 * -math.expm1(-(i - 240) / 60.0) if i > 240 else 0.0)
        ppm = room + (ppm - room) * math.exp(-4.0 * 5.0 / 3600.0)
    return points


@pytest.mark.parametrize(
    ("points", "expected"),
    [
        pytest.param([], TOO_FEW, id="nothing"),
        pytest.param(lagged(4.0, 2500.0, 500.0, interval_s=300.0), TOO_FEW, id="13 readings"),
        pytest.param(lagged(4.0, 2500.0, 500.0, minutes=9.9), TOO_SHORT, id="not ten minutes"),
        pytest.param([(0.0, 500.0)] * 20, TOO_SHORT, id="one moment"),
        pytest.param(lagged(4.0, 550.0, 500.0), NO_CHANGE, id="50 ppm"),
        pytest.param([(5.0 * i, 500.0) for i in range(400)], NO_CHANGE, id="flat"),
        pytest.param(lagged(17.0, 2500.0, 500.0, 90.0), TOO_FAST, id="17 per hour"),
        pytest.param(
            noisy(lagged(200.0, 2500.0, 500.0, 90.0), 6.0), TOO_FAST, id="only lag to be seen"
        ),
        pytest.param(lagged(1.0, 500.0, 1500.0, 90.0, 12.0), UNCERTAIN, id="straight"),
        pytest.param(lagged(0.02, 3000.0, 500.0, 90.0, 600.0), UNCERTAIN, id="sealed"),
        pytest.param(noisy(with_a_visitor(), 4.0), UNEVEN, id="a visitor"),
    ],
)
def test_refuses(points: Points, expected: Refused) -> None:
    assert fit(points, lag_s=90.0, accuracy=DIGITAL, inlet=INLET) == expected


def test_a_slow_exchange_is_found_if_the_record_is_long() -> None:
    curve = answered(lagged(0.1, 3000.0, 500.0, 90.0, 600.0))
    assert curve.per_h == pytest.approx(0.1, rel=0.05)
    assert curve.low_per_h > SLOWEST_PER_H


CURVE: Final = Curve(2500.0, 750.0, 2.0, 1.8, 2.2, 0.99, 700, 720.0, 775.0, 5.0)


@pytest.mark.parametrize(
    ("source", "per_h", "excess"),
    [
        # Build-up in 0.5 m3 at 20 °C by the balance G = N V (C_end - C_in).
        pytest.param(0.3, 1.0, 328.0, id="0.3 g/h at 1 /h"),
        pytest.param(1.0, 4.0, 273.0, id="1 g/h at 4 /h"),
        pytest.param(3.0, 8.0, 410.0, id="3 g/h at 8 /h"),
    ],
)
def test_source(source: float, per_h: float, excess: float) -> None:
    curve = replace(CURVE, per_h=per_h, end_ppm=450.0 + excess)
    assert source_g_per_h(curve, 450.0, 0.5) == pytest.approx(source, rel=0.003)


def test_a_source_is_never_negative() -> None:
    below = replace(CURVE, end_ppm=400.0, end_at_low_ppm=390.0, end_at_high_ppm=410.0)
    assert source_g_per_h(below, 450.0, 0.5) == 0.0
    figure = source_figure(below, INLET, 0.5)
    assert (figure.value, figure.low) == (0.0, 0.0)
    assert figure.high > 0.0


def test_source_with_its_interval() -> None:
    figure = source_figure(CURVE, INLET, 0.5)
    assert figure.value == source_g_per_h(CURVE, 450.0, 0.5)
    # By hand: 50 + 0.05 x 750 = 87.5 of the sensor, 30 of the inlet, 5 of noise: 92.6 ppm, and
    # +- 0.0847 g/h with it; the rate takes 1.8 x 270 and 2.2 x 325 in place of 2.0 x 300.
    k = 1.8295e-3 * 0.5
    assert figure.low == pytest.approx(k * (600.0 - math.hypot(2.0 * 92.64, 114.0)), rel=1e-3)
    assert figure.high == pytest.approx(k * (600.0 + math.hypot(2.0 * 92.64, 115.0)), rel=1e-3)
    assert (figure.origin, figure.count) == (Origin.MEASURED, 1)


def test_a_source_from_a_slow_rise_is_known_better_than_its_rate() -> None:
    # 0.5 /h, 0.4 g/h in 0.5 m3: the first slope is 437 ppm/h, whatever becomes of it.
    end = 450.0 + 0.4 / (0.5 * 0.5 * 1.8295e-3)
    curve = answered(noisy(lagged(0.5, 450.0, end, 90.0, 80.0), 4.0))
    figure = source_figure(curve, INLET, 0.5)
    assert figure.low < 0.4 < figure.high
    perfect = replace(DIGITAL, co2_ppm=0.0, co2_share=0.0)
    noise_alone = source_figure(curve, Inlet(450.0, 0.0), 0.5, perfect)
    rate = math.log(curve.high_per_h / curve.low_per_h)
    assert math.log(noise_alone.high / noise_alone.low) < 0.5 * rate


# ------------------------------------------------------------ an inlet that nobody measures

ASSUMED: Final = Inlet(430.0, 50.0, 100.0)


def in_a_room(
    per_h: float, start_ppm: float, room_ppm: tuple[float, float], source_ppm: float, hours: float
) -> Points:
    """Let a chamber follow a room whose CO2 goes evenly from one value to another."""
    rng, ppm, points = random.Random(7), start_ppm, []  # noqa: S311 - noise, no secret
    minutes = round(hours * 60)
    for minute in range(minutes + 1):
        points.append((minute * 60.0, round(ppm + rng.gauss(0.0, 4.0))))
        room = room_ppm[0] + (room_ppm[1] - room_ppm[0]) * minute / minutes
        ppm += (room + source_ppm - ppm) * -math.expm1(-per_h / 60.0)
    return [(at_s, float(value)) for at_s, value in points]


@pytest.mark.parametrize("room_ppm", [(650.0, 550.0), (600.0, 600.0), (550.0, 650.0)])
@pytest.mark.parametrize("per_h", [0.8, 1.5])
def test_a_large_step_is_answered_whatever_the_room_did(
    per_h: float, room_ppm: tuple[float, float]
) -> None:
    curve = answered(in_a_room(per_h, 2500.0, room_ppm, 100.0, 1.0), 0.0, ASSUMED)
    assert curve.low_per_h <= per_h <= curve.high_per_h
    sure = answered(in_a_room(per_h, 2500.0, room_ppm, 100.0, 1.0), 0.0, Inlet(430.0, 50.0))
    assert (curve.per_h, curve.end_ppm) == (sure.per_h, sure.end_ppm)
    assert curve.low_per_h < sure.low_per_h
    assert curve.high_per_h > sure.high_per_h


@pytest.mark.parametrize(
    ("per_h", "start_ppm", "room_ppm", "source_ppm", "hours"),
    [
        pytest.param(2.0, 726.0, (630.0, 480.0), 100.0, 3.0, id="it only follows the room down"),
        pytest.param(2.0, 550.0, (450.0, 600.0), 100.0, 3.0, id="and up"),
        pytest.param(0.5, 1345.0, (627.0, 630.0), 900.0, 3.0, id="a small rise to its end"),
        pytest.param(0.3, 704.0, (540.0, 600.0), 600.0, 1.8, id="a rise with people at home"),
    ],
)
def test_what_people_could_explain_is_refused(
    per_h: float, start_ppm: float, room_ppm: tuple[float, float], source_ppm: float, hours: float
) -> None:
    points = in_a_room(per_h, start_ppm, room_ppm, source_ppm, hours)
    found = fit(points, lag_s=0.0, accuracy=DIGITAL, inlet=ASSUMED)
    print(found)
    assert isinstance(found, Refused)


def test_the_reason_says_what_would_tell() -> None:
    points = in_a_room(0.5, 900.0, (627.0, 630.0), 900.0, 1.0)
    assert fit(points, lag_s=0.0, accuracy=DIGITAL, inlet=ASSUMED) == DRIFTING
    assert "CO2 sensor in the room" in DRIFTING.reason
