"""What chamberwatch says on MQTT: a client of its own that only speaks.

It is not the client that takes in the sensors' messages, for three reasons. A broker hangs up on
whoever publishes where it may not (mosquitto 2.0 does), and one that refuses our topics would
then cut the intake off again and again, with every acknowledgement under way. What that client
sends goes out in one queue, so that acknowledgements would wait behind everything that is said
anew after a reconnect. And its session is kept by the broker, so that what it could not say
would come out late, in place of what is true by then; this one begins afresh each time.

Publishing only puts a message into paho's queue; it never waits for the network.
"""

import logging
import threading
from dataclasses import replace
from typing import Final

import paho.mqtt.client as paho
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from chamberwatch.mqtt import troubles
from chamberwatch.mqtt.speaking import (
    REFUSED_AFTER,
    SHORT_COUNTED,
    SHORT_S,
    begin,
    caught,
    end,
    fresh_client,
    own_id,
    pause_longer,
)
from chamberwatch.mqtt.topics import CAUGHT_UP, STATUS, OwnTopics
from chamberwatch.mqtt.troubles import BrokerAddress
from chamberwatch.service.ports import Clock

log = logging.getLogger(__name__)

WAITING: Final = 1000
"""Messages that may wait in the client; whoever publishes keeps the rest and tries again."""
FAREWELL_S: Final = 2.0

_caught = caught("What the broker said to our own messages could not be taken in.")


class OutLink:
    """Publishes what is to be known outside, each message but a mark kept by the broker."""

    def __init__(
        self, address: BrokerAddress, own: OwnTopics, last_will: str, clock: Clock
    ) -> None:
        """Prepare; nothing is connected yet.

        Args:
            address: of the broker, as the intake enters it.
            own: the topics.
            last_will: what the broker publishes as our status when we are gone without a word.
            clock: measures how long a connection stood.

        Raises:
            BrokerError: the address can't be one, or the certificates can't be used.
        """
        self._address = replace(address, client_id=own_id(address.client_id))
        self._own = own
        self._clock = clock
        self._lock = threading.Lock()
        self._connections = 0
        self._up_s: float | None = None
        self._short = 0
        self._refused = ""
        self._mark: str | None = None
        self._stopping = threading.Event()
        self._started = False
        client = fresh_client(self._address)
        client.max_queued_messages_set(WAITING)
        client.will_set(own.full(STATUS), last_will, qos=1, retain=True)
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        self._client = client

    # ------------------------------------------------------------ life

    def start(self) -> None:
        """Begin to connect, and go on trying until stopped."""
        self._started = True
        begin(self._client, self._address)

    def stop(self, farewell: str = "") -> None:
        """Say a last status, if any, and end the connection; takes a few seconds at the most."""
        if not self._started:
            return
        self._stopping.set()
        if farewell and self.connection() is not None:
            self._say_last(farewell)
        end(self._client, "out farewell")
        self._started = False

    def _say_last(self, farewell: str) -> None:
        try:
            sent = self._client.publish(self._own.full(STATUS), farewell, qos=1, retain=True)
            sent.wait_for_publish(FAREWELL_S)
        except (ValueError, RuntimeError) as error:
            log.warning("The broker could not be told that this is the end: %s", error)

    # ------------------------------------------------------------ how it is

    def connection(self) -> int | None:
        """Return the number of the connection that stands, None while there is none."""
        with self._lock:
            return None if self._up_s is None else self._connections

    def trouble(self) -> str | None:
        """Return why nothing can be said, where the intake's link doesn't know it as well."""
        with self._lock:
            if self._up_s is not None and self._clock.monotonic() - self._up_s >= SHORT_S:
                return None
        return self._refused or None

    # ------------------------------------------------------------ to the broker

    def publish(self, topic: str, body: str) -> bool:
        """Hand over a message for the broker to keep; an empty one takes away what is kept.

        Args:
            topic: without the prefix.
            body: JSON.

        Returns:
            False: no connection stands, or too much waits; say it again later.
        """
        if self.connection() is None:
            return False
        self._say_mark()  # one that found no room
        sent = self._client.publish(self._own.full(topic), body, qos=1, retain=True)
        return sent.rc == paho.MQTT_ERR_SUCCESS

    def mark(self, body: str) -> bool:
        """Say on a topic of ours, now or at the next connection, what the intake then hears.

        A broker hands on in order, so what waited there for the intake comes before it: mosquitto
        does so over all topics of a client (MQTT 3.1.1, section 4.6, asks it of each topic).

        Args:
            body: JSON; the newest alone is said.

        Returns:
            False: the broker doesn't let us speak, so nothing is to be expected.
        """
        with self._lock:
            self._mark, up = body, self._up_s is not None
        if up:
            self._say_mark()
        return self.trouble() is None

    def _say_mark(self) -> None:
        with self._lock:
            body = self._mark
        if body is None:
            return
        sent = self._client.publish(self._own.full(CAUGHT_UP), body, qos=1)
        with self._lock:
            if self._mark == body and sent.rc != paho.MQTT_ERR_QUEUE_SIZE:
                self._mark = None

    # ------------------------------------------------------------ from the broker

    @_caught
    def _on_connect(
        self,
        _client: paho.Client,
        _data: object,
        _flags: paho.ConnectFlags,
        code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if code.is_failure:
            self._refuse(troubles.of_answer(code.value, str(code), self._address))
            return
        with self._lock:
            self._connections += 1
            self._up_s = self._clock.monotonic()
        self._say_mark()

    @_caught
    def _on_disconnect(
        self,
        client: paho.Client,
        _data: object,
        _flags: paho.DisconnectFlags,
        _code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        with self._lock:
            up_s, self._up_s = self._up_s, None
        if up_s is None or self._stopping.is_set():
            return
        short = self._clock.monotonic() - up_s < SHORT_S
        self._short = min(self._short + 1, SHORT_COUNTED) if short else 0
        pause_longer(client, self._short)
        if self._short >= REFUSED_AFTER:
            self._refuse(
                f"The broker at {self._address} hangs up as soon as we publish below "
                f"{self._own.prefix}/; allow our user to write {self._own.prefix}/#, or set "
                'mqtt.out = "" to publish nothing.'
            )
        elif not self._short:
            self._refused = ""

    def _refuse(self, trouble: str) -> None:
        if trouble != self._refused:
            log.warning("%s", trouble)
        self._refused = trouble
