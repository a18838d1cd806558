"""A knock at the door of a real broker, and at doors where nobody opens."""

from dataclasses import replace
from pathlib import Path

import pytest

from chamberwatch.mqtt.broker import BrokerAddress
from chamberwatch.mqtt.probing import CLIENT_ID, knock
from chamberwatch.mqtt.troubles import PASSWORD
from tests.brokers import LOOPBACK, MOSQUITTO, NO_MOSQUITTO, Broker, Mosquitto, free_port
from tests.mqtt.links import ScriptedBroker, address_of, bench_at


def test_it_lets_us_in_and_the_daemon_stays(broker: Broker) -> None:
    with bench_at(address_of(broker)) as bench:
        bench.start()
        assert knock(address_of(broker), 5.0) is None
        assert bench.link.connected()
        assert bench.link._connections == 1


@pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)
def test_a_wrong_password(tmp_path: Path) -> None:
    with Mosquitto(tmp_path, passwords={"watch": "open sesame"}).running() as broker:
        entering = replace(address_of(broker), username="watch", password="open sesame")  # noqa: S106
        assert knock(entering, 5.0) is None
        said = knock(replace(entering, password="guess"), 5.0)  # noqa: S106
    assert said is not None
    assert f"mqtt.username and {PASSWORD}" in said or "check mqtt.username" in said
    assert "guess" not in said


@pytest.mark.parametrize(
    ("address", "part"),
    [
        pytest.param(BrokerAddress(LOOPBACK, free_port()), "nothing listens there", id="nobody"),
        pytest.param(BrokerAddress("tent..example", 1883), "mqtt.host", id="no host"),
        pytest.param(
            BrokerAddress(LOOPBACK, 1, tls=True, ca_file="/nowhere.pem"), "mqtt.ca_file", id="TLS"
        ),
    ],
)
def test_a_door_that_does_not_open(address: BrokerAddress, part: str) -> None:
    assert part in str(knock(address, 5.0))


def test_one_that_does_not_answer() -> None:
    with ScriptedBroker([], holds=True).running() as silent:
        assert "does not answer" in str(knock(address_of(silent), 0.3))


def test_one_that_hangs_up() -> None:
    with ScriptedBroker([]).running() as rude:
        assert "hung up" in str(knock(address_of(rude), 5.0))


def test_its_name_is_none_that_a_daemon_has() -> None:
    assert BrokerAddress(LOOPBACK, 1).client_id != CLIENT_ID
