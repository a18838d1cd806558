"""Measurements on their way to the broker: none goes unnoticed, none is dated wrongly."""

import json
import logging
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.watch.wired import Measured, Taken
from chamberwatch.service.handing_over import UNDER_WAY_AT_MOST, HandingOver
from tests.fakes import HandClock

TOPIC: Final = "wired/tent"


@dataclass
class FakeSpeaker:
    """A broker that is there or not, and confirms when it is told so."""

    there: bool = True
    got: list[tuple[int, dict[str, Any]]] = field(default_factory=list)
    sure: set[int] = field(default_factory=set)
    unsure: set[int] = field(default_factory=set)

    def publish(self, topic: str, body: str) -> int | None:
        assert topic == TOPIC
        if not self.there:
            return None
        self.got.append((len(self.got) + 1, json.loads(body)))
        return len(self.got)

    def confirmed(self) -> Collection[int]:
        found, self.sure = self.sure, set()
        return found

    def doubtful(self) -> Collection[int]:
        found, self.unsure = self.unsure, set()
        return found

    def temperatures(self) -> list[float]:
        return [body["temperature"] for _, body in self.got]

    def confirm_all(self) -> None:
        self.sure |= {number for number, _ in self.got}


@dataclass
class Bench:
    at_most: int = 10_000
    speaker: FakeSpeaker = field(default_factory=FakeSpeaker)
    clock: HandClock = field(default_factory=HandClock)

    def __post_init__(self) -> None:
        self.handing = HandingOver(self.speaker, self.clock, self.at_most)
        self.count = 0

    def measure(self, count: int = 1) -> None:
        for _ in range(count):
            self.count += 1
            measured = Measured(float(self.count), 90.0)
            self.handing.take(Taken(TOPIC, measured, self.clock.monotonic()))
            self.clock.turn(seconds=10.0)


def _time(body: dict[str, Any]) -> datetime:
    return datetime.fromisoformat(body["time"])


def test_a_measurement_carries_the_time_it_was_taken_at() -> None:
    bench = Bench()
    taken_at = bench.clock.now()
    bench.measure()
    bench.handing.turn()
    ((_, body),) = bench.speaker.got
    assert _time(body) == taken_at
    assert body["humidity"] == 90.0


def test_it_is_kept_until_the_broker_has_confirmed_it() -> None:
    bench = Bench()
    bench.measure(3)
    bench.handing.turn()
    assert bench.handing.left() == 3
    bench.speaker.sure = {1, 3}
    bench.handing.turn()
    assert bench.handing.left() == 1
    assert bench.speaker.temperatures() == [1.0, 2.0, 3.0]  # nothing twice


def test_what_was_measured_while_the_broker_was_away_comes_in_order_and_at_its_time() -> None:
    bench = Bench()
    began = bench.clock.now()
    bench.speaker.there = False
    bench.measure(50)
    bench.handing.turn()
    assert bench.handing.left() == 50
    bench.speaker.there = True
    bench.handing.turn()
    assert bench.speaker.temperatures() == [float(n + 1) for n in range(50)]
    assert [_time(body) for _, body in bench.speaker.got] == [
        began + timedelta(seconds=10.0 * n) for n in range(50)
    ]


def test_not_more_than_so_many_are_under_way() -> None:
    bench = Bench()
    bench.measure(UNDER_WAY_AT_MOST + 30)
    bench.handing.turn()
    assert len(bench.speaker.got) == UNDER_WAY_AT_MOST
    bench.speaker.confirm_all()
    bench.handing.turn()
    assert len(bench.speaker.got) == UNDER_WAY_AT_MOST + 30


def test_what_the_broker_threw_away_is_given_again_first() -> None:
    bench = Bench()
    bench.measure(2)
    bench.handing.turn()
    bench.measure(1)
    bench.speaker.unsure = {1, 2, 77}
    bench.handing.turn()
    assert bench.speaker.temperatures() == [1.0, 2.0, 1.0, 2.0, 3.0]


