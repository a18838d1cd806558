"""One cause, one message: what is told together, what is told again, and of the room."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.reminder import Call, Event, Priority, State
from tests.service.machine import Bench

SELDOM = Sensor("seldom", "tent", unheard_after=timedelta(minutes=30))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path, counselled=True, removed={"block", "wall", "room"})
    yield made
    made.sql.close()


def hear(bench: Bench, minutes: int, **values: float) -> None:
    """Let both sensors of the tent say all of these once a minute."""
    for _ in range(minutes):
        bench.clock.turn(minutes=1)
        for quantity, value in values.items():
            for sensor in ("middle", "top"):
                bench.take(f"{sensor} {quantity} {value} {bench.clock.now().isoformat()}")
        bench.rounds.look()


def titles(bench: Bench) -> list[str]:
    return [row.title for row in reversed(bench.outbox())]


# ------------------------------------------------------------------ together


def test_warm_stale_and_dry_air_is_one_message(bench: Bench) -> None:
    hear(bench, 12, temperature=26.0, humidity=76.0, co2=1500.0)
    # Dry air waits two minutes for what is stale; the warmth comes five minutes later.
    assert titles(bench) == ["Tent: vent, then mist", "Tent: cool and vent it, then mist"]
    body = bench.outbox()[0].body
    assert "It is stale as well" in body
    assert "It is dry as well" in body


def test_cold_and_damp_air_is_one_message(bench: Bench) -> None:
    hear(bench, 75, temperature=10.0, humidity=97.0)
    assert titles(bench) == ["Tent: warm it", "Tent: warm it"]
    assert "the same air is drier once it is warmer" in bench.outbox()[0].body
    assert bench.reminder(Call.DRY_OFF).told is not None


def test_a_front_that_stands_open_is_asked_about(bench: Bench) -> None:
    hear(bench, 5, temperature=19.0, humidity=90.0, co2=1000.0)
    for humidity, co2 in ((86, 900), (81, 760), (76, 650), (73, 560), (72, 520), (71, 500)):
        hear(bench, 1, temperature=19.0, humidity=humidity, co2=co2)
    assert titles(bench) == ["Tent: does it stand open?"]
    assert "Humidity fell by 19 % and CO2 by 480 ppm within 6 min" in bench.outbox()[0].body
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED


def test_who_vents_is_not_asked_whether_it_stands_open(bench: Bench) -> None:
    hear(bench, 5, temperature=19.0, humidity=90.0, co2=1000.0)
    bench.logbook.act("tent", Deed.VENTED, None, "", "page")
    for humidity, co2 in ((86, 900), (81, 760), (76, 650), (73, 560), (72, 520), (71, 500)):
        hear(bench, 1, temperature=19.0, humidity=humidity, co2=co2)
    assert titles(bench) == ["Tent: mist now"]


def test_what_waits_an_hour_itself_is_not_waited_for(bench: Bench) -> None:
    """Stale air after a misting is damp as well, and that takes an hour to count."""
    hear(bench, 7, temperature=19.0, humidity=97.0, co2=1300.0)
    assert titles(bench) == ["Tent: vent now"]


def test_what_is_not_heard_any_more_is_not_waited_for(bench: Bench) -> None:
    hear(bench, 3, temperature=19.0, humidity=88.0, co2=1300.0)
    hear(bench, 20, temperature=19.0, humidity=76.0)
    assert titles(bench) == ["Tent: mist now"]


# ------------------------------------------------------------------ silence


def test_nothing_at_all_is_heard(bench: Bench) -> None:
    """Two sensors of five minutes: one message about all, none about each."""
    hear(bench, 6, humidity=90.0)
    for _ in range(30):
        bench.clock.turn(minutes=1)
        bench.rounds.look()
    assert titles(bench) == ["Nothing is heard from any sensor"]
    assert "Nothing has been heard since 12:06." in bench.outbox()[0].body
    assert bench.reminder(Call.CHECK_ALL, chamber="").active
    for sensor in ("middle", "top"):
        quiet = bench.reminder(Call.CHECK_SENSOR, sensor)
        assert (quiet.active, quiet.told) == (True, None)


def test_who_stays_silent_when_others_are_heard_again_is_told_of(bench: Bench) -> None:
    test_nothing_at_all_is_heard(bench)
    bench.minutes_of("humidity", 90.0, 1, sensor="top")
    bench.rounds.look()
    assert not bench.reminder(Call.CHECK_ALL, chamber="").active
    assert len(titles(bench)) == 1
    for _ in range(5):
        bench.minutes_of("humidity", 90.0, 1, sensor="top")
        bench.rounds.look()
    assert titles(bench)[1:] == ["Tent: look at sensor middle"]


def test_several_that_fall_silent_together_are_one_message(tmp_path: Path) -> None:
    bench = Bench(tmp_path, more=(SELDOM,), removed={"block", "wall", "room"})
    bench.minutes_of("humidity", 90.0, 1, sensor="seldom")
    for _ in range(20):
        bench.minutes_of("humidity", 90.0, 1, sensor="seldom")
        bench.rounds.look()
    assert titles(bench) == ["Tent: look at 2 sensors"]
    assert "Nothing has been heard from middle and top yet, while others are" in (
        bench.outbox()[0].body
    )
    bench.sql.close()


def test_a_restart_in_the_silence_says_nothing_new(bench: Bench) -> None:
    test_nothing_at_all_is_heard(bench)
    bench.crash()
    for _ in range(20):
        bench.clock.turn(minutes=1)
        bench.rounds.look()
    assert len(titles(bench)) == 1


# ------------------------------------------------------------------ told again


def test_harm_is_told_again_ever_more_slowly(bench: Bench) -> None:
    hear(bench, 11, humidity=60.0)
    first = len(titles(bench))
    hear(bench, 29, humidity=60.0)
    assert len(titles(bench)) == first
    hear(bench, 2, humidity=60.0)
    assert len(titles(bench)) == first + 1
    assert bench.outbox()[0].body.startswith("Still so, since 12:04.")
    hear(bench, 118, humidity=60.0)
    assert len(titles(bench)) == first + 1
    hear(bench, 4, humidity=60.0)
    assert len(titles(bench)) == first + 2
    assert bench.reminder(Call.MIST).repeats == 2


def test_who_answered_is_told_again_if_it_goes_on(bench: Bench) -> None:
    hear(bench, 11, humidity=60.0)
    reminder = bench.reminder(Call.MIST)
    bench.logbook.seen(reminder.id, None, "page")
    before = len(titles(bench))
    hear(bench, 119, humidity=60.0)
    assert bench.reminder(Call.MIST).state is State.ACKNOWLEDGED
    hear(bench, 3, humidity=60.0)
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED
    assert len(titles(bench)) == before + 1


def test_what_is_not_harmful_is_told_once(bench: Bench) -> None:
    hear(bench, 300, humidity=77.0)
    assert len(titles(bench)) == 1


def test_the_readings_behind_each_move_are_kept(bench: Bench) -> None:
    hear(bench, 5, humidity=77.0)
    hear(bench, 5, humidity=88.0)
    mist = bench.reminder(Call.MIST)
    with bench.sql.read() as book:
        moves = {move.event: move.evidence for _, move in book.reminders.moves(mist.id)}
    raised, returned = moves[Event.RAISED], moves[Event.RETURNED]
    assert raised is not None
    assert returned is not None
    assert (raised.value, raised.low, returned.value) == (77.0, 80.0, 88.0)


# ------------------------------------------------------------------ the room


@pytest.fixture
def lived_in(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path, removed={"block", "wall", "top", "middle"})
    yield made
    made.sql.close()


def test_a_damp_room_is_told_of_once_after_hours(lived_in: Bench) -> None:
    lived_in.minutes_of("humidity", 66.0, 119, sensor="room")
    assert titles(lived_in) == []
    lived_in.minutes_of("humidity", 66.0, 300, sensor="room")
    assert titles(lived_in) == ["Living room: air the room"]
    assert "mould likes that" in lived_in.outbox()[0].body
    reminder = lived_in.reminder(Call.AIR_ROOM, chamber="room")
    assert (reminder.priority, reminder.active) == (Priority.LOW, True)
    lived_in.minutes_of("humidity", 52.0, 31, sensor="room")
    assert not lived_in.reminder(Call.AIR_ROOM, chamber="room").active


def test_a_room_full_of_co2_is_to_be_left(lived_in: Bench) -> None:
    lived_in.minutes_of("co2", 5600.0, 6, sensor="room")
    assert titles(lived_in) == ["Living room: leave it and air it"]
    assert lived_in.reminder(Call.AIR_ROOM, chamber="room").priority is Priority.HIGH
    assert "no safety device" in lived_in.outbox()[0].body


def test_a_room_asks_for_nothing_that_a_crop_would(lived_in: Bench) -> None:
    for quantity, value in (("temperature", 35.0), ("humidity", 20.0), ("co2", 2500.0)):
        lived_in.minutes_of(quantity, value, 60, sensor="room")
    assert titles(lived_in) == []
