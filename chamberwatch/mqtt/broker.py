"""The link to the broker: hands over what comes, acknowledges what is kept.

Everything that paho calls runs on its own thread and does only three things: stamp, hand over,
note. An exception there would end that thread while paho still calls itself connected, so each
callback catches everything, and whoever watches asks `alive`.

A connection has a number. Packet identifiers mean something within one connection only, so an
acknowledgement that comes after its connection has ended is left out; the broker then sends the
message again.
"""

import functools
import json
import logging
import queue
import socket
import sys
import threading
import uuid
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Concatenate, Final, ParamSpec

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from chamberwatch.core.errors import BrokerError
from chamberwatch.mqtt import topics as filters
from chamberwatch.mqtt import troubles
from chamberwatch.mqtt.entering import check_host, prepare
from chamberwatch.mqtt.troubles import BrokerAddress
from chamberwatch.service.ports import Arrival, CaughtUp, Clock, Incoming, LinkUp

__all__ = ["BrokerAddress", "BrokerLink"]

log = logging.getLogger(__name__)

KEEPALIVE_S: Final = 60
RETRY_LEAST_S: Final = 1
RETRY_MOST_S: Final = 60
ROOM_S: Final = 5.0
"""How long a message waits for room in the inbox before the broker is made to send it again."""
LOOK_S: Final = 0.25
STOP_S: Final = 8.0

TOO_FAST: Final = (
    "Messages come faster than they can be stored; the broker keeps them meanwhile. "
    "Look whether the disk is full or slow."
)

P = ParamSpec("P")


def _caught(
    callback: Callable[Concatenate["BrokerLink", P], None],
) -> Callable[Concatenate["BrokerLink", P], None]:
    """Log what a callback raises, once until one goes well, and keep paho's thread alive."""

    @functools.wraps(callback)
    def guarded(link: "BrokerLink", /, *args: P.args, **kwargs: P.kwargs) -> None:
        try:
            callback(link, *args, **kwargs)
        except Exception:
            if not link.stumbled:
                log.exception("Could not take in what the broker said; it will be sent again.")
            link.stumbled = True
        else:
            link.stumbled = False

    return guarded


