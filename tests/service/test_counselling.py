"""Amounts on their way to a person and back: reckoned, told, noted, and not nagged about."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, timedelta
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.core import amount_words
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.action import Action, Amounts, Deed
from chamberwatch.core.watch.chamber import Chamber, Sensor
from chamberwatch.core.watch.device import Device, Kind
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Priority, State
from chamberwatch.core.watch.situation import OUTDOOR_PPM, Limit, Situation
from chamberwatch.service.advised import Advised
from chamberwatch.service.condensing import coldest
from chamberwatch.service.counselling import NOTHING_TOLD, OLD_AFTER, Counselling, speakers
from chamberwatch.service.history import History, Vitals
from chamberwatch.service.views import CounselNow
from tests.make import NOON, SHELF, TENT, at, evidence
from tests.service.machine import Bench

DRY: Final = {"middle": (19.0, 76.0, 700.0), "room": (20.0, 45.0, 600.0)}
STALE: Final = {"middle": (19.0, 86.0, 1400.0), "room": (20.0, 45.0, 600.0)}
BOTH: Final = {"middle": (19.0, 76.0, 1400.0), "room": (20.0, 45.0, 600.0)}
HARM: Final = {"middle": (19.0, 66.0, 700.0), "room": (20.0, 45.0, 600.0)}
GOOD: Final = {"middle": (19.0, 88.0, 700.0), "room": (20.0, 45.0, 600.0)}

FAN: Final = Device("duct", "tent", Kind.FAN, flow_m3_per_h=10.0)
GALE: Final = Device("gale", "tent", Kind.FAN, flow_m3_per_h=60.0)
FOGGER: Final = Device("fogger", "tent", Kind.HUMIDIFIER, water_g_per_h=5.0)
ELSEWHERE: Final = Device("other", "shelf", Kind.FAN, flow_m3_per_h=40.0)

Air = Mapping[str, tuple[float, ...]]


@pytest.fixture
def tent(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path, counselled=True)
    yield made
    made.close()


@pytest.fixture
def with_devices(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Bench]:
    made = Bench(tmp_path, counselled=True, devices=request.param)
    yield made
    made.close()


def hear(bench: Bench, air: Air, minutes: int = 1) -> None:
    """Let sensors say temperature, humidity and CO2 once a minute, turning the clock."""
    names = ("temperature", "humidity", "co2")
    for _ in range(minutes):
        bench.clock.turn(minutes=1)
        now = bench.clock.now().isoformat()
        said = [
            f"{sensor} {name} {value} {now}"
            for sensor, values in air.items()
            for name, value in zip(names, values, strict=False)
        ]
        bench.take(";".join(said))


def situation(bench: Bench) -> Situation:
    found = bench.counsel.situation("tent", bench.clock.now())
    assert found is not None
    return found


def now_of(bench: Bench) -> CounselNow:
    found = bench.counsel.now("tent", bench.clock.now())
    assert found is not None
    return found


def bodies(bench: Bench, about: str) -> list[str]:
    """Return the messages about this, oldest first."""
    return [row.body for row in reversed(bench.outbox()) if about in row.title]


def other_tent(bench: Bench, tent: Chamber) -> Counselling:
    """Return the counsel for a tent that was declared otherwise."""
    chambers = {**bench.house.chambers, "tent": tent}
    knowing = type(bench.knowing)(
        replace(bench.house, chambers=chambers), bench.counsel.zone, bench.commit_every
    )
    return replace(bench.counsel, house=replace(bench.house, chambers=chambers), knowing=knowing)


def doubt(sensor: str, *quantities: Quantity) -> Doubt:
    return Doubt(sensor, Doubted.STUCK, NOON, f"{sensor} is stuck.", frozenset(quantities))


# ------------------------------------------------------------------ how it stands


def test_a_room_that_is_measured(tent: Bench) -> None:
    hear(tent, DRY)
    found = situation(tent)
    assert (found.air.temperature_c, found.air.humidity_pct) == (19.0, 76.0)
    assert (found.room.temperature_c, found.room.humidity_pct) == (20.0, 45.0)
    assert found.room_measured
    assert (found.co2_ppm, found.co2_limit_ppm) == (700.0, 1000.0)
    assert found.humidity == (80.0, 95.0)
    assert (found.inlet_ppm.value, found.inlet_ppm.origin) == (600.0, Origin.MEASURED)
    off = tent.house.sensors["room"].accuracy.co2_at_ppm(600.0)
    assert (found.inlet_ppm.low, found.inlet_ppm.high) == (600.0 - off, 600.0 + off)


@pytest.mark.parametrize(
    "surrounding",
    [pytest.param("room", id="nothing is heard of it"), pytest.param(None, id="there is none")],
)
def test_a_room_that_is_not_measured_is_assumed_and_marked(
    tent: Bench, surrounding: str | None
) -> None:
    """45 % at the chamber's temperature: common practice; 430 ppm: outdoor air."""
    hear(tent, {"middle": DRY["middle"]})
    counsel = other_tent(tent, replace(TENT, surrounding=surrounding))
    found = counsel.situation("tent", tent.clock.now())
    assert found is not None
    assert (found.room.temperature_c, found.room.humidity_pct) == (19.0, 45.0)
    assert not found.room_measured
    assert found.inlet_ppm == OUTDOOR_PPM
    assert found.inlet_ppm.origin is Origin.ASSUMED


