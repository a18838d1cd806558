"""Surfaces that stay wet: told once, when it helps, and over when they are dry."""

from dataclasses import replace
from datetime import UTC, timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import Call, Event, Priority, State
from chamberwatch.core.watch.wetness import SUBJECT
from chamberwatch.service.books import OutRow
from chamberwatch.service.history import History, Vitals
from chamberwatch.service.wetting import KEPT_AS
from tests.make import NOON, TENT, at
from tests.service.machine import Bench

# At 18 °C and 94 % the dew point is 17.0 °C; a wall at 16.6 °C is wet, one at 17.8 °C dry.
WET_WALL, DRY_WALL = 16.6, 17.8
EVERY = 4
"""Minutes between two rounds: shorter than a sensor may be silent."""

WORDS = (
    "The walls have been wet since 12:04 (their margin to the dew point is -0.4 K ± 0.7, by a "
    "sensor of their own): caps that stay wet blotch. Feel them first, since this is as fine as "
    "the sensors can tell. Vent a little, leave the bottle alone until the walls are dry, and "
    "wipe what stands on the caps' side."
)


def live(
    bench: Bench,
    minutes: int,
    wall_c: float | None = WET_WALL,
    middle_pct: float | None = 94.0,
    top_pct: float = 93.5,
    room_c: float = 10.0,
) -> None:
    """Let all sensors speak and make a round, every few minutes; None: that one is silent."""
    for turn in range(minutes // EVERY):
        bench.clock.turn(minutes=EVERY)
        now = bench.clock.now().isoformat()
        off = 0.02 * (turn % 3)  # a value that never moves would be a stuck sensor
        said = {
            "top temperature": 18.0 + off,
            "top humidity": top_pct,
            "block temperature": 20.0 + off,
            "room temperature": room_c + off,
        }
        if middle_pct is not None:
            said |= {"middle temperature": 18.0, "middle humidity": middle_pct + off}
        if wall_c is not None:
            said["wall temperature"] = wall_c + off
        bench.take(";".join(f"{name} {value} {now}" for name, value in said.items()))
        bench.rounds.look()
    bench.intake.commit()


def told(bench: Bench) -> list[OutRow]:
    """Return the messages about drying off, oldest first."""
    return [r for r in reversed(bench.outbox()) if r.title == "Tent: let it dry off"]


def history(bench: Bench) -> History:
    vitals = Vitals(connected=True, message_ago=None, troubles=())
    return History(
        bench.books, bench.clock, bench.house, bench.board, UTC, lambda: vitals, NOON, "0.0"
    )


def shown(bench: Bench) -> str:
    """Return what the page says of the wet surfaces."""
    (found,) = [r for r in history(bench).now("tent").reminders if r.reminder.subject == SUBJECT]
    return found.body


def test_told_once_after_six_hours(bench: Bench) -> None:
    live(bench, 360)
    assert told(bench) == []
    live(bench, 4)
    reminder = bench.reminder(Call.DRY_OFF, SUBJECT)
    assert (reminder.state, reminder.priority) == (State.UNACKNOWLEDGED, Priority.LOW)
    assert (reminder.since, reminder.told) == (at(364), at(364))
    assert [(r.body, r.priority) for r in told(bench)] == [(WORDS, Priority.LOW)]
    live(bench, 120)
    assert len(told(bench)) == 1


def test_dry_is_over(bench: Bench) -> None:
    live(bench, 364)
    live(bench, 12, DRY_WALL)
    assert bench.reminder(Call.DRY_OFF, SUBJECT).active
    live(bench, 4, DRY_WALL)
    assert bench.reminder(Call.DRY_OFF, SUBJECT).state is State.RETURNED
    assert shown(bench).startswith("The walls had been wet since 12:04; that is over.")
    live(bench, 360)
    assert len(told(bench)) == 1
    live(bench, 4)
    # Said once a day: that it is so again is no news to anybody.
    assert bench.reminder(Call.DRY_OFF, SUBJECT).episode == 2
    assert len(told(bench)) == 1
    live(bench, 14 * 60)
    assert len(told(bench)) == 2


def test_dried_in_between_is_never_told(bench: Bench) -> None:
    live(bench, 300)
    live(bench, 16, DRY_WALL)
    live(bench, 300)
    assert told(bench) == []


def test_the_page_shows_the_margin_of_this_moment(bench: Bench) -> None:
    live(bench, 364)
    assert shown(bench) == WORDS
    live(bench, 4, wall_c=15.8)
    assert "is -1.2 K ± 0.7, by a sensor of their own): caps that stay wet blotch. Vent" in (
        shown(bench)
    )
    bench.clock.turn(minutes=30)
    assert "(their margin to the dew point can't be told just now)" in shown(bench)


def test_without_a_sensor_the_wall_is_reckoned_from_the_room(tmp_path: Path) -> None:
    bench = Bench(tmp_path, removed={"wall"})
    live(bench, 364, wall_c=None)
    (row,) = told(bench)
    # 18 °C - (18 - 10) x 3.8 x 0.13 = 14.05 °C; dew point 17.0 °C.
    assert "is -3.0 K ± 0.5, reckoned from the room through the cover)" in row.body
    bench.close()


def test_a_restart_goes_on_counting(bench: Bench) -> None:
    live(bench, 200)
    bench.crash()
    live(bench, 160)
    assert told(bench) == []
    live(bench, 4)
    assert [r.body for r in told(bench)] == [WORDS]
    bench.crash()
    live(bench, 60)
    assert len(told(bench)) == 1
    live(bench, 16, DRY_WALL)
    assert not bench.reminder(Call.DRY_OFF, SUBJECT).active


def test_hours_without_a_word_are_not_counted(bench: Bench) -> None:
    live(bench, 200)
    bench.clock.turn(minutes=240)
    bench.crash()
    live(bench, 160)
    assert told(bench) == []
    # 360 min less the 196 before the stop, of which a stop may leave out the last ten.
    live(bench, 16)
    assert len(told(bench)) == 1


def test_half_a_day_without_a_word_ends_it(bench: Bench) -> None:
    live(bench, 364)
    bench.clock.turn(minutes=721)
    live(bench, 4)
    assert not bench.reminder(Call.DRY_OFF, SUBJECT).active
    live(bench, 360)
    assert bench.reminder(Call.DRY_OFF, SUBJECT).episode == 2
    assert len(told(bench)) == 1


def test_wet_walls_in_dry_air_are_a_fresh_misting(bench: Bench) -> None:
    live(bench, 344)
    live(bench, 20, top_pct=76.0)
    assert bench.reminder(Call.MIST).active
    assert bench.reminder(Call.DRY_OFF, SUBJECT).active
    assert told(bench) == []
    live(bench, 12)
    assert not bench.reminder(Call.MIST).active
    assert len(told(bench)) == 1


def test_not_told_beside_humid_air(bench: Bench) -> None:
    live(bench, 364, wall_c=17.0, middle_pct=96.0)
    assert [r.body.startswith("Humidity 96 %") for r in told(bench)] == [True]
    assert bench.reminder(Call.DRY_OFF, SUBJECT).active
    live(bench, 8, middle_pct=92.5, wall_c=15.0)
    assert not bench.reminder(Call.DRY_OFF).active
    # Damp air and wet walls are one thing, and it was said a moment ago.
    assert len(told(bench)) == 1


def test_venting_answers_it(bench: Bench) -> None:
    live(bench, 364)
    bench.logbook.act("tent", Deed.VENTED, None, "", "link")
    assert bench.reminder(Call.DRY_OFF, SUBJECT).state is State.ACKNOWLEDGED
    live(bench, 16, DRY_WALL)
    assert bench.reminder(Call.DRY_OFF, SUBJECT).state is State.NORMAL


def test_misting_does_not_answer_it(bench: Bench) -> None:
    live(bench, 364)
    bench.logbook.act("tent", Deed.MISTED, None, "", "link")
    assert bench.reminder(Call.DRY_OFF, SUBJECT).state is State.UNACKNOWLEDGED


def test_who_has_just_vented_is_not_asked_to(bench: Bench) -> None:
    live(bench, 356)
    bench.logbook.act("tent", Deed.VENTED, None, "", "page")
    live(bench, 12)
    assert bench.reminder(Call.DRY_OFF, SUBJECT).active
    assert told(bench) == []
    live(bench, 4)
    assert len(told(bench)) == 1


def test_nobody_has_to_acknowledge_what_nobody_was_told(bench: Bench) -> None:
    live(bench, 356)
    bench.logbook.act("tent", Deed.VENTED, None, "", "page")
    live(bench, 8)
    live(bench, 16, DRY_WALL)
    assert told(bench) == []
    assert bench.reminder(Call.DRY_OFF, SUBJECT).state is State.NORMAL


def test_put_off_it_comes_back(bench: Bench) -> None:
    live(bench, 364)
    number = bench.reminder(Call.DRY_OFF, SUBJECT).id
    bench.logbook.shelve(number, timedelta(minutes=30), "page")
    live(bench, 28)
    assert len(told(bench)) == 1
    live(bench, 8)
    assert len(told(bench)) == 2


def test_a_full_disk_loses_nothing(bench: Bench) -> None:
    live(bench, 360)
    bench.clock.turn(minutes=EVERY)
    bench.books.full = True
    with pytest.raises(StorageError):
        bench.rounds.look()
    bench.books.full = False
    bench.rounds.look()
    bench.rounds.look()
    assert len(told(bench)) == 1


def test_a_chamber_that_is_no_longer_open_is_left_alone(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    live(bench, 364)
    sealed = replace(TENT, stage=Stage.COLONISATION)
    monkeypatch.setattr("tests.make.TENT", sealed)
    bench.crash()
    live(bench, 400)
    assert shown(bench).startswith(
        "The walls had been wet since 12:04 on 20 January; that is over."
    )
    reminder = bench.reminder(Call.DRY_OFF, SUBJECT)
    assert (reminder.active, reminder.episode) == (False, 1)
    assert len(told(bench)) == 1


def test_the_card_is_spared(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    writes: list[str] = []
    live(bench, 40, DRY_WALL)
    with bench.sql.read() as book:
        keeper, before = type(book.kept), book.kept.text(KEPT_AS)
    assert before is None
    keep = keeper.keep_text

    def counted(self: object, name: str, value: str) -> None:
        writes.append(name)
        keep(self, name, value)  # type: ignore[arg-type]

    monkeypatch.setattr(keeper, "keep_text", counted)
    live(bench, 240)
    # At 4 minutes a round, ten minutes have passed with every third one.
    assert 15 <= writes.count(KEPT_AS) <= 24


def test_a_hot_core_is_harm(bench: Bench) -> None:
    bench.minutes_of("temperature", 35.5, 10, "block")
    assert not bench.reminder(Call.COOL).active
    bench.minutes_of("temperature", 35.5, 1, "block")
    cool = bench.reminder(Call.COOL)
    assert (cool.active, cool.priority) == (True, Priority.HIGH)
    (row,) = bench.outbox()
    assert (row.title, row.priority) == ("Tent: cool it (heat hurts the crop)", Priority.HIGH)
    assert row.body.startswith(
        "The core of a block is at 35.5 °C and steady; the crop is hurt above 35 °C. "
        "Bring it below 34.5 °C, and do it first:"
    )


def test_a_hot_core_speaks_before_warm_air(bench: Bench) -> None:
    for _ in range(12):
        bench.clock.turn(minutes=1)
        now = bench.clock.now().isoformat()
        bench.take(f"middle temperature 27 {now};block temperature 35.5 {now}")
    bodies = [r.body for r in bench.outbox() if r.priority is Priority.HIGH]
    assert [body.startswith("The core of a block is at 35.5 °C") for body in bodies] == [True]
    with bench.sql.read() as book:
        events = [m.event for _, m in book.reminders.moves(bench.reminder(Call.COOL).id)]
    assert events[0] is Event.RAISED
