"""A knock at the broker's door: is it there, and does it let us in?"""

import queue
import sys
import threading
from dataclasses import replace
from typing import Final

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from chamberwatch.core.errors import BrokerError
from chamberwatch.mqtt import troubles
from chamberwatch.mqtt.entering import prepare
from chamberwatch.mqtt.troubles import BrokerAddress

KEEPALIVE_S: Final = 60
CLIENT_ID: Final = "chamberwatch-check"


def knock(address: BrokerAddress, within_s: float) -> str | None:
    """Return what keeps us out, with the cure; None where the broker lets us in.

    It comes under a name of its own: under that of the daemon it would throw the daemon out.

    Args:
        address: of the broker, as the daemon enters it.
        within_s: how long to wait for an answer. [s]
    """
    visitor = replace(address, client_id=CLIENT_ID)
    client = paho.Client(
        CallbackAPIVersion.VERSION2,
        client_id=visitor.client_id,
        clean_session=True,
        protocol=MQTTProtocolVersion.MQTTv311,
    )
    client.suppress_exceptions = True
    try:
        prepare(client, visitor)
    except BrokerError as error:
        return str(error)
    answers: queue.Queue[str | None] = queue.Queue()
    _listen(client, visitor, answers)
    client.connect_async(visitor.host, visitor.port, KEEPALIVE_S)
    client.loop_start()
    try:
        return answers.get(timeout=within_s)
    except queue.Empty:
        return troubles.of_connecting(TimeoutError(), visitor)
    finally:
        client.disconnect()
        # Waiting for the thread may take as long as a name look-up hangs.
        threading.Thread(target=client.loop_stop, name="knocked", daemon=True).start()


def _listen(
    client: paho.Client, visitor: BrokerAddress, answers: "queue.Queue[str | None]"
) -> None:
    """Put the first answer into the queue, whatever it is."""

    def answered(
        _client: paho.Client,
        _data: object,
        _flags: paho.ConnectFlags,
        code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        failed = code.is_failure
        answers.put(troubles.of_answer(code.value, str(code), visitor) if failed else None)

    def failed(_client: paho.Client, _data: object) -> None:
        answers.put(troubles.of_connecting(sys.exception(), visitor))

    def lost(
        _client: paho.Client,
        _data: object,
        _flags: paho.DisconnectFlags,
        _code: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        answers.put(troubles.of_losing(visitor, answered=False))

    client.on_connect = answered
    client.on_connect_fail = failed
    client.on_disconnect = lost