def test_without_co2_there_is_no_venting_to_advise(tent: Bench) -> None:
    hear(tent, {"middle": (19.0, 76.0)})
    now = tent.clock.now()
    assert situation(tent).co2_ppm is None
    assert tent.counsel.told("tent", Call.VENT, now) == NOTHING_TOLD
    reckoned = tent.counsel.now("tent", now)
    assert reckoned is not None
    assert (reckoned.vent, reckoned.vent_words) == (None, "")
    assert reckoned.mist_words.startswith("Two squeezes into the air")


@pytest.mark.parametrize(
    ("with_devices", "per_h", "g_per_h"),
    [
        pytest.param((), 0.0, 0.0, id="none"),
        pytest.param((FAN,), 20.0, 0.0, id="10 m3/h into half a cubic metre"),
        pytest.param((FOGGER,), 0.0, 5.0, id="humidifier"),
        pytest.param((FAN, FOGGER, ELSEWHERE), 20.0, 5.0, id="not what works elsewhere"),
    ],
    indirect=["with_devices"],
)
def test_devices_count(with_devices: Bench, per_h: float, g_per_h: float) -> None:
    hear(with_devices, DRY)
    given = situation(with_devices).supply
    assert given.air_changes_per_h == pytest.approx(per_h)
    assert given.water_g_per_h == pytest.approx(g_per_h)


@pytest.mark.parametrize(
    ("doubts", "heard"),
    [
        pytest.param([], (76.0, 700.0, 45.0), id="nobody in doubt: mid-air first"),
        pytest.param(
            [doubt("middle", Quantity.HUMIDITY)], (84.0, 700.0, 45.0), id="humidity: the shelf's"
        ),
        pytest.param([doubt("middle", Quantity.CO2)], (76.0, 900.0, 45.0), id="CO2 alone"),
        pytest.param([doubt("middle")], (76.0, 700.0, 45.0), id="its battery alone"),
        pytest.param(
            [
                doubt("middle", *Quantity),
                doubt("top", *Quantity),
                doubt("room", *Quantity),
            ],
            (76.0, 700.0, 45.0),
            id="all of them: no other serves",
        ),
    ],
)
def test_who_speaks_for_the_air(
    tent: Bench, doubts: list[Doubt], heard: tuple[float, float, float]
) -> None:
    hear(tent, {**DRY, "top": (19.5, 84.0, 900.0)})
    tent.board.doubt({one.sensor: one for one in doubts}, ())
    found = situation(tent)
    assert (found.air.humidity_pct, found.co2_ppm, found.room.humidity_pct) == heard


