"""What the record of a chamber teaches: which minutes count, and what is made of them."""

from dataclasses import replace
from datetime import timedelta
from typing import Final

import pytest

from chamberwatch.core.air.figure import Figure
from chamberwatch.core.air.holding import Balance, course
from chamberwatch.core.air.knowledge import Knowledge, Taught, assumed
from chamberwatch.core.air.tent import vapour_g_per_m3
from chamberwatch.core.air.vent import co2_after_ppm, rise_ppm_per_h
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.device import NO_DEVICES, Supply
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.lessons import (
    MISTINGS,
    course_after,
    knowledge_from,
    lesson_of,
    spray_shares,
)
from chamberwatch.core.watch.record import Stood
from tests.core.watch.records import (
    KNOWN,
    ROOM_VAPOUR,
    fit,
    misted,
    misting,
    record,
    stood,
    venting,
)
from tests.make import NOON, at


def drying(
    known: Knowledge, minutes: int, every: int = 1, supply: Supply = NO_DEVICES
) -> list[Stood]:
    """Return how a misting that ended at noon goes on by the balance: 88 %, 20 g on the walls."""
    balance = Balance(
        0.5,
        known.leak_per_h.value + supply.air_changes_per_h,
        known.wet_area_m2.value,
        20.0,
        ROOM_VAPOUR,
        supply.water_g_per_h,
    )
    points = [stood(0, 88.0, 20.0, supply=supply)]
    points += [
        stood(m.minutes, m.humidity_pct, 20.0, supply=supply)
        for m in course(balance, 88.0, 20.0, minutes, 1.0)
    ]
    return points[::every]


# ------------------------------------------------------------ which minutes count


@pytest.mark.parametrize(
    ("held_min", "later", "now", "first", "last"),
    [
        pytest.param(None, None, 900, 2, 601, id="ten hours at most"),
        pytest.param(None, None, 50, 2, 49, id="up to now"),
        pytest.param(40.0, None, 900, 2, 59, id="and some minutes after it fell"),
        pytest.param(None, 30, 900, 2, 29, id="until the next deed"),
        pytest.param(None, -30, 900, 2, 601, id="an earlier deed is no matter"),
    ],
)
def test_course_after(
    held_min: float | None, later: float | None, now: float, first: float, last: float
) -> None:
    one = misting(-3, 0, held_min)
    deeds = [one] if later is None else [one, venting(later, later + 5, 1500, 800)]
    minutes = [stood(number, 80.0) for number in range(-20, 700)]
    found = course_after(record(minutes, deeds), one, at(now))
    end = last if held_min is not None or later == 30 or now == 50 else 599
    assert (found[0].minute.time, found[-1].minute.time) == (at(first), at(end))


def test_a_course_ends_where_the_record_breaks_off() -> None:
    one = misting(-3, 0)
    minutes = [stood(number, 80.0) for number in [*range(30), *range(45, 90)]]
    found = course_after(record(minutes, [one]), one, at(300))
    assert found[-1].minute.time == at(29)


def test_a_sensor_of_five_minutes_breaks_nothing_off() -> None:
    one = misting(-3, 0)
    minutes = [stood(number, 80.0) for number in range(0, 90, 5)]
    assert len(course_after(record(minutes, [one]), one, at(300))) == 17


# ------------------------------------------------------------ one lesson


@pytest.mark.parametrize("every", [1, 2, 5], ids=["each minute", "every other", "each fifth"])
@pytest.mark.parametrize("minutes", [30, 400])
def test_a_lesson_is_the_same_for_slow_sensors(every: int, minutes: int) -> None:
    """What is known already is found again, whatever the pace of the sensor."""
    one = misting(-3, 0)
    points = drying(KNOWN, minutes, every)
    lesson = lesson_of(record(points, [one]), one, KNOWN, at(minutes), None)
    assert lesson is not None
    assert lesson.taught.wet_area_m2 == pytest.approx(KNOWN.wet_area_m2.value, rel=0.1)
    assert lesson.taught.leak_per_h == pytest.approx(1.0, rel=0.1)


