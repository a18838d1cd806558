"""Old readings are not spoken of because another sensor, or another quantity, is live."""

from datetime import timedelta

from chamberwatch.core.watch.reminder import Call, State
from chamberwatch.service.books import OutRow
from tests.service.machine import Bench


def dry_spell_of_old(bench: Bench) -> None:
    """Bring the reminder up in silence, with readings three hours old."""
    begin = bench.clock.now() - timedelta(hours=3)
    for minute in range(10):
        time = begin + timedelta(minutes=minute)
        bench.take(f"middle humidity 75 {time.isoformat()}")
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED
    assert bench.outbox() == []


def told(bench: Bench) -> list[str]:
    """Return the titles in the outbox, oldest first."""
    rows: list[OutRow] = bench.outbox()
    return [row.title for row in reversed(rows)]


def test_a_live_reading_of_another_sensor_does_not_tell_it(bench: Bench) -> None:
    dry_spell_of_old(bench)
    bench.minutes_of("co2", 600, 3, sensor="top")
    assert told(bench) == []
    bench.minutes_of("humidity", 75, 1)
    assert told(bench) == ["Tent: mist now"]


def test_nor_does_another_reminder(bench: Bench) -> None:
    dry_spell_of_old(bench)
    bench.minutes_of("co2", 1500, 7, sensor="top")
    assert told(bench) == ["Tent: vent now"]
    assert "mist" not in bench.outbox()[0].body
    bench.minutes_of("humidity", 75, 1)
    assert len(told(bench)) == 2


def test_a_worse_but_old_sensor_does_not_silence_a_live_one(bench: Bench) -> None:
    begin = bench.clock.now() - timedelta(hours=3)
    for minute in range(10):
        bench.take(f"middle humidity 71 {(begin + timedelta(minutes=minute)).isoformat()}")
    bench.minutes_of("humidity", 76, 5, sensor="top")
    assert told(bench) == ["Tent: mist now"]
    assert "76 %" in bench.outbox()[0].body


def test_what_is_owed_costs_other_sensors_no_commits(bench: Bench) -> None:
    dry_spell_of_old(bench)
    bench.take(f"top co2 600 {bench.clock.now().isoformat()}")
    bench.clock.turn(seconds=5)
    stored = bench.stored()
    bench.intake.take(bench.arrival(f"top co2 600 {bench.clock.now().isoformat()}"))
    assert not bench.intake.must_commit()
    assert bench.stored() == stored
