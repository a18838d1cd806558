"""What the faces are told."""

from dataclasses import replace
from datetime import UTC, timedelta

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.self_check import SelfCheck
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.judgement import Standing
from chamberwatch.core.watch.reminder import Call, Priority, State
from chamberwatch.service import series
from chamberwatch.service.books import Span
from chamberwatch.service.history import History, Vitals
from chamberwatch.service.views import SeriesPoint
from tests.make import NOON, at
from tests.service.machine import Bench

WELL = Vitals(connected=True, message_ago=timedelta(seconds=3), troubles=())


def history(bench: Bench, vitals: Vitals = WELL) -> History:
    return History(
        bench.books, bench.clock, bench.house, bench.board, UTC, lambda: vitals, NOON, "0.0"
    )


def hear(bench: Bench, temperature: float, humidity: float, sensor: str = "middle") -> None:
    now = bench.clock.now().isoformat()
    bench.take(f"{sensor} temperature {temperature} {now};{sensor} humidity {humidity} {now}")


def test_nothing_heard_yet(bench: Bench) -> None:
    now = history(bench).now("tent")
    assert (now.time, now.temperature_c, now.air, now.stale) == (None, None, None, True)
    assert [s.heard_ago for s in now.sensors] == [None] * 4
    assert now.pressure_pa == 101_325.0


def test_the_air_is_fresher_than_the_file(bench: Bench) -> None:
    hear(bench, 19.0, 85.0)
    stored = bench.stored()
    bench.clock.turn(minutes=1)
    hear(bench, 20.0, 90.0)
    now = history(bench).now("tent")
    assert bench.stored() == stored
    assert (now.temperature_c, now.humidity_pct, now.time) == (20.0, 90.0, at(1))
    assert now.air is not None
    # facts: CoolProp 8.0.0, HAPropsSI at 20 °C, 90 %: dew point 18.311 °C, VPD 233.9 Pa.
    assert now.air.dew_point_c == pytest.approx(18.311, abs=0.01)
    assert now.air.vpd_pa == pytest.approx(233.9, abs=1.0)
    assert not now.stale


def test_the_mid_air_sensor_speaks_and_the_shelf_stands_in(bench: Bench) -> None:
    bench.clock.turn(minutes=1)
    hear(bench, 21.0, 80.0, "top")
    assert history(bench).now("tent").humidity_pct == 80.0
    hear(bench, 20.0, 90.0)
    assert history(bench).now("tent").humidity_pct == 90.0
    for _ in range(6):
        bench.clock.turn(minutes=1)
        hear(bench, 21.0, 81.0, "top")
    now = history(bench).now("tent")
    assert now.humidity_pct == 81.0
    assert [s.silent for s in now.sensors] == [True, False, True, True]


def test_temperature_and_humidity_far_apart_make_no_air(bench: Bench) -> None:
    bench.take(f"middle temperature 20 {at(-3).isoformat()}")
    bench.take(f"middle humidity 90 {at(-1).isoformat()}")
    assert history(bench).now("tent").air is None


def test_old_numbers_after_a_restart_look_old(bench: Bench) -> None:
    hear(bench, 20.0, 90.0)
    bench.intake.commit()
    bench.clock.turn(minutes=60)
    bench.crash()
    now = history(bench).now("tent")
    assert now.humidity_pct == 90.0
    assert now.stale
    assert now.sensors[0].heard_ago == timedelta(hours=1)


