"""Real brokers for the tests, and a plain client to speak to them."""

import os
import queue
import secrets
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Protocol

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

MOSQUITTO: Final = shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin:/usr/bin")
NO_MOSQUITTO: Final = "mosquitto is not installed: sudo apt install mosquitto"
DEADLINE_S: Final = 90.0
ASK_AGAIN_S: Final = 2.0
LOOPBACK: Final = "127.0.0.1"
FIRST_PORT, PORTS, PORT_RANGES = 12_000, 2_500, 8

# As root mosquitto becomes another user, who may not write into the test's folder.
CONF: Final = """
user root
listener {port} 127.0.0.1
log_dest file {folder}/mosquitto.log
persistence true
persistence_location {folder}/
autosave_interval 30
autosave_on_changes false
max_inflight_messages 1000
max_queued_messages 0
"""


class Broker(Protocol):
    """What a test needs to know of a broker."""

    @property
    def host(self) -> str: ...
    @property
    def port(self) -> int: ...


def free_port() -> int:
    """Return a TCP port of this machine that nobody listens on.

    It lies below those that the system gives to connections, and tests that run beside these draw
    from other ones: else somebody might have it before it is used.
    """
    beside = int("0" + os.environ.get("PYTEST_XDIST_WORKER", "").removeprefix("gw")) % PORT_RANGES
    first = FIRST_PORT + beside * PORTS
    for _ in range(PORTS):
        port = first + secrets.randbelow(PORTS)
        with socket.socket() as probe, suppress(OSError):
            probe.bind((LOOPBACK, port))
            return port
    raise AssertionError(f"no port is free from {first} to {first + PORTS - 1}")


def listens(port: int) -> bool:
    """Tell whether somebody accepts connections on this machine's port."""
    try:
        socket.create_connection((LOOPBACK, port), timeout=1).close()
    except OSError:
        return False
    return True


def wait_until(condition: Callable[[], bool], what: str, deadline_s: float = DEADLINE_S) -> None:
    """Return as soon as the condition holds; fail when it doesn't in time."""
    pause, end_s = threading.Event(), time.monotonic() + deadline_s
    while not condition():
        assert time.monotonic() < end_s, f"not within {deadline_s} s: {what}"
        pause.wait(0.01)


@contextmanager
def beside(work: Callable[[threading.Event], None]) -> Iterator[None]:
    """Do some work in a thread beside the block; it is told when it is to stop."""
    stopping = threading.Event()
    thread = threading.Thread(target=work, args=(stopping,))
    thread.start()
    try:
        yield
    finally:
        stopping.set()
        thread.join(DEADLINE_S)
    assert not thread.is_alive(), "it does not stop"


def end(process: "subprocess.Popen[bytes] | subprocess.Popen[str]") -> None:
    """End mosquitto in order, so that it writes down what it keeps.

    It forgets a signal that comes after it said “running” and before its loop begins: of 400
    that were ended as soon as they said so, 24 lived on, and a second signal ended each of them
    (mosquitto 2.0.11). So it is asked until it has gone.
    """
    for _ in range(round(DEADLINE_S / ASK_AGAIN_S)):
        process.terminate()
        with suppress(subprocess.TimeoutExpired):
            process.wait(ASK_AGAIN_S)
            return
    process.kill()
    process.wait(DEADLINE_S)
    raise AssertionError(f"mosquitto did not end within {DEADLINE_S} s")


