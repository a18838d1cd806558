"""The two real brokers, and a link to them."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from chamberwatch.mqtt.trial import TrialBroker
from tests.brokers import MOSQUITTO, NO_MOSQUITTO, Broker, Mosquitto
from tests.mqtt.links import Bench, address_of, bench_at


@pytest.fixture(params=["mosquitto", "trial"])
def broker(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Broker]:
    """Each of the brokers that chamberwatch is used with."""
    if request.param == "trial":
        with TrialBroker() as trial:
            yield trial
    elif MOSQUITTO is None:
        pytest.skip(NO_MOSQUITTO)
    else:
        with Mosquitto(tmp_path).running() as mosquitto:
            yield mosquitto


@pytest.fixture
def bench(broker: Broker) -> Iterator[Bench]:
    with bench_at(address_of(broker)) as made:
        yield made
