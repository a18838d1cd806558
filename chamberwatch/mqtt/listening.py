"""Listening to everything on the broker, for as long as somebody looks.

It is a client of its own that only hears: a clean session, quality of service 0, a name made up
each time. So the broker keeps nothing for it, it throws nobody out, and nothing of it gets into
the book. Each look renews a lease; when nobody has looked for `LEASE_S` it takes its leave.
"""

import secrets
import sys
import threading
from collections import OrderedDict
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from chamberwatch.core.errors import BrokerError
from chamberwatch.mqtt import troubles
from chamberwatch.mqtt.entering import prepare
from chamberwatch.mqtt.topics import OwnTopics
from chamberwatch.mqtt.troubles import BrokerAddress
from chamberwatch.service.listening import Heard, HeardNow
from chamberwatch.service.ports import Clock

LEASE_S: Final = 60.0
KEEPALIVE_S: Final = 30
RETRY_LEAST_S: Final = 1
RETRY_MOST_S: Final = 10
EVERYTHING: Final = "#"
TOPICS_AT_MOST: Final = 500
PAYLOAD_AT_MOST: Final = 8 * 1024
"""With 500 topics 4 MB at the very worst; what a sensor says has a few hundred bytes."""
TOPIC_AT_MOST: Final = 400
"""Bytes of a topic; a longer one can't be claimed in the settings anyway."""

NOT_ALLOWED: Final = (
    "The broker at {address} lets {who} read only some topics, so what belongs to no sensor "
    "can't be heard. Allow this user to read # there, or write the sensor into the settings "
    "by hand."
)


@dataclass(slots=True)
class _Kept:
    """What is kept of one topic."""

    payload: bytes
    size: int
    first: datetime
    last: datetime
    old: bool
    count: int = 0
    from_s: float = 0.0
    to_s: float = 0.0

    def heard(self, topic: str) -> Heard:
        every_s = (self.to_s - self.from_s) / (self.count - 1) if self.count > 1 else None
        return Heard(
            topic, self.payload, self.size, self.count, self.first, self.last, self.old, every_s
        )


