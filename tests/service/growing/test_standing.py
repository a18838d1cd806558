"""The band follows what stands in a chamber at once; reminders follow after a settling time."""

from dataclasses import replace
from datetime import timedelta

import pytest

from chamberwatch.core.growing.band import HOME_BANDS, Stage
from chamberwatch.core.growing.batch import Batch, Container, Passed, Start
from chamberwatch.core.growing.species import Species, SpeciesTable, Stated, View, Wants
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.reminder import Call, Priority, State
from chamberwatch.service.board import SETTLING
from chamberwatch.service.growing.standing import LiveChambers
from tests.make import ROOM, TENT, at
from tests.service.machine import Bench


def band(low: float | None, high: float | None) -> Stated:
    return Stated((View(low, high),))


OYSTER = Species(
    "grey-oyster",
    "Grey oyster",
    "",
    {
        Stage.COLONISATION: Wants(Stage.COLONISATION, band(18, 27)),
        Stage.PINNING: Wants(
            Stage.PINNING,
            band(10, 24),
            band(95, 100),
            band(None, 900),
            co2_harm_ppm=band(None, 2000),
        ),
        Stage.FRUITING: Wants(Stage.FRUITING, band(10, 24), band(72, 90), band(None, 1500)),
    },
)
TABLE = SpeciesTable({OYSTER.name: OYSTER}, {})


def batch(number: int, stage: Stage, chamber: str | None = "tent") -> Batch:
    sealed = stage is Stage.COLONISATION
    return Batch(
        number,
        Start("grey-oyster", Container.BAG),
        at(-9000),
        (Passed(stage, 0, at(-60)),),
        1,
        chamber,
        None,
        at(-9000),
        opened_at=None if sealed else at(-60),
        chambers=("tent",),
    )


def follow(bench: Bench, *batches: Batch) -> frozenset[str]:
    return bench.standing.renew({b.id: b for b in batches}, bench.clock.now())


@pytest.fixture
def growing(bench: Bench) -> Bench:
    """Return a bench with an open, fruiting batch in the tent, long settled."""
    bench.table = TABLE
    bench.crash()
    follow(bench, batch(14, Stage.FRUITING))
    bench.clock.turn(minutes=20)
    return bench


def test_nothing_recorded_leaves_the_general_band(bench: Bench) -> None:
    assert follow(bench) == frozenset()
    found = bench.house.chamber("tent")
    assert found == TENT
    assert found.band(Quantity.HUMIDITY, Place.AIR) == HOME_BANDS[Stage.FRUITING]["humidity"]


def test_a_chamber_that_has_become_empty_is_not_judged(growing: Bench) -> None:
    ended = replace(batch(14, Stage.SPENT), chamber=None)
    assert follow(growing, ended) == {"tent"}
    tent = growing.house.chamber("tent")
    assert [tent.band(q, Place.AIR) for q in Quantity] == [None] * len(Quantity)
    assert tent.band(Quantity.TEMPERATURE, Place.CORE) is not None


def test_a_room_follows_nothing(growing: Bench) -> None:
    lost = replace(batch(14, Stage.FRUITING), chamber="room", chambers=("room",))
    follow(growing, lost)
    assert growing.house.chamber("room") == ROOM


def test_an_older_state_undoes_nothing(growing: Bench) -> None:
    now = growing.clock.now()
    pins, caps = batch(14, Stage.PINNING), batch(14, Stage.FRUITING)
    assert growing.standing.renew({14: pins}, now, newest=7) == {"tent"}
    assert growing.standing.renew({14: caps}, now, newest=6) == frozenset()
    band = growing.house.chamber("tent").band(Quantity.HUMIDITY, Place.AIR)
    assert band is not None
    assert band.low == 90
    assert growing.standing.renew({14: caps}, now, newest=8) == {"tent"}


def test_words_alone_are_no_change(growing: Bench) -> None:
    assert follow(growing, batch(15, Stage.FRUITING)) == frozenset()
    assert growing.board.settling("tent", growing.clock.now()) is None
    following = growing.house.chamber("tent").following
    assert following is not None
    assert [g.batch for g in following.grown] == [15]


def test_what_is_new_out_of_band_is_asked_for_only_when_it_has_settled(growing: Bench) -> None:
    growing.minutes_of("humidity", 80, 5)
    assert growing.outbox() == []
    opened = growing.clock.now()
    assert follow(growing, batch(14, Stage.PINNING)) == {"tent"}
    growing.minutes_of("humidity", 80, 15)
    assert growing.clock.now() == opened + SETTLING
    assert growing.reminder(Call.MIST).state is State.NORMAL
    growing.minutes_of("humidity", 80, 4)
    reminder = growing.reminder(Call.MIST)
    assert reminder.since is not None
    assert reminder.since - opened == SETTLING + timedelta(minutes=3)
    assert reminder.evidence is not None
    assert reminder.evidence.low == 90
    assert len(growing.outbox()) == 1


