"""The link that gives readings of wired sensors to a real broker, and what is told of it."""

import json
import logging
import signal
import socket
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from chamberwatch.core.watch.wired import Measured, Taken
from chamberwatch.mqtt import sensor_link
from chamberwatch.mqtt.broker import BrokerAddress
from chamberwatch.mqtt.sensor_link import OUTLIVED_S, SensorLink
from chamberwatch.mqtt.speaking import own_id
from chamberwatch.service.handing_over import HandingOver
from tests.brokers import (
    LOOPBACK,
    MOSQUITTO,
    NO_MOSQUITTO,
    Broker,
    Mosquitto,
    free_port,
    visiting,
    wait_until,
)
from tests.fakes import HandClock
from tests.mqtt.links import CONNACK, ScriptedBroker, address_of

TOPIC = "wired/tent"
needs_mosquitto = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)


@dataclass
class Bench:
    """A link under test; confirmations are as old as the clock is turned by hand."""

    address: BrokerAddress
    clock: HandClock = field(default_factory=HandClock)
    link: SensorLink = field(init=False)
    handing: HandingOver = field(init=False)

    def __post_init__(self) -> None:
        self.link = SensorLink(self.address, self.clock, lambda told: told.replace("mqtt.", "M."))
        self.handing = HandingOver(self.link, self.clock)

    def start(self) -> None:
        self.link.start()
        wait_until(self.link.connected, "the link is connected")

    def measure(self, *temperatures: float) -> None:
        for temperature in temperatures:
            measured = Measured(temperature, 90.0)
            self.handing.take(Taken(TOPIC, measured, self.clock.monotonic()))
            self.clock.turn(seconds=0.01)

    def all_confirmed(self) -> bool:
        self.clock.turn(seconds=OUTLIVED_S)
        self.handing.turn()
        return self.handing.left() == 0

    def cut(self) -> None:
        sock = self.link._client.socket()
        assert isinstance(sock, socket.socket)
        sock.shutdown(socket.SHUT_RDWR)


@pytest.fixture
def bench(broker: Broker) -> Iterator[Bench]:
    made = Bench(address_of(broker))
    yield made
    made.link.stop()


def test_readings_reach_the_broker_and_are_confirmed(broker: Broker, bench: Bench) -> None:
    with visiting(broker) as daemon:
        daemon.subscribe("wired/#")
        bench.start()
        bench.measure(20.0, 20.5)
        wait_until(bench.all_confirmed, "both are confirmed")
        heard = [daemon.hear() for _ in range(2)]
        assert [json.loads(message.payload)["temperature"] for message in heard] == [20.0, 20.5]
        assert {(message.qos, message.retain) for message in heard} == {(1, False)}


def test_a_confirmation_counts_once_the_connection_has_outlived_it(
    broker: Broker, bench: Bench
) -> None:
    bench.start()
    bench.measure(20.0)
    bench.handing.turn()
    wait_until(lambda: bool(bench.link._acked), "the broker confirms")
    bench.handing.turn()
    assert bench.handing.left() == 1
    bench.clock.turn(seconds=OUTLIVED_S)
    bench.handing.turn()
    assert bench.handing.left() == 0


