"""The three sensors through the maker's drivers, over a bus whose frames the maker has printed."""

import csv
import errno
import struct
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.core.watch.wired import Ill, Measured, WireError
from chamberwatch.service.measuring import Wire
from chamberwatch.wired.bus import Shared
from chamberwatch.wired.scd4x import Scd4x
from chamberwatch.wired.scd30 import Scd30
from chamberwatch.wired.sht4x import Sht4x
from chamberwatch.wired.tuning import Tuning
from tests.wired import buses
from tests.wired.buses import (
    FakeBus,
    FakeScd4x,
    FakeScd30,
    FakeSht4x,
    Fault,
    Sensor,
    checksum,
    cut_short,
    one_bit_wrong,
    shared,
    status,
    system_error,
)

REFERENCE: Final = Path(__file__).parents[1] / "reference" / "wired-frames.csv"
SEA: Final = Tuning(pressure_pa=101_325.0)


def _frames() -> dict[tuple[str, str], dict[str, str]]:
    lines = [line for line in REFERENCE.read_text().splitlines() if not line.startswith("#")]
    return {(row["sensor"], row["what"]): row for row in csv.DictReader(lines)}


FRAMES: Final = _frames()


def _bytes(sensor: str, what: str) -> bytes:
    return bytes.fromhex(FRAMES[sensor, what]["bytes"])


@pytest.mark.parametrize("key", [pytest.param(key, id=" ".join(key)) for key in FRAMES])
def test_printed_checksums_are_those_reckoned_here(key: tuple[str, str]) -> None:
    row = FRAMES[key]
    frame = bytes.fromhex(row["bytes"])
    words = frame[2:] if row["way"] == "told" else frame
    assert len(words) % 3 == 0
    for at in range(0, len(words), 3):
        assert checksum(words[at : at + 2]) == words[at + 2]


# ------------------------------------------------------------------ SCD4x


def _scd4x(
    sensor: FakeScd4x | None = None, tuning: Tuning = SEA
) -> tuple[Scd4x, FakeScd4x, FakeBus]:
    sensor = sensor or FakeScd4x()
    bus = FakeBus({0x62: sensor})
    return Scd4x(shared(bus), 0x62, tuning), sensor, bus


def test_an_scd4x_is_set_up_and_read() -> None:
    wire, sensor, _ = _scd4x()
    assert wire.begin() == FRAMES["scd4x", "serial"]["means"]
    assert sensor.measuring
    measured = wire.read()
    assert measured is not None
    co2, temperature, humidity = map(float, FRAMES["scd4x", "measurement"]["means"].split())
    assert measured.co2_ppm == co2
    assert measured.temperature_c == pytest.approx(temperature, abs=0.005)
    assert measured.humidity_pct == pytest.approx(humidity, abs=0.005)


def test_what_the_fake_answers_is_what_the_maker_prints() -> None:
    sensor = FakeScd4x(measuring=True)
    assert sensor.answer(b"\xec\x05") == _bytes("scd4x", "measurement")
    sensor.new = False
    assert sensor.answer(b"\xe4\xb8") == _bytes("scd4x", "nothing new")
    assert FakeScd30().answer(b"\x03\x00") == _bytes("scd30", "measurement")


def test_an_scd4x_is_told_what_the_maker_prints() -> None:
    tuning = Tuning(pressure_pa=98_700.0, self_calibration=True, self_heating_k=5.4)
    wire, sensor, _ = _scd4x(tuning=tuning)
    wire.begin()
    for what in ("stop", "pressure", "self-calibration on", "self-heating", "start"):
        assert _bytes("scd4x", what) in sensor.told, what


def test_self_calibration_is_off_unless_it_is_wanted() -> None:
    wire, sensor, _ = _scd4x()
    assert sensor.self_calibration == 1  # as it comes from its maker
    wire.begin()
    assert sensor.self_calibration == 0


def test_nothing_is_written_for_ever_into_an_scd4x() -> None:
    wire, sensor, _ = _scd4x(tuning=Tuning(90_000.0, self_heating_k=4.0))
    wire.begin()
    assert b"\x36\x15" not in sensor.told  # its memory takes 2,000 writings


def test_an_scd4x_that_keeps_its_own_mind_is_told_of() -> None:
    class Stubborn(FakeScd4x):
        def answer(self, said: bytes) -> bytes:
            answer = super().answer(said)
            self.self_calibration = 1
            return answer

    wire, _, _ = _scd4x(Stubborn())
    with pytest.raises(WireError, match="self-calibration can't be set"):
        wire.begin()


def test_an_scd4x_that_measures_already_is_set_up_all_the_same() -> None:
    wire, sensor, _ = _scd4x(FakeScd4x(measuring=True))
    wire.begin()
    assert (sensor.measuring, sensor.self_calibration) == (True, 0)