def test_what_is_inside_the_new_band_is_over_at_once(growing: Bench) -> None:
    growing.minutes_of("co2", 1600, 8)
    assert growing.reminder(Call.VENT).active
    follow(growing, batch(14, Stage.RESTING))
    growing.minutes_of("co2", 1600, 1)
    reminder = growing.reminder(Call.VENT)
    assert not reminder.active
    with growing.sql.read() as book:
        last = book.reminders.moves(reminder.id)[-1][1]
    assert last.cause == "inside the band that follows what grows here now"


def test_what_is_outside_both_goes_on_without_another_message(growing: Bench) -> None:
    growing.minutes_of("humidity", 65, 5)
    assert len(growing.outbox()) == 1
    follow(growing, batch(14, Stage.PINNING))
    growing.minutes_of("humidity", 71, 40)
    reminder = growing.reminder(Call.MIST)
    assert (reminder.active, reminder.episode) == (True, 1)
    assert len(growing.outbox()) == 1


def test_harm_does_not_wait_for_the_settling(growing: Bench) -> None:
    growing.minutes_of("co2", 600, 2)
    follow(growing, batch(14, Stage.PINNING))
    opened = growing.clock.now()
    growing.minutes_of("co2", 2600, 17)
    reminder = growing.reminder(Call.VENT)
    assert reminder.priority is Priority.HIGH
    assert len(growing.outbox()) == 1
    assert growing.clock.now() - opened < SETTLING + timedelta(minutes=3)


def test_harm_is_told_however_often_the_band_changes(growing: Bench) -> None:
    """Every nine minutes something is opened or moved; at 33 degrees everything is hurt."""
    for turn in range(4):
        follow(growing, batch(14, Stage.PINNING if turn % 2 else Stage.FRUITING))
        growing.minutes_of("temperature", 33, 9)
    reminder = growing.reminder(Call.COOL)
    assert (reminder.priority, reminder.episode) == (Priority.HIGH, 1)
    assert reminder.since is not None
    assert growing.clock.now() - reminder.since >= timedelta(minutes=24)


def test_what_was_outside_before_is_not_excused_by_the_change(growing: Bench) -> None:
    growing.minutes_of("humidity", 71, 3)
    assert growing.reminder(Call.MIST).state is State.NORMAL
    follow(growing, batch(14, Stage.PINNING))
    growing.minutes_of("humidity", 71, 1)
    assert growing.reminder(Call.MIST).active


def test_it_is_over_though_every_sensor_is_silent(growing: Bench) -> None:
    growing.minutes_of("humidity", 65, 5)
    assert growing.reminder(Call.MIST).active
    ended = replace(batch(14, Stage.SPENT), chamber=None)
    follow(growing, ended)
    growing.clock.turn(seconds=1)
    growing.intake.idle()
    assert not growing.reminder(Call.MIST).active


def test_one_that_was_raised_but_not_told_waits_too(growing: Bench) -> None:
    # Told in a backlog, so not spoken of yet when the bag is opened.
    now = growing.clock.now()
    for minute in range(-40, -11):
        growing.take(f"middle humidity 60 {(now + timedelta(minutes=minute)).isoformat()}")
    assert growing.reminder(Call.MIST).active
    assert growing.outbox() == []
    follow(growing, batch(14, Stage.PINNING))
    growing.minutes_of("humidity", 71, 14)
    assert growing.outbox() == []
    growing.minutes_of("humidity", 71, 2)
    assert len(growing.outbox()) == 1


def test_wet_walls_around_sealed_bags_are_well(growing: Bench) -> None:
    follow(growing, batch(14, Stage.COLONISATION))
    growing.minutes_of("humidity", 99, 3)
    growing.rounds.look()
    assert not growing.reminder(Call.DRY_OFF).active


def test_the_rules_of_a_band_that_is_gone_do_not_come_back(growing: Bench) -> None:
    growing.minutes_of("humidity", 65, 5)
    assert growing.reminder(Call.MIST).active
    follow(growing, batch(14, Stage.COLONISATION))
    growing.minutes_of("humidity", 65, 1)
    assert not growing.reminder(Call.MIST).active
    growing.crash()
    follow(growing, batch(14, Stage.COLONISATION))
    growing.minutes_of("humidity", 65, 30)
    assert not growing.reminder(Call.MIST).active


def test_a_live_house_looks_like_any_mapping() -> None:
    live = LiveChambers({"tent": TENT})
    assert (list(live), len(live), live["tent"], "room" in live) == (["tent"], 1, TENT, False)
    live.renew({"room": ROOM})
    assert dict(live) == {"room": ROOM}
