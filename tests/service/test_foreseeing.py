"""Looking ahead: what is kept, what came of it, and when a person is told."""

import math
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import cast

import pytest

from chamberwatch.core.errors import StorageError, UnknownNameError
from chamberwatch.core.growing.band import HOME_BANDS, Stage
from chamberwatch.core.watch.action import Amounts, Deed
from chamberwatch.core.watch.advice import GRACE
from chamberwatch.core.watch.device import Device, Kind, Timetable
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.watch.foretold import Foretold, Outcome
from chamberwatch.core.watch.found import Found
from chamberwatch.core.watch.found import Kind as Happened
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.core.watch.rule import Side
from chamberwatch.service.books import OutKind, OutRow, OutState
from chamberwatch.service.finding import Finding
from chamberwatch.service.foreseeing import Foreseeing, ForeseeingParts
from chamberwatch.service.rounds import Rounds, RoundsParts
from tests.service.machine import Bench

EARLY = timedelta(minutes=30)
LOW = HOME_BANDS[Stage.FRUITING]["humidity"].low or 0.0
MINUTE = timedelta(minutes=1)


class Watch:
    """A tent that dries out, and the look ahead."""

    def __init__(
        self, bench: Bench, early: timedelta | None = EARLY, grace: timedelta = GRACE
    ) -> None:
        self.bench, self.early, self.grace = bench, early, grace
        self.humidity = 92.0
        self.begin()

    def begin(self) -> None:
        """Begin as the daemon does at its start."""
        bench = self.bench
        house = replace(
            bench.house,
            chambers={
                name: replace(chamber, early=self.early if chamber.stage else None)
                for name, chamber in bench.house.chambers.items()
            },
        )
        self.foreseeing = Foreseeing(
            ForeseeingParts(
                bench.books,
                bench.clock,
                house,
                bench.board,
                ("phone",),
                UTC,
                bench.wake,
                lambda chamber, call: self.grace,
            )
        )

    def dries(self, minutes: int, per_min: float = 0.25) -> None:
        """Let the air dry out, a reading each half minute, and look ahead as the rounds do."""
        for step in range(2 * minutes):
            self.bench.clock.turn(seconds=30)
            self.humidity -= per_min / 2
            stamp = self.bench.clock.now().isoformat()
            self.bench.take(f"middle humidity {self.humidity:.2f} {stamp}")
            if step % 2:
                self.bench.intake.commit()
                self.foreseeing.look()

    def mists(self, to: float = 92.0) -> None:
        """Mist, and tell so."""
        self.bench.logbook.act("tent", Deed.MISTED, None, "", "page")
        self.humidity = to

    def kept(self) -> list[Foretold]:
        with self.bench.sql.read() as book:
            return list(book.foretold.recent("tent", datetime(2020, 1, 1, tzinfo=UTC)))

    def told(self) -> list[OutRow]:
        with self.bench.sql.read() as book:
            rows = book.outbox.in_state(OutState.WAITING)
        return [row for row in rows if row.kind is OutKind.EARLY]

    def proves(self, times: int = 9, right: int = 9) -> None:
        """Let so many forecasts of the last days have come out, so many of them right."""
        with self.bench.sql.write() as book:
            for n in range(times):
                at = self.bench.clock.now() - timedelta(days=1, hours=n)
                likely = at + 25 * MINUTE
                book.foretold.add(
                    Foretold(
                        0, "tent", "middle", Quantity.HUMIDITY, Side.LOW, LOW, at,
                        at + 15 * MINUTE, likely, at + 35 * MINUTE,
                        came=likely + (5 if n < right else 30) * MINUTE, outcome=Outcome.CAME,
                    )
                )  # fmt: skip


@pytest.fixture
def watch(bench: Bench) -> Watch:
    return Watch(bench)


# ------------------------------------------------------------------ what is kept


def test_a_dry_out_is_foretold_once_and_held_against_what_came(watch: Watch) -> None:
    watch.dries(40)  # from 92 to 82
    (made,) = watch.kept()
    assert made.outcome is Outcome.OPEN
    assert (made.sensor, made.quantity, made.side, made.limit) == (
        "middle", Quantity.HUMIDITY, Side.LOW, LOW,
    )  # fmt: skip
    watch.dries(32)
    (ended,) = watch.kept()
    assert ended.outcome is Outcome.CAME
    assert ended.came is not None
    assert abs(ended.came - made.likely) <= 5 * MINUTE
    assert ended.told is False


def test_nothing_is_kept_where_nobody_asked_for_notices(bench: Bench) -> None:
    watch = Watch(bench, early=None)
    watch.dries(40)
    assert watch.kept() == []
    assert [each.foretold.limit for each in watch.foreseeing.ahead("tent").coming] == [LOW]


def test_a_misting_takes_a_forecast_out_of_the_count(watch: Watch) -> None:
    watch.dries(40)
    watch.mists()
    watch.dries(3)
    assert [each.outcome for each in watch.kept()] == [Outcome.ACTED]


