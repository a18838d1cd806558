"""The link under test with its inbox, and a broker that answers as it is told to."""

import queue
import socket
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import Final

from chamberwatch.mqtt.broker import BrokerAddress, BrokerLink
from chamberwatch.mqtt.topics import OwnTopics
from chamberwatch.service.ports import Arrival, Clock, Incoming, LinkUp
from tests.brokers import DEADLINE_S, LOOPBACK, Broker
from tests.fakes import HandClock

TOPICS: Final = ("tent/#",)

CONNACK: Final = b"\x20\x02\x00"
ACCEPTED: Final = CONNACK + b"\x00"


@dataclass
class Bench:
    """A link that can be stopped and made anew, as a daemon that restarts."""

    address: BrokerAddress
    topics: Sequence[str] = TOPICS
    clock: Clock = field(default_factory=HandClock)
    room: int = 0
    own: OwnTopics | None = None
    mark: Callable[[str], bool] | None = None
    link: BrokerLink = field(init=False)
    inbox: "queue.Queue[Incoming]" = field(init=False)

    def __post_init__(self) -> None:
        self.renew()

    def renew(self) -> None:
        """Make a new link with an empty inbox, as a new process would."""
        self.inbox = queue.Queue(self.room)
        self.link = BrokerLink(
            self.address, self.topics, self.inbox, self.clock, self.own, self.mark
        )

    def up(self) -> LinkUp:
        """Return the next thing in the inbox, which must be a new connection."""
        item = self.inbox.get(timeout=DEADLINE_S)
        assert isinstance(item, LinkUp), item
        return item

    def arrival(self) -> Arrival:
        """Return the next thing in the inbox, which must be a message."""
        item = self.inbox.get(timeout=DEADLINE_S)
        assert isinstance(item, Arrival), item
        return item

    def arrivals(self, count: int) -> list[Arrival]:
        return [self.arrival() for _ in range(count)]

    def start(self) -> LinkUp:
        self.link.start()
        return self.up()

    def restart(self) -> LinkUp:
        """Stop, and come back as a new process."""
        self.link.stop()
        self.renew()
        return self.start()

    def cut(self) -> None:
        """Cut the connection as a router that restarts."""
        assert self.link._client is not None
        sock = self.link._client.socket()
        assert isinstance(sock, socket.socket)
        sock.shutdown(socket.SHUT_RDWR)


def address_of(broker: Broker, client_id: str = "chamberwatch") -> BrokerAddress:
    return BrokerAddress(broker.host, broker.port, client_id=client_id)


@contextmanager
def bench_at(address: BrokerAddress, **more: object) -> Iterator[Bench]:
    """Have a bench whose link is stopped in the end, however the test goes."""
    made = Bench(address, **more)  # type: ignore[arg-type]
    try:
        yield made
    finally:
        made.link.stop()


@dataclass
class ScriptedBroker:
    """Answers what it receives with the next bytes of a script, then hangs up, or holds on."""

    script: Sequence[bytes]
    holds: bool = False
    host: str = LOOPBACK
    port: int = 0
    connections: int = 0

    @contextmanager
    def running(self) -> Iterator["ScriptedBroker"]:
        with socket.create_server((self.host, 0)) as server:
            self.port = server.getsockname()[1]
            thread = threading.Thread(target=self._serve, args=(server,))
            thread.start()
            try:
                yield self
            finally:
                server.shutdown(socket.SHUT_RDWR)
                thread.join(DEADLINE_S)

    def _serve(self, server: socket.socket) -> None:
        while True:
            try:
                client, _ = server.accept()
            except OSError:
                return
            self.connections += 1
            # Whoever is cut off, or ends, may leave with a reset.
            with client, suppress(ConnectionError):
                for answer in self.script:
                    if not client.recv(65_536):
                        break
                    client.sendall(answer)
                while self.holds and client.recv(65_536):
                    pass
