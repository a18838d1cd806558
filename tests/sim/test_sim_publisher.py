"""Reports over a real broker: all of them arrive, and what can't be sent is said."""

import json
import queue
import socket
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from chamberwatch.core.errors import BrokerError, RefusedError
from chamberwatch.mqtt.trial import TrialBroker
from chamberwatch.sim import publisher as module
from chamberwatch.sim.publisher import Publisher
from chamberwatch.sim.show import Report, reports
from tests.brokers import MOSQUITTO, NO_MOSQUITTO, Mosquitto, free_port

START: Final = datetime(2026, 1, 12, 14, tzinfo=UTC)
DEADLINE_S: Final = 20.0


@pytest.fixture(scope="module")
def broker() -> Iterator[TrialBroker]:
    with TrialBroker() as trial:
        yield trial


@pytest.fixture
def heard(broker: TrialBroker) -> Iterator["queue.Queue[tuple[str, bytes]]"]:
    """What a subscriber of everything receives."""
    box: queue.Queue[tuple[str, bytes]] = queue.Queue()
    ready = threading.Event()
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id="listener")
    client.on_connect = lambda link, *_: link.subscribe("#", qos=1)
    client.on_subscribe = lambda *_: ready.set()
    client.on_message = lambda _c, _d, message: box.put((message.topic, bytes(message.payload)))
    client.connect(broker.host, broker.port)
    client.loop_start()
    assert ready.wait(DEADLINE_S)
    yield box
    client.disconnect()
    client.loop_stop()


@pytest.fixture
def publisher(broker: TrialBroker) -> Iterator[Publisher]:
    made = Publisher(broker.host, broker.port, client_id="simulated")
    made.connect()
    yield made
    made.close()


def test_every_report_arrives_in_order(
    publisher: Publisher, heard: "queue.Queue[tuple[str, bytes]]"
) -> None:
    told = list(reports(1, START, START + timedelta(hours=8), timedelta(minutes=1)))
    assert len(told) > 2 * module.IN_FLIGHT, "more than fit on the way at once"
    for report in told:
        publisher.publish(report)
    publisher.drain(DEADLINE_S)
    arrived = [heard.get(timeout=DEADLINE_S) for _ in told]
    assert arrived == [(report.topic, report.payload) for report in told]
    assert json.loads(arrived[0][1])["humidity"] > 0


def test_never_more_on_the_way_than_can_be_held(
    publisher: Publisher, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "IN_FLIGHT", 5)
    for report in reports(1, START, START + timedelta(minutes=10), timedelta(minutes=1)):
        publisher.publish(report)
        assert len(publisher._waiting) <= 5
    publisher.drain(DEADLINE_S)
    assert not publisher._waiting


@pytest.mark.parametrize("topic", ["tent/+", "#", ""])
def test_a_topic_that_takes_nothing_is_refused(publisher: Publisher, topic: str) -> None:
    with pytest.raises(RefusedError, match="without \\+ and #"):
        publisher.publish(Report(topic, b"{}", START, 0))


def test_nobody_listens() -> None:
    port = free_port()
    with pytest.raises(BrokerError, match=f"127.0.0.1:{port} can't be reached"):
        Publisher("127.0.0.1", port, client_id="simulated").connect()


def test_what_listens_is_no_broker(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CONNECT_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as mute:
        port = mute.getsockname()[1]
        with pytest.raises(BrokerError, match="does not answer"):
            Publisher("127.0.0.1", port, client_id="simulated").connect()


def test_a_broker_that_goes_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    with TrialBroker() as trial:
        made = Publisher(trial.host, trial.port, client_id="simulated")
        made.connect()
        monkeypatch.setattr(module, "CONNECT_S", 1.0)
        trial.stop()
        made.publish(Report("tent/middle", b"{}", START, 0))
        with pytest.raises(BrokerError, match="does not confirm"):
            made.drain(0.2)
        made.close()


@pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)
def test_a_password_is_asked_for(tmp_path: Path) -> None:
    right, wrong = "sesame", "barley"
    with Mosquitto(tmp_path, passwords={"sensor": right}).running() as guarded:
        for password in (right, wrong):
            made = Publisher(
                guarded.host, guarded.port, client_id="a", username="sensor", password=password
            )
            if password == right:
                made.connect()
                made.close()
            else:
                with pytest.raises(BrokerError, match="Look at the password"):
                    made.connect()
