"""The link on both real brokers."""

import logging
from dataclasses import dataclass
from datetime import datetime

import pytest

from chamberwatch.mqtt.broker import BrokerLink
from chamberwatch.service.ports import Acknowledger, Arrival, LinkUp
from tests.brokers import Broker, Mosquitto, visiting, wait_until
from tests.fakes import HandClock
from tests.make import NOON
from tests.mqtt.links import Bench, address_of, bench_at


def subscribed(bench: Bench) -> None:
    wait_until(lambda: bench.link._subscribed, "the broker agreed to the subscription")


def test_messages_arrive_stamped_and_in_order(broker: Broker, bench: Bench) -> None:
    assert not bench.link.connected()
    assert bench.link.last_message_s() is None
    assert bench.start() == LinkUp(1, resumed=False)
    subscribed(bench)
    assert bench.link.connected()
    assert bench.link.alive()
    assert bench.link.trouble() is None
    with visiting(broker) as sensor:
        for number in range(100):
            sensor.publish("tent/air", str(number))
    came = bench.arrivals(100)
    assert [a.payload for a in came] == [str(n).encode() for n in range(100)]
    first = came[0]
    assert (first.topic, first.qos, first.connection, first.retained) == ("tent/air", 1, 1, False)
    assert (first.wall, first.monotonic_s) == (NOON, 1000.0)
    assert bench.link.last_message_s() == 1000.0


def test_what_was_not_acknowledged_comes_again(broker: Broker, bench: Bench) -> None:
    bench.start()
    subscribed(bench)
    with visiting(broker) as sensor:
        for number in range(5):
            sensor.publish("tent/air", str(number))
        came = bench.arrivals(5)
        bench.link.acknowledge(came[:2])
        assert bench.restart().resumed
        sensor.publish("tent/air", "last")
        again = bench.arrivals(4)
    assert [a.payload for a in again] == [b"2", b"3", b"4", b"last"]
    bench.link.acknowledge(again)
    assert bench.restart().resumed
    with visiting(broker) as sensor:
        sensor.publish("tent/air", "the only one")
    assert bench.arrival().payload == b"the only one"


def test_the_session_is_kept_while_we_are_away(broker: Broker, bench: Bench) -> None:
    bench.start()
    subscribed(bench)
    bench.link.stop()
    with visiting(broker) as sensor:
        for number in range(500):
            sensor.client.publish("tent/air", str(number), qos=1)
        sensor.publish("tent/air", "500")
    bench.renew()
    assert bench.start() == LinkUp(1, resumed=True)
    for number in range(501):
        arrival = bench.arrival()
        assert arrival.payload == str(number).encode()
        bench.link.acknowledge([arrival])


def test_a_cut_connection_comes_back_and_old_acknowledgements_are_dropped(
    broker: Broker, bench: Bench
) -> None:
    bench.start()
    subscribed(bench)
    with visiting(broker) as sensor:
        sensor.publish("tent/air", "18")
    old = bench.arrival()
    bench.cut()
    assert bench.up() == LinkUp(2, resumed=True)
    new = bench.arrival()
    assert (old.payload, old.connection) == (b"18", 1)
    assert (new.payload, new.connection) == (b"18", 2)
    bench.link.acknowledge([old])
    bench.restart()
    third = bench.arrival()
    assert third.payload == b"18"
    bench.link.acknowledge([third])
    bench.restart()
    with visiting(broker) as sensor:
        sensor.publish("tent/air", "19")
    assert bench.arrival().payload == b"19"


def test_a_link_can_be_started_again_and_goes_on_counting(bench: Bench) -> None:
    assert bench.start() == LinkUp(1, resumed=False)
    bench.link.start()  # a second start changes nothing
    bench.link.stop()
    bench.link.stop()
    assert not bench.link.alive()
    assert not bench.link.connected()
    bench.link.start()
    assert bench.up() == LinkUp(2, resumed=True)