def test_a_longer_course_goes_on_from_what_the_shorter_one_taught() -> None:
    one, points = misting(-3, 0), drying(KNOWN, 400)
    lesson = lesson_of(record(points[:91], [one]), one, KNOWN, at(90), None)
    for minutes in (150, 300, 400):
        seen = record(points[: minutes + 1], [one])
        anew = lesson_of(seen, one, KNOWN, at(minutes), None)
        lesson = lesson_of(seen, one, KNOWN, at(minutes), lesson)
        assert lesson is not None
        assert anew is not None
        assert lesson.extent == anew.extent
        assert lesson.taught.leak_per_h == pytest.approx(anew.taught.leak_per_h, rel=0.02)


def test_a_gap_of_some_minutes_bends_nothing() -> None:
    one = misting(-3, 0)
    points = [s for s in drying(KNOWN, 400) if not 60 <= (s.minute.time - NOON).seconds / 60 < 70]
    lesson = lesson_of(record(points, [one]), one, KNOWN, at(400), None)
    assert lesson is not None
    assert lesson.taught.rms_pct < 0.3


def test_devices_explain_their_part() -> None:
    one, gives = misting(-3, 0), Supply(2.0, 5.0)
    points = drying(KNOWN, 300, supply=gives)
    lesson = lesson_of(record(points, [one]), one, KNOWN, at(300), None)
    assert lesson is not None
    assert lesson.taught.leak_per_h == pytest.approx(1.0, rel=0.1)
    unseen = [replace(s, minute=replace(s.minute, supply=NO_DEVICES)) for s in points]
    other = lesson_of(record(unseen, [one]), one, KNOWN, at(300), None)
    assert other is not None
    assert other.taught != lesson.taught