@pytest.mark.parametrize(
    ("spoken", "heard"),
    [
        pytest.param({}, (19.0, 76.0, 700.0), id="nobody in particular"),
        pytest.param({Quantity.HUMIDITY: "top"}, (19.5, 84.0, 700.0), id="the dry shelf's own"),
        pytest.param({Quantity.CO2: "top"}, (19.0, 76.0, 900.0), id="where it is stale"),
        pytest.param(
            {Quantity.HUMIDITY: "hygro"}, (19.0, 72.0, 700.0), id="humidity alone: borrows 19 °C"
        ),
        pytest.param({Quantity.HUMIDITY: "gone"}, (19.0, 76.0, 700.0), id="not heard lately"),
    ],
)
def test_the_sensor_that_asks_is_the_one_whose_air_is_put_right(
    tmp_path: Path, spoken: dict[Quantity, str], heard: tuple[float, float, float]
) -> None:
    hygro = Sensor("hygro", "tent", quantities=(Quantity.HUMIDITY,))
    bench = Bench(tmp_path, counselled=True, more=(hygro,))
    hear(bench, {**DRY, "top": (19.5, 84.0, 900.0)})
    bench.take(f"hygro humidity 72 {bench.clock.now().isoformat()}")
    found = bench.counsel.situation("tent", bench.clock.now(), spoken=spoken)
    bench.close()
    assert found is not None
    assert (found.air.temperature_c, found.air.humidity_pct, found.co2_ppm) == heard


def test_who_speaks_is_in_the_evidence() -> None:
    silent = evidence(sensor="block")
    asked = [evidence(sensor="top"), replace(silent, quantity=None)]
    assert speakers(asked) == {Quantity.HUMIDITY: "top"}


def test_readings_that_do_not_belong_together_are_no_air(tent: Bench) -> None:
    tent.take(f"middle temperature 19 {at(0).isoformat()}")
    hear(tent, {"top": (19.5, 84.0)}, 5)
    tent.clock.turn(minutes=5)
    tent.take(f"middle humidity 76 {tent.clock.now().isoformat()}")
    assert situation(tent).air.humidity_pct == 84.0


def test_two_readings_that_can_not_be_together_are_no_air(tent: Bench) -> None:
    """At 110 °C and 90 % the vapour alone would press harder than all of the air."""
    hear(tent, {"middle": (110.0, 90.0, 700.0), "top": (19.5, 84.0, 900.0)})
    assert situation(tent).air.humidity_pct == 84.0


@pytest.mark.parametrize(
    ("known", "minutes", "words"),
    [
        pytest.param(
            replace(TENT, volume_l=None),
            1,
            "State volume_l of the chamber “tent” in the settings",
            id="no volume",
        ),
        pytest.param(
            TENT, 21, "Nothing was heard from Tent in the last 20 minutes", id="silent for long"
        ),
        pytest.param(
            replace(SHELF, name="tent"),
            1,
            "Dark shelf has no band for humidity, so there is nothing to hold",
            id="sealed bags",
        ),
    ],
)
def test_what_is_missing_is_said(tent: Bench, known: Chamber, minutes: int, words: str) -> None:
    hear(tent, DRY)
    tent.clock.turn(minutes=minutes)
    now = tent.clock.now()
    counsel = other_tent(tent, known)
    assert words in counsel.missing(known)
    assert counsel.told("tent", Call.MIST, now) == NOTHING_TOLD
    with pytest.raises(RefusedError) as refused:
        counsel.hold("tent", now + timedelta(hours=3), now)
    assert str(refused.value) == counsel.missing(known)


def test_silence_leaves_nothing_to_reckon_with(tent: Bench) -> None:
    assert tent.counsel.now("tent", tent.clock.now()) is None
    hear(tent, DRY)
    tent.clock.turn(minutes=20)
    assert tent.counsel.situation("tent", tent.clock.now()) is not None
    tent.clock.turn(minutes=1)
    assert tent.counsel.situation("tent", tent.clock.now()) is None
    assert tent.counsel.told("tent", Call.VENT, tent.clock.now()) == NOTHING_TOLD


