"""Silence, and shelves that end."""

import threading
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from chamberwatch.core.watch.reminder import Call, State
from chamberwatch.service.books import Book
from chamberwatch.service.refilling import Refilling
from tests.make import at
from tests.service.machine import Bench


def hear_all(bench: Bench, minutes: int, *names: str) -> None:
    for _ in range(minutes):
        bench.clock.turn(minutes=1)
        for name in names:
            value = "temperature 20" if name in ("block", "wall") else "humidity 85"
            bench.take(f"{name} {value} {bench.clock.now().isoformat()}")
        bench.rounds.look()
    bench.intake.commit()


EVERYONE = ("middle", "top", "block", "wall", "room")


def test_a_sensor_gone_quiet_is_told_once_and_its_return_noted(bench: Bench) -> None:
    hear_all(bench, 2, *EVERYONE)
    hear_all(bench, 12, *EVERYONE[1:])
    reminder = bench.reminder(Call.CHECK_SENSOR, "middle")
    assert (reminder.state, reminder.moved) == (State.UNACKNOWLEDGED, at(8))
    assert bench.outbox() == []
    hear_all(bench, 8, *EVERYONE[1:])
    told = [r for r in bench.outbox() if "sensor" in r.title]
    assert [r.title for r in told] == ["Tent: look at sensor middle"]
    assert "since 12:02" in told[0].body
    hear_all(bench, 1, *EVERYONE)
    assert bench.reminder(Call.CHECK_SENSOR, "middle").state is State.RETURNED


def test_a_sensor_never_heard_is_told_after_its_time(bench: Bench) -> None:
    hear_all(bench, 16, *EVERYONE[1:])
    assert "Nothing has been heard from middle yet." in bench.outbox()[0].body


def test_a_radio_that_drops_out_for_a_while_is_no_news(bench: Bench) -> None:
    hear_all(bench, 2, *EVERYONE)
    hear_all(bench, 14, *EVERYONE[1:])
    hear_all(bench, 5, *EVERYONE)
    assert not bench.reminder(Call.CHECK_SENSOR, "middle").active
    assert bench.outbox() == []


def test_in_bad_air_a_silence_is_told_at_once(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    assert [row.title for row in bench.outbox()] == ["Tent: mist now"]
    hear_all(bench, 7, *EVERYONE[1:])
    assert bench.outbox()[0].title == "Tent: look at sensor middle"


def test_a_wall_clock_step_makes_nobody_quiet(bench: Bench) -> None:
    hear_all(bench, 2, *EVERYONE)
    bench.clock.wall += timedelta(hours=3)
    bench.rounds.look()
    assert bench.reminder(Call.CHECK_SENSOR, "middle").state is State.NORMAL


def test_a_restart_does_not_tell_again(bench: Bench) -> None:
    hear_all(bench, 18, *EVERYONE[1:])
    before = len(bench.outbox())
    assert before == 1
    bench.crash()
    hear_all(bench, 18, *EVERYONE[1:])
    assert len(bench.outbox()) == before
    hear_all(bench, 1, *EVERYONE)
    assert bench.reminder(Call.CHECK_SENSOR, "middle").active is False


def test_a_shelf_ends_and_speaks_again(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    number = bench.reminder(Call.MIST).id
    bench.logbook.shelve(number, timedelta(minutes=30), "page")
    bench.minutes_of("humidity", 76.0, 29)
    bench.rounds.look()
    assert bench.reminder(Call.MIST).state is State.SHELVED
    bench.minutes_of("humidity", 76.0, 1)
    bench.rounds.look()
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED
    bench.minutes_of("humidity", 76.0, 1)
    assert len([r for r in bench.outbox() if r.title == "Tent: mist now"]) == 2


def test_a_shelved_silence_speaks_again(bench: Bench) -> None:
    hear_all(bench, 16, *EVERYONE[1:])
    number = bench.reminder(Call.CHECK_SENSOR, "middle").id
    bench.logbook.shelve(number, timedelta(minutes=5), "page")
    hear_all(bench, 6, *EVERYONE[1:])
    told = [r for r in bench.outbox() if r.title.endswith("middle")]
    assert len(told) == 2


def test_a_shelved_silence_of_a_sensor_taken_out_harms_nobody(bench: Bench) -> None:
    hear_all(bench, 6, *EVERYONE[1:])
    number = bench.reminder(Call.CHECK_SENSOR, "middle").id
    bench.logbook.shelve(number, timedelta(minutes=5), "page")
    bench.remove("middle")
    bench.crash()
    hear_all(bench, 6, *EVERYONE[1:])
    assert bench.reminder(Call.CHECK_SENSOR, "middle").active is False


def test_the_loop_looks_until_told_to_stop(bench: Bench) -> None:
    stopping = threading.Event()
    looks: list[float] = []

    def wait(event: threading.Event, seconds: float) -> bool:
        looks.append(seconds)
        bench.books.full = len(looks) == 2
        if len(looks) == 4:
            event.set()
        bench.clock.turn(seconds=seconds)
        return event.is_set()

    bench.clock.wait = wait  # type: ignore[method-assign]
    bench.rounds.run(stopping)
    assert looks == [20.0] * 4


class Broken(Refilling):
    """Stumbles over a figure nobody thought of."""

    def write(self, book: Book, now: datetime) -> bool:
        raise ZeroDivisionError


def test_a_part_that_fails_ends_no_watch_and_is_said_once(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    broken = Broken(bench.house, bench.teller)
    bench.rounds._p = replace(bench.rounds._p, refilling=broken)
    hear_all(bench, 20, *EVERYONE[1:])
    assert bench.reminder(Call.CHECK_SENSOR, "middle").active
    assert len([r for r in caplog.records if "(Broken)" in r.message]) == 1
