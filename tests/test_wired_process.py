"""Sensors on wires from the settings to the daemon's reader, over a fake bus and a real broker."""

import json
import logging
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.core.watch.guess import sends
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.wired import Measured, Taken, spoken
from chamberwatch.mqtt.guessing import guess_of
from chamberwatch.mqtt.payload import PayloadReader
from chamberwatch.mqtt.trial import TrialBroker
from chamberwatch.mqtt.troubles import PASSWORD
from chamberwatch.service.ports import Arrival
from chamberwatch.settings import Settings, load
from chamberwatch.wired.tuning import Tuning
from chamberwatch.wiring.machine import _source
from chamberwatch.wiring.wired import (
    address_for,
    build,
    own_words,
    topic_of,
    tuning_of,
    whose,
    worth_knowing,
)
from tests.brokers import DEADLINE_S, Client, free_port, visiting, wait_until
from tests.wired.buses import FakeBus, FakeScd4x, FakeSht4x, system_error

T, H, C, _, _ = Quantity

TENT: Final = '[[chamber]]\nname = "tent"\ntitle = "Tent"\nstage = "fruiting"\n'
HEARD: Final = """
[[sensor]]
name = "middle"
chamber = "tent"
topic = "tent/middle"
[sensor.reads.temperature]
at = "/temperature"
[sensor.reads.humidity]
at = "/humidity"
[sensor.time]
at = "/time"
"""
WIRED: Final = '[[wired]]\nname = "middle"\nkind = "sht4x"\nevery = "5 s"\n'


def _load(tmp_path: Path, text: str) -> Settings:
    path = tmp_path / "chamberwatch.toml"
    path.write_text(text)
    return load(path, {})


# ------------------------------------------------------------------ settings in, parts out


@pytest.mark.parametrize(
    ("text", "topic"),
    [
        pytest.param(WIRED, "wired/middle", id="of its own"),
        pytest.param(TENT + HEARD + WIRED, "tent/middle", id="that of its namesake"),
        pytest.param(
            TENT + HEARD.replace("tent/middle", "tent/+") + WIRED,
            "wired/middle",
            id="a namesake that takes in many",
        ),
        pytest.param(
            TENT + HEARD + WIRED + 'topic = "cellar/1"\n', "cellar/1", id="the one it is given"
        ),
    ],
)
def test_on_which_topic_it_speaks(tmp_path: Path, text: str, topic: str) -> None:
    settings = _load(tmp_path, text)
    assert topic_of(settings, settings.wired[0]) == topic


@pytest.mark.parametrize(
    ("kind", "more", "address"),
    [
        pytest.param("scd4x", "", 0x62, id="scd4x"),
        pytest.param("scd30", "", 0x61, id="scd30"),
        pytest.param("sht4x", "", 0x44, id="sht4x"),
        pytest.param("sht4x", "address = 0x45\n", 0x45, id="another address"),
    ],
)
def test_at_which_address(tmp_path: Path, kind: str, more: str, address: int) -> None:
    settings = _load(tmp_path, f'[[wired]]\nname = "a"\nkind = "{kind}"\nbus = 3\n{more}')
    its = whose(settings.wired[0])
    assert (its.address, its.bus, its.device) == (address, 3, "/dev/i2c-3")


def test_the_altitude_of_the_site_is_what_it_reckons_with(tmp_path: Path) -> None:
    text = "[site]\naltitude_m = 1000\n" + '[[wired]]\nname = "a"\nkind = "scd4x"\n'
    settings = _load(tmp_path, text + "self_heating_k = 3.5\n")
    tuning = tuning_of(settings, settings.wired[0])
    assert tuning == Tuning(pytest.approx(89_875.0, abs=10.0), False, 3.5)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("mqtt", "environment", "enters"),
    [
        pytest.param("", {}, (None, None), id="without a name"),
        pytest.param(
            'username = "d"\n', {"CHAMBERWATCH_MQTT_PASSWORD": "x"}, ("d", "x"), id="as the daemon"
        ),
        pytest.param(
            'username = "d"\nwired_username = "sensor"\n',
            {"CHAMBERWATCH_MQTT_PASSWORD": "x", "CHAMBERWATCH_WIRED_PASSWORD": "y"},
            ("sensor", "y"),
            id="as a sensor",
        ),
    ],
)
def test_as_whom_it_enters(
    tmp_path: Path, mqtt: str, environment: dict[str, str], enters: tuple[str | None, str | None]
) -> None:
    path = tmp_path / "chamberwatch.toml"
    path.write_text(f"[mqtt]\n{mqtt}{WIRED}")
    address = address_for(load(path, environment))
    assert (address.username, address.password) == enters


