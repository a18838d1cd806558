"""A bus of this machine: its lock, its absence; and a look at what answers."""

import fcntl
import os
from pathlib import Path

import pytest

from chamberwatch.core.watch.wired import Ill, WiredKind, WireError
from chamberwatch.wired.bus import LOCK_PATIENCE_S, LockedBus, ask, buses, told
from chamberwatch.wired.looking import look_at
from tests.fakes import HandClock
from tests.wired.buses import (
    FakeBus,
    FakeScd4x,
    FakeScd30,
    FakeSht4x,
    cut_short,
    one_bit_wrong,
    shared,
    system_error,
)


def test_a_bus_that_is_not_there() -> None:
    with pytest.raises(WireError) as raised:
        LockedBus("/dev/i2c-does-not-exist", HandClock())
    assert raised.value.ill is Ill.NO_BUS


def test_what_is_no_bus_is_known_by_its_answers(tmp_path: Path) -> None:
    device = tmp_path / "i2c-1"
    device.touch()
    bus = LockedBus(str(device), HandClock())
    try:
        with pytest.raises(WireError) as raised:
            ask(bus, 0x44, b"\x89", ">I", 0.0)
        assert raised.value.ill is Ill.GARBLED  # the system knows no bus there
    finally:
        bus.close()


def test_another_program_on_the_bus_is_waited_for_and_told_of(tmp_path: Path) -> None:
    device = tmp_path / "i2c-1"
    device.touch()
    clock = HandClock()
    bus = LockedBus(str(device), clock)
    other = os.open(device, os.O_RDWR)
    try:
        fcntl.flock(other, fcntl.LOCK_EX)
        start_s = clock.monotonic()
        with pytest.raises(WireError) as raised:
            ask(bus, 0x44, b"\x89", ">I", 0.0)
        assert raised.value.ill is Ill.IN_USE
        assert clock.monotonic() - start_s == pytest.approx(LOCK_PATIENCE_S, abs=0.1)
        fcntl.flock(other, fcntl.LOCK_UN)
        with pytest.raises(WireError) as raised:
            ask(bus, 0x44, b"\x89", ">I", 0.0)
        assert raised.value.ill is Ill.GARBLED
        # Whatever happened, the lock was given back.
        fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)
    finally:
        os.close(other)
        bus.close()


@pytest.mark.parametrize(
    ("error", "ill"),
    [
        pytest.param(PermissionError(13, "Permission denied"), Ill.NO_RIGHT, id="no right"),
        pytest.param(ImportError("No module named x"), Ill.NO_DRIVER, id="no driver"),
        pytest.param(OSError("without a number"), Ill.GARBLED, id="an error without a number"),
        pytest.param(AssertionError(), Ill.GARBLED, id="a driver's own doubt"),
    ],
)
def test_what_the_system_raises_is_known(error: Exception, ill: Ill) -> None:
    with pytest.raises(WireError) as raised, told():
        raise error
    assert raised.value.ill is ill
    assert raised.value.detail


def test_buses_are_found_by_their_files(tmp_path: Path) -> None:
    for name in ("i2c-1", "i2c-20", "i2c-3", "i2c-x", "spidev0.0"):
        (tmp_path / name).touch()
    assert buses(tmp_path) == [1, 3, 20]
    assert buses(tmp_path / "none") == []


# ------------------------------------------------------------------ a look


def test_whatever_answers_is_seen_with_its_number() -> None:
    bus = FakeBus({0x62: FakeScd4x(), 0x61: FakeScd30(), 0x45: FakeSht4x(serial=0xC0FFEE)})
    seen = {(each.kind, each.address): each.serial for each in look_at(shared(bus))}
    assert seen == {
        (WiredKind.SCD4X, 0x62): "f8969f073bbe",
        (WiredKind.SCD30, 0x61): "3030-1234567890",
        (WiredKind.SHT4X, 0x45): "00c0ffee",
    }


def test_one_that_measures_is_left_at_it() -> None:
    sensor = FakeScd4x(measuring=True)
    (seen,) = look_at(shared(FakeBus({0x62: sensor})))
    assert (seen.serial, seen.ill) == (None, None)
    assert sensor.measuring


def test_nothing_but_known_addresses_is_asked() -> None:
    bus = FakeBus()
    assert list(look_at(shared(bus))) == []
    assert {address for address, _ in bus.asked} == {0x62, 0x61, 0x44, 0x45, 0x46}


@pytest.mark.parametrize(
    ("faults", "ill"),
    [
        pytest.param([one_bit_wrong], Ill.WRONG_SUM, id="wrong checksum"),
        pytest.param([cut_short, one_bit_wrong], Ill.WRONG_SUM, id="only its number is wrong"),
    ],
)
def test_one_that_answers_wrongly_is_seen_as_such(faults: list[object], ill: Ill) -> None:
    bus = FakeBus({0x62: FakeScd4x()}, faults=faults)  # type: ignore[arg-type]
    (seen,) = look_at(shared(bus))
    assert (seen.serial, seen.ill) == (None, ill)


def test_a_bus_that_hangs_can_not_be_looked_at() -> None:
    bus = FakeBus({0x62: FakeScd4x()}, always=system_error(110))
    with pytest.raises(WireError) as raised:
        list(look_at(shared(bus)))
    assert raised.value.ill is Ill.HUNG