def test_a_fan_that_runs_half_the_time_counts_half() -> None:
    """Five minutes on, five off, at 2 /h: as a fan that gives 1 /h all the time."""
    one, always = misting(-3, 0), drying(KNOWN, 300, supply=Supply(1.0))
    switched = [
        replace(
            s,
            minute=replace(s.minute, supply=Supply(2.0) if k // 5 % 2 else NO_DEVICES),
        )
        for k, s in enumerate(always)
    ]
    steady = lesson_of(record(always, [one]), one, KNOWN, at(300), None)
    by_turns = lesson_of(record(switched, [one]), one, KNOWN, at(300), None)
    assert steady is not None
    assert by_turns is not None
    assert by_turns.taught.leak_per_h == pytest.approx(steady.taught.leak_per_h, rel=0.01)


@pytest.mark.parametrize(
    ("standing_g", "all_wet"),
    [
        pytest.param(20.0, True, id="20 g: enough for half a square metre"),
        pytest.param(2.0, False, id="2 g: not enough"),
    ],
)
def test_a_lesson_says_whether_all_was_wet(standing_g: float, all_wet: bool) -> None:
    one = misting(-3, 0)
    balance = Balance(0.5, 1.0, KNOWN.wet_area_m2.value, 20.0, ROOM_VAPOUR)
    points = [stood(0, 88.0, standing_g)]
    points += [
        stood(m.minutes, m.humidity_pct, standing_g)
        for m in course(balance, 88.0, standing_g, 120, 1.0)
    ]
    lesson = lesson_of(record(points, [one]), one, KNOWN, at(120), None)
    assert lesson is not None
    assert lesson.taught.all_wet is all_wet


def test_a_surface_that_was_not_all_wet_says_nothing_of_its_area() -> None:
    part = Taught(9.0, 0.9, 1.2, 0.1, all_wet=False)
    known = knowledge_from(record(), KNOWN, [Taught(0.4, 0.9, 1.2, 0.1), part, part])
    assert known.wet_area_m2.value == pytest.approx(0.4)
    assert known.wet_area_m2.count == 1
    assert known.standing_share.count == 3


@pytest.mark.parametrize(
    "numbers",
    [
        pytest.param([], id="nothing"),
        pytest.param([2, 3, 4], id="three minutes"),
        pytest.param([2, 3, 4, 5, 6, 7, 8], id="seven"),
        pytest.param([2, 7, 12], id="a slow sensor"),
    ],
)
def test_a_short_course_teaches_nothing_new(numbers: list[float]) -> None:
    one = misting(-3, 0)
    taken = record([stood(number, 85.0) for number in numbers], [one])
    assert lesson_of(taken, one, KNOWN, at(30), None) is None
    points = record(drying(KNOWN, 60), [one])
    before = lesson_of(points, one, KNOWN, at(60), None)
    assert before is not None
    assert lesson_of(taken, one, KNOWN, at(30), before) is before


def test_a_lesson_is_drawn_again_when_there_is_more_to_see() -> None:
    one = misting(-3, 0)
    points = record(drying(KNOWN, 400), [one])
    first = lesson_of(points, one, KNOWN, at(30), None)
    assert first is not None
    assert lesson_of(points, one, KNOWN, at(31), first) is first
    later = lesson_of(points, one, KNOWN, at(45), first)
    assert later is not None
    assert later is not first
    night = lesson_of(points, one, KNOWN, at(200), later)
    assert night is not None
    assert lesson_of(points, one, KNOWN, at(220), night) is night
    fell = replace(one, held=timedelta(minutes=180))
    assert lesson_of(replace(points, found=[fell]), fell, KNOWN, at(220), night) is not night


# ------------------------------------------------------------ shares of sprays


def sprayed(gain: float | None, after_pct: float | None, action: int | None = 9) -> Found:
    return misting(0, 3, action=action, vapour_gain_g_per_m3=gain, humidity_after_pct=after_pct)


DRY_WALLS: Final = replace(KNOWN, leak_per_h=Figure.declared(1e-9))


@pytest.mark.parametrize(
    ("found", "actions", "expected"),
    [
        pytest.param([sprayed(1.6, 89.0)], [misted(2.0)], [0.4], id="0.8 g of 2 g"),
        pytest.param([sprayed(1.6, 89.0, None)], [misted(2.0)], [], id="nobody noted it"),
        pytest.param([sprayed(1.6, 89.0)], [], [], id="the note is gone"),
        pytest.param([sprayed(1.6, 89.0)], [misted(None)], [], id="no amount noted"),
        pytest.param([sprayed(1.6, 97.5)], [misted(2.0)], [], id="saturated"),
        pytest.param([sprayed(None, 89.0)], [misted(2.0)], [], id="gain not seen"),
        pytest.param([sprayed(1.6, None)], [misted(2.0)], [], id="end not seen"),
        pytest.param([sprayed(1.6, 89.0)], [misted(-1.0)], [], id="less than nothing"),
        pytest.param(
            [replace(sprayed(1.6, 89.0), kind=Kind.VENTING)], [misted(2.0)], [], id="vent"
        ),
        pytest.param([sprayed(1.6, 89.0)] * 9, [misted(2.0)], [0.4] * MISTINGS, id="the latest"),
    ],
)
def test_spray_shares(found: list[Found], actions: list[Action], expected: list[float]) -> None:
    taken = record([stood(number, 80.0) for number in range(5)], found, actions=actions)
    assert spray_shares(taken, DRY_WALLS) == pytest.approx(expected, abs=1e-6)
    assert spray_shares(replace(taken, minutes=()), DRY_WALLS) == pytest.approx(expected)


def test_walls_give_their_part_and_leakage_takes_its_own() -> None:
    """At 80 % 0.5 m2 give 4.19 3.46^1.333 0.5 = 11 g/h, leakage takes 3: 0.4 g in 3 min."""
    known = replace(KNOWN, wet_area_m2=Figure.declared(0.5))
    minutes = [stood(number, 80.0, 20.0) for number in range(5)]
    (share,) = spray_shares(record(minutes, [sprayed(1.6, 89.0)], actions=[misted(2.0)]), known)
    given = 0.5 * 4.19 * 3.459**1.333
    leaked = 0.5 * (vapour_g_per_m3(20.0, 80.0) - ROOM_VAPOUR)
    assert share == pytest.approx((0.8 - (given - leaked) * 0.05) / 2.0, abs=0.002)


# ------------------------------------------------------------ all together


def test_an_empty_record_knows_what_was_declared() -> None:
    assert knowledge_from(record(), KNOWN, ()) == KNOWN


def test_all_that_a_record_tells() -> None:
    taken = record(
        [stood(number, room_co2=450.0) for number in range(-5, 15)],
        [sprayed(1.6, 89.0), venting(5, 15, 2500, 1000)],
        [fit(1.0, 0.9, 1.1, source_g_per_h=0.3)],
        [misted(2.0)],
    )
    old, calm = [Taught(9.0, 9.0, 9.0, 0.1)] * 3, [Taught(0.4, 0.9, 1.2, 0.3)] * MISTINGS
    draught = [Taught(0.02, 3.0, 9.0, 4.0)] * 3
    taught = [*old, *calm, *draught]
    known = knowledge_from(taken, assumed(0.5), taught)
    assert known.leak_per_h.value == pytest.approx(1.2)
    # 2500 to 1000 ppm in ten minutes, against 0.3 g/h that raise 328 ppm/h.
    rise = rise_ppm_per_h(0.3, 0.5)
    after = co2_after_ppm(2500.0, 450.0, rise, known.vent_per_h.value + 1.2, 10 / 60)
    assert after == pytest.approx(1000.0, abs=0.1)
    assert known.source_g_per_h is not None
    assert known.source_g_per_h.value == pytest.approx(0.3)
    assert (known.wet_area_m2.value, known.standing_share.value) == pytest.approx((0.4, 0.9))
    assert 0.4 < known.spray_share.value < 0.6


@pytest.mark.parametrize(
    ("inlet_measured", "taught_per_h", "leak_per_h"),
    [
        pytest.param(True, 1.2, 0.14, id="measured: the CO2 has the word"),
        pytest.param(False, 1.2, 1.2, id="assumed: the water has it"),
        pytest.param(False, 0.02, 0.14, id="but for water that says what can't be"),
        pytest.param(False, 0.18, 0.18, id="no contradiction: the water within the CO2"),
        pytest.param(False, None, 0.14, id="no misting: the CO2"),
    ],
)
def test_without_a_measured_inlet_the_water_has_the_word(
    taught_per_h: float | None, leak_per_h: float, *, inlet_measured: bool
) -> None:
    fits = [replace(fit(0.14, 0.1, 0.22), inlet_measured=inlet_measured)]
    taught = [] if taught_per_h is None else [Taught(0.4, 1.0, taught_per_h, 0.3)] * MISTINGS
    known = knowledge_from(record(exchanges=fits), assumed(0.5), taught)
    assert known.leak_per_h.value == pytest.approx(leak_per_h, rel=0.01)


@pytest.mark.parametrize(
    "odd",
    [
        pytest.param(Taught(0.4, 1.0, 0.05, 1.7), id="hardly any leak"),
        pytest.param(Taught(0.4, 1.0, 9.5, 1.7), id="an open front"),
        pytest.param(Taught(0.002, 1.0, 1.0, 1.7), id="hardly any wall"),
        pytest.param(Taught(9.0, 1.0, 1.0, 1.7), id="too much wall"),
        pytest.param(Taught(0.4, 1.0, 1.0, 2.6), id="no calm drying"),
    ],
)
def test_ways_that_no_chamber_has_teach_nothing(odd: Taught) -> None:
    assert knowledge_from(record(), assumed(0.5), [odd] * 3) == assumed(0.5)
    assert knowledge_from(record(), assumed(0.5), [Taught(0.4, 1.0, 1.2, 0.3), *[odd] * 9]) == (
        knowledge_from(record(), assumed(0.5), [Taught(0.4, 1.0, 1.2, 0.3)])
    )


@pytest.mark.parametrize(
    ("action", "guessed"),
    [
        pytest.param(None, True, id="nobody told"),
        pytest.param(
            Action(9, "tent", Deed.MISTED, at(0), "", at(0), "page"), True, id="no amount"
        ),
        pytest.param(misted(2.0), False, id="into the air"),
        pytest.param(
            Action(9, "tent", Deed.MISTED, at(0), "", at(0), "page", standing_g=20.0),
            False,
            id="onto the walls",
        ),
    ],
)
def test_a_lesson_knows_whether_its_water_was_told(action: Action | None, guessed: bool) -> None:
    one = replace(misting(-3, 0), action=None if action is None else action.id)
    points = record(drying(KNOWN, 60), [one], actions=[] if action is None else [action])
    lesson = lesson_of(points, one, KNOWN, at(60), None)
    assert lesson is not None
    assert lesson.taught.guessed is guessed