def test_the_password_comes_from_a_credential_too(tmp_path: Path) -> None:
    (tmp_path / "wired_password").write_text("drip drop\n")
    path = tmp_path / "chamberwatch.toml"
    path.write_text('[mqtt]\nwired_username = "sensor"\n')
    settings = load(path, {"CREDENTIALS_DIRECTORY": str(tmp_path)})
    assert address_for(settings).password == "drip drop"  # noqa: S105


def test_what_is_said_of_the_broker_names_the_right_settings(tmp_path: Path) -> None:
    said = f"correct mqtt.username and {PASSWORD}."
    assert own_words(_load(tmp_path, ""))(said) == said
    ours = own_words(_load(tmp_path, '[mqtt]\nwired_username = "sensor"\n'))(said)
    assert ours == ("correct mqtt.wired_username and the password (CHAMBERWATCH_WIRED_PASSWORD).")


CO2: Final = WIRED.replace("sht4x", "scd4x")
READS_CO2: Final = HEARD + '[sensor.reads.co2]\nat = "/co2"\nunit = "ppm"\n'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param(TENT + HEARD + WIRED, "", id="fits"),
        pytest.param(TENT + READS_CO2 + CO2, "", id="fits with CO2"),
        pytest.param(WIRED, "nobody takes in wired/middle yet", id="nobody listens"),
        pytest.param(
            TENT + HEARD.replace("/humidity", "/rh") + WIRED,
            'read humidity at = "/humidity", unit = "%"',
            id="reads elsewhere",
        ),
        pytest.param(
            TENT + HEARD.replace('"/temperature"', '"/temperature"\nunit = "°F"') + WIRED,
            'unit = "°C"',
            id="reads in another unit",
        ),
        pytest.param(TENT + READS_CO2 + WIRED, "it does not measure co2", id="reads too much"),
        pytest.param(
            TENT + HEARD.replace('[sensor.time]\nat = "/time"\n', "") + WIRED,
            '[sensor.time] with at = "/time"',
            id="takes no time",
        ),
        pytest.param(
            TENT
            + '[[sensor]]\nname = "middle"\nchamber = "tent"\ntopic = "tent/middle"\n'
            + 'payload = "number"\n[sensor.reads.humidity]\n'
            + WIRED,
            'set payload = "json"',
            id="wants a bare number",
        ),
        pytest.param(
            TENT + READS_CO2 + CO2 + "self_calibration = true\n",
            "takes the least CO2 of some days for outdoor air",
            id="calibrates itself",
        ),
        pytest.param(
            "[site]\naltitude_m = 3500\n" + TENT + READS_CO2 + CO2,
            "can't reckon with 3500 m; set corrects_pressure = false for middle",
            id="too high up",
        ),
        pytest.param(
            "[site]\naltitude_m = 1200\n"
            + TENT
            + READS_CO2.replace("[sensor.reads", "corrects_pressure = false\n[sensor.reads", 1)
            + CO2,
            "corrects it once more; take corrects_pressure = false out",
            id="corrected twice",
        ),
    ],
)
def test_what_may_surprise_is_said(tmp_path: Path, text: str, says: str) -> None:
    told = list(worth_knowing(_load(tmp_path, text)))
    assert (told == []) if not says else (len(told) == 1 and says in told[0]), told


# ------------------------------------------------------------------ what is said is understood