def test_a_misting_that_nobody_told_of_does_so_too(watch: Watch) -> None:
    watch.dries(40)
    now = watch.bench.clock.now()
    with watch.bench.sql.write() as book:
        book.found.add(Found(0, "tent", Happened.MISTING, now - MINUTE, now))
    watch.dries(3)
    assert [each.outcome for each in watch.kept()] == [Outcome.ACTED]


def test_a_misting_that_was_none_does_not(watch: Watch) -> None:
    watch.dries(40)
    now = watch.bench.clock.now()
    with watch.bench.sql.write() as book:
        book.found.add(Found(0, "tent", Happened.MISTING, now - MINUTE, now, confirmed=False))
    watch.dries(3)
    assert [each.outcome for each in watch.kept()] == [Outcome.OPEN]


def test_the_next_dry_out_is_foretold_anew(watch: Watch) -> None:
    watch.dries(40)
    watch.mists()
    watch.dries(40)
    assert [each.outcome for each in watch.kept()] == [Outcome.OPEN, Outcome.ACTED]


def test_air_that_holds_after_all_proves_a_forecast_wrong(watch: Watch) -> None:
    watch.dries(40)
    watch.dries(80, per_min=0.0)
    assert watch.kept()[-1].outcome is Outcome.DID_NOT


def test_a_restart_keeps_what_is_open(watch: Watch) -> None:
    watch.dries(40)
    (made,) = watch.kept()
    watch.bench.crash()
    watch.begin()
    watch.dries(32)
    (ended,) = watch.kept()
    assert (ended.id, ended.outcome) == (made.id, Outcome.CAME)


def test_a_standstill_leaves_it_unknown(watch: Watch) -> None:
    watch.dries(40)
    watch.bench.clock.turn(minutes=45)
    watch.humidity = 70.0
    watch.dries(3)
    assert [each.outcome for each in watch.kept()] == [Outcome.UNKNOWN]


def test_a_sensor_that_is_gone_leaves_it_unknown(watch: Watch) -> None:
    watch.dries(40)
    watch.bench.remove("middle")
    watch.bench.crash()
    watch.begin()
    watch.bench.clock.turn(minutes=3)
    watch.foreseeing.look()
    assert [each.outcome for each in watch.kept()] == [Outcome.UNKNOWN]


def test_a_deed_that_leaves_the_air_alone_changes_nothing(watch: Watch) -> None:
    watch.dries(36)
    watch.bench.logbook.act("tent", Deed.NOTED, None, "looked in", "page")
    watch.dries(4)
    assert [each.outcome for each in watch.kept()] == [Outcome.OPEN]


def test_stale_air_is_foretold_as_well(watch: Watch) -> None:
    limit = HOME_BANDS[Stage.FRUITING]["co2"].high or 0.0
    for n in range(90):
        watch.bench.clock.turn(seconds=30)
        ppm = limit + 300.0 - 700.0 * math.exp(-0.8 * n / 120.0)
        stamp = watch.bench.clock.now().isoformat()
        watch.bench.take(f"middle co2 {ppm:.0f} {stamp}")
        watch.bench.intake.commit()
        watch.foreseeing.look()
    assert {(each.quantity, each.side) for each in watch.kept()} == {(Quantity.CO2, Side.HIGH)}


# ------------------------------------------------------------------ when a person is told


def test_a_person_is_told_once_forecasts_have_proved_right(watch: Watch) -> None:
    watch.proves()
    watch.dries(40)
    watch.dries(5)
    made = watch.kept()[0]
    (row,) = watch.told()
    assert made.told
    assert row.title.startswith("Tent: about ")
    assert row.title.endswith(f" min until {LOW:g} %")
    assert "(Right 9 of 9 times here.)" in row.body
    assert (row.priority, row.reminder, row.address) == (Priority.LOW, 0, "phone")
    assert row.chamber == "tent"
    assert row.expires == made.likely
    assert watch.bench.wake.is_set()


@pytest.mark.parametrize(
    ("times", "right"),
    [
        pytest.param(0, 0, id="no record"),
        pytest.param(4, 4, id="too short a record"),
        pytest.param(10, 6, id="too poor a record"),
    ],
)
def test_nobody_is_told_where_they_have_not(watch: Watch, times: int, right: int) -> None:
    watch.proves(times, right)
    watch.dries(40)
    assert watch.told() == []
    assert len(watch.kept()) == times + 1


@pytest.mark.parametrize(
    ("grace", "count"),
    [
        pytest.param(5 * MINUTE, 1, id="answers at once"),
        pytest.param(60 * MINUTE, 0, id="takes an hour to answer"),
    ],
)
def test_a_chamber_is_given_the_time_it_takes_to_answer(
    bench: Bench, grace: timedelta, count: int
) -> None:
    watch = Watch(bench, grace=grace)
    watch.mists()
    watch.dries(40)
    assert len(watch.kept()) == count


def test_a_notice_that_waits_is_dropped_once_somebody_misted(watch: Watch) -> None:
    watch.proves()
    watch.dries(40)
    assert len(watch.told()) == 1
    watch.mists()
    watch.dries(3)
    assert watch.told() == []
    with watch.bench.sql.read() as book:
        (dropped,) = book.outbox.in_state(OutState.DROPPED)
    assert dropped.error == "no longer true"