def test_qos_0_needs_no_acknowledgement(broker: Broker, bench: Bench) -> None:
    bench.start()
    subscribed(bench)
    with visiting(broker) as sensor:
        sensor.publish("tent/air", "18", qos=0)
        arrival = bench.arrival()
        # rumqttd, inside the trial broker, sends everything at the subscription's QoS.
        assert arrival.qos == (0 if isinstance(broker, Mosquitto) else 1)
        bench.link.acknowledge([arrival])
        sensor.publish("tent/air", "19")
        assert bench.arrival().payload == b"19"


def test_retained_messages_are_marked(broker: Broker, bench: Bench) -> None:
    with visiting(broker) as sensor:
        sensor.publish("tent/air", "17", retain=True)
        bench.start()
        old = bench.arrival()
        sensor.publish("tent/air", "18", retain=True)
        new = bench.arrival()
    assert (old.payload, old.retained) == (b"17", True)
    assert (new.payload, new.retained) == (b"18", False)


def test_changed_topics_take_effect_in_a_kept_session(broker: Broker, bench: Bench) -> None:
    bench.start()
    subscribed(bench)
    bench.topics = ("room/air",)
    assert bench.restart().resumed
    subscribed(bench)
    with visiting(broker) as sensor:
        sensor.publish("room/air", "21")
    assert bench.arrival().topic == "room/air"


@dataclass
class StumblingClock(HandClock):
    """A clock that can't be read for a while."""

    broken: bool = False
    stumbles: int = 0

    def now(self) -> datetime:
        if self.broken:
            self.stumbles += 1
            raise RuntimeError("no clock")
        return super().now()


def test_an_error_in_a_callback_does_not_end_the_link(
    broker: Broker, caplog: pytest.LogCaptureFixture
) -> None:
    clock = StumblingClock()
    with bench_at(address_of(broker), clock=clock) as bench, visiting(broker) as sensor:
        bench.start()
        subscribed(bench)
        clock.broken = True
        sensor.publish("tent/air", "1")
        sensor.publish("tent/air", "2")
        wait_until(lambda: clock.stumbles == 2, "both messages stumbled")
        clock.broken = False
        sensor.publish("tent/air", "3")
        assert bench.arrival().payload == b"3"
        assert bench.link.alive()
        assert bench.link.connected()
        told = [r.getMessage() for r in caplog.records if r.levelno == logging.ERROR]
        assert told == ["Could not take in what the broker said; it will be sent again."]
        bench.restart()
        assert [a.payload for a in bench.arrivals(3)] == [b"1", b"2", b"3"]


def test_a_full_inbox_makes_the_broker_send_again(
    broker: Broker, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chamberwatch.mqtt.broker.ROOM_S", 0.5)
    with bench_at(address_of(broker), room=3) as bench, visiting(broker) as sensor:
        bench.start()
        subscribed(bench)
        for number in range(10):
            sensor.publish("tent/air", str(number))
        wait_until(lambda: not bench.link.connected(), "the connection was given up")
        assert "faster than they can be stored" in str(bench.link.trouble())
        # It comes back and finds no room again, without another word.
        wait_until(lambda: bench.link._connections > 1, "a second connection")
        wait_until(lambda: not bench.link.connected(), "the second was given up as well")
        seen: list[bytes] = []
        while len(set(seen)) < 10:
            item = bench.inbox.get(timeout=20)
            if isinstance(item, Arrival):
                seen.append(item.payload)
                bench.link.acknowledge([item])
        assert list(dict.fromkeys(seen)) == [str(n).encode() for n in range(10)]
        told = [r for r in caplog.records if "faster than" in r.getMessage()]
        assert len(told) == 1


def test_stopping_is_quick_while_the_inbox_is_full(broker: Broker) -> None:
    with bench_at(address_of(broker), room=1) as bench, visiting(broker) as sensor:
        bench.link.start()
        wait_until(bench.inbox.full, "the inbox is full")
        subscribed(bench)
        sensor.publish("tent/air", "18")
        bench.link.stop()
        assert not bench.link.alive()
        assert bench.restart().resumed is True
        assert bench.arrival().payload == b"18"


def test_the_link_is_what_the_intake_needs(bench: Bench) -> None:
    acknowledger: Acknowledger = bench.link
    acknowledger.acknowledge([])
    assert isinstance(acknowledger, BrokerLink)
