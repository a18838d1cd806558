"""Doubts on their way to a person, and who speaks for the air meanwhile."""

from collections.abc import Callable
from datetime import UTC, timedelta

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.doubt import Doubted
from chamberwatch.core.watch.reading import Quantity, Reject
from chamberwatch.core.watch.reminder import Call, Event, Priority, State
from chamberwatch.service.history import History, Vitals
from chamberwatch.web.air_shapes import AirOut
from tests.make import NOON, at
from tests.service.machine import Bench

LOW = Sensor("low", "tent", quantities=(Quantity.BATTERY,), battery_low_v=2.6)


def history(bench: Bench) -> History:
    vitals = Vitals(connected=True, message_ago=None, troubles=())
    return History(
        bench.books, bench.clock, bench.house, bench.board, UTC, lambda: vitals, NOON, "0.0"
    )


def pass_by(bench: Bench, minutes: int, told: Callable[[int], dict[str, float]]) -> None:
    """Let minutes go by, in each of which sensors say something and a round is made.

    `told` gives what is said in each minute, as "sensor quantity": value.
    """
    for minute in range(minutes):
        bench.clock.turn(minutes=1)
        now = bench.clock.now().isoformat()
        for what, value in told(minute).items():
            bench.take(f"{what} {value} {now}")
        bench.rounds.look()


def saturated(bench: Bench, minutes: int) -> None:
    pass_by(bench, minutes, lambda _: {"middle humidity": 99.5})


def get_wet(bench: Bench) -> None:
    """Let the sensor in the middle stay at saturation through a vent."""
    saturated(bench, 5)
    bench.logbook.act("tent", Deed.VENTED, None, "", "page")
    saturated(bench, 15)
    assert bench.board.doubts()["middle"].kind is Doubted.WET


def messages(bench: Bench, about: str) -> list[str]:
    """Return the bodies that name this, oldest first."""
    return [r.body for r in reversed(bench.outbox()) if about in r.title]


def test_a_wet_sensor_is_told_once_and_returns_when_dry(bench: Bench) -> None:
    get_wet(bench)
    reminder = bench.reminder(Call.CHECK_SENSOR, "middle")
    assert (reminder.state, reminder.priority) == (State.UNACKNOWLEDGED, Priority.MEDIUM)
    assert reminder.evidence is not None
    assert (reminder.evidence.quantity, reminder.evidence.since) == (Quantity.HUMIDITY, at(1))
    (told,) = messages(bench, "look at sensor middle")
    assert told.startswith("middle may be wet: it has stayed at 99.5 % through a venting.")
    pass_by(bench, 11, lambda _: {"middle humidity": 90.0})
    assert bench.reminder(Call.CHECK_SENSOR, "middle").state is State.RETURNED
    assert "middle" not in bench.board.doubts()
    (shown,) = [
        r for r in history(bench).reminders(frozenset({State.RETURNED})) if "middle" in r.title
    ]
    assert shown.body.startswith("middle was in doubt from 12:01 on and gives good readings again")
    assert len(messages(bench, "look at sensor middle")) == 1


def test_a_sensor_hit_by_a_misting_is_told_within_half_an_hour(bench: Bench) -> None:
    pass_by(bench, 70, lambda m: {"middle humidity": 84.0 + 0.1 * (m % 3)})
    bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    saturated(bench, 20)
    assert messages(bench, "look at sensor middle") == []
    saturated(bench, 1)
    (told,) = messages(bench, "look at sensor middle")
    assert told.startswith("middle may be wet: it leapt from 84 to 99.5 % and stays there")
    reminder = bench.reminder(Call.CHECK_SENSOR, "middle")
    assert (reminder.state, reminder.priority) == (State.UNACKNOWLEDGED, Priority.MEDIUM)
    pass_by(bench, 11, lambda _: {"middle humidity": 91.0})
    assert bench.reminder(Call.CHECK_SENSOR, "middle").state is State.RETURNED


def test_the_page_and_the_api_show_the_doubt(bench: Bench) -> None:
    get_wet(bench)
    now = history(bench).now("tent")
    doubts = {s.sensor.name: s.doubt for s in now.sensors if s.doubt is not None}
    assert doubts["middle"].kind is Doubted.WET
    assert doubts["block"].kind is Doubted.SILENT
    (shown,) = [r for r in now.reminders if r.title == "Tent: look at sensor middle"]
    assert shown.body == doubts["middle"].words
    out = {d.sensor: d for d in AirOut.of(now).doubts}
    assert (out["middle"].kind, out["middle"].since) == ("wet", at(1))
    assert out["middle"].words == doubts["middle"].words


def test_a_restart_keeps_a_doubt_and_does_not_tell_it_again(bench: Bench) -> None:
    get_wet(bench)
    before = bench.board.doubts()["middle"]
    bench.intake.commit()
    bench.crash()
    assert bench.board.doubts()["middle"] == before
    saturated(bench, 10)
    assert len(messages(bench, "look at sensor middle")) == 1
    assert bench.board.doubts()["middle"] == before
    pass_by(bench, 11, lambda _: {"middle humidity": 90.0})
    assert not bench.reminder(Call.CHECK_SENSOR, "middle").active


