"""What clients that only speak have in common: a session that begins afresh, and a patient end."""

import functools
import logging
import threading
import zlib
from collections.abc import Callable
from typing import Concatenate, Final, ParamSpec, TypeVar

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from chamberwatch.mqtt.entering import prepare
from chamberwatch.mqtt.troubles import BrokerAddress

log = logging.getLogger(__name__)

KEEPALIVE_S: Final = 30
"""The broker notices after one and a half times this that we are gone without a word."""
RETRY_LEAST_S: Final = 1
RETRY_MOST_S: Final = 60
SHORT_S: Final = 5.0
REFUSED_AFTER: Final = 3
"""So many connections in a row that ended within `SHORT_S`: what we publish is not welcome."""
SHORT_COUNTED: Final = 6
"""Counting further would not make the pause any longer."""
STOP_S: Final = 3.0
LONGEST_ID: Final = 23
"""Every broker takes a client id of this length. Source: MQTT 3.1.1, section 3.1.3.1."""

P = ParamSpec("P")
Link = TypeVar("Link")
Callback = Callable[Concatenate[Link, P], None]


def own_id(client_id: str, part: str = "out") -> str:
    """Return the name a client of ours has beside the one that takes in."""
    made = f"{client_id}-{part}"
    if len(made) <= LONGEST_ID:
        return made
    # Cut off alone, two long names that begin alike would throw each other out.
    tail = f"-{zlib.crc32(client_id.encode()):08x}-{part}"
    return client_id[: LONGEST_ID - len(tail)] + tail


def caught(words: str) -> Callable[[Callback[Link, P]], Callback[Link, P]]:
    """Log what a callback raises, after these words; paho's thread would end of it."""

    def around(callback: Callback[Link, P]) -> Callback[Link, P]:
        @functools.wraps(callback)
        def guarded(link: Link, /, *args: P.args, **kwargs: P.kwargs) -> None:
            try:
                callback(link, *args, **kwargs)
            except Exception:
                log.exception("%s", words)

        return guarded

    return around


def fresh_client(address: BrokerAddress) -> paho.Client:
    """Return a client whose session the broker does not keep; nothing is connected yet.

    Raises:
        BrokerError: the address can't be one, or the certificates can't be used.
    """
    client = paho.Client(
        CallbackAPIVersion.VERSION2,
        client_id=address.client_id,
        clean_session=True,
        protocol=MQTTProtocolVersion.MQTTv311,
    )
    client.suppress_exceptions = True
    client.reconnect_delay_set(RETRY_LEAST_S, RETRY_MOST_S)
    prepare(client, address)
    return client


def begin(client: paho.Client, address: BrokerAddress) -> None:
    """Begin to connect, and go on trying until ended."""
    client.connect_async(address.host, address.port, KEEPALIVE_S)
    client.loop_start()


def end(client: paho.Client, name: str) -> None:
    """End the connection; takes a few seconds at the most.

    Args:
        client: begun.
        name: of the thread that waits for it.
    """
    client.disconnect()
    # loop_stop waits for paho's thread without a limit, and that may hang in a name look-up.
    ending = threading.Thread(target=client.loop_stop, name=name, daemon=True)
    ending.start()
    ending.join(STOP_S)


def pause_longer(client: paho.Client, short: int) -> None:
    """Wait longer before the next try, after so many short connections in a row.

    paho starts again from the least after each connection that came about; a broker that lets us
    in and throws us out would be asked every second for ever.
    """
    client.reconnect_delay_set(min(RETRY_LEAST_S << short, RETRY_MOST_S), RETRY_MOST_S)
