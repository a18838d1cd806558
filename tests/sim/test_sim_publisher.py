"""Reports as real messages."""

import socket

import pytest

from chamberwatch.core.errors import BrokerError
from chamberwatch.mqtt.trial import TrialBroker
from chamberwatch.sim import publisher
from chamberwatch.sim.publisher import Publisher
from chamberwatch.sim.show import Report
from tests.brokers import free_port
from tests.make import NOON


def test_everything_is_confirmed_however_much_it_is() -> None:
    with TrialBroker() as broker:
        sensor = Publisher("127.0.0.1", broker.port, "a-sensor", username="a", password="b")  # noqa: S106
        sensor.connect()
        for n in range(publisher.IN_FLIGHT * 2):
            sensor.publish(Report("tent/air", str(n).encode(), NOON, 1))
        sensor.drain(20)
        sensor.close()


def test_no_broker_is_one_line() -> None:
    with pytest.raises(BrokerError, match="can't be reached"):
        Publisher("127.0.0.1", free_port(), "a-sensor").connect()


def test_something_that_is_no_broker(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(publisher, "CONNECT_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        with pytest.raises(BrokerError, match="does not answer"):
            Publisher("127.0.0.1", port, "a-sensor").connect()


def test_a_broker_that_is_gone_confirms_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    with TrialBroker() as broker:
        sensor = Publisher("127.0.0.1", broker.port, "a-sensor")
        sensor.connect()
    sensor.publish(Report("tent/air", b"1", NOON, 1))
    with pytest.raises(BrokerError, match="does not confirm"):
        sensor.drain(0.2)
    sensor.close()
