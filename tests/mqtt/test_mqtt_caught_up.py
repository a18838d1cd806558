"""The end of what waited at the broker is marked by a message of our own behind it.

MQTT 3.1.1 (section 4.6) asks of a broker that it keeps the order within a topic; mosquitto keeps
it over all topics of a client, and this is about that.
"""

import itertools
import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import paho.mqtt.client as paho
import pytest

from chamberwatch.clock import WallClock
from chamberwatch.mqtt.out import OutLink
from chamberwatch.mqtt.topics import OwnTopics
from chamberwatch.service.ports import Arrival, CaughtUp, LinkUp
from tests.brokers import (
    DEADLINE_S,
    MOSQUITTO,
    NO_MOSQUITTO,
    Broker,
    Mosquitto,
    beside,
    visiting,
    wait_until,
)
from tests.mqtt.links import ACCEPTED, Bench, ScriptedBroker, address_of, bench_at

OWN = OwnTopics("house/tent")
MARK = "house/tent/caught-up"


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    if MOSQUITTO is None:
        pytest.skip(NO_MOSQUITTO)
    with Mosquitto(tmp_path).running() as running:
        yield running


@pytest.fixture
def speaker(broker: Broker) -> Iterator[OutLink]:
    made = OutLink(address_of(broker), OWN, "{}", WallClock())
    yield made
    made.stop()


@pytest.fixture
def bench(broker: Broker, speaker: OutLink) -> Iterator[Bench]:
    """Have a link whose session the broker keeps already."""
    with bench_at(address_of(broker), own=OWN, mark=speaker.mark) as made:
        assert made.start() == LinkUp(1, resumed=False)
        wait_until(made.link.listening, "the broker has agreed")
        made.link.stop()
        yield made


def speaking_on(broker: Broker, first: int) -> AbstractContextManager[None]:
    """Have a sensor speak every few milliseconds, numbers that go on from one."""

    def speak(stopping: threading.Event) -> None:
        with visiting(broker) as sensor:
            for number in itertools.count(first):
                if stopping.wait(0.003):
                    return
                sensor.client.publish("tent/air", str(number), qos=1)

    return beside(speak)


def numbers_until_the_end(bench: Bench) -> list[int]:
    """Take in, acknowledge a window at a time, and return what came before the end."""
    numbers, waiting = list[int](), list[Arrival]()
    while not isinstance(item := bench.inbox.get(timeout=DEADLINE_S), CaughtUp):
        assert isinstance(item, Arrival), item
        waiting.append(item)
        if item.topic == "tent/air":
            numbers.append(int(item.payload))
        if len(waiting) == 15:
            bench.link.acknowledge(waiting)
            waiting.clear()
    bench.link.acknowledge(waiting)
    return numbers


@pytest.mark.parametrize("first", ["speaker", "link"])
def test_it_comes_behind_all_that_waited(
    broker: Broker, bench: Bench, speaker: OutLink, first: str
) -> None:
    """Other messages never pause, so that no silence could tell the end."""
    with visiting(broker) as sensor:
        for number in range(3000):
            sensor.client.publish("tent/air", str(number), qos=1)
        sensor.publish("tent/air", "3000")
    bench.renew()
    if first == "speaker":
        speaker.start()
        wait_until(lambda: speaker.connection() is not None, "the speaker is connected")
    with speaking_on(broker, 3001):
        assert bench.start() == LinkUp(1, resumed=True, end_told=True)
        if first == "link":
            speaker.start()
        numbers = numbers_until_the_end(bench)
        assert numbers == list(range(len(numbers)))
        assert len(numbers) > 3000
        # What came behind it was sent after the connection stood: there is nothing old in it.
        after = bench.arrival()
    assert (after.topic, int(after.payload)) == ("tent/air", len(numbers))


