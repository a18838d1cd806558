"""Sensors on wires in their turns: what is passed on, and what is told."""

import errno
import logging
import threading
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import pytest

from chamberwatch.core.watch.wired import Measured, Taken, WiredKind
from chamberwatch.core.wired_words import Whose
from chamberwatch.service.measuring import BLOCKED_S, DEAD_S, Bus, Measuring, Plugged, Wire
from chamberwatch.wired.scd4x import Scd4x
from chamberwatch.wired.scd30 import Scd30
from chamberwatch.wired.sht4x import Sht4x
from chamberwatch.wired.tuning import Tuning
from tests.fakes import HandClock
from tests.wired.buses import (
    FakeBus,
    FakeScd4x,
    FakeScd30,
    FakeSht4x,
    Sensor,
    never_mind,
    one_bit_wrong,
    shared,
    system_error,
)

SEA: Final = Tuning(101_325.0)
EVERY_S: Final = 10.0


@dataclass
class Bench:
    """A sensor, its bus, a clock turned by hand, and what came of it."""

    kind: WiredKind
    sensor: Sensor
    clock: HandClock = field(default_factory=HandClock)
    taken: list[Taken] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.address = {"scd4x": 0x62, "scd30": 0x61, "sht4x": 0x44}[self.kind]
        self.bus = FakeBus({self.address: self.sensor})
        bus = shared(self.bus)
        wires: dict[str, Wire] = {
            "scd4x": Scd4x(bus, 0x62, SEA),
            "scd30": Scd30(bus, 0x61, SEA),
            "sht4x": Sht4x(bus, 0x44),
        }
        whose = Whose("middle", self.kind, 1, self.address)
        plugged = Plugged(whose, "tent/middle", EVERY_S)
        self.measuring = Measuring(plugged, wires[self.kind], self.taken.append, self.clock)

    def turns(self, count: int, *, alive: bool = True) -> None:
        """Let the sensor be read so many times, each when it is due; a living one wavers."""
        for _ in range(count):
            self.clock.turn(seconds=max(self.measuring.due_s - self.clock.monotonic(), 0.0))
            if alive:
                _waver(self.sensor)
            self.measuring.turn()

    def unplug(self) -> None:
        del self.bus.sensors[self.address]

    def plug(self, sensor: Sensor | None = None) -> None:
        self.bus.sensors[self.address] = sensor or self.sensor


def _waver(sensor: Sensor) -> None:
    if isinstance(sensor, FakeScd4x | FakeSht4x):
        temperature, humidity = sensor.ticks
        sensor.ticks = temperature ^ 1, humidity
    elif isinstance(sensor, FakeScd30):
        sensor.reading = bytes([*sensor.reading[:3], sensor.reading[3] ^ 1, *sensor.reading[4:]])


@pytest.fixture
def scd4x() -> Bench:
    return Bench(WiredKind.SCD4X, FakeScd4x())


@pytest.fixture
def sht4x() -> Bench:
    return Bench(WiredKind.SHT4X, FakeSht4x())


@pytest.fixture(autouse=True)
def _listens(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)


def _heard(caplog: pytest.LogCaptureFixture) -> list[str]:
    """Return what was told, without whose it is and without the greeting."""
    told = [record.getMessage().partition("): ")[2] for record in caplog.records]
    return [text for text in told if not text.startswith("serial number")]


@pytest.mark.parametrize("kind", WiredKind)
def test_what_is_measured_is_passed_on(kind: WiredKind, caplog: pytest.LogCaptureFixture) -> None:
    sensors: dict[str, Sensor] = {
        "scd4x": FakeScd4x(),
        "scd30": FakeScd30(),
        "sht4x": FakeSht4x(),
    }
    bench = Bench(kind, sensors[kind])
    bench.turns(20)
    ats = [taken.at_s for taken in bench.taken]
    assert {taken.topic for taken in bench.taken} == {"tent/middle"}
    assert all(b - a == EVERY_S for a, b in pairwise(ats))
    assert len(ats) == (20 if kind is WiredKind.SHT4X else 14)
    assert _heard(caplog) == []
    assert len(caplog.records) == 1  # its serial number and its topic


def test_a_co2_sensor_settles_first(scd4x: Bench) -> None:
    start_s = scd4x.clock.monotonic()
    scd4x.turns(20)
    assert scd4x.taken[0].at_s - start_s == 60.0


