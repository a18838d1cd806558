"""What the link says when the broker can't be reached or says no."""

import logging
import socket
import ssl
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from chamberwatch.core.errors import BrokerError
from chamberwatch.mqtt import troubles
from chamberwatch.mqtt.broker import BrokerAddress, BrokerLink
from tests.brokers import LOOPBACK, MOSQUITTO, NO_MOSQUITTO, Mosquitto, free_port, wait_until
from tests.mqtt.links import (
    ACCEPTED,
    CONNACK,
    Bench,
    ScriptedBroker,
    address_of,
    bench_at,
)

RIGHT = "open sesame"
WRONG = "drip drop"
HOME = BrokerAddress("tent.example", 1883, client_id="watch")
# paho leaves the socket of a failed TLS handshake to the garbage collector.
unclosed = pytest.mark.filterwarnings("ignore:unclosed:ResourceWarning")
with_mosquitto = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)


def trouble(bench: Bench, part: str) -> str:
    """Wait for a trouble that says this; return it."""
    wait_until(lambda: part in (bench.link.trouble() or ""), f"a trouble that says {part!r}")
    assert bench.link.alive()
    return str(bench.link.trouble())


# ------------------------------------------------------------------ words


@pytest.mark.parametrize(
    ("error", "part"),
    [
        pytest.param(socket.gaierror(-2, "?"), "tent.example is not known", id="name"),
        pytest.param(ConnectionRefusedError(), "nothing listens there", id="refused"),
        pytest.param(TimeoutError("timed out"), "switched on", id="silent"),
        pytest.param(ssl.SSLError(1, "wrong version"), "does not answer in TLS", id="no tls"),
        pytest.param(ConnectionResetError(), "mqtt.port and mqtt.tls", id="reset"),
        pytest.param(OSError(113, "No route to host"), "No route to host", id="no route"),
    ],
)
def test_why_no_connection_came_about(error: OSError, part: str) -> None:
    words = troubles.of_connecting(error, HOME)
    assert words.startswith("Can't reach the broker at tent.example:1883: ")
    assert part in words


@pytest.mark.parametrize(
    ("code", "part"),
    [
        pytest.param(1, "does not speak MQTT", id="protocol"),
        pytest.param(2, "name chamberwatch", id="client id"),
        pytest.param(3, "not ready", id="unavailable"),
        pytest.param(4, "refuses the user name or password", id="password"),
        pytest.param(5, "does not let us in", id="not authorised"),
    ],
)
def test_each_refusal_has_its_words(code: int, part: str) -> None:
    """Return codes of MQTT 3.1.1, table 3.1."""
    with (
        ScriptedBroker([CONNACK + bytes([code])] * 2).running() as broker,
        bench_at(address_of(broker)) as bench,
    ):
        bench.link.start()
        if code == 1:  # paho then tries the older protocol, and is refused once more
            wait_until(lambda: broker.connections > 1, "a second try")
        words = trouble(bench, part)
        assert f"The broker at 127.0.0.1:{broker.port}" in words
        assert not bench.link.connected()


def test_an_unknown_refusal_is_passed_on() -> None:
    assert "(Banned); look at the broker's log" in troubles.of_answer(138, "Banned", HOME)


@pytest.mark.parametrize(
    ("host", "shown"),
    [
        pytest.param("tent.example", "tent.example:1883", id="name"),
        pytest.param("fd00::1", "[fd00::1]:1883", id="ipv6"),
    ],
)
def test_addresses_read_as_usual(host: str, shown: str) -> None:
    assert str(replace(HOME, host=host)) == shown


def test_an_address_never_shows_its_password() -> None:
    assert WRONG not in repr(replace(HOME, password=WRONG))


# ------------------------------------------------------------------ on the wire