def test_a_chamber_that_is_not_judged_is_reckoned_without_amounts(tent: Bench) -> None:
    hear(tent, DRY)
    counsel = other_tent(tent, replace(SHELF, name="tent", surrounding="room"))
    reckoned = counsel.now("tent", tent.clock.now())
    assert reckoned is not None
    assert (reckoned.mist, reckoned.vent, reckoned.hold) == (None, None, None)
    assert (reckoned.mist_words, reckoned.vent_words, reckoned.hold_words) == ("", "", "")
    assert reckoned.situation.humidity is None


def test_an_unknown_chamber(tent: Bench) -> None:
    now = tent.clock.now()
    with pytest.raises(UnknownNameError, match="Known: tent"):
        tent.counsel.now("cellar", now)
    with pytest.raises(UnknownNameError):
        tent.counsel.hold("cellar", now + timedelta(hours=1), now)


def test_without_a_room_nothing_is_said_of_a_cover_nobody_measures(tent: Bench) -> None:
    hear(tent, GOOD)
    margin = coldest(tent.house, tent.board, "tent", tent.clock.now(), OLD_AFTER)
    assert margin is not None
    alone = replace(tent.house.chambers["tent"], surrounding=None)
    home = replace(tent.house, chambers={**tent.house.chambers, "tent": alone})
    assert coldest(home, tent.board, "tent", tent.clock.now(), OLD_AFTER) is None


# ------------------------------------------------------------------ what the faces ask


def history(bench: Bench, counsel: Counselling | None) -> History:
    vitals = Vitals(connected=True, message_ago=None, troubles=())
    return History(
        bench.books,
        bench.clock,
        bench.house,
        bench.board,
        UTC,
        lambda: vitals,
        NOON,
        "0.0",
        counsel,
    )


def test_the_history_answers_until_the_next_visit_or_another_time(tent: Bench) -> None:
    hear(tent, GOOD)
    asked = history(tent, tent.counsel)
    assert asked.hold("tent", None).answer.asked_until == NOON.replace(hour=18)
    later = tent.clock.now() + timedelta(hours=20)
    shown = asked.hold("tent", later)
    assert shown.answer.asked_until == later
    assert shown.words == amount_words.hold(shown.answer, tent.clock.now(), UTC)
    assert asked.now("tent").counsel == tent.counsel.now("tent", tent.clock.now())
    with pytest.raises(UnknownNameError):
        asked.hold("cellar", None)


def test_a_reminder_is_shown_with_the_amounts_of_this_moment(tent: Bench) -> None:
    hear(tent, DRY, 4)
    (shown,) = history(tent, tent.counsel).now("tent").reminders
    assert tent.counsel.told("tent", Call.MIST, tent.clock.now()).words in shown.body
    assert shown.amounts == {Call.MIST}


def test_a_history_that_reckons_nothing_says_so(tent: Bench) -> None:
    hear(tent, DRY, 4)
    asked = history(tent, None)
    assert asked.why_no_counsel("tent") == "Nothing is reckoned here."
    with pytest.raises(RefusedError, match="Nothing is reckoned here"):
        asked.hold("tent", None)
    (shown,) = asked.now("tent").reminders
    assert "squeeze" not in shown.body
    assert shown.amounts == frozenset()


def test_the_history_says_what_is_missing(tent: Bench) -> None:
    asked = history(tent, tent.counsel)
    assert asked.why_no_counsel("tent").startswith("Nothing was heard from Tent")
    assert asked.why_no_counsel("room").startswith("Living room has no band for humidity")
    assert asked.now("tent").counsel is None
    with pytest.raises(RefusedError, match="look at its sensor"):
        asked.hold("tent", None)


# ------------------------------------------------------------------ the water that stands