def test_it_is_heard_in_a_session_that_did_not_know_of_it(
    broker: Broker, speaker: OutLink
) -> None:
    """As after an upgrade, or once the first sensor is claimed: it waits to be subscribed to."""
    subscribed = list[bool]()

    def mark(body: str) -> bool:
        subscribed.append(made.link.listening())
        return speaker.mark(body)

    speaker.start()
    wait_until(lambda: speaker.connection() is not None, "the speaker is connected")
    with bench_at(address_of(broker), topics=()) as before:
        before.start()
    with bench_at(address_of(broker), own=OWN, mark=mark) as made:
        assert made.start() == LinkUp(1, resumed=True, end_told=True)
        assert made.arrival().topic == MARK
        assert isinstance(made.inbox.get(timeout=DEADLINE_S), CaughtUp)
        made.cut()
        assert made.up() == LinkUp(2, resumed=True, end_told=True)
    assert subscribed == [True, True]


def test_marks_that_are_not_of_this_connection_mean_nothing(
    broker: Broker, bench: Bench, speaker: OutLink
) -> None:
    speaker.start()
    wait_until(lambda: speaker.connection() is not None, "the speaker is connected")
    other = '{"run": "0123456789ab", "connection": 1}'
    with visiting(broker) as sensor:
        sensor.publish(MARK, other)
        sensor.publish("tent/air", "1")
    bench.renew()
    assert bench.start().end_told
    foreign = bench.arrival()
    assert (foreign.topic, foreign.payload.decode()) == (MARK, other)
    assert bench.arrival().payload == b"1"
    ours = bench.arrival()
    assert ours.topic == MARK
    assert isinstance(bench.inbox.get(timeout=DEADLINE_S), CaughtUp)
    # The same again, on the next connection, is an old one: it was not acknowledged.
    bench.cut()
    assert bench.up() == LinkUp(2, resumed=True, end_told=True)
    again = bench.arrivals(3)
    assert [each.payload for each in again] == [foreign.payload, b"1", ours.payload]
    newest = bench.arrival()
    assert (newest.topic, newest.payload != ours.payload) == (MARK, True)
    assert isinstance(bench.inbox.get(timeout=DEADLINE_S), CaughtUp)


def test_nothing_is_promised_where_nothing_is_said(broker: Broker) -> None:
    with bench_at(address_of(broker), mark=lambda _: True) as bench:
        bench.start()
        wait_until(bench.link.listening, "the broker has agreed")
        assert bench.restart() == LinkUp(1, resumed=True)


def test_where_the_mark_may_not_be_read_it_is_not_waited_for() -> None:
    resumed, allowed_but_the_mark = b"\x20\x02\x01\x00", b"\x90\x04\x00\x01\x01\x80"
    refused = ScriptedBroker([resumed, allowed_but_the_mark], holds=True)
    with (
        refused.running() as broker,
        bench_at(address_of(broker), own=OWN, mark=lambda _: True) as bench,
    ):
        assert bench.start() == LinkUp(1, resumed=True, end_told=True)
        assert bench.up() == LinkUp(1, resumed=True)
        wait_until(bench.link.listening, "the broker has agreed")
        assert bench.link.trouble() is None
        bench.cut()
        assert bench.up() == LinkUp(2, resumed=True)


def test_a_mark_without_room_is_said_once_there_is_some(monkeypatch: pytest.MonkeyPatch) -> None:
    """After a reconnection all is said anew, and the client's queue may be full of it."""
    with ScriptedBroker([ACCEPTED], holds=True).running() as broker:
        speaker = OutLink(address_of(broker), OWN, "{}", WallClock())
        speaker.start()
        wait_until(lambda: speaker.connection() is not None, "the speaker is connected")
        said = list[str]()
        answers = [paho.MQTT_ERR_QUEUE_SIZE, paho.MQTT_ERR_SUCCESS, paho.MQTT_ERR_SUCCESS]

        def publish(topic: str, *_: object, **__: object) -> paho.MQTTMessageInfo:
            said.append(topic)
            sent = paho.MQTTMessageInfo(1)
            sent.rc = answers[len(said) - 1]
            return sent

        monkeypatch.setattr(speaker._client, "publish", publish)
        assert speaker.mark("{}")
        assert speaker.publish("status", "{}")
        assert said == [MARK, MARK, "house/tent/status"]
        speaker.stop()
