"""How everything is, gathered: nothing is said twice, and the card is looked at now and then."""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, time, timedelta
from pathlib import Path

import pytest

from chamberwatch.core import health as lines
from chamberwatch.core.errors import StorageError
from chamberwatch.core.self_check import Disk, SelfCheck
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.wear import Card, Load
from chamberwatch.service.backing_up import TROUBLE
from chamberwatch.service.upkeep import ThinningStand
from chamberwatch.service.views import Health, SensorNow
from chamberwatch.service.wear import WearNow
from chamberwatch.service.wellness import (
    WEAR_EVERY_S,
    Ailing,
    Report,
    Told,
    Wellness,
    without_book,
)
from chamberwatch.storage.book import open_books
from tests.fakes import HandClock
from tests.make import NOON

TOLD = Told(timedelta(days=366), 1, UTC, {"chamberwatch": "0.1.0"})
LOAD = Load(0, 0, 0.0, timedelta(seconds=30), timedelta(days=366))
WEAR = WearNow(Card(1, 2, 3, None), LOAD, None, 0.0, {1: 1e6, 2: 2e6})
BROKER = SelfCheck("broker", True, "It lets us in.")
AWAY = SelfCheck("broker", False, "It is away. Start it.")
WELL = Health(
    well=True,
    troubles=(),
    started=NOON - timedelta(hours=9),
    now=NOON,
    broker_connected=True,
    last_message_ago=timedelta(seconds=4),
    readings=5,
    rejects=0,
    waiting_for_clock=0,
    undatable=0,
    outbox_waiting=0,
    version="0.1.0",
    checks=(BROKER,),
)


class Stage:
    """A watcher whose health and sensors are set by hand."""

    def __init__(self) -> None:
        self.clock = HandClock(NOON)
        self.state = WELL
        self.heard = [self.sensor("low"), self.sensor("top")]
        self.thinned = ThinningStand()
        self.looks = 0
        self.card_lost = False

    @staticmethod
    def sensor(name: str, *, silent: bool = False, doubt: Doubt | None = None) -> SensorNow:
        return SensorNow(Sensor(name, "tent"), {}, timedelta(seconds=4), silent, doubt)

    def health(self) -> Health:
        return self.state

    def sensors(self) -> list[SensorNow]:
        return self.heard

    def look(self) -> WearNow:
        self.looks += 1
        if self.card_lost:
            raise StorageError("The disk is gone.")
        return WEAR

    def wellness(self, *, runs: bool | None = None) -> Wellness:
        return Wellness(self, self.look, lambda: self.thinned, TOLD, self.clock, runs)


def line(report: Report, name: str) -> lines.Line:
    (found,) = [each for each in report.lines if each.name == name]
    return found


def test_all_is_well() -> None:
    stage = Stage()
    report = stage.wellness().report()
    assert report.unwell == []
    assert report.running
    assert [each.name for each in report.lines] == [
        n for n in lines.ORDER if n not in ("clock", "disk", "database")
    ]
    assert line(report, "watcher").words == "It runs since 03:00."
    assert [each.name for each in report.sensors] == ["low", "top"]


@pytest.mark.parametrize(
    ("changes", "unwell"),
    [
        pytest.param(
            {"troubles": (AWAY.words,), "broker_connected": False, "checks": (AWAY,)},
            [("broker", AWAY.words)],
            id="the link says the same as the look",
        ),
        pytest.param(
            {"troubles": ("The intake hangs.", "It waits."), "undelivered": ("It waits.",)},
            [("watcher", "The intake hangs."), ("messages", "It waits.")],
            id="what nobody else says is the watcher's",
        ),
        pytest.param(
            {"troubles": (lines.UNDATED,), "checks": (SelfCheck("clock", True, "Noon."),)}
            | {"waiting_for_clock": 3},
            [("clock", lines.UNDATED)],
            id="readings wait for the clock",
        ),
        pytest.param(
            {"troubles": (lines.UNDATED,), "waiting_for_clock": 3},
            [("watcher", lines.UNDATED)],
            id="before the first look at the clock",
        ),
        pytest.param({"troubles": (lines.UNHEARD,)}, [("watcher", lines.UNHEARD)], id="unheard"),
        pytest.param({"troubles": ()}, [("watcher", lines.UNSAID)], id="unsaid"),
    ],
)
def test_nothing_is_said_twice(changes: dict[str, object], unwell: list[tuple[str, str]]) -> None:
    stage = Stage()
    stage.state = replace(WELL, well=False, **changes)  # type: ignore[arg-type]
    assert stage.wellness().report().unwell == unwell