def poured(grams: float) -> Action:
    return Action(7, "tent", Deed.MISTED, NOON, "", NOON, "page", 0.0, grams)


def falling(bench: Bench, minutes: int = 10) -> None:
    """Let the air become drier as if nothing were wet, below the band."""
    for minute in range(minutes):
        hear(bench, {"middle": (19.0, 78.0 - 0.6 * minute, 700.0), "room": DRY["room"]})


def test_air_that_falls_as_if_nothing_stood_has_run_out_of_water(tent: Bench) -> None:
    tent.knowing.did(poured(40.0))
    falling(tent)
    assert tent.knowing.standing_g("tent") == 40.0
    assert situation(tent).standing_g < 5.0


def test_right_after_a_deed_the_ledger_is_believed(tent: Bench) -> None:
    falling(tent)
    tent.logbook.act("tent", Deed.MISTED, None, "", "page", Amounts(0.0, 40.0))
    assert situation(tent).standing_g == pytest.approx(40.0)


def test_a_sensor_in_doubt_has_no_say_in_how_the_air_goes(tent: Bench) -> None:
    tent.knowing.did(poured(40.0))
    falling(tent)
    tent.board.doubt({"middle": doubt("middle", Quantity.HUMIDITY)}, ())
    assert situation(tent).standing_g == 40.0


# ------------------------------------------------------------------ will it hold


@pytest.mark.parametrize(
    "ahead",
    [
        pytest.param(timedelta(minutes=-1), id="past"),
        pytest.param(timedelta(0), id="now"),
        pytest.param(timedelta(hours=48, seconds=1), id="more than two days"),
    ],
)
def test_a_time_that_can_not_be_foretold_is_refused(tent: Bench, ahead: timedelta) -> None:
    hear(tent, GOOD)
    now = tent.clock.now()
    with pytest.raises(RefusedError, match="from now on, at most two days ahead"):
        tent.counsel.hold("tent", now + ahead, now)


@pytest.mark.parametrize("hours", [0.1, 3.0, 48.0])
def test_a_time_that_can_be_foretold_is_answered(tent: Bench, hours: float) -> None:
    hear(tent, GOOD)
    now = tent.clock.now()
    answer = tent.counsel.hold("tent", now + timedelta(hours=hours), now)
    assert answer.asked_until == now + timedelta(hours=hours)
    assert now < answer.until <= answer.asked_until
    assert answer.holds == (answer.until == answer.asked_until)


def test_the_next_visit_is_the_usual_time(tent: Bench) -> None:
    hear(tent, GOOD)
    reckoned = tent.counsel.now("tent", tent.clock.now())
    assert reckoned is not None
    assert reckoned.hold is not None
    assert reckoned.hold.asked_until == NOON.replace(hour=18)
    assert tent.counsel.next_visit("tent", tent.clock.now()) == NOON.replace(hour=18)
    assert "18:00" in reckoned.hold_words


# ------------------------------------------------------------------ what is told


def test_a_message_carries_amounts_and_they_are_noted(tent: Bench) -> None:
    hear(tent, DRY, 4)
    (body,) = bodies(tent, "mist")
    advice = now_of(tent).mist
    assert advice is not None
    assert amount_words.mist(advice, tent.clock.now(), tent.counsel.zone) in body
    assert body.endswith(amount_words.FIRST_GUESS)
    assert tent.board.advised("tent", Call.MIST) == Advised(
        tent.clock.now(), advice.into_air_g, advice.standing_g
    )


def test_how_long_the_last_misting_held_is_said(tent: Bench) -> None:
    hear(tent, DRY)
    tent.knowing._minds["tent"].held = timedelta(minutes=43)
    said = tent.counsel.told("tent", Call.MIST, tent.clock.now()).words
    assert "Your last misting held 43 min." in said


def test_an_area_that_was_declared_is_no_guess(tent: Bench) -> None:
    hear(tent, DRY)
    counsel = other_tent(tent, replace(TENT, wet_area_m2=0.6))
    said = counsel.told("tent", Call.MIST, tent.clock.now()).words
    assert said
    assert amount_words.FIRST_GUESS not in said