SAID: Final = json.dumps(
    spoken(
        Taken("wired/middle", Measured(20.533, 91.257, 812.0), 0.0),
        datetime(2026, 1, 20, 18, 5, tzinfo=UTC),
    )
).encode()


def test_the_claiming_page_knows_all_of_it() -> None:
    guess = guess_of(
        "wired/middle", SAID, datetime(2026, 1, 20, 18, 5, 1, tzinfo=UTC), retained=False
    )
    assert guess.time_at == "/time"
    likely = {each.likely.quantity: each.likely.unit for each in guess.numbers if each.likely}
    assert likely == {T: "°C", H: "%", C: "ppm"}
    assert sends(guess) == "sends temperature 20.53, humidity 91.26, CO2 812: whose is it?"


def test_its_namesake_reads_it(tmp_path: Path) -> None:
    settings = _load(tmp_path, TENT + READS_CO2 + CO2)
    arrival = Arrival("tent/middle", SAID, False, 1, 1, 1, WallClock().now(), 0.0)
    said = PayloadReader([_source(settings.sensor[0])]).read(arrival)
    assert {each.quantity: each.value for each in said} == {T: 20.53, H: 91.26, C: 812.0}
    assert {each.time for each in said} == {datetime(2026, 1, 20, 18, 5, tzinfo=UTC)}


# ------------------------------------------------------------------ the process


@pytest.fixture(scope="module")
def broker() -> Iterator[TrialBroker]:
    with TrialBroker() as trial:
        yield trial


@dataclass
class Running:
    """The process in a thread of this one, over a bus without wires."""

    settings: Settings
    bus: FakeBus

    def __post_init__(self) -> None:
        self.stopping = threading.Event()
        self.process = build(self.settings, self.bus.open)
        self.thread = threading.Thread(target=self.process.run, args=(self.stopping,))

    def __enter__(self) -> "Running":
        self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stopping.set()
        self.thread.join(DEADLINE_S)
        assert not self.thread.is_alive()


def _hears(daemon: Client) -> dict[str, object]:
    said: dict[str, object] = json.loads(daemon.hear().payload)
    return said