def test_silent_sensors_say_it_themselves() -> None:
    stage = Stage()
    stage.heard = [stage.sensor("low", silent=True), stage.sensor("top")]
    stage.state = replace(WELL, well=False, troubles=(lines.UNHEARD,))
    ((name, words),) = stage.wellness().report().unwell
    assert name == "sensors"
    assert "from low" in words


def test_sensors_are_not_blamed_for_what_keeps_all_of_them_away() -> None:
    stage = Stage()
    stage.heard = [stage.sensor("low", silent=True), stage.sensor("top")]
    stage.state = replace(WELL, broker_connected=False)
    assert line(stage.wellness().report(), "sensors").well
    stage.state = WELL
    report = stage.wellness(runs=False).report()
    assert report.unwell == [("watcher", lines.STOPPED)]
    assert not report.running
    assert not line(stage.wellness(runs=True).report(), "sensors").well


def test_a_doubted_sensor() -> None:
    stage = Stage()
    doubt = Doubt("low", Doubted.STUCK, NOON, "low is stuck.")
    stage.heard = [stage.sensor("low", doubt=doubt)]
    assert stage.wellness(runs=True).report().unwell == [
        ("sensors", "low is stuck. Its last word came 4 s ago.")
    ]
    assert line(stage.wellness(runs=True).report(), "watcher").words == "It runs."


def test_the_card_is_looked_at_once_an_hour() -> None:
    stage = Stage()
    wellness = stage.wellness()
    for _ in range(3):
        assert wellness.report().wear == WEAR
    stage.clock.turn(minutes=WEAR_EVERY_S / 60 - 1)
    wellness.report()
    assert stage.looks == 1
    stage.clock.turn(minutes=1)
    wellness.report()
    assert stage.looks == 2


def test_a_card_that_cannot_be_looked_at_hides_nothing_else() -> None:
    stage = Stage()
    stage.card_lost = True
    report = stage.wellness().report()
    assert report.wear is None
    assert line(report, "card") == lines.unread("card")


@pytest.mark.parametrize(
    ("at", "said"),
    [
        pytest.param(NOON.isoformat(), "at 12:00: 7 went.", id="thinned"),
        pytest.param("", "for ever.", id="never"),
        pytest.param("yesterday", "for ever.", id="not to be read"),
    ],
)
def test_what_was_thinned(at: str, said: str) -> None:
    stage = Stage()
    stage.thinned = ThinningStand(at, 7)
    assert line(stage.wellness().report(), "readings").words.endswith(said)


@pytest.mark.parametrize(
    ("free", "trouble", "ails"),
    [
        pytest.param(9_000_000_000, "", [], id="well"),
        pytest.param(3_000_000, "", ["disk"], id="the disk is nearly full"),
        pytest.param(9_000_000_000, "No stick.", ["backup"], id="no backup"),
        pytest.param(3_000_000, "No stick.", ["disk", "backup"], id="both"),
    ],
)
def test_what_a_phone_hears_of_the_watcher(
    tmp_path: Path, free: int, trouble: str, ails: list[str]
) -> None:
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", NOON)
    with books.write() as book:
        told = {"words": trouble, "since": NOON.isoformat()}
        book.kept.keep_text(TROUBLE, json.dumps(told if trouble else {}))
        found = Ailing(lambda: Disk("/srv", free, writable=True), time(3, 10), UTC)(book, NOON)
    books.close()
    assert list(found) == ails
    assert all(words.strip().endswith(".") for words in found.values())


@pytest.mark.parametrize("missing", [lines.nothing_kept, lines.behind, lines.unread])
def test_without_a_database_that_can_be_read(missing: Callable[[str], lines.Line]) -> None:
    broken = SelfCheck("database", False, "It is what it is.")
    report = without_book([AWAY, broken], TOLD, missing, running=False)
    assert [name for name, _ in report.unwell][:1] == ["watcher"]
    assert line(report, "card") == missing("card")
    assert not line(report, "database").well
    assert (report.health, report.wear, report.sensors) == (None, None, ())
