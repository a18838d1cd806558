"""What the record of a chamber teaches: which minutes count, and what is made of them."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

import pytest

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.holding import Balance, course
from chamberwatch.core.air.knowledge import Knowledge, Taught, assumed
from chamberwatch.core.air.tent import vapour_g_per_m3
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.device import Supply
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.core.watch.ledger import Minute
from chamberwatch.core.watch.lessons import (
    FITS,
    MISTINGS,
    Record,
    Stood,
    closed_leak,
    course_after,
    knowledge_from,
    lesson_of,
    source,
    spray_shares,
    vents_per_h,
)
from tests.make import NOON, at

KNOWN: Final = assumed(0.5, 1.0)
ROOM_VAPOUR: Final = vapour_g_per_m3(20.0, 45.0)
NOTHING: Final = Supply()


def stood(
    number: float, humidity_pct: float, standing_g: float = 0.0, co2: float | None = None
) -> Stood:
    vapour = vapour_g_per_m3(20.0, humidity_pct)
    return Stood(Minute(at(number), humidity_pct, 20.0, vapour, ROOM_VAPOUR, co2), standing_g)


def misting(start: float, end: float, held_min: float | None = None, **more: object) -> Found:
    held = None if held_min is None else timedelta(minutes=held_min)
    found = Found(1, "tent", Kind.MISTING, at(start), at(end), held=held)
    return replace(found, **more)  # type: ignore[arg-type]


def venting(start: float, end: float, before: float, after: float) -> Found:
    return Found(
        2,
        "tent",
        Kind.VENTING,
        at(start),
        at(end),
        co2_before_ppm=before,
        co2_after_ppm=after,
    )


def record(
    minutes: Sequence[Stood] = (),
    found: Sequence[Found] = (),
    exchanges: Sequence[Exchange] = (),
    actions: Sequence[Action] = (),
    supply: Supply = NOTHING,
) -> Record:
    return Record(minutes, found, exchanges, {a.id: a for a in actions}, supply)


def misted(grams: float | None) -> Action:
    return Action(9, "tent", Deed.MISTED, at(0), "", at(0), "page", grams)


def drying(
    known: Knowledge, minutes: int, every: int = 1, supply: Supply = NOTHING
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
    points = [stood(0, 88.0, 20.0)]
    points += [
        stood(m.minutes, m.humidity_pct, 20.0) for m in course(balance, 88.0, 20.0, minutes, 1.0)
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


WETTER: Final = replace(KNOWN, wet_area_m2=Figure.declared(1.0))


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


def test_a_gap_of_some_minutes_bends_nothing() -> None:
    one = misting(-3, 0)
    points = [s for s in drying(KNOWN, 400) if not 60 <= (s.minute.time - NOON).seconds / 60 < 70]
    lesson = lesson_of(record(points, [one]), one, KNOWN, at(400), None)
    assert lesson is not None
    assert lesson.taught.rms_pct < 0.3


def test_devices_explain_their_part() -> None:
    one, gives = misting(-3, 0), Supply(2.0, 5.0)
    points = drying(KNOWN, 300, supply=gives)
    lesson = lesson_of(record(points, [one], supply=gives), one, KNOWN, at(300), None)
    assert lesson is not None
    assert lesson.taught.leak_per_h == pytest.approx(1.0, rel=0.1)


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


# ------------------------------------------------------------ air changes and source


def fit(
    per_h: float | None,
    low: float | None = None,
    high: float | None = None,
    *,
    vented: bool = False,
    source_g_per_h: float | None = None,
) -> Exchange:
    return Exchange(
        1, "tent", at(0), at(60), vented, per_h, low, high, source_g_per_h=source_g_per_h
    )


@pytest.mark.parametrize(
    ("fits", "fans_per_h", "value", "low", "high"),
    [
        pytest.param([fit(1.0, 0.8, 1.3)], 0.0, 1.0, 0.549, 1.822, id="one: 0.3 either way"),
        pytest.param([fit(1.0, 0.8, 1.3)] * 8, 0.0, 1.0, 0.8, 1.3, id="no surer than each"),
        pytest.param([fit(1.0)] * 8, 0.0, 1.0, 0.905, 1.105, id="no intervals: a tenth"),
        pytest.param([fit(3.0, 2.5, 3.5)] * 8, 2.0, 1.0, 0.5, 1.5, id="less what fans give"),
        pytest.param([fit(1.0, 0.5, 1.5)] * 8, 2.0, 0.02, 0.0181, 0.0221, id="fans overstated"),
    ],
)
def test_closed_leak(
    fits: list[Exchange], fans_per_h: float, value: float, low: float, high: float
) -> None:
    found = closed_leak(record(exchanges=fits, supply=Supply(fans_per_h)), KNOWN.leak_per_h)
    assert found is not None
    assert (found.value, found.low, found.high) == pytest.approx((value, low, high), abs=0.001)
    assert found.origin is Origin.MEASURED


def test_closed_leak_takes_only_late_closed_fits_that_held() -> None:
    old = [fit(9.0, 8.0, 10.0)] * 3
    late = [fit(1.0, 0.9, 1.1)] * FITS
    taken = [*old, fit(30.0, vented=True), fit(None), *late]
    found = closed_leak(record(exchanges=taken), KNOWN.leak_per_h)
    assert found is not None
    assert found.value == pytest.approx(1.0)
    assert found.count == FITS
    assert closed_leak(record(exchanges=[fit(None)]), KNOWN.leak_per_h) is None


@pytest.mark.parametrize(
    ("fits", "expected"),
    [
        pytest.param([], None, id="none"),
        pytest.param([fit(1.0, source_g_per_h=0.0)], None, id="nothing given off"),
        pytest.param([fit(9.0, vented=True, source_g_per_h=0.3)], None, id="while open"),
        pytest.param([fit(1.0, source_g_per_h=0.3)], 0.3, id="one"),
        pytest.param(
            [fit(1.0, source_g_per_h=9.0)] * 4 + [fit(1.0, source_g_per_h=0.3)] * 4,
            0.3,
            id="the crop grows: the latest",
        ),
    ],
)
def test_source(fits: list[Exchange], expected: float | None) -> None:
    found = source(record(exchanges=fits))
    assert (found.value if found else None) == (
        None if expected is None else pytest.approx(expected)
    )


def test_a_source_is_no_surer_than_the_air_changes_behind_it() -> None:
    fits = [fit(1.0, 0.7, 1.5, source_g_per_h=0.3)] * 4
    found = source(record(exchanges=fits))
    assert found is not None
    assert found.low <= 0.3 * 0.7 + 1e-9
    assert found.high >= 0.3 * 1.5 - 1e-9
    alone = source(record(exchanges=[fit(None, source_g_per_h=0.3)] * 4))
    assert alone is not None
    assert (alone.low, alone.high) == pytest.approx((0.3 / 1.105, 0.3 * 1.105), rel=1e-3)


ROOM_AT_450: Final = [stood(number, 80.0, co2=450.0) for number in range(-5, 5)]


@pytest.mark.parametrize(
    ("vents", "minutes", "leak_per_h", "expected"),
    [
        pytest.param([venting(0, 10, 2500, 1000)], ROOM_AT_450, 1.0, [6.89], id="worked"),
        pytest.param(
            [replace(venting(0, 4, 2500, 1000), amount=10.0)],
            ROOM_AT_450,
            1.0,
            [6.89],
            id="as long as noted",
        ),
        pytest.param([venting(0, 10, 2500, 1000)], ROOM_AT_450, 9.0, [], id="less than leakage"),
        pytest.param([venting(0, 0, 2500, 1000)], ROOM_AT_450, 1.0, [], id="no time"),
        pytest.param([venting(0, 10, 1000, 2500)], ROOM_AT_450, 1.0, [], id="it rose"),
        pytest.param([venting(0, 10, 2500, 1000)], [], 1.0, [], id="inlet not known"),
        pytest.param(
            [venting(90, 100, 2500, 1000)], ROOM_AT_450, 1.0, [], id="inlet not known by then"
        ),
        pytest.param([misting(0, 3)], ROOM_AT_450, 1.0, [], id="a misting"),
        pytest.param(
            [replace(venting(0, 10, 2500, 1000), co2_after_ppm=None)],
            ROOM_AT_450,
            1.0,
            [],
            id="CO2 not seen",
        ),
        pytest.param(
            [replace(venting(0, 10, 2500, 1000), co2_before_ppm=None)],
            ROOM_AT_450,
            1.0,
            [],
            id="CO2 not seen before",
        ),
        pytest.param(
            [venting(0, 10, 2500, 1000)] * (MISTINGS + 3),
            ROOM_AT_450,
            1.0,
            [6.89] * MISTINGS,
            id="the latest",
        ),
    ],
)
def test_vents(
    vents: list[Found], minutes: list[Stood], leak_per_h: float, expected: list[float]
) -> None:
    """2500 to 1000 ppm in ten minutes, inlet 450: 7.89 /h (ASTM E741, equation from memory)."""
    assert vents_per_h(record(minutes, vents), leak_per_h) == pytest.approx(expected, abs=0.01)


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
        [stood(number, 80.0, co2=450.0) for number in range(-5, 15)],
        [sprayed(1.6, 89.0), venting(5, 15, 2500, 1000)],
        [fit(1.0, 0.9, 1.1, source_g_per_h=0.3)],
        [misted(2.0)],
    )
    taught = [Taught(9.0, 9.0, 9.0, 0.1)] * 3 + [Taught(0.4, 0.9, 1.2, 0.3)] * MISTINGS
    known = knowledge_from(taken, assumed(0.5), taught)
    assert known.leak_per_h.value == pytest.approx(1.2)
    assert known.vent_per_h.value == pytest.approx(6.89, abs=0.01)
    assert known.source_g_per_h is not None
    assert known.source_g_per_h.value == pytest.approx(0.3)
    assert (known.wet_area_m2.value, known.standing_share.value) == pytest.approx((0.4, 0.9))
    assert 0.4 < known.spray_share.value < 0.6