def test_a_reading_goes_from_the_wire_to_the_broker(
    tmp_path: Path, broker: TrialBroker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chamberwatch.wiring.wired.LAST_S", DEADLINE_S)
    text = f"[mqtt]\nport = {broker.port}\n" + TENT + HEARD + WIRED
    settings = _load(tmp_path, text)
    with visiting(broker) as daemon:
        daemon.subscribe("tent/#")
        with Running(settings, FakeBus({0x44: FakeSht4x()})) as running:
            said = _hears(daemon)
            assert (said["temperature"], said["humidity"]) == (25.0, 56.5)
            if "time" in said:  # not where this machine's clock was never set
                ago = WallClock().now() - datetime.fromisoformat(str(said["time"]))
                assert timedelta(0) <= ago < timedelta(minutes=1)
        assert running.process.handing.left() == 0


def test_one_dead_bus_harms_no_other(
    tmp_path: Path, broker: TrialBroker, caplog: pytest.LogCaptureFixture
) -> None:
    """The SCD4x is on a bus whose thread never comes back; the SHT4x on another goes on."""
    caplog.set_level(logging.INFO)
    text = (
        f"[mqtt]\nport = {broker.port}\n"
        '[[wired]]\nname = "dead"\nkind = "scd4x"\nbus = 3\n'
        '[[wired]]\nname = "alive"\nkind = "sht4x"\nbus = 1\n'
    )
    released = threading.Event()

    class Dead(FakeBus):
        def transceive(self, *_: object) -> tuple[int, object, bytes]:
            released.wait(30)
            return system_error(110)((0, None, b""))

    buses = {"/dev/i2c-1": FakeBus({0x44: FakeSht4x()}), "/dev/i2c-3": Dead({0x62: FakeScd4x()})}
    settings = _load(tmp_path, text)
    stopping = threading.Event()
    process = build(settings, lambda device: buses[device])
    thread = threading.Thread(target=process.run, args=(stopping,))
    with visiting(broker) as daemon:
        daemon.subscribe("wired/#")
        thread.start()
        try:
            assert daemon.hear().topic == "wired/alive"
            dead = next(bus for bus in process.buses if bus.blocked_s() > 0.0)
            assert dead is not None
        finally:
            stopping.set()
            thread.join(DEADLINE_S)
            released.set()
        assert not thread.is_alive()  # it does not wait for the bus that hangs


def test_what_the_broker_never_took_is_counted_at_the_end(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    rarely = WIRED.replace('every = "5 s"', 'every = "10 min"')
    settings = _load(tmp_path, f"[mqtt]\nport = {free_port()}\n" + rarely)
    with Running(settings, FakeBus({0x44: FakeSht4x()})) as running:
        wait_until(lambda: running.process.handing.left() == 1, "it has measured")
        wait_until(lambda: bool(running.process.link.trouble()), "the broker is missed")
    assert "One reading could not be handed over before the end." in caplog.messages


def test_the_real_process_starts_without_a_bus_and_ends_in_order(
    tmp_path: Path, broker: TrialBroker
) -> None:
    path = tmp_path / "chamberwatch.toml"
    bus = 20 + os.getpid() % 80  # which no other run of the tests has
    path.write_text(f"[mqtt]\nport = {broker.port}\n" + WIRED + f"bus = {bus}\n")
    command = [sys.executable, "-m", "chamberwatch", "wired", "--config", str(path)]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    try:
        assert process.stderr is not None
        lines = [next(process.stderr) for _ in range(3)]
        second = subprocess.run(
            command, capture_output=True, text=True, timeout=DEADLINE_S, check=False
        )
        process.send_signal(signal.SIGTERM)
        rest = process.communicate(timeout=DEADLINE_S)[1]
    finally:
        process.kill()
        process.wait()
    said = "".join(lines) + rest
    assert process.returncode == 0, said
    assert "nobody takes in wired/middle yet" in said
    assert f"there is no /dev/i2c-{bus}. I2C is not switched on" in said
    assert second.returncode == 1
    assert f"Another `chamberwatch wired` measures on bus {bus}" in second.stderr
    assert said.splitlines()[-1].endswith("Stopped.")


def _drain(channel: socket.socket) -> None:
    channel.setblocking(False)
    with suppress(BlockingIOError):
        while channel.recv(100):
            pass
    channel.settimeout(20)


@pytest.mark.parametrize("dead", [False, True])
def test_the_watchdog_is_fed_as_long_as_every_bus_comes_back(
    tmp_path: Path, broker: TrialBroker, monkeypatch: pytest.MonkeyPatch, dead: bool
) -> None:
    place = tmp_path / "notify"
    monkeypatch.setenv("NOTIFY_SOCKET", str(place))
    monkeypatch.setenv("WATCHDOG_USEC", "20000")
    monkeypatch.setattr("chamberwatch.service.measuring.DEAD_S", 0.05)
    monkeypatch.setattr("chamberwatch.wiring.wired.LOOK_S", 0.1)
    released, asked = threading.Event(), threading.Event()

    class Bus(FakeBus):
        def transceive(self, *said: object) -> tuple[int, object, bytes]:
            asked.set()
            if dead:
                released.wait(30)
            return super().transceive(*said)  # type: ignore[arg-type]

    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as systemd:
        systemd.bind(str(place))
        systemd.settimeout(20)
        settings = _load(tmp_path, f"[mqtt]\nport = {broker.port}\n" + WIRED)
        with Running(settings, Bus({0x44: FakeSht4x()})) as running:
            assert systemd.recv(100) == b"READY=1"
            assert asked.wait(20)
            if dead:
                (bus,) = running.process.buses
                wait_until(lambda: bus.blocked_s() > 0.3, "a look has found it dead")
                _drain(systemd)
                wait_until(lambda: bus.blocked_s() > 0.7, "and some more")
            else:
                assert systemd.recv(100) == b"WATCHDOG=1"
        fed = systemd.recv(100) if dead else b"STOPPING=1"
        assert fed == b"STOPPING=1"
        released.set()
