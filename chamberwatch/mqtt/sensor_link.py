"""What sensors on wires say, given to the broker: a client that only speaks, as any sensor does.

A broker that lets us in and not publish may confirm a message, throw it away and hang up
(mosquitto 2.0 does, for MQTT 3.1.1 knows no other no). So a confirmation counts only once the
connection has outlived it for a moment.
"""

import logging
import sys
import threading
from collections.abc import Callable, Collection
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
from chamberwatch.mqtt.troubles import BrokerAddress
from chamberwatch.service.ports import Clock

log = logging.getLogger(__name__)

OUTLIVED_S: Final = 1.0
"""A connection that stands so long after a confirmation meant it."""

_caught = caught("What the broker said to a reading could not be taken in.")


class SensorLink:
    """Gives readings to the broker; says once what keeps them back, and once that it is over."""

    def __init__(
        self, address: BrokerAddress, clock: Clock, in_words: Callable[[str], str] = str
    ) -> None:
        """Prepare; nothing is connected yet.

        Args:
            address: of the broker; `client_id` is that of the daemon, ours is made of it.
            clock: measures how long a connection stood.
            in_words: fits what is said of the broker to the settings that we entered with.

        Raises:
            BrokerError: the address can't be one, or the certificates can't be used.
        """
        self._address = replace(address, client_id=own_id(address.client_id, "wired"))
        self._clock = clock
        self._in_words = in_words
        self._lock = threading.Lock()
        self._up_s: float | None = None
        self._answered = False
        self._trouble = ""
        self._short = 0
        self._topic = ""
        self._acked: dict[int, float] = {}
        self._doubtful: set[int] = set()
        self._stopping = threading.Event()
        client = fresh_client(self._address)
        client.on_connect = self._on_connect
        client.on_connect_fail = self._on_connect_fail
        client.on_disconnect = self._on_disconnect
        client.on_publish = self._on_publish
        self._client = client

    # ------------------------------------------------------------ life

    def start(self) -> None:
        """Begin to connect, and go on trying until stopped."""
        begin(self._client, self._address)

    def stop(self) -> None:
        """End the connection; takes a few seconds at the most."""
        self._stopping.set()
        end(self._client, "wired end")

    # ------------------------------------------------------------ how it is

    def connected(self) -> bool:
        """Tell whether readings can be given now."""
        with self._lock:
            return self._up_s is not None

    def trouble(self) -> str:
        """Return what keeps readings back, in plain words; empty where nothing does."""
        with self._lock:
            return self._trouble

    # ------------------------------------------------------------ to the broker

    def publish(self, topic: str, body: str) -> int | None:
        """Give a message to the broker; return its number, None where none can be given now."""
        if not self.connected():
            return None
        sent = self._client.publish(topic, body, qos=1)
        if sent.rc != paho.MQTT_ERR_SUCCESS:
            # It waits in paho all the same, and goes out with the next connection.
            log.debug("paho keeps %s for later: %s", topic, sent.rc)
        with self._lock:
            self._topic = topic
        return sent.mid

    def confirmed(self) -> Collection[int]:
        """Return the numbers of what the broker has confirmed since the last time."""
        now_s = self._clock.monotonic()
        with self._lock:
            if self._up_s is None:
                return ()
            sure = [mid for mid, at_s in self._acked.items() if now_s - at_s >= OUTLIVED_S]
            for mid in sure:
                del self._acked[mid]
            if sure:
                self._short = 0
                self._well_again()
            return sure

    def doubtful(self) -> Collection[int]:
        """Return the numbers of what was confirmed right before the broker hung up."""
        with self._lock:
            found, self._doubtful = self._doubtful, set()
            return found

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
        with self._lock:
            self._answered = True
            if code.is_failure:
                self._say(troubles.of_answer(code.value, str(code), self._address))
                return
            self._up_s = self._clock.monotonic()
            if self._short < REFUSED_AFTER:
                self._well_again()

    @_caught
    def _on_connect_fail(self, _client: paho.Client, _data: object) -> None:
        # paho calls this while it handles the error and does not hand it over.
        with self._lock:
            self._say(troubles.of_connecting(sys.exception(), self._address))

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
            thrown_away = self._take_doubtful()
            if self._stopping.is_set():
                return
            if up_s is None:
                if not self._answered:
                    self._say(troubles.of_losing(self._address, answered=False))
                return
            short = thrown_away and self._clock.monotonic() - up_s < SHORT_S
            self._short = min(self._short + 1, SHORT_COUNTED) if short else 0
            if self._short >= REFUSED_AFTER:
                self._say(self._unwelcome())
            elif not short:
                self._say(troubles.of_losing(self._address, answered=True))
        pause_longer(client, self._short)

    @_caught
    def _on_publish(
        self,
        _client: paho.Client,
        _data: object,
        mid: int,
        _code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        with self._lock:
            self._acked[mid] = self._clock.monotonic()

    def _take_doubtful(self) -> bool:
        """Set aside what was confirmed right before the end; tell whether there was any."""
        now_s = self._clock.monotonic()
        found = {mid for mid, at_s in self._acked.items() if now_s - at_s < OUTLIVED_S}
        for mid in found:
            del self._acked[mid]
        self._doubtful |= found
        return bool(found)

    def _unwelcome(self) -> str:
        who = f"the user {self._address.username}" if self._address.username else "us"
        return (
            f"The broker at {self._address} hangs up as soon as we publish on {self._topic}; "
            f"allow {who} to write it in the broker's access list, or choose another user in "
            "mqtt.wired_username."
        )

    def _say(self, trouble: str) -> None:
        told = self._in_words(trouble)
        if told != self._trouble:
            log.warning("%s", told)
        self._trouble = told

    def _well_again(self) -> None:
        if self._trouble:
            log.info("The broker at %s takes our readings again.", self._address)
        self._trouble = ""