def test_stale_air_is_vented_and_then_misted(tent: Bench) -> None:
    hear(tent, STALE, 6)
    (body,) = bodies(tent, "vent")
    assert "Then mist, since fresh air dries it." in body
    vented, misted = (tent.board.advised("tent", call) for call in (Call.VENT, Call.MIST))
    assert vented is not None
    assert misted is not None
    advice = now_of(tent).vent
    assert advice is not None
    assert (vented.vent_minutes, vented.reachable) == (float(advice.minutes), True)
    assert f"{advice.minutes} minutes" in body
    assert misted.after_vent
    assert bodies(tent, "mist") == []
    assert (misted.into_air_g or 0.0) > 0.0


def test_air_that_can_not_be_vented_is_misted_all_the_same(tent: Bench) -> None:
    """The room is as stale as the tent; the one message says both."""
    hear(tent, {**BOTH, "room": (20.0, 45.0, 1300.0)}, 6)
    (body,) = bodies(tent, "vent")
    assert "It is dry as well. " in body
    assert "into the air" in body
    vented = tent.board.advised("tent", Call.VENT)
    assert vented is not None
    assert (vented.vent_minutes, vented.reachable) == (None, False)


def test_fresh_air_that_needs_no_venting_is_no_vent_before_a_misting(tent: Bench) -> None:
    """A message that is owed from before: the CO2 has fallen by itself, and it is dry."""
    hear(tent, DRY)
    told = tent.counsel.told("tent", Call.VENT, tent.clock.now(), then_mist=True)
    assert told.amounts[Call.VENT].vent_minutes is None
    assert "It is dry as well. Two squeezes into the air" in told.words


def test_no_amounts_for_what_has_none(tent: Bench) -> None:
    hear(tent, DRY)
    for call in (Call.COOL, Call.WARM, Call.DRY_OFF):
        assert tent.counsel.told("tent", call, tent.clock.now()) == NOTHING_TOLD


@pytest.mark.parametrize(
    ("advised", "quiet_min"),
    [
        pytest.param(None, 0, id="nothing was told"),
        pytest.param(Advised(NOON), 0, id="it can be done: asked again"),
        pytest.param(Advised(NOON, reachable=False), 180, id="it can't: 3 h quiet"),
        pytest.param(Advised(NOON, after_vent=True), 20, id="to follow a vent: 20 min"),
        pytest.param(Advised(NOON, reachable=False, after_vent=True), 180, id="both: the longer"),
    ],
)
def test_for_how_long_it_is_not_said_again(
    tent: Bench, advised: Advised | None, quiet_min: int
) -> None:
    if advised is not None:
        tent.board.advise("tent", Call.MIST, advised)
    quiet = tent.counsel.quiet_until
    assert quiet("tent", Call.MIST, at(quiet_min)) is None
    if quiet_min:
        assert quiet("tent", Call.MIST, at(quiet_min - 1)) == at(quiet_min)
    if quiet_min > 20:
        # Looked at again sooner: something may have changed.
        assert quiet("tent", Call.MIST, at(30)) == at(45)
    assert quiet("tent", Call.VENT, at(1)) is None
    assert quiet("shelf", Call.MIST, at(1)) is None


# ------------------------------------------------------------------ not nagged about


@pytest.mark.parametrize("with_devices", [(GALE,)], indirect=True)
def test_what_can_not_be_held_by_hand_is_said_once_in_three_hours(with_devices: Bench) -> None:
    bench = with_devices
    hear(bench, DRY, 4)
    (body,) = bodies(bench, "mist")
    assert "It can't be held by hand till 18:00" in body
    for _ in range(3):
        hear(bench, GOOD, 10)
        hear(bench, DRY, 10)
        assert bench.reminder(Call.MIST).active
    assert len(bodies(bench, "mist")) == 1
    hear(bench, DRY, 120)
    assert len(bodies(bench, "mist")) == 2
    assert bench.clock.now() - at(4) >= timedelta(hours=3)


