import signal
import subprocess
import sys
from pathlib import Path

import pytest

from chamberwatch.core.errors import BrokerError
from chamberwatch.mqtt.trial import TrialBroker
from tests.brokers import LOOPBACK, free_port, listens, visiting, wait_until

OWNER = """
import sys
from chamberwatch.mqtt.trial import TrialBroker
with TrialBroker() as broker:
    print(broker.port, flush=True)
    sys.stdin.read()
"""


def test_it_serves_and_leaves_nothing_behind() -> None:
    with TrialBroker() as broker:
        assert broker.host == LOOPBACK
        with visiting(broker) as one:
            one.subscribe("tent/air")
            one.publish("tent/air", "18")
            assert one.hear().payload == b"18"
        process = broker._broker._process
    assert process.poll() is not None
    assert not listens(broker.port)
    broker.stop()


def test_it_listens_on_this_machine_only() -> None:
    """Ask the kernel which addresses are bound to its port (Linux)."""
    with TrialBroker() as broker:
        rows = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
        bound = [row[1].split(":") for row in rows if row[3] == "0A"]
        assert [address for address, port in bound if int(port, 16) == broker.port] == ["0100007F"]


def test_a_port_may_be_chosen() -> None:
    port = free_port()
    with TrialBroker(port) as broker:
        assert broker.port == port
        assert listens(port)


def test_a_port_that_is_taken_is_told() -> None:
    with TrialBroker() as first, pytest.raises(BrokerError, match=f"Port {first.port} .* taken"):
        TrialBroker(first.port).__enter__()


def test_a_free_port_that_somebody_else_took_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    with TrialBroker() as first:
        free = iter([first.port, free_port()])
        monkeypatch.setattr("chamberwatch.mqtt.trial._free_port", lambda: next(free))
        with TrialBroker() as second:
            assert second.port != first.port
            assert listens(second.port)


def test_without_the_extra_it_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "iotcore", None)
    with pytest.raises(BrokerError, match=r"pip install 'chamberwatch\[broker\]'"):
        TrialBroker().__enter__()


@pytest.mark.filterwarnings("ignore:unclosed:ResourceWarning")  # its pipe, left by iotcore
def test_a_broker_that_does_not_come_up_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.executable", "/bin/false")
    with pytest.raises(BrokerError, match="does not start"):
        TrialBroker().__enter__()


def test_it_ends_with_its_owner_whatever_that_dies_of() -> None:
    owner = subprocess.Popen(
        [sys.executable, "-c", OWNER], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert owner.stdin is not None
    assert owner.stdout is not None
    with owner.stdin, owner.stdout:
        port = int(owner.stdout.readline())
        assert listens(port)
        owner.send_signal(signal.SIGKILL)
        owner.wait(20)
        wait_until(lambda: not listens(port), "the broker ended with its owner")