class OpenEar:
    """Hears all topics but our own. Safe to use from several threads."""

    def __init__(self, address: BrokerAddress, own: OwnTopics, clock: Clock) -> None:
        """Prepare; nothing is connected before somebody looks.

        Args:
            address: of the broker, as the intake enters it.
            own: where we speak ourselves.
            clock: a real one, also where the demo's is paced.
        """
        self._address = address
        self._own = own
        self._clock = clock
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, _Kept] = OrderedDict()
        self._left_out = 0
        self._until_s = 0.0
        self._since: datetime | None = None
        self._trouble: str | None = None
        self._answered = False
        self._client: paho.Client | None = None
        self._ending = threading.Event()

    # ------------------------------------------------------------ who looks

    def hear(self) -> HeardNow:
        """Return what was heard, and go on listening for another `LEASE_S`."""
        with self._lock:
            self._until_s = self._clock.monotonic() + LEASE_S
            if self._client is None:
                self._begin()
            heard = tuple(self._kept[topic].heard(topic) for topic in sorted(self._kept))
            return HeardNow(self._clock.now(), self._since, self._trouble, heard, self._left_out)

    def listening(self) -> bool:
        """Tell whether there is a client at all."""
        with self._lock:
            return self._client is not None

    def stop(self) -> None:
        """Take leave now."""
        with self._lock:
            self._until_s = 0.0
        self._leave_when_due()

    # ------------------------------------------------------------ life

    def _begin(self) -> None:
        """Enter the broker with an empty mind; the lock is held."""
        self._kept.clear()
        self._left_out, self._trouble, self._since = 0, None, None
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"cw-ear-{secrets.token_hex(6)}",
            clean_session=True,
            protocol=MQTTProtocolVersion.MQTTv311,
        )
        client.suppress_exceptions = True
        client.reconnect_delay_set(RETRY_LEAST_S, RETRY_MOST_S)
        try:
            prepare(client, self._address)
        except BrokerError as error:
            self._trouble = str(error)
            return
        client.on_pre_connect = self._on_pre_connect
        client.on_connect = self._on_connect
        client.on_connect_fail = self._on_connect_fail
        client.on_disconnect = self._on_disconnect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        self._client, self._ending = client, threading.Event()
        client.connect_async(self._address.host, self._address.port, KEEPALIVE_S)
        client.loop_start()
        threading.Thread(target=self._watch, name="open ear", daemon=True).start()

    def _watch(self) -> None:
        """Leave when nobody has looked for a while."""
        ending = self._ending
        while not ending.is_set():
            with self._lock:
                left_s = self._until_s - self._clock.monotonic()
            if left_s <= 0.0:
                self._leave_when_due()
            else:
                self._clock.wait(ending, left_s)

    def _leave_when_due(self) -> None:
        with self._lock:
            client = self._client
            if client is None or self._until_s > self._clock.monotonic():
                return
            self._client = None
            self._kept.clear()
            self._ending.set()
        client.disconnect()
        # Waiting for paho's thread may take as long as a name look-up hangs.
        threading.Thread(target=client.loop_stop, name="ear closed", daemon=True).start()

    # ------------------------------------------------------------ from the broker

    def _current(self, client: paho.Client) -> bool:
        """Tell whether a client is the one of now; the lock is held."""
        return client is self._client

    def _on_pre_connect(self, _client: paho.Client, _data: object) -> None:
        self._answered = False

    def _on_connect(
        self,
        client: paho.Client,
        _data: object,
        _flags: paho.ConnectFlags,
        code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        self._answered = True
        if code.is_failure:
            self._say(client, troubles.of_answer(code.value, str(code), self._address))
        else:
            client.subscribe(EVERYTHING, qos=0)

    def _on_subscribe(
        self,
        client: paho.Client,
        _data: object,
        _mid: int,
        codes: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        if any(code.is_failure for code in codes):
            who = self._address.username or "whoever gives no name"
            self._say(client, NOT_ALLOWED.format(address=self._address, who=who))
            return
        with self._lock:
            if self._current(client):
                self._trouble, self._since = None, self._clock.now()

    def _on_connect_fail(self, client: paho.Client, _data: object) -> None:
        self._say(client, troubles.of_connecting(sys.exception(), self._address))

    def _on_disconnect(
        self,
        client: paho.Client,
        _data: object,
        _flags: paho.DisconnectFlags,
        _code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if self._since is not None or not self._answered:
            self._say(client, troubles.of_losing(self._address, answered=self._answered))

    def _say(self, client: paho.Client, trouble: str) -> None:
        with self._lock:
            if self._current(client):
                self._trouble, self._since = trouble, None

    def _on_message(self, client: paho.Client, _data: object, message: paho.MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            return
        # What the broker says of itself never comes with #; a bridge may send it on all the same.
        if topic.startswith("$") or self._own.hold(topic):
            return
        with self._lock:
            if self._current(client):
                self._keep(topic, bytes(message.payload), old=message.retain)

    def _keep(self, topic: str, payload: bytes, *, old: bool) -> None:
        now, now_s = self._clock.now(), self._clock.monotonic()
        kept = self._kept.get(topic)
        if kept is None:
            if len(topic.encode()) > TOPIC_AT_MOST or not self._has_room(old=old):
                self._left_out += 1
                return
            kept = self._kept[topic] = _Kept(b"", 0, now, now, old)
        kept.payload, kept.size = payload[:PAYLOAD_AT_MOST], len(payload)
        kept.last, kept.old = now, old
        if not old:
            kept.count += 1
            kept.from_s = now_s if kept.count == 1 else kept.from_s
            kept.to_s = now_s

    def _has_room(self, *, old: bool) -> bool:
        """Make room: what is said now is worth more than what the broker had kept."""
        if len(self._kept) < TOPICS_AT_MOST:
            return True
        silent = None if old else next((t for t, k in self._kept.items() if k.count == 0), None)
        if silent is None:
            return False
        del self._kept[silent]
        self._left_out += 1
        return True