def test_one_that_has_nothing_new_is_asked_again_soon(scd4x: Bench) -> None:
    scd4x.turns(10)
    scd4x.sensor.new = False  # type: ignore[attr-defined]
    scd4x.turns(1)
    assert scd4x.measuring.due_s - scd4x.clock.monotonic() == 1.0


def test_unplugged_and_plugged_again(scd4x: Bench, caplog: pytest.LogCaptureFixture) -> None:
    scd4x.turns(10)
    passed_on = len(scd4x.taken)
    scd4x.unplug()
    scd4x.turns(50)
    assert len(scd4x.taken) == passed_on
    # One that comes back from no power has forgotten everything.
    again = FakeScd4x()
    scd4x.plug(again)
    scd4x.sensor = again
    scd4x.turns(20)
    assert again.self_calibration == 0
    assert len(scd4x.taken) > passed_on
    told = _heard(caplog)
    assert len(told) == 2
    assert told[0].startswith("nothing answers there on /dev/i2c-1.")
    assert told[1].startswith("measures again, after ")


def test_a_sensor_that_was_never_there_is_told_of_at_once(
    caplog: pytest.LogCaptureFixture,
) -> None:
    bench = Bench(WiredKind.SHT4X, FakeSht4x())
    bench.unplug()
    bench.turns(1)
    assert len(_heard(caplog)) == 1
    bench.turns(100)
    assert len(_heard(caplog)) == 1
    # Not asked more often than once a minute by then.
    assert bench.measuring.due_s - bench.clock.monotonic() == 60.0