@dataclass
class Mosquitto:
    """Mosquitto in a folder of its own; what it keeps there outlives its process.

    Attributes:
        folder: must exist.
        port: on the loopback interface.
        passwords: who may enter; None: everybody may.
        more: further lines of its settings.
        room: network namespace it runs in, where only `door` leads in from here; None: ours.
    """

    folder: Path
    port: int = 0
    passwords: Mapping[str, str] | None = None
    more: str = ""
    host: str = LOOPBACK
    room: str | None = None
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        self.port = self.port or free_port()
        conf = CONF.format(port=self.port, folder=self.folder) + self.more
        if self.door is not None:
            conf += f"\nlistener 0 {self.door}\n"
        if self.passwords is None:
            conf += "\nallow_anonymous true\n"
        else:
            kept = self.folder / "passwords"
            kept.write_text("".join(f"{who}:{what}\n" for who, what in self.passwords.items()))
            subprocess.run(["mosquitto_passwd", "-U", str(kept)], check=True)
            conf += f"\nallow_anonymous false\npassword_file {kept}\n"
        (self.folder / "mosquitto.conf").write_text(conf)

    @property
    def door(self) -> Path | None:
        """Return the socket in the file system that leads in; None: its port does."""
        return None if self.room is None else self.folder / "door"

    def _listens(self) -> bool:
        return listens(self.port) if self.door is None else self.door.exists()

    def start(self) -> None:
        """Start it and wait until it listens."""
        within = [] if self.room is None else ["ip", "netns", "exec", self.room]
        process = subprocess.Popen(
            [*within, str(MOSQUITTO), "-c", str(self.folder / "mosquitto.conf")]
        )
        self._process = process
        wait_until(lambda: self._listens() or process.poll() is not None, "mosquitto listens")
        assert process.poll() is None, self.log()

    def stop(self) -> None:
        """End it in order; it writes down what it keeps."""
        if self._process is not None:
            end(self._process)
            self._process = None

    def kill(self) -> None:
        """End it as a power cut would."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(DEADLINE_S)
            self._process = None

    def signal(self, which: signal.Signals) -> None:
        """Send its process a signal."""
        assert self._process is not None
        self._process.send_signal(which)

    def log(self) -> str:
        """Return what it wrote into its log."""
        kept = self.folder / "mosquitto.log"
        return kept.read_text(errors="replace") if kept.exists() else ""

    @contextmanager
    def running(self) -> Iterator["Mosquitto"]:
        """Run until the block is left."""
        self.start()
        try:
            yield self
        finally:
            self.stop()


@dataclass
class Client:
    """A plain client: publishes, and puts what it hears into a queue."""

    client: paho.Client
    heard: "queue.Queue[paho.MQTTMessage]" = field(default_factory=queue.Queue)
    subscribed: threading.Event = field(default_factory=threading.Event)

    def publish(
        self, topic: str, payload: bytes | str, qos: int = 1, *, retain: bool = False
    ) -> None:
        """Publish, and wait until the broker has it (or, with QoS 0, until it is sent)."""
        self.client.publish(topic, payload, qos, retain).wait_for_publish(DEADLINE_S)

    def subscribe(self, topic: str) -> None:
        """Subscribe, and wait until the broker has agreed."""
        self.subscribed.clear()
        self.client.subscribe(topic, qos=1)
        assert self.subscribed.wait(DEADLINE_S)

    def hear(self) -> paho.MQTTMessage:
        """Return the next message."""
        return self.heard.get(timeout=DEADLINE_S)


@contextmanager
def visiting(broker: Broker, who: str | None = None, password: str = "") -> Iterator[Client]:
    """Be connected as a plain client until the block is left."""
    door = getattr(broker, "door", None)
    client = paho.Client(CallbackAPIVersion.VERSION2, transport="tcp" if door is None else "unix")
    visitor, connected = Client(client), threading.Event()
    if who is not None:
        client.username_pw_set(who, password)
    client.on_connect = lambda *_: connected.set()
    client.on_subscribe = lambda *_: visitor.subscribed.set()
    client.on_message = lambda _client, _data, message: visitor.heard.put(message)
    client.connect(broker.host if door is None else str(door), broker.port)
    client.loop_start()
    try:
        assert connected.wait(DEADLINE_S)
        yield visitor
    finally:
        client.disconnect()
        client.loop_stop()
