"""The real broker with the shipped settings, included into Debian's own as on a Pi."""

import re
import shutil
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from tests.brokers import MOSQUITTO, NO_MOSQUITTO, end, free_port
from tests.deploy.shell import CHECKOUT

PASSWORDS: Final = {
    "chamberwatch": "open sesame",
    "sensor": "drip drop",
    "display": "look only",
    "wired": "hum",
}
WAIT_S: Final = 20.0

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

# What Debian's /etc/mosquitto/mosquitto.conf says, with places of the test.
DEBIANS: Final = """
pid_file {folder}/mosquitto.pid
persistence true
persistence_location {folder}/kept/
log_dest stderr
include_dir {folder}/conf.d
"""


@dataclass
class Mosquitto:
    """The broker in a folder of its own; what it keeps outlives its process."""

    folder: Path
    port: int

    def __post_init__(self) -> None:
        self.folder.joinpath("conf.d").mkdir()
        self.folder.joinpath("kept").mkdir()
        conf = (CHECKOUT / "deploy/broker.conf").read_text()
        conf = re.sub(r"(?m)^listener 1883$", f"listener {self.port} 127.0.0.1", conf)
        conf = conf.replace("/etc/mosquitto/chamberwatch", f"{self.folder}/chamberwatch")
        shutil.copy(CHECKOUT / "deploy/broker.acl", self.folder / "chamberwatch.acl")
        passwords = self.folder / "chamberwatch.passwd"
        passwords.write_text("".join(f"{who}:{what}\n" for who, what in PASSWORDS.items()))
        subprocess.run(["mosquitto_passwd", "-U", str(passwords)], check=True)
        self.folder.joinpath("conf.d", "chamberwatch.conf").write_text(conf)
        # As root it would become the user mosquitto, who may not write into the test's folder.
        whole = DEBIANS.format(folder=self.folder) + "user root\n"
        self.folder.joinpath("mosquitto.conf").write_text(whole)

    @contextmanager
    def running(self) -> Iterator[str]:
        """Run until the block is left; yield what it said while starting."""
        process = subprocess.Popen(
            [str(MOSQUITTO), "-c", str(self.folder / "mosquitto.conf")],
            stderr=subprocess.PIPE,
            text=True,
        )
        assert process.stderr is not None
        said = ""
        for line in process.stderr:
            said += line
            if line.rstrip().endswith("running"):
                break
        drain = threading.Thread(target=process.stderr.read)
        drain.start()
        try:
            assert process.poll() is None, said
            yield said
        finally:
            end(process)
            drain.join(WAIT_S)
            process.stderr.close()


@pytest.fixture
def mosquitto(tmp_path: Path) -> Mosquitto:
    return Mosquitto(tmp_path, free_port())


