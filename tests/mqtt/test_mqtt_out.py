"""The client that speaks: last will, farewell, and what it does where it is not welcome."""

import queue
import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.core.errors import BrokerError
from chamberwatch.mqtt import out
from chamberwatch.mqtt.broker import BrokerAddress, BrokerLink
from chamberwatch.mqtt.out import OutLink
from chamberwatch.mqtt.speaking import own_id
from chamberwatch.mqtt.topics import OwnTopics
from chamberwatch.service.ports import Incoming
from tests.brokers import (
    LOOPBACK,
    MOSQUITTO,
    NO_MOSQUITTO,
    Broker,
    Client,
    Mosquitto,
    free_port,
    visiting,
    wait_until,
)
from tests.fakes import HandClock
from tests.mqtt.links import ACCEPTED, CONNACK, Bench, ScriptedBroker, address_of, bench_at

OWN = OwnTopics("house/tent")
STATUS, STATE = "house/tent/status", "house/tent/chamber/tub"
LOST, ENDED = '{"gone": true}', '{"gone": false}'


@dataclass
class Speaker:
    """A speaking client under test."""

    address: BrokerAddress
    link: OutLink = field(init=False)

    def __post_init__(self) -> None:
        self.link = OutLink(self.address, OWN, LOST, WallClock())

    def start(self, connection: int = 1) -> None:
        self.link.start()
        wait_until(lambda: self.link.connection() == connection, "the speaker is connected")

    def cut(self) -> None:
        """Cut the connection as a router that restarts."""
        sock = self.link._client.socket()
        assert isinstance(sock, socket.socket)
        sock.shutdown(socket.SHUT_RDWR)


@pytest.fixture
def speaker(broker: Broker) -> Iterator[Speaker]:
    made = Speaker(address_of(broker))
    yield made
    made.link.stop(ENDED)


def test_what_is_said_is_kept_by_the_broker(broker: Broker, speaker: Speaker) -> None:
    speaker.start()
    with visiting(broker) as display:
        display.subscribe("house/#")
        assert speaker.link.publish("chamber/tub", "1")
        assert display.hear().payload == b"1"
    with visiting(broker) as late:
        late.subscribe("house/#")
        kept = late.hear()
        assert (kept.topic, kept.payload, kept.retain, kept.qos) == (STATE, b"1", True, 1)
        assert speaker.link.publish("chamber/tub", "")
        assert late.hear().payload == b""
    with visiting(broker) as later:
        later.subscribe("house/#")
        assert speaker.link.publish("chamber/tub", "2")
        assert later.hear().payload == b"2"


def test_last_will_and_farewell(broker: Broker, speaker: Speaker) -> None:
    with visiting(broker) as display:
        display.subscribe(STATUS)
        speaker.start()
        speaker.cut()
        assert display.hear().payload == LOST.encode()
        wait_until(lambda: speaker.link.connection() == 2, "it comes back as another one")
        speaker.link.publish("status", "here")
        assert display.hear().payload == b"here"
        speaker.link.stop(ENDED)
        assert display.hear().payload == ENDED.encode()
        assert speaker.link.connection() is None
        speaker.link.stop(ENDED)
    with visiting(broker) as late:
        late.subscribe(STATUS)
        assert late.hear().payload == ENDED.encode()


def test_it_does_not_disturb_the_one_that_takes_in(broker: Broker, speaker: Speaker) -> None:
    with bench_at(address_of(broker)) as bench, visiting(broker) as sensor:
        bench.start()
        wait_until(bench.link.listening, "the broker has agreed")
        speaker.start()
        for number in range(50):
            assert speaker.link.publish("chamber/tub", str(number))
            sensor.publish("tent/air", str(number))
        arrivals = bench.arrivals(50)
        bench.link.acknowledge(arrivals)
        assert bench.link._connections == 1
        assert speaker.link.connection() == 1


def test_nothing_is_taken_without_a_connection() -> None:
    speaker = Speaker(BrokerAddress(LOOPBACK, free_port()))
    speaker.link.start()
    assert speaker.link.connection() is None
    assert not speaker.link.publish("chamber/tub", "1")
    assert speaker.link.trouble() is None
    speaker.link.stop(ENDED)


