"""A subscriber that hands each message to the phone library at once, and does nothing else.

    python -m tests.bench.calling PORT TOPIC ADDRESS

The limit that the way of a message through a daemon is held against. Ends with its input.
"""

import sys
import threading

import apprise
import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion


def main() -> None:
    """Listen and call."""
    port, topic, address = sys.argv[1:]
    phone = apprise.Apprise()
    phone.add(address)
    client, subscribed = mqtt.Client(CallbackAPIVersion.VERSION2), threading.Event()
    client.on_subscribe = lambda *_: subscribed.set()

    def call(_client: mqtt.Client, _data: object, message: mqtt.MQTTMessage) -> None:
        phone.notify(title=message.topic, body=message.payload.decode())

    client.on_message = call
    client.connect("127.0.0.1", int(port))
    client.loop_start()
    client.subscribe(topic, 1)
    assert subscribed.wait(30)
    print("listening", flush=True)
    sys.stdin.read()
    client.disconnect()
    client.loop_stop()


if __name__ == "__main__":
    main()