class BrokerLink:
    """One client of the broker, with a session that the broker keeps while we are away.

    Attributes:
        stumbled: the last callback raised; its message stays unacknowledged.
    """

    def __init__(
        self,
        address: BrokerAddress,
        topics: Sequence[str],
        inbox: "queue.Queue[Incoming]",
        clock: Clock,
        own: filters.OwnTopics | None = None,
        mark: Callable[[str], bool] | None = None,
    ) -> None:
        """Prepare; nothing is connected yet.

        Args:
            address: of the broker.
            topics: filters that take in all sensors.
            inbox: where arrivals go.
            clock: stamps them.
            own: where we speak ourselves: to hear that is no sign of any sensor.
            mark: has something said there, to be heard behind what waits at the broker; tells
                whether that may be expected.

        Raises:
            BrokerError: a topic or the address can't be one.
        """
        for topic in topics:
            if wrong := filters.fault(topic):
                raise BrokerError(f"The topic {topic!r} can't be subscribed to. {wrong}")
        check_host(address)
        self.stumbled = False
        self._address = address
        self._topics = tuple(dict.fromkeys(topics))
        self._inbox = inbox
        self._clock = clock
        self._own = own or filters.OwnTopics()
        self._mark = mark if self._own.prefix and topics else None
        self._mark_topic = self._own.full(filters.CAUGHT_UP)
        # Marks of an earlier run may wait among the rest.
        self._run = uuid.uuid4().hex[:12]
        self._client: paho.Client | None = None
        self._thread: threading.Thread | None = None
        self._stopping = threading.Event()
        # Reentrant: once its thread is gone paho may write, and call back, from where we ack.
        self._lock = threading.RLock()
        self._connections = 0
        self._live: int | None = None
        self._subscribed = False
        self._deaf = False
        self._resumed = False
        self._answered = False
        self._full = False
        self._last_message_s: float | None = None
        self._trouble: str | None = None

    # ------------------------------------------------------------ life

    def start(self) -> None:
        """Begin to connect, and go on trying until stopped.

        Raises:
            BrokerError: the certificates can't be used.
        """
        if self._client is not None:
            return
        client = self._new_client()
        self._stopping.clear()
        self._subscribed = False
        self._thread = None
        self._client = client
        client.connect_async(self._address.host, self._address.port, KEEPALIVE_S)
        client.loop_start()

    def stop(self) -> None:
        """Say goodbye and end the connection; the broker keeps what comes meanwhile.

        Takes a few seconds at the most, also where the network hangs.
        """
        client = self._client
        if client is None:
            return
        self._stopping.set()
        client.disconnect()
        # loop_stop waits for paho's thread without a limit, and that may hang in a name look-up.
        ending = threading.Thread(target=client.loop_stop, name="broker farewell", daemon=True)
        ending.start()
        ending.join(STOP_S)
        self._forget_connection()
        self._client = None

    def _new_client(self) -> paho.Client:
        address = self._address
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            client_id=address.client_id,
            clean_session=False,
            protocol=MQTTProtocolVersion.MQTTv311,
            manual_ack=True,
        )
        client.suppress_exceptions = True
        client.reconnect_delay_set(RETRY_LEAST_S, RETRY_MOST_S)
        prepare(client, address)
        client.on_pre_connect = self._on_pre_connect
        client.on_connect = self._on_connect
        client.on_connect_fail = self._on_connect_fail
        client.on_disconnect = self._on_disconnect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        return client

    # ------------------------------------------------------------ how it is

    def connected(self) -> bool:
        """Tell whether messages can come in now."""
        return self._live is not None and self.alive()

    def alive(self) -> bool:
        """Tell whether the thread that listens to the broker lives."""
        if self._client is None:
            return False
        # Until its first attempt paho's thread has not introduced itself.
        return self._thread is None or self._thread.is_alive()

    def listening(self) -> bool:
        """Tell whether the broker has agreed to send us the sensors' messages."""
        return self.connected() and (self._subscribed or not self._topics)

    def last_message_s(self) -> float | None:
        """Return when the last message of any sensor came, in s of the monotonic clock."""
        return self._last_message_s

    def trouble(self) -> str | None:
        """Return what keeps the link down, or makes it useless, in plain words."""
        return self._trouble

    # ------------------------------------------------------------ to the broker

    def acknowledge(self, arrivals: Sequence[Arrival]) -> None:
        """Acknowledge in the order given. Messages of an older connection are left out."""
        # Under the lock no connection ends or begins: what paho queues here goes out on the
        # connection the message came on, or on none (it empties its queue before it reconnects).
        with self._lock:
            client = self._client
            if client is None:
                return
            for arrival in arrivals:
                if arrival.qos and arrival.connection == self._live:
                    client.ack(arrival.mid, arrival.qos)

    # ------------------------------------------------------------ from the broker

    @_caught
    def _on_pre_connect(self, _client: paho.Client, _data: object) -> None:
        self._thread = threading.current_thread()
        self._answered = False

    @_caught
    def _on_connect(
        self,
        client: paho.Client,
        _data: object,
        flags: paho.ConnectFlags,
        code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        self._answered = True
        if code.is_failure:
            self._say(troubles.of_answer(code.value, str(code), self._address))
            return
        with self._lock:
            self._connections += 1
            self._live = self._connections
        log.info("Connected to the broker at %s.", self._address)
        self._trouble = None
        self._resumed = flags.session_present
        # A kept session keeps its subscriptions, but those of an earlier run may have been to
        # other topics. Subscribing again repeats retained messages; they are marked as such.
        subscribes = bool(self._topics) and not (self._resumed and self._subscribed)
        # What is said before the broker has agreed to hand it on is lost.
        end_told = self._resumed and (self._may_mark() if subscribes else self._mark_end())
        if not self._hand_over(LinkUp(self._connections, self._resumed, end_told)):
            return
        if subscribes:
            self._subscribed = False
            heard = [*self._topics, self._mark_topic] if self._mark else self._topics
            client.subscribe([(topic, 1) for topic in heard])

    def _may_mark(self) -> bool:
        return self._mark is not None and not self._deaf

    def _mark_end(self) -> bool:
        """Have the end of what waits marked; tell whether that may be expected."""
        if self._mark is None or self._deaf:
            return False
        return self._mark(self._mark_of(self._connections))

    def _mark_of(self, connection: int) -> str:
        return json.dumps({"run": self._run, "connection": connection})

    @_caught
    def _on_subscribe(
        self,
        _client: paho.Client,
        _data: object,
        _mid: int,
        codes: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        # That the mark may not be read is nothing amiss; but then it is waited for in vain.
        self._deaf = len(codes) > len(self._topics) and codes[-1].is_failure
        refused = [t for t, code in zip(self._topics, codes, strict=False) if code.is_failure]
        self._subscribed = not refused
        if self._mark is not None and self._resumed and not self._mark_end():
            self._hand_over(LinkUp(self._connections, self._resumed))
        if refused:
            self._say(
                f"The broker at {self._address} does not let us read {', '.join(refused)}; "
                "allow it there, for this user."
            )

    @_caught
    def _on_connect_fail(self, _client: paho.Client, _data: object) -> None:
        # paho calls this while it handles the error and does not hand it over.
        self._say(troubles.of_connecting(sys.exception(), self._address))

    @_caught
    def _on_disconnect(
        self,
        _client: paho.Client,
        _data: object,
        _flags: paho.DisconnectFlags,
        _code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        was_up = self._forget_connection()
        if not self._stopping.is_set() and (was_up or not self._answered):
            self._say(troubles.of_losing(self._address, answered=self._answered))

    @_caught
    def _on_message(self, _client: paho.Client, _data: object, message: paho.MQTTMessage) -> None:
        live = self._live
        if live is None:  # given up for want of room; what the socket still holds comes again
            return
        arrived_s, topic = self._clock.monotonic(), message.topic
        if not self._own.hold(topic):
            self._last_message_s = arrived_s
        # One of our own goes the same way: it has to be acknowledged in its turn.
        taken = self._hand_over(
            Arrival(
                topic=topic,
                payload=bytes(message.payload),
                retained=message.retain,
                mid=message.mid,
                qos=message.qos,
                connection=live,
                wall=self._clock.now(),
                monotonic_s=arrived_s,
            )
        )
        if taken and topic == self._mark_topic and message.payload == self._mark_of(live).encode():
            self._hand_over(CaughtUp())

    def _hand_over(self, item: Incoming) -> bool:
        """Put it into the inbox; where no room comes, make the broker send it again later."""
        waited_s = 0.0
        while True:
            try:
                self._inbox.put(item, timeout=LOOK_S)
            except queue.Full:
                waited_s += LOOK_S
                if self._stopping.is_set() or waited_s >= ROOM_S:
                    self._give_up()
                    return False
            else:
                # Room for half of it, or this would be logged at each message that finds a gap.
                if self._full and self._inbox.qsize() <= self._inbox.maxsize // 2:
                    self._full = False
                return True

    def _give_up(self) -> None:
        """End this connection from our side, so that nothing is skipped and all comes again."""
        if not self._stopping.is_set():
            self._trouble = TOO_FAST
            if not self._full:
                log.warning(TOO_FAST)
            self._full = True
        self._forget_connection()
        client = self._client
        sock = None if client is None else client.socket()
        if isinstance(sock, socket.socket):
            with suppress(OSError):
                sock.shutdown(socket.SHUT_RDWR)  # paho's own disconnect would not reconnect

    def _forget_connection(self) -> bool:
        with self._lock:
            was_up = self._live is not None
            self._live = None
            return was_up

    def _say(self, trouble: str) -> None:
        """Note what is wrong; log it when it is news."""
        if trouble != self._trouble:
            log.warning("%s", trouble)
        self._trouble = trouble