@dataclass
class Visitor:
    """A client that notes what it hears and what it was told."""

    client: paho.Client
    answer: str = ""
    heard: list[tuple[str, bytes]] = field(default_factory=list)
    expected: int = 1
    answered: threading.Event = field(default_factory=threading.Event)
    subscribed: threading.Event = field(default_factory=threading.Event)
    enough: threading.Event = field(default_factory=threading.Event)

    def on_connect(
        self,
        _client: paho.Client,
        _data: object,
        _flags: paho.ConnectFlags,
        code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        self.answer = str(code)
        self.answered.set()

    def on_message(self, _client: paho.Client, _data: object, message: paho.MQTTMessage) -> None:
        self.heard.append((message.topic, bytes(message.payload)))
        if len(self.heard) >= self.expected:
            self.enough.set()

    def on_subscribe(
        self,
        _client: paho.Client,
        _data: object,
        _mid: int,
        codes: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        self.subscribed.set()

    def subscribe(self, topic: str) -> None:
        self.client.subscribe(topic, qos=1)
        assert self.subscribed.wait(WAIT_S)

    def publish(self, topic: str, payload: bytes, qos: int = 1) -> None:
        """Publish, and wait until the broker has answered (or, with QoS 0, until it is sent)."""
        self.client.publish(topic, payload, qos).wait_for_publish(WAIT_S)

    def leave(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


def _visit(
    broker: Mosquitto, who: str | None, password: str | None = None, session: str = ""
) -> Visitor:
    client = paho.Client(CallbackAPIVersion.VERSION2, session, clean_session=not session)
    visitor = Visitor(client)
    if who is not None:
        client.username_pw_set(who, PASSWORDS[who] if password is None else password)
    client.max_queued_messages_set(0)
    client.on_connect = visitor.on_connect
    client.on_message = visitor.on_message
    client.on_subscribe = visitor.on_subscribe
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    assert visitor.answered.wait(WAIT_S)
    return visitor


def _trespass(broker: Mosquitto, who: str, topic: str) -> None:
    """Write where one may not; mosquitto 2.0 answers, and hangs up."""
    visitor = _visit(broker, who)
    visitor.publish(topic, b"out of place")
    visitor.leave()


def test_settings_go_with_debians_own(mosquitto: Mosquitto) -> None:
    with mosquitto.running() as said:
        assert f"port {mosquitto.port}" in said
        assert "Error" not in said


@pytest.mark.parametrize(
    ("who", "password", "answer"),
    [
        pytest.param(None, None, "Not authorized", id="nobody"),
        pytest.param("sensor", "guess", "Not authorized", id="wrong password"),
        pytest.param("sensor", None, "Success", id="sensor"),
        pytest.param("chamberwatch", None, "Success", id="daemon"),
    ],
)
def test_only_those_with_a_password_come_in(
    mosquitto: Mosquitto, who: str | None, password: str | None, answer: str
) -> None:
    with mosquitto.running():
        visitor = _visit(mosquitto, who, password)
        visitor.leave()
    assert visitor.answer == answer


@pytest.mark.parametrize("who", ["sensor", "wired"])
def test_each_user_keeps_to_its_topics(mosquitto: Mosquitto, who: str) -> None:
    """The last message is an allowed one, so whatever else was let through came before it."""
    with mosquitto.running():
        daemon, sensor = _visit(mosquitto, "chamberwatch"), _visit(mosquitto, who)
        daemon.expected = 2
        daemon.subscribe("#")
        sensor.subscribe("#")
        _trespass(mosquitto, who, "chamberwatch/state")
        _trespass(mosquitto, "chamberwatch", "garden/tent")
        sensor.publish("garden/tent", b"from the sensor")
        daemon.publish("chamberwatch/state", b"from the daemon")
        assert daemon.enough.wait(WAIT_S)
        # The answer to this comes after anything the broker had sent to the sensor before.
        sensor.publish("garden/tent", b"last")
        for visitor in (daemon, sensor):
            visitor.leave()
    assert daemon.heard[:2] == [
        ("garden/tent", b"from the sensor"),
        ("chamberwatch/state", b"from the daemon"),
    ]
    assert sensor.heard == []


def test_a_display_sees_what_the_daemon_says_and_nothing_else(mosquitto: Mosquitto) -> None:
    with mosquitto.running():
        daemon, sensor = _visit(mosquitto, "chamberwatch"), _visit(mosquitto, "sensor")
        display = _visit(mosquitto, "display")
        display.subscribe("#")
        sensor.publish("garden/tent", b"from the sensor")
        _trespass(mosquitto, "display", "chamberwatch/status")
        daemon.publish("chamberwatch/status", b"from the daemon")
        assert display.enough.wait(WAIT_S)
        for visitor in (daemon, sensor, display):
            visitor.leave()
    assert display.heard == [("chamberwatch/status", b"from the daemon")]


@pytest.mark.parametrize("qos", [pytest.param(0, id="qos 0"), pytest.param(1, id="qos 1")])
@pytest.mark.parametrize(
    "restarted", [pytest.param(False, id="running on"), pytest.param(True, id="restarted")]
)
def test_three_thousand_messages_wait_for_the_daemon(
    mosquitto: Mosquitto, qos: int, *, restarted: bool
) -> None:
    payloads = [b'{"number": %d}' % number for number in range(3000)]
    with mosquitto.running():
        daemon = _visit(mosquitto, "chamberwatch", session="chamberwatch")
        daemon.subscribe("garden/#")
        daemon.leave()
        sensor = _visit(mosquitto, "sensor")
        for payload in payloads:
            sensor.client.publish("garden/tent", payload, qos)
        sensor.publish("garden/end", b"end", 1)
        sensor.leave()
        if not restarted:
            assert _collect(mosquitto) == payloads
    if restarted:
        with mosquitto.running():
            assert _collect(mosquitto) == payloads


def _collect(mosquitto: Mosquitto) -> list[bytes]:
    """Come back to the session; return all that waited, in order of arrival."""
    daemon = Visitor(paho.Client(CallbackAPIVersion.VERSION2, "chamberwatch", clean_session=False))
    daemon.expected = 3001
    daemon.client.username_pw_set("chamberwatch", PASSWORDS["chamberwatch"])
    daemon.client.on_message = daemon.on_message
    daemon.client.connect("127.0.0.1", mosquitto.port)
    daemon.client.loop_start()
    enough = daemon.enough.wait(WAIT_S)
    daemon.leave()
    assert enough, f"only {len(daemon.heard)} came"
    return [payload for topic, payload in daemon.heard if topic == "garden/tent"]