def test_what_waits_has_an_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """A broker that takes the connection and then nothing: paho's queue fills up."""
    monkeypatch.setattr(out, "WAITING", 30)
    with ScriptedBroker([ACCEPTED], holds=True).running() as deaf:
        speaker = Speaker(address_of(deaf))
        speaker.start()
        taken = [speaker.link.publish("chamber/tub", str(n)) for n in range(100)]
        assert taken[0] is True
        assert taken[-1] is False
        monkeypatch.setattr(out, "FAREWELL_S", 0.1)
        speaker.link.stop(ENDED)


def test_a_refusal_is_told(caplog: pytest.LogCaptureFixture) -> None:
    with ScriptedBroker([CONNACK + b"\x02"]).running() as broker:
        speaker = Speaker(address_of(broker))
        speaker.link.start()
        wait_until(lambda: speaker.link.trouble() is not None, "it is told")
        speaker.link.stop(ENDED)
    assert "does not accept the name chamberwatch-out" in str(speaker.link.trouble())
    assert len(caplog.messages) == 1


@pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)
def test_where_it_may_not_speak_the_intake_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Mosquitto hangs up on who publishes where it may not."""
    monkeypatch.setattr(out, "REFUSED_AFTER", 2)
    acl = tmp_path / "acl"
    acl.write_text("user watch\ntopic read #\nuser sensor\ntopic write #\n")
    passwords = {"watch": "open sesame", "sensor": "drip drop"}
    broker = Mosquitto(tmp_path, passwords=passwords, more=f"\nacl_file {acl}\n")
    stopping = threading.Event()
    with broker.running(), visiting(broker, "sensor", "drip drop") as sensor:
        address = replace(address_of(broker), username="watch", password="open sesame")  # noqa: S106
        with bench_at(address) as bench:
            bench.start()
            wait_until(bench.link.listening, "the broker has agreed")
            speaker = Speaker(address)
            speaking = threading.Thread(target=_insist, args=(speaker, stopping))
            speaker.start()
            speaking.start()
            wait_until(lambda: bool(speaker.link._refused), "it is told")
            stopping.set()
            speaking.join()
            _take_in(bench, sensor)
            assert bench.link._connections == 1
            assert bench.link.trouble() is None
            assert "allow our user to write house/tent/#" in speaker.link._refused
            speaker.link.stop(ENDED)


def _insist(speaker: Speaker, stopping: threading.Event) -> None:
    while not stopping.wait(0.05):
        speaker.link.publish("status", "here")


def _take_in(bench: Bench, sensor: Client) -> None:
    sensor.publish("tent/air", "18")
    (arrival,) = bench.arrivals(1)
    bench.link.acknowledge([arrival])


def test_own_messages_are_no_sign_of_a_sensor(broker: Broker, speaker: Speaker) -> None:
    """With a filter that takes in everything they come back, and have to be acknowledged."""
    speaker.start()
    inbox: queue.Queue[Incoming] = queue.Queue()
    link = BrokerLink(address_of(broker), ["#"], inbox, HandClock(), OWN)
    link.start()
    try:
        wait_until(link.listening, "the broker has agreed")
        speaker.link.publish("status", "here")
        wait_until(lambda: inbox.qsize() == 2, "it comes back")
        assert link.last_message_s() is None
        with visiting(broker) as sensor:
            sensor.publish("tent/air", "18")
        wait_until(lambda: inbox.qsize() == 3, "a sensor is heard")
        assert link.last_message_s() is not None
    finally:
        link.stop()


@pytest.mark.parametrize(
    ("client_id", "own"),
    [
        pytest.param("chamberwatch", "chamberwatch-out", id="usual"),
        pytest.param("a" * 19, "a" * 19 + "-out", id="just short enough"),
        pytest.param("a" * 23, "aaaaaaaaaa-6e4cf508-out", id="long"),
    ],
)
def test_its_name(client_id: str, own: str) -> None:
    assert len(own_id(client_id)) <= 23
    assert own_id(client_id) == own
    assert own_id("a" * 22 + "b") != own_id("a" * 23)


def test_an_address_that_cannot_be_is_refused() -> None:
    with pytest.raises(BrokerError, match=r"mqtt\.host"):
        Speaker(BrokerAddress("tent..example", 1883))
