"""Out of service: with who and why, until when, and back again."""

import threading
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.reminder import Call, Event, State
from chamberwatch.service.books import OutState
from chamberwatch.service.out_of_service import LONGEST, OutOfService, Reason
from tests.service.machine import Bench

WHY = Reason("the probe is at the maker's", "Ann")


@pytest.fixture
def dry(bench: Bench) -> Bench:
    bench.minutes_of("humidity", 76.0, 5)
    return bench


def serving(bench: Bench) -> OutOfService:
    return OutOfService(bench.books, bench.clock, bench.board)


def causes(bench: Bench, number: int, event: Event) -> list[str]:
    with bench.sql.read() as book:
        return [move.cause for _, move in book.reminders.moves(number) if move.event is event]


def quiet(bench: Bench) -> None:
    for sensor in bench.house.sensors:
        bench.board.heard(sensor, bench.clock.monotonic())
    bench.rounds.look()


def test_it_stands_with_who_why_and_until_when_over_a_restart(dry: Bench) -> None:
    number, until = dry.reminder(Call.MIST).id, dry.clock.now() + timedelta(days=7)
    taken = serving(dry).take_out(number, replace(WHY, who=" Ann ", until=until), "page")
    dry.crash()
    kept = dry.reminder(Call.MIST)
    assert taken == kept
    assert (kept.state, kept.out_by, kept.out_why, kept.out_until) == (
        State.OUT_OF_SERVICE,
        "Ann",
        "the probe is at the maker's",
        until,
    )
    assert causes(dry, number, Event.TAKEN_OUT) == ["the probe is at the maker's; Ann (page)"]


def test_it_is_judged_on_and_not_told(dry: Bench) -> None:
    serving(dry).take_out(dry.reminder(Call.MIST).id, WHY, "page")
    dry.minutes_of("humidity", 60.0, 15)
    assert len(dry.outbox()) == 1  # of before it was taken out
    dry.delivery().deliver_due(threading.Event())
    assert dry.phone.sent == []
    assert len(dry.outbox(OutState.DROPPED)) == 1


@pytest.mark.parametrize(
    ("reason", "words"),
    [
        pytest.param(replace(WHY, why="  "), "Say why", id="no reason"),
        pytest.param(replace(WHY, why="x" * 501), "Say why", id="a long reason"),
        pytest.param(replace(WHY, who=""), "Give the name", id="no name"),
        pytest.param(replace(WHY, who="x" * 81), "Give the name", id="a long name"),
    ],
)
def test_it_needs_a_reason_and_a_name(dry: Bench, reason: Reason, words: str) -> None:
    with pytest.raises(RefusedError, match=words):
        serving(dry).take_out(dry.reminder(Call.MIST).id, reason, "api")
    assert dry.reminder(Call.MIST).state is State.UNACKNOWLEDGED


@pytest.mark.parametrize("ahead", [timedelta(0), LONGEST + timedelta(seconds=1)])
def test_its_end_lies_ahead_within_a_year(dry: Bench, ahead: timedelta) -> None:
    reason = replace(WHY, until=dry.clock.now() + ahead)
    with pytest.raises(RefusedError, match="within a year"):
        serving(dry).take_out(dry.reminder(Call.MIST).id, reason, "api")


def test_only_once_and_only_what_there_is(dry: Bench) -> None:
    number = dry.reminder(Call.MIST).id
    with pytest.raises(RefusedError, match="in service; there is nothing"):
        serving(dry).put_back(number, "Ann", "api")
    serving(dry).take_out(number, WHY, "api")
    with pytest.raises(RefusedError, match="already: the probe is at the maker's"):
        serving(dry).take_out(number, WHY, "api")
    with pytest.raises(UnknownNameError, match="no reminder 99"):
        serving(dry).take_out(99, WHY, "api")


def test_put_back_it_is_told_anew(dry: Bench) -> None:
    dry.delivery().deliver_due(threading.Event())
    number = dry.reminder(Call.MIST).id
    serving(dry).take_out(number, WHY, "api")
    back = serving(dry).put_back(number, "Ben", "api")
    assert (back.state, back.out_by, back.out_why, back.out_until) == (
        State.UNACKNOWLEDGED,
        "",
        "",
        None,
    )
    dry.minutes_of("humidity", 76.0, 1)
    dry.delivery().deliver_due(threading.Event())
    assert len(dry.phone.sent) == 2


def test_what_is_over_goes_back_to_normal(dry: Bench) -> None:
    number = dry.reminder(Call.MIST).id
    serving(dry).take_out(number, WHY, "api")
    dry.minutes_of("humidity", 90.0, 5)
    assert serving(dry).put_back(number, "Ben", "api").state is State.NORMAL


def test_the_rounds_put_back_what_has_an_end(dry: Bench) -> None:
    number, until = dry.reminder(Call.MIST).id, dry.clock.now() + timedelta(hours=1)
    serving(dry).take_out(number, replace(WHY, until=until), "api")
    dry.clock.turn(minutes=59)
    quiet(dry)
    assert dry.reminder(Call.MIST).state is State.OUT_OF_SERVICE
    dry.clock.turn(minutes=1)
    quiet(dry)
    back = dry.reminder(Call.MIST)
    assert (back.state, back.out_why, back.out_until) == (State.UNACKNOWLEDGED, "", None)
    assert causes(dry, number, Event.PUT_BACK) == ["its time was up"]
    dry.minutes_of("humidity", 76.0, 1)
    assert len(dry.outbox()) == 2


def test_without_an_end_it_stays_out(dry: Bench) -> None:
    serving(dry).take_out(dry.reminder(Call.MIST).id, WHY, "api")
    dry.clock.turn(minutes=400 * 24 * 60)
    quiet(dry)
    assert dry.reminder(Call.MIST).state is State.OUT_OF_SERVICE


def test_a_silent_sensor_that_is_put_back_is_told(bench: Bench) -> None:
    bench.take("middle humidity 88")
    bench.clock.turn(minutes=30)
    for _ in range(12):
        bench.clock.turn(minutes=1)
        for sensor in ("top", "room", "block", "wall"):
            bench.take(f"{sensor} temperature 19")
        bench.rounds.look()
    number = bench.reminder(Call.CHECK_SENSOR, "middle").id
    before = len(bench.outbox())
    serving(bench).take_out(number, WHY, "api")
    serving(bench).put_back(number, "Ben", "api")
    bench.rounds.look()
    assert len(bench.outbox()) == before + 1
    bench.rounds.look()
    assert len(bench.outbox()) == before + 1


def test_a_shelf_that_a_wrong_clock_has_set_ends(dry: Bench) -> None:
    at: datetime = dry.clock.now()
    dry.clock.wall = at + timedelta(days=900)
    dry.logbook.shelve(dry.reminder(Call.MIST).id, timedelta(hours=1), "page")
    dry.clock.wall = at
    quiet(dry)
    assert dry.reminder(Call.MIST).state is State.UNACKNOWLEDGED