def test_a_doubt_that_could_not_be_kept_is_told_by_the_next_round(bench: Bench) -> None:
    saturated(bench, 5)
    bench.logbook.act("tent", Deed.VENTED, None, "", "page")
    saturated(bench, 9)
    bench.books.full = True
    bench.clock.turn(minutes=1)
    bench.intake.take(bench.arrival(f"middle humidity 99.5 {bench.clock.now().isoformat()}"))
    with pytest.raises(StorageError):
        bench.rounds.look()
    bench.books.full = False
    saturated(bench, 2)
    assert len(messages(bench, "look at sensor middle")) == 1


def test_the_only_sensor_still_speaks_and_says_that_it_is_doubted(bench: Bench) -> None:
    get_wet(bench)
    saturated(bench, 45)
    (told,) = messages(bench, "let it dry off")
    assert told.endswith("Only sensor middle says so, and it may be wet: look at it first.")
    (shown,) = [r for r in history(bench).now("tent").reminders if r.reminder.call is Call.DRY_OFF]
    assert shown.body.endswith("look at it first.")


def test_a_doubted_sensor_leaves_the_word_to_another(bench: Bench) -> None:
    get_wet(bench)
    pass_by(bench, 60, lambda _: {"middle humidity": 99.5, "top humidity": 88.0})
    assert messages(bench, "let it dry off") == []
    assert bench.reminder(Call.DRY_OFF).state is State.NORMAL


def test_what_a_doubted_sensor_had_asked_for_returns(bench: Bench) -> None:
    def stuck_in_dry_air(minute: int) -> dict[str, float]:
        return {"middle humidity": 75.0, "top humidity": 84.0 + minute / 25.0}

    pass_by(bench, 100, stuck_in_dry_air)
    assert bench.reminder(Call.MIST).active
    pass_by(bench, 100, stuck_in_dry_air)
    assert bench.board.doubts()["middle"].kind is Doubted.STUCK
    mist = bench.reminder(Call.MIST)
    assert not mist.active
    with bench.sql.read() as book:
        causes = [m.cause for _, m in book.reminders.moves(mist.id)]
    assert causes[-1] == "middle is in doubt, and another sensor says otherwise"


def test_the_one_that_still_says_so_takes_the_word(bench: Bench) -> None:
    pass_by(bench, 5, lambda _: {"middle humidity": 74.0, "top humidity": 76.0})
    pass_by(bench, 8, lambda _: {"top humidity": 77.0})
    mist = bench.reminder(Call.MIST)
    assert (mist.active, mist.episode) == (True, 1)
    assert mist.evidence is not None
    assert mist.evidence.sensor == "top"
    assert len(messages(bench, "mist now")) == 1


def test_a_silent_sensor_neither_holds_a_reminder_nor_masks_another(bench: Bench) -> None:
    pass_by(bench, 5, lambda _: {"middle humidity": 76.0, "top humidity": 88.0})
    assert bench.reminder(Call.MIST).active
    pass_by(bench, 8, lambda _: {"top humidity": 88.0})
    assert bench.board.doubts()["middle"].kind is Doubted.SILENT
    assert not bench.reminder(Call.MIST).active
    pass_by(bench, 6, lambda _: {"top humidity": 75.0})
    assert bench.reminder(Call.MIST).episode == 2
    assert len(messages(bench, "mist now")) == 2


def test_a_sensor_back_from_silence_in_good_air_asks_for_nothing(bench: Bench) -> None:
    pass_by(bench, 5, lambda _: {"middle humidity": 76.0, "top humidity": 88.0})
    pass_by(bench, 8, lambda _: {"top humidity": 88.0})
    pass_by(bench, 10, lambda _: {"middle humidity": 87.0, "top humidity": 88.0})
    assert "middle" not in bench.board.doubts()
    assert (bench.reminder(Call.MIST).episode, len(messages(bench, "mist now"))) == (1, 1)


def test_the_only_sensor_gone_silent_keeps_its_reminder(bench: Bench) -> None:
    pass_by(bench, 5, lambda _: {"middle humidity": 76.0})
    pass_by(bench, 10, lambda _: {"top co2": 700.0})
    assert bench.board.doubts()["middle"].kind is Doubted.SILENT
    assert bench.reminder(Call.MIST).active
    (shown,) = [r for r in history(bench).now("tent").reminders if r.reminder.call is Call.MIST]
    assert "Only sensor" not in shown.body


