"""From an arrival to what is kept, judged, told and acknowledged."""

import queue
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Priority, State
from chamberwatch.service.books import OutState, Span
from chamberwatch.service.ports import CaughtUp, Incoming, LinkUp
from tests.fakes import HandClock
from tests.make import at
from tests.service.machine import Bench


def iso(minutes: float) -> str:
    return at(minutes).isoformat()


@pytest.fixture
def usual(bench: Bench) -> Bench:
    """Both sensors have spoken before."""
    bench.take(f"middle humidity 90 {iso(-60)};top humidity 90 {iso(-60)}")
    bench.intake.commit()
    bench.broker.acknowledged.clear()
    return bench


def test_nothing_is_acknowledged_before_it_is_kept(usual: Bench) -> None:
    usual.take(f"middle humidity 90 {iso(0)}")
    assert (usual.stored(), usual.broker.acknowledged) == (2, [])
    usual.clock.turn(seconds=30)
    usual.intake.idle()
    assert usual.stored() == 3
    assert [a.mid for a in usual.broker.acknowledged] == [2]


def test_the_first_word_of_a_sensor_is_kept_at_once(bench: Bench) -> None:
    """Whoever has just set it up looks for it, also from a command beside the daemon."""
    bench.take(f"middle humidity 90 {iso(-2)}")
    assert bench.stored() == 1
    bench.take(f"middle humidity 90 {iso(-1)}")
    assert bench.stored() == 1
    bench.take(f"middle temperature 18 {iso(-1)}")
    assert bench.stored() == 3
    bench.crash()
    bench.take(f"middle humidity 90 {iso(0)}")
    assert bench.stored() == 3


@pytest.mark.parametrize("window", [pytest.param(3, id="three at a time")])
def test_a_full_window_commits_at_once_and_in_order(usual: Bench, window: int) -> None:
    usual.window = window
    usual.crash()
    for minute in range(window):
        usual.take(f"middle humidity 90 {iso(-9 + minute)}")
    assert [a.mid for a in usual.broker.acknowledged] == [2, 3, 4]


def test_five_hundred_rows_commit_at_once(usual: Bench) -> None:
    parts = ";".join(f"middle humidity 90 {iso(-9 + n / 100)}" for n in range(250))
    usual.take(parts)
    assert usual.stored() == 2
    usual.take(parts.replace("middle", "top"))
    assert usual.stored() == 502


def test_a_timed_message_twice_is_kept_once(bench: Bench) -> None:
    for _ in range(2):
        bench.take(f"middle humidity 90 {iso(0)}")
    bench.intake.commit()
    assert bench.stored() == 1
    assert len(bench.broker.acknowledged) == 2


def test_untimed_messages_of_one_moment_are_all_kept(bench: Bench) -> None:
    for _ in range(3):
        bench.take("middle humidity 90")
    bench.intake.commit()
    assert bench.stored() == 3


def test_what_cannot_be_read_is_rejected_kept_and_acknowledged(bench: Bench) -> None:
    bench.take("nonsense")
    bench.intake.commit()
    assert len(bench.broker.acknowledged) == 1
    with bench.sql.read() as book:
        (reject,) = book.rejects.recent()
        assert (reject.topic, reject.excerpt, book.rejects.count()) == ("tent/air", "nonsense", 1)
        assert "three or four" in reject.reason


def test_a_dry_spell_raises_one_reminder_and_one_message(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 20)
    reminder = bench.reminder(Call.MIST)
    assert (reminder.state, reminder.episode) == (State.UNACKNOWLEDGED, 1)
    assert reminder.evidence is not None
    assert reminder.evidence.value == 76.0
    (row,) = bench.outbox()
    assert (row.title, row.priority) == ("Tent: mist now", Priority.MEDIUM)
    assert bench.wake.is_set()
    with bench.sql.read() as book:
        assert [m.after for _, m in book.reminders.moves()] == [State.UNACKNOWLEDGED]


def test_it_worsens_and_returns(bench: Bench) -> None:
    bench.minutes_of("humidity", 65.0, 15)
    assert bench.reminder(Call.MIST).priority is Priority.HIGH
    assert [r.priority for r in bench.outbox()] == [Priority.HIGH, Priority.MEDIUM]
    bench.minutes_of("humidity", 88.0, 5)
    assert bench.reminder(Call.MIST).state is State.RETURNED