def test_a_broker_that_is_not_there_is_told_once_and_found_later(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    if MOSQUITTO is None:
        pytest.skip(NO_MOSQUITTO)
    caplog.set_level(logging.INFO)
    late = Mosquitto(tmp_path, free_port())
    with bench_at(address_of(late)) as bench:
        bench.link.start()
        trouble(bench, "nothing listens there")
        assert not bench.link.connected()
        with late.running():
            bench.up()
            assert bench.link.connected()
            assert bench.link.trouble() is None
        trouble(bench, "nothing listens there")
    told = [r.getMessage() for r in caplog.records if r.name.startswith("chamberwatch")]
    assert [line.split(" ")[0] for line in told] == ["Can't", "Connected", "The", "Can't"]
    assert "was lost; trying again" in told[2]


def test_a_name_that_is_not_known() -> None:
    with bench_at(BrokerAddress("no-such-broker.invalid", 1883)) as bench:
        bench.link.start()
        trouble(bench, "is not known on this network")


def test_a_broker_that_hangs_up_without_a_word() -> None:
    with ScriptedBroker([b""]).running() as broker, bench_at(address_of(broker)) as bench:
        bench.link.start()
        trouble(bench, "hung up without an answer")


def test_a_subscription_that_is_refused() -> None:
    told = ScriptedBroker([ACCEPTED, b"\x90\x03\x00\x01\x80"], holds=True)
    with told.running() as broker, bench_at(address_of(broker)) as bench:
        bench.start()
        trouble(bench, "does not let us read tent/#")
        assert bench.link.connected()


def test_no_topics_are_no_subscription() -> None:
    told = ScriptedBroker([ACCEPTED], holds=True)
    with told.running() as broker, bench_at(address_of(broker), topics=()) as bench:
        bench.start()
        assert bench.link.connected()


@with_mosquitto
def test_a_wrong_password_is_told_and_never_written(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    with Mosquitto(tmp_path, passwords={"daemon": RIGHT}).running() as broker:
        wrong = replace(address_of(broker), username="daemon", password=WRONG)
        with bench_at(wrong) as bench:
            bench.link.start()
            trouble(bench, "CHAMBERWATCH_MQTT_PASSWORD")
            assert not bench.link.connected()
        with bench_at(replace(wrong, password=RIGHT)) as bench:
            bench.start()
            assert bench.link.connected()
    assert WRONG not in caplog.text


# ------------------------------------------------------------------ TLS


@pytest.fixture
def certificate(tmp_path: Path) -> Path:
    """A certificate for the loopback address that vouches for itself."""
    made = tmp_path / "broker.crt"
    what = ["req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=tent"]
    where = ["-keyout", str(tmp_path / "broker.key"), "-out", str(made)]
    names = ["-addext", f"subjectAltName=IP:{LOOPBACK}"]
    subprocess.run(["openssl", *what, *where, *names], check=True, capture_output=True)
    return made


@pytest.fixture
def tls_broker(tmp_path: Path, certificate: Path) -> Iterator[Mosquitto]:
    if MOSQUITTO is None:
        pytest.skip(NO_MOSQUITTO)
    lines = f"certfile {certificate}\nkeyfile {tmp_path / 'broker.key'}\n"
    with Mosquitto(tmp_path, more=lines).running() as broker:
        yield broker


def test_tls_with_a_certificate_of_the_house(tls_broker: Mosquitto, certificate: Path) -> None:
    address = replace(address_of(tls_broker), tls=True, ca_file=str(certificate))
    with bench_at(address) as bench:
        bench.start()
        assert bench.link.connected()


@unclosed
def test_a_certificate_nobody_vouches_for(tls_broker: Mosquitto) -> None:
    with bench_at(replace(address_of(tls_broker), tls=True)) as bench:
        bench.link.start()
        trouble(bench, "name its authority in mqtt.ca_file")
        assert not bench.link.connected()


@unclosed
@with_mosquitto
def test_tls_where_none_is_spoken(tmp_path: Path) -> None:
    with (
        Mosquitto(tmp_path).running() as broker,
        bench_at(replace(address_of(broker), tls=True)) as bench,
    ):
        bench.link.start()
        trouble(bench, "mqtt.tls")


@pytest.mark.parametrize("content", [None, "no certificate"])
def test_certificates_that_cannot_be_read(tmp_path: Path, content: str | None) -> None:
    place = tmp_path / "ca.crt"
    if content is not None:
        place.write_text(content)
    with bench_at(replace(HOME, tls=True, ca_file=str(place))) as bench:
        with pytest.raises(BrokerError, match=r"correct mqtt\.ca_file"):
            bench.link.start()
        assert not bench.link.alive()


# ------------------------------------------------------------------ refused at once


@pytest.mark.parametrize(
    ("host", "topics", "part"),
    [
        pytest.param("tent.example", ["tent/#/air"], "last level", id="topic"),
        pytest.param("tent..example", ["tent/#"], "mqtt.host", id="host"),
    ],
)
def test_what_cannot_be_is_refused(host: str, topics: list[str], part: str) -> None:
    with pytest.raises(BrokerError, match=part):
        Bench(replace(HOME, host=host), topics)


def test_acknowledging_without_a_connection_does_nothing() -> None:
    link: BrokerLink = Bench(HOME).link
    link.acknowledge([])
    assert link.trouble() is None