def test_an_scd4x_without_a_new_value_says_so() -> None:
    wire, sensor, _ = _scd4x()
    wire.begin()
    sensor.new = False
    assert wire.read() is None


@pytest.mark.parametrize(
    ("pressure_pa", "told"),
    [
        pytest.param(101_325.0, 1013, id="sea"),
        pytest.param(106_600.0, 1066, id="below the sea"),
        pytest.param(70_100.0, 701, id="3000 m"),
        pytest.param(61_600.0, 1013, id="4000 m, which it can't reckon with"),
    ],
)
@pytest.mark.parametrize("kind", [Scd4x, Scd30])
def test_the_altitude_reaches_the_sensor(
    kind: type[Scd4x] | type[Scd30], pressure_pa: float, told: int
) -> None:
    sensor: Sensor = FakeScd4x() if kind is Scd4x else FakeScd30()
    address, command = (0x62, 0xE000) if kind is Scd4x else (0x61, 0x0010)
    kind(shared(FakeBus({address: sensor})), address, Tuning(pressure_pa)).begin()
    assert struct.pack(">HHB", command, told, checksum(struct.pack(">H", told))) in sensor.told


# ------------------------------------------------------------------ SCD30


def _scd30(sensor: FakeScd30, tuning: Tuning = SEA) -> Scd30:
    return _scd30_over(FakeBus({0x61: sensor}), tuning)


def _scd30_over(bus: FakeBus, tuning: Tuning = SEA) -> Scd30:
    return Scd30(shared(bus), 0x61, tuning)


def test_an_scd30_is_set_up_and_read() -> None:
    sensor = FakeScd30()
    wire = _scd30(sensor)
    assert wire.begin() == "3030-1234567890"
    assert sensor.kept[0x5306] == 0
    measured = wire.read()
    assert measured is not None
    means = [float(word) for word in FRAMES["scd30", "measurement"]["means"].split()]
    assert [measured.co2_ppm, measured.temperature_c, measured.humidity_pct] == pytest.approx(
        means, abs=0.001
    )
    sensor.new = False
    assert wire.read() is None


def test_an_scd30_is_told_only_what_differs() -> None:
    sensor = FakeScd30()
    sensor.kept |= {0x5306: 0, 0x5403: 250}
    _scd30(sensor, Tuning(101_325.0, self_heating_k=2.5)).begin()
    written = {said[:2] for said in sensor.told if len(said) == 5}
    assert written == {b"\x00\x10"}  # starting is telling the air pressure


def test_an_scd30_is_told_what_the_maker_prints() -> None:
    sensor = FakeScd30()
    sensor.kept[0x4600] = 30
    _scd30(sensor, Tuning(101_325.0, self_heating_k=2.5)).begin()
    assert _bytes("scd30", "interval") in sensor.told
    assert sensor.kept == {0x5306: 0, 0x4600: 2, 0x5403: 250, 0x0010: 1013}


def test_an_older_scd30_tells_its_firmware_in_place_of_its_number() -> None:
    sensor = FakeScd30(knows_serial=False)
    wire = _scd30(sensor)
    assert wire.begin() == "unknown (firmware 3.66)"
    assert wire.read() is not None


# ------------------------------------------------------------------ SHT4x


@pytest.mark.parametrize(
    ("ticks", "temperature_c", "humidity_pct"),
    [
        # The maker's own driver, sensirion-i2c-sht4x 1.1.0, gave these for the same bytes, uncut.
        pytest.param((0x6667, 0x8000), 25.003, 56.501, id="a room"),
        pytest.param((0x6000, 0xEE14), 20.625, 100.0, id="wet: 110 % is cut off"),
        pytest.param((0x5555, 0x0000), 13.333, 0.0, id="dry: -6 % is cut off"),
    ],
)
def test_an_sht4x_is_read(
    ticks: tuple[int, int], temperature_c: float, humidity_pct: float
) -> None:
    wire = Sht4x(shared(FakeBus({0x44: FakeSht4x(ticks=ticks)})), 0x44)
    assert wire.begin() == "0f4a31c7"
    measured = wire.read()
    assert measured.temperature_c == pytest.approx(temperature_c, abs=0.002)
    assert measured.humidity_pct == pytest.approx(humidity_pct, abs=0.002)
    assert measured.co2_ppm is None


# ------------------------------------------------------------------ faults, for each of them

MAKERS: Final[dict[str, Callable[[Shared], Wire]]] = {
    "scd4x": lambda bus: Scd4x(bus, 0x62, SEA),
    "scd30": lambda bus: Scd30(bus, 0x61, SEA),
    "sht4x": lambda bus: Sht4x(bus, 0x44),
}