def test_another_sensor_in_its_place_is_greeted(
    sht4x: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    sht4x.turns(3)
    sht4x.unplug()
    sht4x.turns(1)
    sht4x.plug(FakeSht4x(serial=0xABCD))
    sht4x.turns(3)
    assert "serial number 0000abcd" in caplog.text


def test_a_wrong_checksum_now_and_then_costs_that_reading_only(
    sht4x: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    sht4x.turns(3)
    sht4x.bus.faults = [one_bit_wrong]
    sht4x.turns(6)
    assert len(sht4x.taken) == 8
    assert _heard(caplog) == []
    assert sum(said == b"\x89" for _, said in sht4x.bus.asked) == 1  # not set up anew


def test_wires_too_long_are_told_of_in_the_end(
    sht4x: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    sht4x.turns(2)
    sht4x.bus.faults = [never_mind, never_mind, one_bit_wrong] * 40
    sht4x.turns(120)
    told = _heard(caplog)
    assert len(told) == 1
    assert "many of the last 100 attempts to read it failed, at the last 0x" in told[0]
    sht4x.turns(110)
    assert _heard(caplog)[1].startswith("measures again")


def test_a_bus_that_hangs_is_told_of_once(sht4x: Bench, caplog: pytest.LogCaptureFixture) -> None:
    sht4x.turns(3)
    sht4x.bus.always = system_error(errno.ETIMEDOUT)
    sht4x.turns(30)
    sht4x.bus.always = None
    sht4x.turns(10)
    told = _heard(caplog)
    assert [text.split(";")[0] for text in told[:1]] == ["/dev/i2c-1 hangs"]
    assert told[1].startswith("measures again")
    assert len(told) == 2


def test_what_can_not_be_is_not_passed_on(scd4x: Bench, caplog: pytest.LogCaptureFixture) -> None:
    scd4x.turns(10)
    passed_on = len(scd4x.taken)
    scd4x.sensor.co2_ppm = 0  # type: ignore[attr-defined]
    scd4x.turns(20)
    assert len(scd4x.taken) == passed_on
    assert "it says 0 ppm CO2, which can't be" in _heard(caplog)[0]


def test_no_co2_right_after_the_start_is_no_fault(
    scd4x: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    sensor = scd4x.sensor
    assert isinstance(sensor, FakeScd4x)
    sensor.co2_ppm = 0
    scd4x.turns(5)
    sensor.co2_ppm = 500
    scd4x.turns(20)
    assert _heard(caplog) == []
    assert {taken.measured.co2_ppm for taken in scd4x.taken} == {500.0}


def test_no_co2_at_all_is_told_once_and_never_called_well(
    scd4x: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    sensor = scd4x.sensor
    assert isinstance(sensor, FakeScd4x)
    sensor.co2_ppm = 0
    scd4x.turns(2000)
    assert len(_heard(caplog)) == 1
    assert scd4x.taken == []


def test_a_stuck_sensor_is_not_believed(sht4x: Bench, caplog: pytest.LogCaptureFixture) -> None:
    sht4x.turns(3)
    sht4x.turns(200, alive=False)
    same = [t for t in sht4x.taken if t.measured == sht4x.taken[-1].measured]
    assert len(same) <= 32  # as many as it takes to know, and none ever after
    assert len(_heard(caplog)) == 1
    sht4x.turns(5)
    assert _heard(caplog)[1].startswith("measures again")


def test_a_sensor_that_lost_its_power_for_a_moment_is_set_up_anew(scd4x: Bench) -> None:
    scd4x.turns(10)
    passed_on = len(scd4x.taken)
    # It answers as before, and at rest it never has anything new.
    sensor = scd4x.sensor
    assert isinstance(sensor, FakeScd4x)
    sensor.measuring, sensor.self_calibration = False, 1
    scd4x.turns(60)
    assert (sensor.measuring, sensor.self_calibration) == (True, 0)
    assert len(scd4x.taken) > passed_on


# ------------------------------------------------------------------ the bus


@dataclass
class Scripted:
    """A wire whose readings are given; it can also block, or break in a way nobody expects."""

    clock: HandClock
    stopping: threading.Event
    left: int = 5
    takes_s: float = 0.0
    error: Exception | None = None
    bus: "Bus | None" = None
    blocked: list[bool] = field(default_factory=list)

    def begin(self) -> str:
        return "1"

    def read(self) -> Measured:
        self.left -= 1
        if self.left == 0:
            self.stopping.set()
        self.clock.turn(seconds=self.takes_s)
        if self.bus is not None:
            self.blocked.append(self.bus.look())
        if self.error is not None:
            raise self.error
        return Measured(20.0 + self.left, 90.0)


def _scripted(
    clock: HandClock, stopping: threading.Event, name: str
) -> tuple[Scripted, Measuring]:
    wire = Scripted(clock, stopping)
    plugged = Plugged(Whose(name, WiredKind.SHT4X, 1, 0x44), name, EVERY_S)
    return wire, Measuring(plugged, wire, lambda _taken: None, clock)


def test_sensors_of_a_bus_take_turns() -> None:
    clock, stopping = HandClock(), threading.Event()
    (one, first), (two, second) = (_scripted(clock, stopping, name) for name in ("a", "b"))
    start_s = clock.monotonic()
    Bus("/dev/i2c-1", [first, second], clock).run(stopping)
    assert (one.left, two.left) in ((0, 1), (1, 0), (0, 0))
    assert clock.monotonic() - start_s == 4 * EVERY_S


def test_a_fault_of_ours_does_not_end_the_thread(caplog: pytest.LogCaptureFixture) -> None:
    clock, stopping = HandClock(), threading.Event()
    wire, measuring = _scripted(clock, stopping, "a")
    wire.error = RuntimeError("a fault of ours")
    Bus("/dev/i2c-1", [measuring], clock).run(stopping)
    assert wire.left == 0
    assert "could not be read" in caplog.text


def test_a_bus_stopped_before_it_began_reads_nothing() -> None:
    clock, stopping = HandClock(), threading.Event()
    wire, measuring = _scripted(clock, stopping, "a")
    stopping.set()
    Bus("/dev/i2c-1", [measuring], clock).run(stopping)
    assert wire.left == 5


@pytest.mark.parametrize(
    ("takes_s", "lives", "told"),
    [
        pytest.param(1.0, True, 0, id="quick"),
        pytest.param(BLOCKED_S + 1.0, True, 2, id="blocks: told, and told when it is over"),
        pytest.param(DEAD_S + 1.0, False, 2, id="of no use any more"),
    ],
)
def test_a_bus_that_does_not_come_back(
    takes_s: float, lives: bool, told: int, caplog: pytest.LogCaptureFixture
) -> None:
    clock, stopping = HandClock(), threading.Event()
    wire, measuring = _scripted(clock, stopping, "a")
    bus = Bus("/dev/i2c-1", [measuring], clock)
    wire.left, wire.takes_s, wire.bus = 1, takes_s, bus
    bus.run(stopping)
    assert wire.blocked == [lives]
    assert bus.look()
    assert bus.blocked_s() == 0.0
    assert sum("/dev/i2c-1" in record.getMessage() for record in caplog.records) == told