@pytest.mark.parametrize("with_devices", [(GALE,)], indirect=True)
def test_harm_is_told_all_the_same(with_devices: Bench) -> None:
    bench = with_devices
    hear(bench, DRY, 4)
    hear(bench, GOOD, 10)
    hear(bench, DRY, 5)
    assert len(bodies(bench, "mist")) == 1
    hear(bench, HARM, 11)
    assert bench.reminder(Call.MIST).priority is Priority.HIGH
    assert len(bodies(bench, "mist")) == 2


def test_what_can_be_put_right_again_is_told_before_its_time(tent: Bench) -> None:
    tent.board.advise("tent", Call.MIST, Advised(NOON, reachable=False))
    tent.board.advise("tent", Call.VENT, Advised(NOON, reachable=False))
    assert tent.counsel.quiet_until("tent", Call.VENT, at(60)) == at(75)
    hear(tent, {**DRY, **STALE})
    now = tent.clock.now()
    assert tent.counsel.quiet_until("tent", Call.MIST, now) is None
    assert tent.counsel.quiet_until("tent", Call.VENT, now) is None


def test_advice_is_known_after_a_restart(tent: Bench) -> None:
    hear(tent, DRY, 4)
    before = tent.board.advised("tent", Call.MIST)
    assert before is not None
    tent.crash()
    assert tent.board.advised("tent", Call.MIST) == before


def test_after_a_vent_the_misting_that_was_told_with_it_is_not_asked_for(tent: Bench) -> None:
    hear(tent, STALE, 6)
    assert len(bodies(tent, "vent")) == 1
    tent.logbook.act("tent", Deed.VENTED, None, "", "page")
    hear(tent, DRY, 12)
    assert tent.reminder(Call.MIST).active
    assert bodies(tent, "mist") == []
    hear(tent, DRY, 10)
    assert len(bodies(tent, "mist")) == 1


@pytest.mark.parametrize("with_devices", [(FOGGER,)], indirect=True)
def test_a_device_that_sees_to_it_has_an_hour(with_devices: Bench) -> None:
    bench = with_devices
    hear(bench, DRY, 50)
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED
    assert bodies(bench, "mist") == []
    hear(bench, DRY, 15)
    (row,) = [row for row in bench.outbox() if "mist" in row.title]
    since = bench.reminder(Call.MIST).since
    assert since is not None
    assert timedelta(minutes=60) <= row.created - since <= timedelta(minutes=61)


@pytest.mark.parametrize("with_devices", [(FOGGER,)], indirect=True)
def test_a_device_is_not_waited_for_when_it_harms(with_devices: Bench) -> None:
    hear(with_devices, HARM, 10)
    assert bodies(with_devices, "mist") == []
    hear(with_devices, HARM, 1)
    assert with_devices.reminder(Call.MIST).priority is Priority.HIGH
    assert len(bodies(with_devices, "mist")) == 1


@pytest.mark.parametrize("with_devices", [(FOGGER,)], indirect=True)
def test_a_humidifier_does_not_see_to_the_co2(with_devices: Bench) -> None:
    hear(with_devices, STALE, 6)
    assert len(bodies(with_devices, "vent")) == 1


# ------------------------------------------------------------------ what was done


MIST_TOLD: Final = Advised(NOON, into_air_g=2.0, standing_g=25.0)
VENT_TOLD: Final = Advised(NOON, vent_minutes=4.0)