def _all_sensors() -> dict[int, Sensor]:
    return {0x62: FakeScd4x(), 0x61: FakeScd30(), 0x44: FakeSht4x()}


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize(
    ("fault", "ill"),
    [
        pytest.param(one_bit_wrong, Ill.WRONG_SUM, id="one bit wrong"),
        pytest.param(system_error(errno.EREMOTEIO), Ill.NO_ANSWER, id="not acknowledged"),
        pytest.param(system_error(errno.ENXIO), Ill.NO_ANSWER, id="not acknowledged, new word"),
        pytest.param(system_error(errno.EIO), Ill.NO_ANSWER, id="not acknowledged, a third"),
        pytest.param(status(2), Ill.NO_ANSWER, id="not acknowledged, by status"),
        pytest.param(system_error(errno.ETIMEDOUT), Ill.HUNG, id="timed out"),
        pytest.param(system_error(errno.EAGAIN), Ill.HUNG, id="lost the bus"),
        pytest.param(status(3), Ill.HUNG, id="timed out, by status"),
        pytest.param(system_error(errno.EBUSY), Ill.IN_USE, id="taken by the system"),
        pytest.param(system_error(errno.ENODEV), Ill.NO_BUS, id="the bus is gone"),
        pytest.param(system_error(errno.EPROTO), Ill.GARBLED, id="something else"),
        pytest.param(lambda answer: (*answer[:2], b""), Ill.GARBLED, id="nothing came"),
    ],
)
def test_a_fault_is_known_for_what_it_is(kind: str, fault: Fault, ill: Ill) -> None:
    bus = FakeBus(_all_sensors())
    wire = MAKERS[kind](shared(bus))
    wire.begin()
    bus.always = fault
    with pytest.raises(WireError) as raised:
        wire.read()
    assert raised.value.ill is ill
    assert raised.value.detail
    bus.always = None
    assert isinstance(wire.read(), Measured)


@pytest.mark.parametrize("kind", ["scd4x", "scd30"])
def test_an_answer_cut_short_is_no_reading(kind: str) -> None:
    bus = FakeBus(_all_sensors())
    wire = MAKERS[kind](shared(bus))
    wire.begin()
    bus.faults = list(buses.after(1, cut_short))
    with pytest.raises(WireError) as raised:
        wire.read()
    assert raised.value.ill is Ill.GARBLED


@pytest.mark.parametrize(
    ("kind", "missing"),
    [
        pytest.param("scd4x", "sensirion_i2c_scd4x.device", id="scd4x"),
        pytest.param("scd30", "sensirion_i2c_scd30.device", id="scd30"),
        pytest.param("sht4x", "sensirion_driver_adapters.rx_tx_data", id="sht4x"),
        pytest.param("scd4x", "sensirion_i2c_driver", id="the common one"),
    ],
)
def test_a_driver_that_is_not_installed(
    kind: str, missing: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, missing, None)
    with pytest.raises(WireError) as raised:
        MAKERS[kind](shared(FakeBus(_all_sensors()))).begin()
    assert raised.value.ill is Ill.NO_DRIVER


def test_wrong_checksums_are_not_taken_for_an_older_sensor() -> None:
    with pytest.raises(WireError) as raised:
        _scd30_over(FakeBus({0x61: FakeScd30()}, always=one_bit_wrong)).begin()
    assert raised.value.ill is Ill.WRONG_SUM


@pytest.mark.parametrize("kind", MAKERS)
def test_a_sensor_that_is_not_there_can_not_be_set_up(kind: str) -> None:
    with pytest.raises(WireError) as raised:
        MAKERS[kind](shared(FakeBus())).begin()
    assert raised.value.ill is Ill.NO_ANSWER


@pytest.mark.parametrize(
    ("error", "ill"),
    [
        pytest.param(WireError(Ill.NO_BUS, "no such file"), Ill.NO_BUS, id="no bus"),
        pytest.param(WireError(Ill.NO_RIGHT, "denied"), Ill.NO_RIGHT, id="no right"),
    ],
)
def test_a_bus_that_can_not_be_opened_is_tried_again(error: WireError, ill: Ill) -> None:
    bus = FakeBus(_all_sensors(), cannot_open=error)
    wire = MAKERS["sht4x"](shared(bus))
    with pytest.raises(WireError) as raised:
        wire.begin()
    assert raised.value.ill is ill
    bus.cannot_open = None
    assert wire.begin()


def test_a_bus_that_went_is_opened_anew() -> None:
    bus = FakeBus(_all_sensors())
    wire = MAKERS["sht4x"](shared(bus))
    wire.begin()
    bus.faults = [system_error(errno.ENODEV)]
    with pytest.raises(WireError):
        wire.read()
    wire.read()
    assert bus.opened == 2