def test_silence_is_graver_than_a_doubt_and_told_anew(bench: Bench) -> None:
    get_wet(bench)
    pass_by(bench, 8, lambda _: {"top co2": 700.0})
    assert bench.board.doubts()["middle"].kind is Doubted.SILENT
    wet, silent = messages(bench, "look at sensor middle")
    assert wet.startswith("middle may be wet")
    assert silent.startswith("Nothing has been heard from middle since 12:20.")
    reminder = bench.reminder(Call.CHECK_SENSOR, "middle")
    assert reminder.evidence is not None
    assert reminder.evidence.quantity is None
    with bench.sql.read() as book:
        moves = [m.event for _, m in book.reminders.moves(reminder.id)]
    assert moves == [Event.RAISED, Event.WORSENED]
    # Heard again and still wet: known already, so only the page says so.
    saturated(bench, 2)
    assert bench.board.doubts()["middle"].kind is Doubted.WET
    assert len(messages(bench, "look at sensor middle")) == 2
    assert bench.reminder(Call.CHECK_SENSOR, "middle").active


def test_a_restart_knows_silence_from_doubt(bench: Bench) -> None:
    get_wet(bench)
    pass_by(bench, 8, lambda _: {"top co2": 700.0})
    bench.crash()
    assert bench.board.doubts()["middle"].kind is Doubted.SILENT
    saturated(bench, 2)
    assert bench.board.doubts()["middle"].kind is Doubted.WET
    assert len(messages(bench, "look at sensor middle")) == 2


def test_a_shelved_doubt_speaks_again_in_its_own_words(bench: Bench) -> None:
    get_wet(bench)
    number = bench.reminder(Call.CHECK_SENSOR, "middle").id
    bench.logbook.shelve(number, timedelta(minutes=5), "page")
    saturated(bench, 6)
    told = messages(bench, "look at sensor middle")
    assert [words[:17] for words in told] == ["middle may be wet"] * 2


def test_a_doubted_sensor_taken_out_of_the_settings_is_over(bench: Bench) -> None:
    get_wet(bench)
    bench.remove("middle")
    bench.crash()
    bench.rounds.look()
    assert not bench.reminder(Call.CHECK_SENSOR, "middle").active
    assert "middle" not in bench.board.doubts()


def test_a_low_battery_is_of_low_priority_and_leaves_the_values_alone(bench: Bench) -> None:
    bench.more = (LOW,)
    bench.crash()
    pass_by(bench, 11, lambda _: {"low battery": 2.5, "low humidity": 76.0})
    reminder = bench.reminder(Call.CHECK_SENSOR, "low")
    assert (reminder.active, reminder.priority) == (True, Priority.LOW)
    assert messages(bench, "look at sensor low") == [
        "The battery of low is down to 2.5 V. Change it before the sensor falls silent."
    ]
    assert messages(bench, "mist now")[0].count("look at it first") == 0


def test_two_that_disagree_are_both_named_and_both_speak(bench: Bench) -> None:
    def unlike(minute: int) -> dict[str, float]:
        by = 0.1 * (minute % 3)
        return {
            "middle temperature": 20.0 + by,
            "middle humidity": 91.0 - by,
            "top temperature": 20.0 - by,
            "top humidity": 82.0 + by,
        }

    pass_by(bench, 55, unlike)
    doubts = bench.board.doubts()
    assert {doubts[name].kind for name in ("middle", "top")} == {Doubted.DISAGREEING}
    assert history(bench).now("tent").humidity_pct == pytest.approx(91.0, abs=0.3)
    pass_by(bench, 5, lambda m: unlike(m) | {"top humidity": 77.0 + 0.1 * (m % 3)})
    (told,) = messages(bench, "mist now")
    assert told.endswith("Sensor top says so, and it disagrees with another: look at both first.")


def refuse(bench: Bench, *reasons: str) -> None:
    with bench.sql.write() as book:
        book.rejects.add([Reject("tent/air", bench.clock.now(), r, "") for r in reasons])


def test_values_refused_as_impossible_put_their_sensor_in_doubt(bench: Bench) -> None:
    bench.clock.turn(minutes=1)
    bad = "top, humidity: 140 % is outside 0 to 105 %."
    refuse(bench, bad, bad, "nobody, humidity: x", "top, smell: x", "The message is empty.")
    bench.rounds.look()
    assert "top" not in bench.board.doubts()
    bench.clock.turn(minutes=1)
    refuse(bench, bad)
    bench.rounds.look()
    assert bench.board.doubts()["top"].kind is Doubted.IMPOSSIBLE
    assert "can't be true" in messages(bench, "look at sensor top")[0]
    pass_by(bench, 25, lambda _: {"top humidity": 88.0})
    assert "top" not in bench.board.doubts()


def test_the_page_shows_a_believed_sensor_before_a_doubted_one(bench: Bench) -> None:
    get_wet(bench)
    pass_by(
        bench,
        2,
        lambda _: {
            "middle humidity": 99.5,
            "middle temperature": 16.0,
            "middle co2": 700.0,
            "top humidity": 88.0,
            "top temperature": 17.0,
            "top co2": 750.0,
        },
    )
    now = history(bench).now("tent")
    assert (now.temperature_c, now.humidity_pct) == (17.0, 88.0)


def test_a_time_that_was_wrong_is_forgotten_by_the_memory_too(bench: Bench) -> None:
    saturated(bench, 3)
    bench.board.forget_newest(("middle", Quantity.HUMIDITY))
    assert bench.board.tracks() == {}
