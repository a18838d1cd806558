"""From rules that hold to what is asked of a person."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest

from chamberwatch.core.watch.action import AMOUNTS, Amounts, Deed
from chamberwatch.core.watch.advice import (
    CALLS,
    DEVICE_GRACE,
    GRACE,
    Need,
    air_calls,
    coming,
    events,
    in_grace,
    needs,
    returned,
    seen_to,
    trend_per_h,
    untold,
    usual_grace,
)
from chamberwatch.core.watch.device import Device, Kind, Timetable
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Event, Priority, Reminder, State
from chamberwatch.core.watch.rule import Level, Side, Watched
from tests.make import NOON, ROOM, TENT, at, evidence, house, humidity


def holding(
    sensor: str, quantity: Quantity, side: Side, level: Level = Level.BAND, *, active: bool = True
) -> Watched:
    return Watched(sensor, quantity, side, level, active=active)


def newest(*readings: Reading) -> dict[tuple[str, Quantity], Reading]:
    return {(r.sensor, r.quantity): r for r in readings}


def test_the_worst_sensor_speaks() -> None:
    found = needs(
        house(),
        "tent",
        [
            holding("middle", Quantity.HUMIDITY, Side.LOW),
            holding("top", Quantity.HUMIDITY, Side.LOW),
        ],
        newest(humidity(78.0), humidity(74.0, sensor="top")),
        {("top", Quantity.HUMIDITY): -6.0},
    )
    assert list(found) == [Call.MIST]
    need = found[Call.MIST]
    assert (need.evidence.sensor, need.evidence.value) == ("top", 74.0)
    assert (need.evidence.trend_per_h, need.priority) == (-6.0, Priority.MEDIUM)


def test_a_sensor_in_doubt_leaves_the_word_to_another() -> None:
    doubt = Doubt("top", Doubted.STUCK, NOON, "stuck", frozenset({Quantity.HUMIDITY}))
    watched = [
        holding("middle", Quantity.HUMIDITY, Side.LOW),
        holding("top", Quantity.HUMIDITY, Side.LOW),
    ]
    readings = newest(humidity(78.0), humidity(60.0, sensor="top"))
    found = needs(house(), "tent", watched, readings, {}, {"top": doubt})
    assert found[Call.MIST].evidence.sensor == "middle"


def test_harm_makes_it_high() -> None:
    watched = [
        holding("middle", Quantity.HUMIDITY, Side.LOW),
        holding("middle", Quantity.HUMIDITY, Side.LOW, Level.HARM),
    ]
    found = needs(house(), "tent", watched, newest(humidity(60.0)), {})
    assert found[Call.MIST].priority is Priority.HIGH


@pytest.mark.parametrize(
    "watched",
    [
        pytest.param(holding("middle", Quantity.HUMIDITY, Side.LOW, active=False), id="calm"),
        pytest.param(holding("gone", Quantity.HUMIDITY, Side.LOW), id="sensor no longer declared"),
        pytest.param(holding("top", Quantity.HUMIDITY, Side.LOW), id="never heard"),
        pytest.param(holding("room", Quantity.HUMIDITY, Side.LOW), id="another chamber"),
        pytest.param(holding("wall", Quantity.TEMPERATURE, Side.LOW), id="place not judged"),
    ],
)
def test_nothing_to_ask(watched: Watched) -> None:
    readings = newest(
        humidity(76.0),
        humidity(40.0, sensor="room"),
        Reading(NOON, "wall", Quantity.TEMPERATURE, 5.0),
    )
    assert needs(house(), "tent", [watched], readings, {}) == {}


def test_a_hot_block_is_judged_against_harm() -> None:
    hot = Reading(NOON, "block", Quantity.TEMPERATURE, 36.0)
    watched = holding("block", Quantity.TEMPERATURE, Side.HIGH, Level.HARM)
    need = needs(house(), "tent", [watched], newest(hot), {})[Call.COOL]
    assert (need.priority, need.evidence.high) == (Priority.HIGH, 35.0)


def test_every_judged_side_has_a_call() -> None:
    assert CALLS[Quantity.CO2, Side.HIGH] is Call.VENT
    assert len(CALLS) == 5


NEED = Need("tent", Call.MIST, Priority.MEDIUM, evidence())
LIVE = Reminder(1, "tent", Call.MIST, "", State.UNACKNOWLEDGED, active=True, told=NOON)


@pytest.mark.parametrize(
    ("reminder", "need", "expected"),
    [
        pytest.param(Reminder(1, "tent", Call.MIST), NEED, (Event.RAISED,), id="raised"),
        pytest.param(LIVE, NEED, (), id="goes on"),
        pytest.param(LIVE, replace(NEED, priority=Priority.HIGH), (Event.WORSENED,), id="worse"),
        pytest.param(replace(LIVE, priority=Priority.HIGH), NEED, (), id="better is no news"),
        pytest.param(LIVE, None, (Event.RETURNED,), id="returned"),
        pytest.param(
            replace(LIVE, told=None), None, (Event.RETURNED, Event.SEEN), id="nobody was told"
        ),
        pytest.param(Reminder(1, "tent", Call.MIST), None, (), id="calm"),
    ],
)
def test_events(reminder: Reminder, need: Need | None, expected: tuple[Event, ...]) -> None:
    assert events(reminder, need) == expected


def test_untold_are_the_live_ones_nobody_heard_of() -> None:
    waiting = replace(LIVE, told=None)
    others = [LIVE, replace(waiting, active=False), replace(waiting, state=State.SHELVED)]
    assert untold([waiting, *others]) == (waiting,)


def test_grace_ends() -> None:
    deeds = {Call.MIST: at(0)}
    assert in_grace(Call.MIST, deeds, at(0))
    assert in_grace(Call.MIST, deeds, at(14.9))
    assert not in_grace(Call.MIST, deeds, at(0) + GRACE)
    assert not in_grace(Call.VENT, deeds, at(1))
    assert in_grace(Call.MIST, deeds, at(4.9), timedelta(minutes=5))
    assert not in_grace(Call.MIST, deeds, at(5), timedelta(minutes=5))
    assert usual_grace("tent", Call.MIST) == GRACE


@pytest.mark.parametrize(
    ("points", "slope"),
    [
        pytest.param([(0, 90.0), (1, 89.0)], None, id="two points"),
        pytest.param([(0, 90.0), (0.5, 89.5), (1, 89.0)], None, id="one minute"),
        pytest.param([(0, 90.0), (5, 85.0), (10, 80.0)], -60.0, id="one a minute down"),
        pytest.param([(0, 90.0), (5, 90.0), (10, 90.0)], 0.0, id="flat"),
    ],
)
def test_trend(points: list[tuple[float, float]], slope: float | None) -> None:
    assert trend_per_h([(at(m), v) for m, v in points]) == (
        None if slope is None else pytest.approx(slope)
    )


# ------------------------------------------------------------ what devices do

DRY = replace(LIVE, told=None, since=at(0))
HUMIDIFIER = Device("mister", "tent", Kind.HUMIDIFIER, water_g_per_h=30.0)
FAN = Device("fan", "tent", Kind.FAN, flow_m3_per_h=20.0)
HEATER = Device("mat", "tent", Kind.HEATER, power_w=20.0)
EVENINGS = Timetable(((time(18), time(22)),))


@pytest.mark.parametrize(
    ("devices", "reminder", "now", "expected"),
    [
        pytest.param([HUMIDIFIER], DRY, at(5), True, id="a humidifier mists"),
        pytest.param([FAN, HEATER], DRY, at(5), False, id="a fan and a heater don't"),
        pytest.param([FAN], replace(DRY, call=Call.VENT), at(5), True, id="a fan vents"),
        pytest.param([HEATER], replace(DRY, call=Call.WARM), at(5), True, id="a heater warms"),
        pytest.param(
            [FAN, HUMIDIFIER, HEATER], replace(DRY, call=Call.COOL), at(5), False, id="none cools"
        ),
        pytest.param([], DRY, at(5), False, id="no device"),
        pytest.param([replace(HUMIDIFIER, chamber="tub")], DRY, at(5), False, id="elsewhere"),
        pytest.param([replace(HUMIDIFIER, timetable=EVENINGS)], DRY, at(5), False, id="off duty"),
        pytest.param(
            [replace(HUMIDIFIER, timetable=EVENINGS)],
            replace(DRY, since=at(360)),
            at(365),
            True,
            id="on duty",
        ),
        pytest.param(
            [
                replace(
                    HUMIDIFIER,
                    timetable=Timetable(on=timedelta(minutes=1), every=timedelta(minutes=30)),
                )
            ],
            DRY,
            at(5),
            True,
            id="between two runs",
        ),
        pytest.param(
            [HUMIDIFIER], replace(DRY, priority=Priority.HIGH), at(5), False, id="harmful already"
        ),
        pytest.param([HUMIDIFIER], replace(DRY, since=None), at(5), False, id="not raised"),
        pytest.param([HUMIDIFIER], DRY, at(59.9), True, id="not yet an hour"),
        pytest.param([HUMIDIFIER], DRY, at(0) + DEVICE_GRACE, False, id="an hour is too long"),
    ],
)
def test_seen_to(
    devices: Sequence[Device], reminder: Reminder, now: datetime, expected: bool
) -> None:
    assert seen_to(devices, reminder, now, UTC) is expected


@pytest.mark.parametrize(
    ("amounts", "names"),
    [
        pytest.param(Amounts(), set(), id="nothing said"),
        pytest.param(Amounts(into_air_g=0.0), {"into_air_g"}, id="nought is said too"),
        pytest.param(Amounts(2.0, 25.0), {"into_air_g", "standing_g"}, id="a misting"),
        pytest.param(Amounts(vent_minutes=5.0), {"vent_minutes"}, id="a venting"),
    ],
)
def test_amounts_given(amounts: Amounts, names: set[str]) -> None:
    assert amounts.given() == names


def test_every_amount_belongs_to_one_deed() -> None:
    every = Amounts(1.0, 1.0, 1.0).given()
    assert sorted(name for names in AMOUNTS.values() for name in names) == sorted(every)
    assert set(AMOUNTS) == {Deed.MISTED, Deed.VENTED}


# ------------------------------------------------------------------ about to be asked

DRY_SOON = replace(
    holding("middle", Quantity.HUMIDITY, Side.LOW, active=False), turning_since=NOON
)
CORE_COLD = replace(
    holding("block", Quantity.TEMPERATURE, Side.LOW, active=False), turning_since=NOON
)
WALL_WARM = replace(
    holding("wall", Quantity.TEMPERATURE, Side.HIGH, active=False), turning_since=NOON
)


@pytest.mark.parametrize(
    ("watched", "value", "minutes", "asked"),
    [
        pytest.param(DRY_SOON, 78.0, 1.0, {Call.MIST: timedelta(minutes=2)}, id="in two minutes"),
        pytest.param(DRY_SOON, 78.0, 3.0, {}, id="due, and told by the need itself"),
        pytest.param(replace(DRY_SOON, active=True), 78.0, 1.0, {}, id="asked already"),
        pytest.param(replace(DRY_SOON, turning_since=None), 88.0, 1.0, {}, id="inside"),
        pytest.param(replace(DRY_SOON, level=Level.HARM), 60.0, 1.0, {}, id="harm has no joint"),
        pytest.param(replace(DRY_SOON, sensor="room"), 78.0, 1.0, {}, id="of another chamber"),
        pytest.param(WALL_WARM, 30.0, 1.0, {}, id="walls have no band"),
        pytest.param(CORE_COLD, 5.0, 1.0, {}, id="a core has no low limit"),
    ],
)
def test_what_is_about_to_be_asked(
    watched: Watched, value: float, minutes: float, asked: dict[Call, timedelta]
) -> None:
    reading = Reading(at(minutes), watched.sensor, watched.quantity, value)
    assert coming(house(), "tent", [watched], newest(reading), at(minutes)) == asked


def test_what_is_not_heard_is_not_about_to_be_asked() -> None:
    assert coming(house(), "tent", [DRY_SOON], {}, at(1.0)) == {}


def test_all_that_the_air_of_a_place_can_call_for() -> None:
    assert Call.MIST in air_calls(TENT)
    assert set(air_calls(ROOM)) == {Call.AIR_ROOM}


def test_a_reminder_whose_cause_is_gone_is_over() -> None:
    told = replace(
        Reminder(1, "tent", Call.MIST, ""), state=State.UNACKNOWLEDGED, active=True, told=NOON
    )
    after, moves = returned(told, NOON, "humidity is back")
    assert not after.active
    assert [move.event for move in moves] == [Event.RETURNED]
    assert returned(after, NOON, "once more") == (after, ())