@pytest.mark.parametrize(
    ("deed", "minutes", "said", "kept"),
    [
        pytest.param(Deed.MISTED, 30, None, (2.0, 25.0, True), id="misted as advised"),
        pytest.param(Deed.VENTED, 30, None, (4.0, None, True), id="vented as advised"),
        pytest.param(
            Deed.MISTED, 45, None, (2.0, 25.0, True), id="three quarters of an hour later"
        ),
        pytest.param(Deed.MISTED, 46, None, (None, None, False), id="later than that"),
        pytest.param(Deed.MISTED, -5, None, (2.0, 25.0, True), id="while it was being said"),
        pytest.param(Deed.MISTED, -6, None, (None, None, False), id="before it was said"),
        pytest.param(Deed.MISTED, 30, Amounts(3.0), (3.0, None, False), id="own amount"),
        pytest.param(Deed.MISTED, 30, Amounts(None, 8.0), (None, 8.0, False), id="own water"),
        pytest.param(
            Deed.VENTED, 30, Amounts(vent_minutes=9.0), (9.0, None, False), id="own minutes"
        ),
        pytest.param(Deed.VENTED, 30, Amounts(), (None, None, False), id="said to be unknown"),
        pytest.param(Deed.HARVESTED, 30, None, (None, None, False), id="no such advice"),
    ],
)
def test_how_much_it_was(
    tent: Bench,
    deed: Deed,
    minutes: int,
    said: Amounts | None,
    kept: tuple[float | None, float | None, bool],
) -> None:
    tent.board.advise("tent", Call.MIST, MIST_TOLD)
    tent.board.advise("tent", Call.VENT, VENT_TOLD)
    tent.clock.turn(minutes=150)
    action = tent.logbook.act("tent", deed, at(minutes), "", "page", said)
    assert (action.amount, action.standing_g, action.advised) == kept
    with tent.sql.read() as book:
        assert book.actions.recent("tent") == [action]


@pytest.mark.parametrize(
    ("deed", "amounts", "words"),
    [
        pytest.param(Deed.VENTED, Amounts(2.0), "“vented” has no into_air_g", id="grams vented"),
        pytest.param(
            Deed.VENTED, Amounts(None, 5.0, 3.0), "“vented” has no standing_g", id="water vented"
        ),
        pytest.param(
            Deed.MISTED, Amounts(vent_minutes=3.0), "“misted” has no vent_minutes", id="minutes"
        ),
        pytest.param(Deed.NOTED, Amounts(1.0), "“noted” has no into_air_g; leave it", id="note"),
    ],
)
def test_amounts_that_a_deed_does_not_have_are_refused(
    tent: Bench, deed: Deed, amounts: Amounts, words: str
) -> None:
    with pytest.raises(RefusedError, match=words):
        tent.logbook.act("tent", deed, None, "", "api", amounts)
    with tent.sql.read() as book:
        assert book.actions.recent("tent") == []


def test_a_misting_by_a_message_is_known_at_once(tent: Bench) -> None:
    hear(tent, DRY, 4)
    advised = tent.board.advised("tent", Call.MIST)
    assert advised is not None
    tent.clock.turn(minutes=3)
    action = tent.logbook.act("tent", Deed.MISTED, None, "", "link")
    assert (action.amount, action.standing_g) == (advised.into_air_g, advised.standing_g)
    lost = 0.6 * (advised.into_air_g or 0.0)
    assert tent.knowing.standing_g("tent") == pytest.approx(lost + (advised.standing_g or 0.0))


@pytest.mark.parametrize("with_devices", [(GALE,)], indirect=True)
def test_what_ends_it_is_the_surface_where_a_gale_blows(with_devices: Bench) -> None:
    hear(with_devices, DRY)
    advice = now_of(with_devices).mist
    assert advice is not None
    assert (advice.limit, advice.by_hand) == (Limit.SURFACE, False)


def test_a_second_deed_is_not_the_advised_one(tent: Bench) -> None:
    tent.board.advise("tent", Call.MIST, MIST_TOLD)
    tent.clock.turn(minutes=10)
    first = tent.logbook.act("tent", Deed.MISTED, None, "", "page")
    second = tent.logbook.act("tent", Deed.MISTED, None, "", "page")
    assert (first.amount, first.advised) == (2.0, True)
    assert (second.amount, second.advised) == (None, False)
