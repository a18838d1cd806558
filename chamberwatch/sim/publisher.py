"""Publishing reports as real MQTT messages."""

import threading
import time as _time
from collections import deque
from typing import Final

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from chamberwatch.core.errors import BrokerError, RefusedError
from chamberwatch.sim.show import Report

IN_FLIGHT: Final = 500
CONNECT_S: Final = 10.0


class Publisher:
    """A sensor as the broker sees it: QoS 1, never more on the way than it can hold."""

    def __init__(
        self,
        host: str,
        port: int,
        client_id: str,
        *,
        username: str | None = None,
        password: str | None = None,
    ) -> None:
        """Prepare; nothing is connected yet."""
        self._host, self._port = host, port
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=client_id)
        if username is not None:
            self._client.username_pw_set(username, password)
        self._client.max_inflight_messages_set(IN_FLIGHT)
        self._client.suppress_exceptions = True
        self._client.on_connect = self._on_connect
        self._connected = threading.Event()
        self._refused = ""
        self._waiting: deque[mqtt.MQTTMessageInfo] = deque()

    def _on_connect(
        self,
        _client: mqtt.Client,
        _data: object,
        _flags: mqtt.ConnectFlags,
        code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        self._refused = str(code) if code.is_failure else ""
        self._connected.set()

    def connect(self) -> None:
        """Connect.

        Raises:
            BrokerError: the broker can't be reached or refuses us.
        """
        where = f"The broker at {self._host}:{self._port}"
        try:
            self._client.connect(self._host, self._port)
        except OSError as error:
            raise BrokerError(f"{where} can't be reached ({error}); start it first.") from error
        self._client.loop_start()
        if not self._connected.wait(CONNECT_S):
            self.close()
            raise BrokerError(f"{where} does not answer; look whether it is a broker.")
        if self._refused:
            self.close()
            raise BrokerError(f"{where} refuses us: {self._refused}. Look at the password.")

    def publish(self, report: Report) -> None:
        """Hand a report over; waits while too many are on their way.

        Raises:
            BrokerError: the broker has not confirmed one for too long.
            RefusedError: nothing can be published to such a topic.
        """
        while len(self._waiting) >= IN_FLIGHT:
            self._confirm_oldest(CONNECT_S)
        try:
            sent = self._client.publish(report.topic, report.payload, qos=1)
        except ValueError as error:
            raise RefusedError(
                f"Nothing can be published to the topic “{report.topic}” ({error}); "
                "write one without + and #."
            ) from error
        self._waiting.append(sent)

    def drain(self, deadline_s: float) -> None:
        """Wait until the broker has confirmed everything.

        Raises:
            BrokerError: it has not, in that time.
        """
        end = _time.monotonic() + deadline_s
        while self._waiting:
            self._confirm_oldest(end - _time.monotonic())

    def _confirm_oldest(self, within_s: float) -> None:
        info = self._waiting.popleft()
        try:
            info.wait_for_publish(max(within_s, 0.01))
            confirmed = info.is_published()
        except (RuntimeError, ValueError):
            confirmed = False
        if not confirmed:
            raise BrokerError("The broker does not confirm what is sent; look at its log.")

    def close(self) -> None:
        """Disconnect and leave no thread."""
        self._client.disconnect()
        self._client.loop_stop()
