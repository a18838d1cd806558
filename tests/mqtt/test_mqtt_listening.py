"""Hearing everything on real brokers, for as long as somebody looks."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.mqtt import listening
from chamberwatch.mqtt.listening import LEASE_S, PAYLOAD_AT_MOST, TOPICS_AT_MOST, OpenEar
from chamberwatch.mqtt.topics import OwnTopics
from chamberwatch.mqtt.troubles import BrokerAddress
from chamberwatch.service.listening import Heard
from chamberwatch.service.ports import Clock
from tests.brokers import (
    MOSQUITTO,
    NO_MOSQUITTO,
    Broker,
    Mosquitto,
    free_port,
    visiting,
    wait_until,
)
from tests.fakes import HandClock
from tests.mqtt.links import ACCEPTED, ScriptedBroker, address_of

OWN = OwnTopics("chamberwatch")
SUBACK_REFUSED = b"\x90\x03\x00\x01\x80"


class Turned(HandClock):
    """A clock that only the test turns, while another thread waits on it."""

    def wait(self, event: threading.Event, seconds: float) -> bool:
        del seconds
        return event.wait(0.02)


@contextmanager
def open_ear(address: BrokerAddress, clock: Clock | None = None) -> Iterator[OpenEar]:
    ear = OpenEar(address, OWN, clock or WallClock())
    try:
        yield ear
    finally:
        ear.stop()


def listens(ear: OpenEar) -> bool:
    return ear.hear().since is not None


def hears(ear: OpenEar, topic: str) -> Callable[[], bool]:
    return lambda: topic in [each.topic for each in ear.hear().heard]


def by_topic(ear: OpenEar) -> dict[str, Heard]:
    return {each.topic: each for each in ear.hear().heard}


def test_everything_but_our_own(broker: Broker) -> None:
    with visiting(broker) as visitor, open_ear(address_of(broker)) as ear:
        visitor.publish("old/thing", "17", retain=True)
        wait_until(lambda: listens(ear), "it listens")
        for topic in ("chamberwatch/status", "chamberwatch/chamber/tent", "garden/2", "garden/2"):
            visitor.publish(topic, '{"temp": 17.9}')
        visitor.publish("garden/last", "x" * (PAYLOAD_AT_MOST + 1))
        wait_until(hears(ear, "garden/last"), "the last one")
        heard = by_topic(ear)
        assert list(heard) == ["garden/2", "garden/last", "old/thing"]
        assert (heard["garden/2"].count, heard["garden/2"].payload) == (2, b'{"temp": 17.9}')
        assert heard["garden/2"].every_s is not None
        assert heard["garden/2"].first <= heard["garden/2"].last
        assert (heard["old/thing"].old, heard["old/thing"].count) == (True, 0)
        assert (heard["garden/last"].size, heard["garden/last"].whole) == (8193, False)
        assert len(heard["garden/last"].payload) == PAYLOAD_AT_MOST
        visitor.publish("old/thing", "18")
        wait_until(lambda: not by_topic(ear)["old/thing"].old, "news of the old one")
        assert by_topic(ear)["old/thing"].every_s is None


def test_it_takes_leave_when_nobody_looks(broker: Broker) -> None:
    clock = Turned()
    with visiting(broker) as visitor, open_ear(address_of(broker), clock) as ear:
        wait_until(lambda: listens(ear), "it listens")
        visitor.publish("garden/2", "17")
        wait_until(hears(ear, "garden/2"), "the message")
        clock.turn(seconds=LEASE_S - 1)
        ear.hear()
        clock.turn(seconds=LEASE_S - 1)
        assert ear.listening()
        clock.turn(seconds=2)
        wait_until(lambda: not ear.listening(), "it has left")
        # Whoever looks again begins anew.
        again = ear.hear()
        assert (again.heard, again.since) == ((), None)
        wait_until(lambda: listens(ear), "it listens again")


def test_only_so_much_is_kept_and_what_speaks_now_comes_first(
    broker: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(listening, "TOPICS_AT_MOST", 3)
    with visiting(broker) as visitor, open_ear(address_of(broker)) as ear:
        for n in range(5):
            visitor.publish(f"kept/{n}", "17", retain=True)
        wait_until(lambda: ear.hear().left_out == 2, "two have no room")
        assert len(ear.hear().heard) == 3
        for n in range(3):
            visitor.publish(f"alive/{n}", "17")
        wait_until(hears(ear, "alive/2"), "the last one")
        assert [each.topic for each in ear.hear().heard] == ["alive/0", "alive/1", "alive/2"]
        visitor.publish("alive/3", "17")
        visitor.publish("t/" + "x" * 500, "17")
        wait_until(lambda: ear.hear().left_out == 7, "no room for more")
        for n in range(5):
            visitor.publish(f"kept/{n}", "", retain=True)


def test_the_usual_room_is_bounded() -> None:
    assert TOPICS_AT_MOST * PAYLOAD_AT_MOST <= 5 * 1024 * 1024


# ------------------------------------------------------------------ what can be in the way


def test_no_broker() -> None:
    with open_ear(BrokerAddress("127.0.0.1", free_port())) as ear:
        wait_until(lambda: ear.hear().trouble is not None, "it says so")
        assert "nothing listens there" in str(ear.hear().trouble)
        assert ear.hear().since is None


def test_an_address_that_can_be_none() -> None:
    with open_ear(BrokerAddress("a" * 70 + ".example", 1883)) as ear:
        assert "can't be a host" in str(ear.hear().trouble)
        assert not ear.listening()


@pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)
def test_a_wrong_password(tmp_path: Path) -> None:
    with Mosquitto(tmp_path, passwords={"tent": "right"}).running() as broker:
        address = BrokerAddress(broker.host, broker.port, "tent", "wrong")
        with open_ear(address) as ear:
            wait_until(lambda: ear.hear().trouble is not None, "it says so")
            assert "mqtt.username" in str(ear.hear().trouble)


def test_a_broker_that_does_not_let_us_read_everything() -> None:
    scripted = ScriptedBroker((ACCEPTED, SUBACK_REFUSED), holds=True)
    with scripted.running():
        address = BrokerAddress(scripted.host, scripted.port, "tent", "x")
        with open_ear(address) as ear:
            wait_until(lambda: ear.hear().trouble is not None, "it says so")
            assert "Allow this user to read # there" in str(ear.hear().trouble)
            assert "lets tent read" in str(ear.hear().trouble)


@pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)
def test_a_broker_that_goes_and_comes_back(tmp_path: Path) -> None:
    mosquitto = Mosquitto(tmp_path)
    mosquitto.start()
    with open_ear(address_of(mosquitto)) as ear:
        wait_until(lambda: listens(ear), "it listens")
        mosquitto.stop()
        wait_until(lambda: ear.hear().trouble is not None, "it says so")
        mosquitto.start()
        try:
            wait_until(lambda: listens(ear), "it listens again")
            assert ear.hear().trouble is None
        finally:
            mosquitto.stop()


def test_stopped_before_it_began() -> None:
    ear = OpenEar(BrokerAddress("127.0.0.1", 1), OWN, HandClock())
    ear.stop()
    assert not ear.listening()