def test_nothing_is_foretold_while_a_chamber_settles_into_a_new_band(watch: Watch) -> None:
    now = watch.bench.clock.now()
    watch.bench.board.settle("tent", now, now + timedelta(hours=2))
    watch.dries(40)
    assert watch.kept() == []
    assert watch.foreseeing.ahead("tent").coming == ()


def test_nothing_is_foretold_from_a_sensor_in_doubt(watch: Watch) -> None:
    watch.dries(20, per_min=0.1)
    held = Doubt(
        "middle", Doubted.STUCK, watch.bench.clock.now(), "stuck", frozenset({Quantity.HUMIDITY}),
        Quantity.HUMIDITY,
    )  # fmt: skip
    watch.bench.board.doubt({"middle": held}, ())
    watch.dries(25)
    assert watch.kept() == []


def test_a_deed_a_moment_ago_is_not_answered_with_a_notice(watch: Watch) -> None:
    watch.proves()
    watch.mists(to=83.0)
    watch.dries(14, per_min=0.15)
    assert watch.told() == []


def test_what_a_device_sees_to_is_not_foretold(tmp_path: Path) -> None:
    humidifier = Device(
        "fog", "tent", Kind.HUMIDIFIER, Timetable(((time(0), time(0)),)), water_g_per_h=30.0
    )
    bench = Bench(tmp_path, devices=(humidifier,))
    watch = Watch(bench)
    watch.dries(40)
    assert watch.kept() == []
    bench.close()


def test_a_reminder_that_asks_already_needs_no_notice(watch: Watch) -> None:
    """Another sensor has it dry, and a person was asked to mist."""
    watch.proves()
    for _ in range(45):
        watch.bench.take(f"top humidity 70 {watch.bench.clock.now().isoformat()}")
        watch.dries(1)
    assert watch.told() == []


# ------------------------------------------------------------------ asked by the faces


def test_the_faces_see_what_is_coming_and_how_good_it_was(watch: Watch) -> None:
    watch.proves(10, 8)
    watch.dries(40)
    known = watch.foreseeing.ahead("tent")
    (coming,) = known.coming
    assert known.early == EARLY
    assert coming.value == pytest.approx(watch.humidity, abs=0.5)
    assert coming.slope_per_h == pytest.approx(-15.0, rel=0.2)
    assert known.records[Quantity.HUMIDITY].right == 8
    assert len(known.last) == 11
    watch.bench.clock.turn(minutes=6)
    assert watch.foreseeing.ahead("tent").coming == ()


def test_a_room_has_nothing_ahead_and_a_stranger_is_refused(watch: Watch) -> None:
    known = watch.foreseeing.ahead("room")
    assert (known.early, known.coming, known.last) == (None, (), ())
    with pytest.raises(UnknownNameError):
        watch.foreseeing.ahead("cellar")


@pytest.mark.parametrize("heard", ["room temperature 20 {0};room humidity 45 {0}", ""])
def test_it_is_foretold_whether_or_not_the_room_is_known(bench: Bench, heard: str) -> None:
    watch = Watch(bench)
    stamp = bench.clock.now().isoformat()
    bench.take(f"middle temperature 20 {stamp}")
    if heard:
        bench.take(heard.format(stamp))
    watch.dries(40)
    assert len(watch.foreseeing.ahead("tent").coming) == 1


def test_old_readings_foretell_nothing(watch: Watch) -> None:
    watch.dries(30)
    watch.bench.clock.turn(minutes=6)
    watch.foreseeing.look()
    assert watch.foreseeing.ahead("tent").coming == ()


def test_after_a_venting_the_record_begins_when_it_was_over(watch: Watch) -> None:
    amounts = Amounts(vent_minutes=60.0)
    watch.bench.logbook.act("tent", Deed.VENTED, None, "", "page", amounts)
    watch.dries(40)
    assert watch.foreseeing.ahead("tent").coming == ()


# ------------------------------------------------------------------ among the rounds


class Troubled:
    """Looks ahead with the faults it was given, or without."""

    def __init__(self, *faults: Exception | None) -> None:
        self.faults = list(faults)

    def look(self) -> bool:
        fault = self.faults.pop(0)
        if fault is not None:
            raise fault
        return False


def test_no_fault_of_looking_ahead_ends_the_rounds(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    full, odd = StorageError("The disk is full."), ZeroDivisionError("x")
    troubled = Troubled(full, odd, odd, None)
    finding = Finding(bench.books, bench.house, bench.clock, bench.board)
    parts: RoundsParts = replace(
        bench.rounds._p, finding=finding, foreseeing=cast(Foreseeing, troubled)
    )
    rounds = Rounds(parts)
    for _ in range(4):
        rounds.search()
        bench.clock.turn(minutes=1)
    assert troubled.faults == []
    assert "Looking ahead has to wait; it is tried again: The disk is full." in caplog.text
    assert caplog.text.count("Looking ahead failed") == 1