def test_reminders_speak_with_the_value_of_this_moment(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    bench.minutes_of("humidity", 74.0, 1)
    bench.minutes_of("co2", 1200.0, 6)
    shown = history(bench).now("tent")
    assert [(r.title, r.body) for r in shown.reminders][1:] == [
        (
            "Tent: mist after venting",
            "See the other reminder first: it says whether to vent, and how much to mist.",
        )
    ]
    assert shown.reminders[0].title == "Tent: vent, then mist"
    assert shown.reminders[0].body.startswith("CO2 1200 ppm and steady")
    judged = {j.reading.quantity.value: j.standing for j in shown.judgements}
    assert judged == {"humidity": Standing.BELOW, "co2": Standing.ABOVE}


def test_live_before_passed(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    bench.minutes_of("humidity", 90.0, 4)
    bench.minutes_of("co2", 1200.0, 6)
    calls = [r.reminder.call for r in history(bench).now("tent").reminders]
    assert calls == [Call.VENT, Call.MIST]


def test_venting_comes_first_however_dry_it_is(bench: Bench) -> None:
    bench.minutes_of("humidity", 60.0, 12)
    bench.minutes_of("co2", 1200.0, 6)
    shown = history(bench).now("tent").reminders
    assert [(r.reminder.call, r.reminder.priority) for r in shown] == [
        (Call.VENT, Priority.MEDIUM),
        (Call.MIST, Priority.HIGH),
    ]


def test_what_is_over_reads_so(bench: Bench) -> None:
    bench.minutes_of("humidity", 72.0, 5)
    bench.minutes_of("humidity", 89.0, 4)
    (shown,) = history(bench).now("tent").reminders
    assert not shown.reminder.active
    assert shown.title == "Tent: it was too dry, and that is over"
    raised = shown.reminder.since
    assert raised is not None
    assert shown.body == (
        f"It is over: humidity is back inside its band (89 %). It was 72 % at {raised:%H:%M}."
    )


def test_what_closes_by_itself_asks_for_nothing(bench: Bench) -> None:
    bench.minutes_of("humidity", 60.0, 12)
    bench.minutes_of("co2", 1200.0, 6)
    bench.minutes_of("humidity", 81.0, 1)
    vent, mist = history(bench).now("tent").reminders
    assert (mist.reminder.call, mist.reminder.active) == (Call.MIST, True)
    assert (mist.closing, vent.closing) == (True, False)
    assert mist.title == "Tent: humidity is back inside its band"
    assert (
        mist.body == "Humidity 81 %, inside its band again; this closes by itself if it stays so."
    )
    assert vent.title == "Tent: vent now"


def test_a_silence_that_is_over(bench: Bench) -> None:
    bench.minutes_of("humidity", 88.0, 1)
    # One that speaks on, so that it isn't the broker; and long enough to be told of.
    for _ in range(20):
        bench.minutes_of("humidity", 50.0, 1, "room")
        bench.rounds.look()
    bench.minutes_of("humidity", 88.0, 1)
    bench.rounds.look()
    told = {r.title: r.body for r in history(bench).reminders(frozenset({State.RETURNED}))}
    assert told["Tent: sensor middle was quiet, and that is over"].startswith(
        "It is over: middle is heard again. Nothing had come from it after 12:01 for too long."
    )


def test_a_silence_nobody_was_told_of_leaves_nothing_behind(bench: Bench) -> None:
    bench.minutes_of("humidity", 88.0, 1)
    bench.clock.turn(minutes=6)
    bench.rounds.look()
    assert bench.reminder(Call.CHECK_SENSOR, "middle").active
    bench.minutes_of("humidity", 88.0, 1)
    bench.rounds.look()
    assert bench.reminder(Call.CHECK_SENSOR, "middle").state is State.NORMAL


def test_silence_is_worded(bench: Bench) -> None:
    bench.clock.turn(minutes=6)
    bench.rounds.look()
    told = {r.title: r.body for r in history(bench).reminders(frozenset({State.UNACKNOWLEDGED}))}
    assert told["Tent: look at sensor middle"].startswith(
        "Nothing has been heard from middle yet."
    )


def test_deeds_and_moves_are_shown(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    asked = history(bench)
    assert [a.deed for a in asked.now("tent").actions] == [Deed.MISTED]
    assert [m.after for _, m in asked.moves(None, 0, 10)] == [
        State.UNACKNOWLEDGED,
        State.ACKNOWLEDGED,
    ]


def test_unknown_chamber(bench: Bench) -> None:
    with pytest.raises(UnknownNameError):
        history(bench).now("cellar")


def test_a_room_has_no_forecast_and_says_what_it_is(bench: Bench) -> None:
    with pytest.raises(RefusedError, match=r"^Living room is a room; name a chamber\.$"):
        history(bench).hold("room", None)


def test_chambers_in_order(bench: Bench) -> None:
    assert [c.name for c in history(bench).chambers()] == ["tent", "room", "shelf"]


def week(bench: Bench) -> Span:
    for minute in range(10):
        bench.clock.turn(minutes=1)
        hear(bench, 20.0, 80.0 + minute)
        hear(bench, 22.0, 70.0, "top")
    bench.intake.commit()
    return Span(at(1), at(11))


@pytest.mark.parametrize(
    ("quantity", "unit", "first"),
    [
        pytest.param("temperature_c", "°C", 20.0, id="measured"),
        pytest.param("humidity", "%", 80.0, id="plain name"),
        # CoolProp 8.0.0 at 20 °C, 80 %, 101 325 Pa.
        pytest.param("dew_point_c", "°C", 16.448, id="dew point"),
        pytest.param("vpd_kpa", "kPa", 0.4679, id="vpd"),
        pytest.param("wet_bulb_c", "°C", 17.677, id="wet bulb"),
        pytest.param("humidity_ratio_g_per_kg", "g/kg", 11.753, id="humidity ratio"),
    ],
)
def test_raw_series(bench: Bench, quantity: str, unit: str, first: float) -> None:
    page = history(bench).series("tent", quantity, week(bench), None, 100)
    assert (page.unit, len(page.points), page.next_from) == (unit, 20, None)
    assert page.points[0].sensor == "middle"
    assert page.points[0].mean == pytest.approx(first, rel=6e-3)


def test_steps_average_per_sample(bench: Bench) -> None:
    span = week(bench)
    page = history(bench).series("tent", "humidity_pct", span, timedelta(minutes=5), 100)
    assert [p.count for p in page.points] == [8, 10, 2]
    assert page.points[0].mean == pytest.approx((80 + 81 + 82 + 83 + 4 * 70) / 8)
    derived = history(bench).series("tent", "vpd_kpa", span, timedelta(minutes=5), 100)
    raw = history(bench).series("tent", "vpd_kpa", span, None, 100).points
    inside = [p.mean for p in raw if at(5) <= p.time < at(10)]
    assert derived.points[1].mean == pytest.approx(sum(inside) / len(inside))
    assert (derived.points[1].least, derived.points[1].most) == (min(inside), max(inside))


@pytest.mark.parametrize(
    "quantity",
    [pytest.param("humidity_pct", id="measured"), pytest.param("dew_point_c", id="derived")],
)
def test_pages_join_without_a_gap(bench: Bench, quantity: str) -> None:
    span = week(bench)
    whole = history(bench).series("tent", quantity, span, None, 100).points
    joined: list[SeriesPoint] = []
    start = span.start
    while True:
        page = history(bench).series("tent", quantity, Span(start, span.end), None, 3)
        joined += page.points
        if page.next_from is None:
            break
        start = page.next_from
    assert tuple(joined) == whole


def test_a_page_smaller_than_one_moment_is_refused(bench: Bench) -> None:
    with pytest.raises(RefusedError, match="higher limit"):
        history(bench).series("tent", "humidity_pct", week(bench), None, 1)


@pytest.mark.parametrize(
    "quantity",
    [pytest.param("humidity_pct", id="measured"), pytest.param("dew_point_c", id="derived")],
)
def test_small_pages_inside_change_nothing(
    bench: Bench, quantity: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    span = week(bench)
    whole = history(bench).series("tent", quantity, span, None, 100)
    monkeypatch.setattr(series, "PAGE", 4)
    assert history(bench).series("tent", quantity, span, None, 100) == whole


def test_a_temperature_without_its_humidity_derives_nothing(bench: Bench) -> None:
    span = week(bench)
    bench.take(f"middle temperature 20 {(at(5) + timedelta(minutes=5.5)).isoformat()}")
    bench.take(f"wall temperature 20 {at(9).isoformat()}")
    bench.clock.turn(minutes=30)
    bench.take(f"middle temperature 20 {bench.clock.now().isoformat()}")
    bench.intake.commit()
    longer = Span(span.start, at(60))
    points = history(bench).series("tent", "dew_point_c", longer, None, 100).points
    assert len(points) == 21
    assert max(p.time for p in points) < at(11)
    dry = Span(at(30), at(60))
    assert history(bench).series("tent", "dew_point_c", dry, None, 100).points == ()


def test_too_long_a_stretch_to_derive_is_refused(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    span = week(bench)
    monkeypatch.setattr(series, "DERIVED_AT_MOST", 5)
    with pytest.raises(RefusedError, match="halve it"):
        history(bench).series("tent", "dew_point_c", span, timedelta(seconds=90), 100)


def test_unknown_quantity_lists_the_known(bench: Bench) -> None:
    with pytest.raises(RefusedError, match="dew_point_c"):
        history(bench).series("tent", "smell", week(bench), None, 1)


def test_health(bench: Bench) -> None:
    bench.take("nonsense")
    hear(bench, 20.0, 90.0)
    bench.intake.commit()
    health = history(bench).health()
    assert (health.well, health.troubles, health.readings, health.rejects) == (True, (), 2, 1)
    assert [r.topic for r in history(bench).rejects(10)] == ["tent/air"]
    assert history(bench).reject_count() == 1


def test_a_reminder_of_what_is_no_longer_declared_still_shows(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5, "top")
    bench.house.sensors.pop("top")  # type: ignore[attr-defined]
    (shown,) = history(bench).reminders(frozenset({State.UNACKNOWLEDGED}))
    assert shown.body.startswith("Humidity 76 %")
    left = {name: c for name, c in bench.house.chambers.items() if name != "tent"}
    bench.house.chambers.renew(left)  # type: ignore[attr-defined]
    (shown,) = history(bench).reminders(frozenset({State.UNACKNOWLEDGED}))
    assert (shown.title, shown.body) == ("tent: mist", "")


def test_health_names_what_ails(bench: Bench) -> None:
    bench.clock.wall, bench.clock.synced = at(0), True
    hear(bench, 20.0, 90.0)
    bench.intake.commit()
    bench.clock.wall, bench.clock.synced = at(-6000), False
    bench.take("middle humidity 90")
    bench.intake.commit()
    vitals = Vitals(connected=False, message_ago=None, troubles=("The broker is away.",))
    health = history(bench, vitals).health()
    assert not health.well
    assert health.waiting_for_clock == 1
    assert health.troubles == (
        "The broker is away.",
        "The clock is not set yet; readings wait to be dated.",
    )


def test_the_pulse_beats_with_each_reading(bench: Bench) -> None:
    before = history(bench).pulse()
    hear(bench, 20.0, 90.0)
    assert history(bench).pulse() > before


def test_what_the_self_check_found_is_part_of_the_health(bench: Bench) -> None:
    checks = (
        SelfCheck("disk", well=False, words="Only 3 MB are free. Make room."),
        SelfCheck("broker", well=False, words="It is off."),
        SelfCheck("clock", well=True, words="It is right."),
    )
    health = replace(history(bench), checks=lambda: checks).health()
    assert health.checks == checks
    # What keeps the broker away is told by the link itself.
    assert health.troubles == ("Only 3 MB are free. Make room.",)
    assert not health.well