def test_beyond_the_bound_the_oldest_go_and_it_is_told(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    bench = Bench(at_most=5)
    bench.speaker.there = False
    bench.measure(5)
    bench.handing.turn()
    assert caplog.messages == []
    bench.measure(3)
    bench.handing.turn()
    bench.handing.turn()
    assert len(caplog.messages) == 1
    assert "5 readings wait to be handed over" in caplog.messages[0]
    bench.speaker.there = True
    bench.handing.turn()
    assert bench.speaker.temperatures() == [4.0, 5.0, 6.0, 7.0, 8.0]
    assert caplog.messages[1:] == ["Readings are handed over again; 3 readings had to go."]


def test_one_that_goes_while_it_is_handed_over_is_not_counted() -> None:
    bench = Bench(at_most=1)
    bench.measure()

    class Slow(FakeSpeaker):
        def publish(self, topic: str, body: str) -> int | None:
            if not self.got:
                bench.measure()  # pushes out the very one that is being given
            return super().publish(topic, body)

    slow = Slow()
    bench.handing._speaker = slow
    bench.handing.turn()
    assert slow.temperatures() == [1.0, 2.0]
    assert bench.handing._lost == 0


# ------------------------------------------------------------------ a clock that is not set


def test_a_clock_set_later_dates_what_was_measured_before() -> None:
    bench = Bench()
    bench.clock.synced = False
    bench.speaker.there = False
    bench.measure(10)
    bench.handing.turn()
    # The network comes: the clock jumps by three hours, the monotonic one runs on.
    bench.clock.wall += timedelta(hours=3)
    bench.clock.synced = True
    bench.speaker.there = True
    bench.handing.turn()
    newest = bench.clock.now() - timedelta(seconds=10.0)
    times = [_time(body) for _, body in bench.speaker.got]
    assert times == [newest - timedelta(seconds=10.0 * n) for n in range(9, -1, -1)]


def test_with_a_clock_never_set_the_fresh_goes_without_a_time_and_the_old_waits(
    caplog: pytest.LogCaptureFixture,
) -> None:
    bench = Bench()
    bench.clock.synced = False
    bench.speaker.there = False
    bench.measure(10)
    bench.speaker.there = True
    bench.handing.turn()
    bench.handing.turn()
    # Taken 30, 20 and 10 s ago; the older ones would be dated wrongly by their arrival.
    assert bench.speaker.temperatures() == [8.0, 9.0, 10.0]
    assert all("time" not in body for _, body in bench.speaker.got)
    assert sum("clock of this machine is not set" in text for text in caplog.messages) == 1
    bench.clock.synced = True
    bench.handing.turn()
    assert bench.speaker.temperatures()[3:] == [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]
    assert all("time" in body for _, body in bench.speaker.got[3:])


def test_a_clock_that_was_right_once_is_right_without_a_network() -> None:
    bench = Bench()
    bench.handing.turn()
    bench.clock.synced = False
    bench.measure()
    bench.handing.turn()
    assert "time" in bench.speaker.got[0][1]


@given(
    st.lists(st.sampled_from(["measure", "turn", "away", "back", "sure", "unsure"]), max_size=60)
)
def test_whatever_comes_nothing_is_lost_within_the_bound(steps: list[str]) -> None:
    bench = Bench(at_most=100)
    for step in steps:
        match step:
            case "measure":
                bench.measure()
            case "away" | "back":
                bench.speaker.there = step == "back"
            case "sure":
                bench.speaker.confirm_all()
            case "unsure":
                bench.speaker.unsure |= {number for number, _ in bench.speaker.got[-3:]}
            case _:
                pass  # a turn comes after each step
        bench.handing.turn()
    bench.speaker.there = True
    for _ in range(3):
        bench.handing.turn()
        bench.speaker.confirm_all()
    assert bench.handing.left() == 0 or not bench.count
    assert set(bench.speaker.temperatures()) == {float(n + 1) for n in range(bench.count)}