def test_a_cut_in_between_loses_nothing(
    broker: Broker, bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    with visiting(broker) as daemon:
        daemon.subscribe("wired/#")
        bench.start()
        bench.measure(20.0)
        bench.handing.turn()
        wait_until(lambda: bool(bench.link._acked), "the broker confirms")
        bench.clock.turn(seconds=60.0)
        bench.cut()
        wait_until(lambda: not bench.link.connected(), "it is cut off")
        bench.measure(21.0)
        bench.handing.turn()
        assert bench.link.publish(TOPIC, "{}") is None
        wait_until(bench.link.connected, "it comes back by itself")
        wait_until(bench.all_confirmed, "both are confirmed")
        heard = [json.loads(daemon.hear().payload)["temperature"] for _ in range(2)]
    assert heard == [20.0, 21.0]
    told = [text for text in caplog.messages if "broker at" in text]
    assert [text.split(";")[0].split(" at ")[0] for text in told] == [
        "The connection to the broker",
        "The broker",
    ]
    assert told[1].endswith("takes our readings again.")
    assert bench.link.trouble() == ""


@needs_mosquitto
def test_a_broker_that_was_killed_gets_what_was_measured_meanwhile(tmp_path: Path) -> None:
    broker = Mosquitto(tmp_path)
    broker.start()
    bench = Bench(address_of(broker))
    try:
        bench.start()
        broker.kill()
        wait_until(lambda: not bench.link.connected(), "the broker is gone")
        bench.measure(20.0, 21.0, 22.0)
        bench.handing.turn()
        assert bench.handing.left() == 3
        broker.start()
        with visiting(broker) as daemon:
            daemon.subscribe("wired/#")
            wait_until(bench.all_confirmed, "all are confirmed")
            heard = [json.loads(daemon.hear().payload)["temperature"] for _ in range(3)]
        assert heard == [20.0, 21.0, 22.0]
    finally:
        bench.link.stop()
        broker.stop()


@needs_mosquitto
def test_what_a_frozen_broker_never_confirmed_comes_once_it_is_back(tmp_path: Path) -> None:
    """It takes the bytes and dies without having read them."""
    broker = Mosquitto(tmp_path)
    broker.start()
    bench = Bench(address_of(broker))
    try:
        bench.start()
        assert broker._process is not None
        broker._process.send_signal(signal.SIGSTOP)
        bench.measure(20.0, 21.0)
        bench.handing.turn()
        bench.clock.turn(seconds=60.0)
        bench.handing.turn()
        assert bench.handing.left() == 2
        broker.kill()
        wait_until(lambda: not bench.link.connected(), "the broker is gone")
        with broker.running(), visiting(broker) as daemon:
            daemon.subscribe("wired/#")
            wait_until(bench.all_confirmed, "both are confirmed")
            heard = [json.loads(daemon.hear().payload)["temperature"] for _ in range(2)]
        assert heard == [20.0, 21.0]
    finally:
        bench.link.stop()


@needs_mosquitto
def test_where_it_may_not_write_nothing_counts_as_handed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Mosquitto confirms what it throws away, and then hangs up."""
    monkeypatch.setattr(sensor_link, "REFUSED_AFTER", 2)
    acl = tmp_path / "acl"
    acl.write_text("user chamberwatch\ntopic read #\ntopic write chamberwatch/#\n")
    broker = Mosquitto(
        tmp_path, passwords={"chamberwatch": "open sesame"}, more=f"\nacl_file {acl}\n"
    )
    with broker.running():
        address = replace(
            address_of(broker),
            username="chamberwatch",
            password="open sesame",  # noqa: S106
        )
        bench = Bench(address)
        bench.start()
        bench.measure(20.0, 21.0)

        def told() -> bool:
            bench.handing.turn()
            return "hangs up as soon as we publish" in bench.link.trouble()

        wait_until(told, "it is told")
        bench.link.stop()
    bench.handing.turn()
    assert bench.handing.left() == 2
    assert "allow the user chamberwatch to write it" in bench.link.trouble()
    assert "M.wired_username" in bench.link.trouble()
    assert sum("hangs up" in text for text in caplog.messages) == 1


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        pytest.param(
            CONNACK + b"\x04", "correct M.username and the password", id="wrong password"
        ),
        pytest.param(CONNACK + b"\x02", "the name chamberwatch-wired", id="wrong name"),
        pytest.param(b"", "hung up without an answer", id="no answer"),
    ],
)
def test_a_broker_that_does_not_let_us_in(
    answer: bytes, says: str, caplog: pytest.LogCaptureFixture
) -> None:
    with ScriptedBroker([answer]).running() as broker:
        bench = Bench(address_of(broker))
        bench.link.start()
        wait_until(lambda: bool(bench.link.trouble()), "it is told")
        bench.link.stop()
    assert says in bench.link.trouble()
    assert len(caplog.messages) == 1


def test_no_broker_at_all_is_told_once(caplog: pytest.LogCaptureFixture) -> None:
    bench = Bench(BrokerAddress(LOOPBACK, free_port()))
    bench.link.start()
    wait_until(lambda: bool(bench.link.trouble()), "it is told")
    bench.measure(20.0)
    bench.handing.turn()
    bench.link.stop()
    assert bench.handing.left() == 1
    assert "nothing listens there; start it" in bench.link.trouble()
    assert len([text for text in caplog.messages if "nothing listens" in text]) == 1


@pytest.mark.parametrize(
    ("client_id", "part", "made"),
    [
        pytest.param("chamberwatch", "wired", "chamberwatch-wired", id="short"),
        pytest.param("chamberwatch", "out", "chamberwatch-out", id="the other"),
        pytest.param("a-very-long-name-of-ours", "wired", "a-very-l-85aa86ca-wired", id="long"),
    ],
)
def test_each_client_of_ours_has_a_name_of_its_own(client_id: str, part: str, made: str) -> None:
    assert own_id(client_id, part) == made
    assert len(made) <= 23