def test_dry_and_stale_is_one_message(bench: Bench) -> None:
    for _ in range(10):
        bench.clock.turn(minutes=1)
        now = bench.clock.now().isoformat()
        bench.take(f"middle humidity 76 {now};middle co2 1500 {now}")
    # Dry air, known after three minutes, waits for the two that the CO2 takes longer.
    assert [r.title for r in bench.outbox()] == ["Tent: vent, then mist"]


def test_the_graver_of_dry_and_stale_carries_the_message(bench: Bench) -> None:
    now = bench.clock.now
    for minute in range(16):
        bench.clock.turn(minutes=1)
        bench.take(f"middle co2 2500 {now().isoformat()}")
        if minute >= 11:
            bench.take(f"middle humidity 76 {now().isoformat()}")
    told = [(r.title, r.priority, r.reminder) for r in reversed(bench.outbox())]
    vent, mist = bench.reminder(Call.VENT).id, bench.reminder(Call.MIST).id
    assert told == [
        ("Tent: vent now", Priority.MEDIUM, vent),
        ("Tent: vent, then mist", Priority.MEDIUM, mist),
        ("Tent: vent, then mist (the crop wants air)", Priority.HIGH, vent),
    ]


def test_a_second_harm_is_news_again(bench: Bench) -> None:
    bench.minutes_of("humidity", 65.0, 15)
    bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    bench.minutes_of("humidity", 78.0, 60)
    assert bench.reminder(Call.MIST).state is State.ACKNOWLEDGED
    bench.minutes_of("humidity", 65.0, 15)
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED


def test_a_sensor_that_reports_seldom_is_judged_all_the_same(bench: Bench) -> None:
    slow = replace(bench.house.sensors["middle"], unheard_after=timedelta(hours=1))
    bench.house.sensors["middle"] = slow  # type: ignore[index]
    for _ in range(3):
        bench.clock.turn(minutes=15)
        bench.take(f"middle humidity 76 {bench.clock.now().isoformat()}")
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED


def test_a_sensor_taken_out_while_dry_leaves_no_reminder_for_ever(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5, "top")
    assert bench.reminder(Call.MIST).active
    bench.remove("top")
    bench.crash()
    assert not bench.reminder(Call.MIST).active


