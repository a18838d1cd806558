"""Mistings and ventings in the record: on days of an invented tent, and on made-up tracks."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta

import pytest

from chamberwatch.core.air.figure import Origin
from chamberwatch.core.air.knowledge import LEAK_PER_H
from chamberwatch.core.air.tent import TentSpec
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.lasting import best_air_changes, hold, paired, typical_hold_min
from chamberwatch.core.watch.steps import Step, steps
from chamberwatch.core.watch.tracks import (
    Points,
    Record,
    least_sure,
    on_steps,
    runs,
    vapour_g_per_m3,
    without_spikes,
)
from tests.core.watch.days import SPEC, Day, Done, chance_of, live, plan
from tests.make import NOON, at

MISTING, VENTING = Kind.MISTING, Kind.VENTING
NEAR_S = 150.0


def wanted(deeds: Sequence[Done]) -> list[tuple[Kind, float]]:
    return [(VENTING, d.at_s) for d in deeds if d.vent_min] + [
        (MISTING, d.mist_s) for d in deeds if d.mist_g
    ]


def score(found: Sequence[Step], deeds: Sequence[Done]) -> tuple[int, int, int]:
    """Return how many deeds there were, how many were found, and how many were invented."""
    left = list(found)
    hits = 0
    for kind, at_s in wanted(deeds):
        match = [s for s in left if s.kind is kind and abs(s.start_s - at_s) <= NEAR_S]
        if match:
            left.remove(match[0])
            hits += 1
    return len(wanted(deeds)), hits, len(left)


def days(every_s: float, spec: TentSpec, count: int) -> list[tuple[Day, list[Done]]]:
    made = []
    for seed in range(count):
        chance = chance_of(seed)
        deeds = plan(chance)
        made.append((live(deeds, chance, every_s=every_s, spec=spec), deeds))
    return made


@pytest.mark.parametrize(
    ("every_s", "spec"),
    [
        pytest.param(5.0, SPEC, id="a report every 5 s"),
        pytest.param(30.0, SPEC, id="every 30 s"),
        pytest.param(60.0, SPEC, id="every minute"),
        pytest.param(30.0, replace(SPEC, wet_area_m2=0.02), id="dry walls"),
        pytest.param(30.0, replace(SPEC, fruit_kg=1.5), id="much fruit"),
    ],
)
def test_a_grower_s_days_are_found_again(every_s: float, spec: TentSpec) -> None:
    made = days(every_s, spec, 3)
    scores = [score(steps(day.thinned()), deeds) for day, deeds in made]
    done, hits, invented = (sum(column) for column in zip(*scores, strict=True))
    print(f"{done} deeds, {hits} found, {invented} invented in {len(made)} days")
    assert done > 30
    assert hits >= 0.95 * done
    assert invented <= len(made)


@pytest.mark.parametrize(
    "less",
    [
        pytest.param(lambda r: replace(r, co2=(), room_co2=()), id="no CO2"),
        pytest.param(
            lambda r: replace(r, room_temperature=(), room_humidity=(), room_co2=()),
            id="no sensor in the room",
        ),
        pytest.param(lambda r: Record(r.temperature, r.humidity), id="one hygrometer"),
    ],
)
def test_days_are_found_with_fewer_sensors(less: Callable[[Record], Record]) -> None:
    made = days(30.0, SPEC, 2)
    scores = [score(steps(less(day.thinned())), deeds) for day, deeds in made]
    done, hits, invented = (sum(column) for column in zip(*scores, strict=True))
    assert hits >= 0.95 * done
    assert invented <= len(made)


def test_a_day_left_alone_has_no_events() -> None:
    for seed in range(2):
        day = live([], chance_of(seed), every_s=30.0)
        assert steps(day.thinned()) == ()


def test_times_are_those_of_the_deeds() -> None:
    deeds = [Done(3600.0, 3.0, 12.0), Done(9000.0, 0.0, 8.0)]
    found = steps(live(deeds, chance_of(1), hours=4.0, every_s=5.0).thinned())
    assert [s.kind for s in found] == [VENTING, MISTING, MISTING]
    vent, mist, alone = found
    assert vent.start_s == pytest.approx(3600.0, abs=30.0)
    assert vent.end_s == pytest.approx(3780.0, abs=45.0)
    assert mist.start_s == pytest.approx(3780.0, abs=30.0)
    assert alone.start_s == pytest.approx(9000.0, abs=30.0)
    assert 0.0 < alone.end_s - alone.start_s <= 60.0
    assert vent.vapour_gain_g_per_m3 < -3.0
    assert alone.vapour_gain_g_per_m3 > 1.0
    assert alone.humidity_after_pct > alone.humidity_before_pct + 5.0
    assert vent.co2_before_ppm is not None
    assert vent.co2_after_ppm is not None
    assert vent.co2_after_ppm < vent.co2_before_ppm


# ------------------------------------------------------------------ made-up tracks


def track(value: Callable[[float], float], minutes: float = 60.0, every_s: float = 30.0) -> Points:
    return [(n * every_s, value(n * every_s)) for n in range(int(minutes * 60 / every_s))]


def step_at(at_s: float, before: float, after: float) -> Callable[[float], float]:
    return lambda t: before if t <= at_s else after


CALM_C = track(lambda _: 19.0)
CALM_PCT = track(lambda _: 85.0)
ROOM_C = track(lambda _: 20.0)
DRY_PCT = track(lambda _: 40.0)


def test_nothing_read_is_nothing_found() -> None:
    assert steps(Record((), ())) == ()
    assert steps(Record(CALM_C, ())) == ()
    assert steps(Record((), CALM_PCT)) == ()


def test_a_short_record_is_no_fault() -> None:
    for count in range(1, 24):
        assert steps(Record(CALM_C[:count], CALM_PCT[:count])) == ()


def test_a_step_beside_a_gap_is_not_seen() -> None:
    rising = track(step_at(1800.0, 80.0, 92.0))
    assert [s.kind for s in steps(Record(CALM_C, rising))] == [MISTING]
    # Nobody knows whether it rose within a minute or slowly over the 6 that are missing.
    gap = [p for p in rising if not 1600.0 < p[0] < 1960.0]
    assert steps(Record(CALM_C, gap)) == ()


def test_a_small_gap_is_bridged() -> None:
    rising = [p for p in track(step_at(1800.0, 80.0, 92.0)) if not 2000.0 < p[0] < 2200.0]
    assert len(runs(Record(CALM_C, rising))) == 1
    assert [s.kind for s in steps(Record(CALM_C, rising))] == [MISTING]


def test_a_lone_spike_is_no_event() -> None:
    wet = track(lambda t: 95.0 if t == 1800.0 else 80.0)
    dry = track(lambda t: 50.0 if t == 1800.0 else 80.0)
    assert steps(Record(CALM_C, wet)) == ()
    assert steps(Record(CALM_C, dry)) == ()


def test_a_breath_at_the_sensor_is_no_event() -> None:
    breath = track(lambda t: 95.0 if 1800.0 <= t <= 1890.0 else 80.0)
    assert [s.kind for s in steps(Record(CALM_C, breath)) if s.kind is MISTING] == []


def test_a_swing_of_temperature_is_no_event() -> None:
    """The air is warmed by 1.5 K in 5 min, as by a radiator; the water in it stays."""
    warm = track(lambda t: 19.0 + 1.5 * min(max((t - 1800.0) / 300.0, 0.0), 1.0))
    water = vapour_g_per_m3(19.0, 85.0)
    humidity = [(t, 100.0 * water / vapour_g_per_m3(c, 100.0)) for t, c in warm]
    assert min(v for _, v in humidity) < 78.0
    assert steps(Record(warm, humidity)) == ()


def test_the_slow_recovery_from_wet_walls_is_no_misting() -> None:
    def value(t: float) -> float:
        if t <= 1800.0:
            return 88.0
        if t <= 1980.0:
            return 88.0 - 30.0 * (t - 1800.0) / 180.0
        return 88.0 - 30.0 * math.exp(-(t - 1980.0) / 430.0)

    found = steps(Record(CALM_C, track(value), (), ROOM_C, DRY_PCT))
    assert [s.kind for s in found] == [VENTING]


def test_two_squeezes_in_one_rise_are_one_misting() -> None:
    def value(t: float) -> float:
        return 75.0 if t <= 1800.0 else 82.0 if t <= 1890.0 else 92.0

    found = steps(Record(CALM_C, track(value)))
    assert [s.kind for s in found] == [MISTING]
    assert found[0].humidity_after_pct == pytest.approx(92.0)


def test_a_rise_in_two_parts_is_one_misting() -> None:
    """A second burst 3.5 min after the first, as from a slow sensor."""

    def value(t: float) -> float:
        return 70.0 + 8.0 * (t > 1800.0) + 8.0 * (t > 2010.0)

    found = steps(Record(CALM_C, track(value)))
    assert [s.kind for s in found] == [MISTING]


def test_two_mistings_a_quarter_of_an_hour_apart_are_two() -> None:
    def value(t: float) -> float:
        return 70.0 + 8.0 * (t > 1200.0) + 8.0 * (t > 2100.0)

    assert [s.kind for s in steps(Record(CALM_C, track(value)))] == [MISTING, MISTING]


FALLING_CO2 = track(lambda t: 1500.0 if t <= 1800.0 else max(500.0, 1500.0 - (t - 1800.0) * 4.0))


def test_moist_air_from_outside_is_a_venting() -> None:
    """In summer the room may be wetter than the chamber: only the CO2 can tell."""
    rising = track(step_at(1800.0, 80.0, 90.0))
    wet_room = track(lambda _: 95.0)
    room_co2 = track(lambda _: 500.0)
    record = Record(CALM_C, rising, FALLING_CO2, ROOM_C, wet_room, room_co2)
    assert [s.kind for s in steps(record)] == [VENTING]
    # The same rise with a steady CO2, or none, is a misting.
    steady = replace(record, co2=track(lambda _: 1500.0))
    assert [s.kind for s in steps(steady)] == [MISTING]
    assert [s.kind for s in steps(replace(record, co2=()))] == [MISTING]


def test_a_misting_right_after_a_venting_is_seen_though_the_co2_still_falls() -> None:
    humidity = track(lambda t: 85.0 if t <= 1800 else 85.0 - (t - 1800) / 6 if t <= 1980 else 90.0)
    found = steps(Record(CALM_C, humidity, FALLING_CO2))
    assert [s.kind for s in found] == [VENTING, MISTING]


def test_a_fall_of_water_that_the_co2_denies_is_no_venting() -> None:
    falling = track(step_at(1800.0, 90.0, 60.0))
    room_co2 = track(lambda _: 500.0)
    steady = track(lambda _: 1500.0)
    record = Record(CALM_C, falling, steady, ROOM_C, DRY_PCT, room_co2)
    assert steps(record) == ()
    assert [s.kind for s in steps(replace(record, co2=FALLING_CO2))] == [VENTING]
    # Where the CO2 is that of the room it can't say anything.
    assert [s.kind for s in steps(replace(record, co2=room_co2))] == [VENTING]


def test_co2_that_a_breath_had_raised_is_no_venting() -> None:
    breath = track(lambda t: 600.0 + 900.0 * max(0.0, 1.0 - abs(t - 1800.0) / 300.0))
    room = Record(CALM_C, CALM_PCT, breath, ROOM_C, CALM_PCT, track(lambda _: 500.0))
    assert steps(room) == ()


def test_co2_with_holes_is_borne() -> None:
    holes = [p for p in FALLING_CO2 if not 1500.0 < p[0] < 1900.0]
    found = steps(Record(CALM_C, CALM_PCT, holes, ROOM_C, CALM_PCT))
    assert all(s.kind is VENTING for s in found)


def test_points_are_read_off_between_readings() -> None:
    points = [(0.0, 10.0), (60.0, 16.0), (60.0, 99.0), (400.0, 0.0), (420.0, 2.0)]
    assert on_steps(points, 0.0, 5) == [10.0, 13.0, 16.0, None, None]
    assert on_steps(points, 30.0, 1) == [13.0]
    assert on_steps(points, 390.0, 2) == [None, 2.0]
    assert on_steps([(0.0, 1.0)], 0.0, 2) == [None, None]


def test_spikes_are_flattened_and_steps_stay() -> None:
    assert without_spikes([(0, 1.0), (1, 9.0), (2, 1.0)]) == [(0, 1.0), (1, 1.0), (2, 1.0)]
    step = [(0, 1.0), (1, 1.0), (2, 9.0), (3, 9.0)]
    assert without_spikes(step) == step


def test_water_in_the_air() -> None:
    """Saturated air at 20 °C holds 17.3 g/m3 (ASHRAE's saturation pressure, ideal gas)."""
    assert vapour_g_per_m3(20.0, 100.0) == pytest.approx(17.29, abs=0.02)
    assert vapour_g_per_m3(20.0, 104.0) == vapour_g_per_m3(20.0, 100.0)


def test_noise_raises_what_a_step_must_exceed() -> None:
    assert least_sure([], 0.3) == 0.3
    assert least_sure([0.01, -0.01, 0.0], 0.3) == 0.3
    wide = [chance_of(n).gauss(0.0, 1.0) for n in range(2000)]
    assert least_sure(wide, 0.3) == pytest.approx(5.0, rel=0.1)


# ------------------------------------------------------------------ holds and deeds


@pytest.mark.parametrize(
    ("humidity", "seconds", "holding"),
    [
        pytest.param(track(lambda t: 90.0 - t / 60.0), 600.0, False, id="falls through the limit"),
        pytest.param(track(lambda _: 85.0), None, True, id="still holds"),
        pytest.param(track(lambda t: 79.0 if t == 600 else 85.0), None, True, id="a dip"),
        pytest.param(track(lambda _: 70.0), 0.0, False, id="never reached it"),
        pytest.param(track(lambda t: 85.0 if t < 900 else 75.0, 17.0), None, True, id="not yet"),
        pytest.param([(0.0, 85.0), (700.0, 70.0), (900.0, 70.0)], None, False, id="breaks off"),
        pytest.param([(700.0, 85.0)], None, False, id="begins too late"),
        pytest.param([], None, False, id="nothing read"),
    ],
)
def test_how_long_it_held(humidity: Points, seconds: float | None, holding: bool) -> None:
    result = hold(humidity, 0.0, 80.0)
    assert result.holding is holding
    assert result.seconds == (None if seconds is None else pytest.approx(seconds, abs=1.0))


def test_a_hold_is_counted_from_the_end_of_the_misting() -> None:
    assert hold(track(lambda t: 90.0 - t / 60.0), 120.0, 80.0).seconds == pytest.approx(480.0)


def test_deeds_go_to_the_nearest_event_once() -> None:
    starts = {1: at(0), 2: at(10), 3: at(60)}
    assert paired(starts, {7: at(12)}) == {2: 7}
    assert paired(starts, {7: at(12), 8: at(9)}) == {2: 8, 1: 7}
    assert paired(starts, {7: at(-5), 8: at(80)}) == {1: 7, 3: 8}
    assert paired(starts, {7: at(-6), 8: at(81)}) == {}


def misting(minutes: float | None, confirmed: bool | None = None, kind: Kind = MISTING) -> Found:
    held = None if minutes is None else timedelta(minutes=minutes)
    return Found(1, "tent", kind, NOON, at(1), confirmed=confirmed, held=held)


def test_the_typical_hold_leaves_out_what_was_none() -> None:
    assert typical_hold_min([misting(None), misting(9.0, confirmed=False)]) is None
    assert typical_hold_min([misting(5.0, kind=VENTING)]) is None
    known = [misting(m) for m in (11.0, 9.0, 13.0, 90.0, 1.0)]
    figure = typical_hold_min([*known, misting(500.0, confirmed=False)])
    assert figure is not None
    assert (figure.value, figure.low, figure.high, figure.count) == (11.0, 9.0, 13.0, 5)
    assert figure.origin is Origin.MEASURED


def exchange(per_h: float | None, low: float | None, high: float | None) -> Exchange:
    return Exchange(1, "tent", NOON, at(60), vented=False, per_h=per_h, low=low, high=high)


def test_the_best_air_changes() -> None:
    useless = [
        exchange(None, None, None),
        exchange(1.0, None, 2.0),
        exchange(1.0, 0.5, None),
        exchange(1.0, 0.0, 2.0),
        replace(exchange(20.0, 15.0, 25.0), vented=True),
    ]
    assert best_air_changes(useless, None) == LEAK_PER_H
    assert best_air_changes(useless, 2.0).origin is Origin.DECLARED
    one = best_air_changes([*useless, exchange(1.0, 0.5, 2.0)], 2.0)
    assert (one.value, one.origin, one.count) == (1.0, Origin.MEASURED, 1)
    assert one.low == pytest.approx(0.5, abs=0.01)
    assert one.high == pytest.approx(2.0, abs=0.02)
    many = best_air_changes([exchange(v, v / 2, v * 2) for v in (0.9, 1.0, 1.1, 7.0, 1.0)], None)
    assert many.value == 1.0
    assert one.low < many.low < 1.0 < many.high < one.high