def test_traffic_without_a_pause_ends_the_catching_up(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    bench.intake.link_up(LinkUp(2, resumed=True))
    bench.take("middle humidity 90")
    bench.clock.turn(minutes=6)
    bench.take("middle humidity 91")
    bench.intake.commit()
    assert bench.stored() == 1
    assert "no end in sight" in caplog.text


def test_what_waited_for_days_takes_its_time_where_the_end_is_told(bench: Bench) -> None:
    bench.intake.come(LinkUp(2, resumed=True, end_told=True))
    bench.clock.turn(minutes=9)
    bench.take("middle humidity 90")
    bench.intake.commit()
    assert bench.stored() == 0
    # It can't be told after all, for the broker does not let us hear it.
    bench.intake.come(LinkUp(2, resumed=True))
    bench.clock.turn(minutes=3)
    bench.take("middle humidity 91")
    bench.intake.commit()
    assert bench.stored() == 1


def test_a_slow_clock_is_not_trusted_because_time_passes(bench: Bench) -> None:
    bench.minutes_of("humidity", 90.0, 1)
    bench.intake.commit()
    bench.crash()
    bench.clock.wall, bench.clock.synced = at(-40), False
    bench.take("middle humidity 88")
    bench.clock.turn(minutes=50)
    bench.intake.idle()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (1, 0)
    assert bench.board.has_heard("middle")


def test_only_a_good_clock_calls_another_one_wrong(bench: Bench) -> None:
    bench.clock.synced = False
    bench.take(f"middle humidity 90 {iso(60)}")
    bench.intake.commit()
    assert bench.stored() == 1


def test_two_sensors_speak_in_one_message(bench: Bench) -> None:
    for _ in range(10):
        bench.clock.turn(minutes=1)
        now = bench.clock.now().isoformat()
        bench.take(f"middle humidity 78 {now};top humidity 74 {now}")
    (row,) = bench.outbox()
    assert "Humidity 74 %" in row.body
    assert "(top)" in row.body


def test_old_is_stored_and_never_spoken(bench: Bench) -> None:
    for minute in range(-60, -20):
        bench.take(f"middle humidity 60 {iso(minute)}")
    bench.intake.commit()
    assert bench.stored() == 40
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED
    assert bench.outbox() == []


def test_a_state_that_came_with_a_backlog_is_told_once_it_is_live(bench: Bench) -> None:
    for minute in range(-60, -20):
        bench.take(f"middle humidity 76 {iso(minute)}")
    bench.minutes_of("humidity", 76.0, 2)
    assert [r.title for r in bench.outbox()] == ["Tent: mist now"]


def test_a_spell_that_passed_unheard_leaves_nothing_to_acknowledge(bench: Bench) -> None:
    for minute in range(-60, -20):
        bench.take(f"middle humidity {60 if minute < -40 else 90} {iso(minute)}")
    bench.intake.commit()
    assert bench.reminder(Call.MIST).state is State.NORMAL


def test_older_than_the_newest_moves_nothing(bench: Bench) -> None:
    bench.minutes_of("humidity", 90.0, 5)
    for minute in range(-8, 0):
        bench.take(f"middle humidity 50 {iso(minute)}")
    bench.intake.commit()
    assert bench.stored() == 13
    assert bench.reminder(Call.MIST).state is State.NORMAL


def test_ahead_of_a_good_clock_is_a_reject(bench: Bench) -> None:
    bench.take(f"middle humidity 90 {iso(2.1)}")
    bench.take(f"middle humidity 90 {iso(1.9)}")
    bench.intake.commit()
    assert bench.stored() == 1
    with bench.sql.read() as book:
        assert "ahead of ours" in book.rejects.recent()[0].reason


def test_after_a_reconnect_untimed_messages_have_no_time_until_the_queue_runs_dry(
    bench: Bench,
) -> None:
    bench.intake.link_up(LinkUp(2, resumed=True))
    bench.take("middle humidity 60")
    bench.take(f"middle humidity 90 {iso(0)}")
    bench.intake.idle()
    bench.clock.turn(seconds=0.1)
    bench.intake.idle()
    bench.take("middle humidity 61")
    bench.intake.idle()
    bench.clock.turn(seconds=0.3)
    bench.intake.idle()
    bench.take("middle humidity 91")
    bench.intake.commit()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (0, 2)
        assert book.readings.newest()["middle", Quantity.HUMIDITY].value == 91.0
    assert bench.stored() == 2


@pytest.mark.parametrize("end_told", [False, True])
@pytest.mark.parametrize(("quiet_s", "over"), [(0.2, False), (0.3, True)])
def test_a_silence_ends_the_catching_up(
    bench: Bench, end_told: bool, quiet_s: float, over: bool
) -> None:
    """Also where a message is to tell the end: it may be lost."""
    bench.intake.come(LinkUp(2, resumed=True, end_told=end_told))
    bench.take("middle humidity 60")
    bench.intake.idle()
    bench.clock.turn(seconds=quiet_s)
    bench.intake.idle()
    bench.take("middle humidity 91")
    bench.intake.commit()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (0, 1 if over else 2)


def test_the_end_of_what_waited_ends_the_catching_up_without_a_silence(bench: Bench) -> None:
    bench.intake.come(LinkUp(2, resumed=True, end_told=True))
    bench.take("middle humidity 60")
    bench.take("middle humidity 61")
    assert not bench.intake.must_commit()
    bench.intake.come(CaughtUp())
    # Whoever waited for the backlog waits no longer.
    assert bench.intake.must_commit()
    bench.intake.commit()
    assert not bench.intake.must_commit()
    bench.take("middle humidity 91")
    # The next connection has a queue of its own.
    bench.intake.come(LinkUp(3, resumed=True, end_told=True))
    bench.take("middle humidity 62")
    bench.intake.commit()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (0, 3)
        assert book.readings.newest()["middle", Quantity.HUMIDITY].value == 91.0


def test_a_retained_message_without_a_time_is_never_fresh(bench: Bench) -> None:
    bench.take("middle humidity 60", retained=True)
    bench.intake.commit()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (0, 1)
    assert bench.board.newest() == {}


def test_a_wrong_clock_makes_untimed_readings_wait(bench: Bench) -> None:
    bench.minutes_of("humidity", 90.0, 1)
    bench.intake.commit()
    bench.crash()
    bench.clock.wall, bench.clock.synced = at(-60 * 24 * 30), False
    bench.take("middle humidity 88")
    bench.clock.turn(seconds=40)
    bench.intake.idle()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (1, 0)
    assert len(bench.broker.acknowledged) == 2
    bench.clock.turn(seconds=20)
    bench.clock.wall, bench.clock.synced = at(60), True
    bench.intake.idle()
    with bench.sql.read() as book:
        newest = book.readings.newest()["middle", Quantity.HUMIDITY]
        assert (newest.value, newest.time) == (88.0, at(60) - timedelta(seconds=60))
        assert book.readings.count_undated() == (0, 0)


def test_a_clock_of_another_age_is_wrong_even_at_the_first_start(bench: Bench) -> None:
    bench.clock.wall, bench.clock.synced = datetime(1970, 1, 1, 0, 3, tzinfo=UTC), False
    bench.take("middle humidity 88")
    bench.intake.commit()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (1, 0)
    bench.clock.turn(seconds=20)
    bench.clock.wall, bench.clock.synced = at(60), True
    bench.intake.idle()
    with bench.sql.read() as book:
        newest = book.readings.newest()["middle", Quantity.HUMIDITY]
        assert (newest.value, newest.time) == (88.0, at(60) - timedelta(seconds=20))


def test_a_sensor_that_runs_ahead_keeps_no_other_waiting(bench: Bench) -> None:
    bench.clock.synced = False
    bench.take("middle humidity 88")
    bench.take(f"top humidity 88 {iso(60)}")
    bench.take("middle humidity 87")
    bench.intake.commit()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (0, 0)
    assert bench.stored() == 3


def test_a_clock_set_back_in_the_run_is_doubted_until_a_service_vouches_for_it(
    bench: Bench,
) -> None:
    bench.clock.synced = False
    bench.take("middle humidity 88")
    bench.clock.wall -= timedelta(hours=2)
    bench.take("middle humidity 87")
    bench.intake.commit()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (1, 0)
    bench.clock.synced = True
    bench.take("middle humidity 86")
    bench.clock.synced = False
    bench.take("middle humidity 85")
    bench.intake.idle()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (0, 0)


def test_all_that_a_message_says_at_once_has_one_time(bench: Bench) -> None:
    bench.take("middle humidity 88;middle temperature 18;middle humidity 87")
    bench.intake.commit()
    with bench.sql.read() as book:
        times = [r.time for r in book.readings.page(None, Span(at(-60), at(60)), None, 9)]
    assert len(times) == 3
    assert len(set(times)) == 2


def test_a_wrong_clock_that_never_comes_right_leaves_them_undatable(bench: Bench) -> None:
    bench.minutes_of("humidity", 90.0, 1)
    bench.intake.commit()
    bench.crash()
    bench.clock.wall, bench.clock.synced = at(-60 * 24 * 30), False
    bench.take("middle humidity 88")
    bench.intake.commit()
    bench.clock.boot = "boot-2"
    bench.crash()
    with bench.sql.read() as book:
        assert book.readings.count_undated() == (0, 1)


def test_a_clock_set_back_does_not_leave_a_sensor_unjudged(bench: Bench) -> None:
    bench.clock.wall = at(120)
    bench.take("middle humidity 90")
    bench.clock.wall = at(0)
    bench.minutes_of("humidity", 76.0, 5)
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED


def test_a_crash_between_commits_changes_nothing(bench: Bench) -> None:
    payloads = [f"middle humidity 76 {iso(minute)}" for minute in range(-8, 1)]
    for payload in payloads[:2]:
        bench.take(payload)
    bench.intake.commit()
    for payload in payloads[2:3]:
        bench.take(payload)
    bench.crash()
    for payload in payloads:
        bench.take(payload)
    bench.intake.commit()
    assert bench.stored() == 9
    with bench.sql.read() as book:
        assert len(book.reminders.moves()) == 1
        assert book.reminders.moves()[0][1].time == at(-5)
    assert len(bench.outbox()) == 1


def test_a_full_disk_loses_nothing(usual: Bench) -> None:
    usual.take(f"middle humidity 90 {iso(0)}")
    usual.books.full = True
    with pytest.raises(StorageError, match="make room"):
        usual.intake.commit()
    assert usual.broker.acknowledged == []
    usual.books.full = False
    usual.intake.commit()
    assert (usual.stored(), len(usual.broker.acknowledged)) == (3, 1)


def test_the_loop_takes_commits_and_stops(bench: Bench) -> None:
    inbox: queue.Queue[Incoming] = queue.Queue()
    inbox.put(LinkUp(1, resumed=False))
    for minute in range(-8, 0):
        inbox.put(bench.arrival(f"middle humidity 76 {iso(minute)}"))
    stopping = threading.Event()
    thread = threading.Thread(target=bench.intake.run, args=(inbox, stopping))
    thread.start()
    assert bench.wake.wait(10)
    while not inbox.empty():
        assert not stopping.wait(0.01)
    stopping.set()
    thread.join(10)
    assert not thread.is_alive()
    assert bench.stored() == 8
    assert len(bench.broker.acknowledged) == 8


def test_the_loop_waits_for_room_on_the_disk(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    inbox: queue.Queue[Incoming] = queue.Queue()
    bench.books.full = True
    inbox.put(bench.arrival(f"middle humidity 90 {iso(0)}"))
    bench.intake._p = replace(bench.intake._p, window=1)
    stopping = threading.Event()
    thread = threading.Thread(target=bench.intake.run, args=(inbox, stopping))
    thread.start()
    while "they wait" not in caplog.text:
        assert not stopping.wait(0.01)
    bench.books.full = False
    while not bench.broker.acknowledged:
        assert not stopping.wait(0.01)
    stopping.set()
    thread.join(10)
    assert bench.stored() == 1
    assert "can be stored again" in caplog.text


def test_what_is_back_inside_its_band_is_no_news(bench: Bench) -> None:
    """A misting brings 81 %: above the limit, but not by enough to be over."""
    bench.minutes_of("humidity", 76.0, 2)
    bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    bench.minutes_of("humidity", 76.0, 3)
    bench.minutes_of("humidity", 81.0, 30)
    bench.rounds.look()
    bench.intake.commit()
    mist = bench.reminder(Call.MIST)
    assert mist.active
    assert [row.title for row in bench.outbox() if row.reminder == mist.id] == []
    bench.minutes_of("humidity", 78.0, 10)
    bench.rounds.look()
    assert [row.title for row in bench.outbox() if row.reminder == mist.id] == ["Tent: mist now"]


def test_a_deed_holds_the_next_message_back_for_its_grace(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    assert bench.reminder(Call.MIST).state is State.ACKNOWLEDGED
    bench.minutes_of("humidity", 88.0, 4)
    assert bench.reminder(Call.MIST).state is State.NORMAL
    bench.minutes_of("humidity", 76.0, 6)
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED
    assert len(bench.outbox()) == 1
    bench.minutes_of("humidity", 76.0, 6)
    assert len(bench.outbox()) == 2


def test_history_before_the_start_is_silent(bench: Bench) -> None:
    bench.silent_until = at(30)
    bench.crash()
    bench.minutes_of("humidity", 76.0, 30)
    assert bench.outbox() == []
    bench.minutes_of("humidity", 76.0, 1)
    assert len(bench.outbox()) == 1


def test_outbox_rows_wait(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    (row,) = bench.outbox(OutState.WAITING)
    assert row.expires is not None
    assert row.expires - row.created == timedelta(hours=12)


def test_a_sensor_no_longer_declared_is_kept_and_not_judged(bench: Bench) -> None:
    bench.minutes_of("humidity", 50.0, 5, "stranger")
    bench.intake.commit()
    assert bench.stored() == 5
    assert bench.outbox() == []


def test_a_state_from_before_a_restart_is_told_when_live(bench: Bench) -> None:
    for minute in range(-60, -20):
        bench.take(f"middle humidity 76 {iso(minute)}")
    bench.intake.commit()
    bench.crash()
    bench.minutes_of("humidity", 76.0, 1)
    assert len(bench.outbox()) == 1


def test_a_reading_of_the_past_beside_a_future_one_stays_where_it_is(bench: Bench) -> None:
    bench.clock.wall = at(120)
    bench.take("middle humidity 90")
    bench.clock.wall, bench.clock.synced = at(0), False
    bench.take(f"middle humidity 60 {iso(0)}")
    newest = bench.board.newest_of(("middle", Quantity.HUMIDITY))
    assert newest is not None
    assert newest.value == 90.0


def test_the_hand_clock_turns() -> None:
    clock = HandClock()
    clock.turn(minutes=1, seconds=1)
    assert clock.now() == at(1) + timedelta(seconds=1)
