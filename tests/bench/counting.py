"""A subscriber that does nothing but count: the limit that a daemon is held against.

    python -m tests.bench.counting PORT TOPIC [--kept NAME] [--until N] [--late] [--away]

Says "listening" once the broker has agreed, and one line of JSON at the end: how many messages,
from when to when (monotonic clock), how much processor, and how late they were.

--kept NAME   a session of this name that the broker keeps while nobody listens
--until N     ends after so many messages; without it, when its input is closed
--late        reads each message as JSON, and tells how long after its "time" it came
--away        subscribes and goes, so that the broker keeps what comes
"""

import argparse
import json
import statistics
import sys
import threading
import time
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from chamberwatch.clock import WallClock


@dataclass
class Count:
    """What has come."""

    until: int
    late: bool
    messages: int = 0
    connected_s: float = 0.0
    last_s: float = 0.0
    late_s: list[float] = field(default_factory=list)
    done: threading.Event = field(default_factory=threading.Event)

    def connected(self, *_: object) -> None:
        self.connected_s = time.monotonic()

    def take(self, _client: mqtt.Client, _data: object, message: mqtt.MQTTMessage) -> None:
        self.messages += 1
        if self.late:
            sent = datetime.fromisoformat(json.loads(message.payload)["time"])
            self.late_s.append((WallClock().now() - sent).total_seconds())
        if self.messages == self.until:
            self.last_s = time.monotonic()
            self.done.set()

    def told(self) -> dict[str, Any]:
        told: dict[str, Any] = {
            "messages": self.messages,
            "took_s": self.last_s - self.connected_s,
            "last_s": self.last_s,
            "cpu_s": time.process_time(),
        }
        if len(self.late_s) > 1:
            told["late_p99_s"] = statistics.quantiles(self.late_s, n=100)[-1]
        return told


def main() -> None:
    """Count."""
    wants = argparse.ArgumentParser()
    wants.add_argument("port", type=int)
    wants.add_argument("topic")
    wants.add_argument("--kept", default="")
    wants.add_argument("--until", type=int, default=0)
    wants.add_argument("--late", action="store_true")
    wants.add_argument("--away", action="store_true")
    asked = wants.parse_args()
    client = mqtt.Client(
        CallbackAPIVersion.VERSION2, client_id=asked.kept, clean_session=not asked.kept
    )
    count, subscribed = Count(asked.until, asked.late), threading.Event()
    client.on_connect = count.connected
    client.on_message = count.take
    client.on_subscribe = lambda *_: subscribed.set()
    client.connect("127.0.0.1", asked.port)
    client.loop_start()
    client.subscribe(asked.topic, 1)
    assert subscribed.wait(30)
    print("listening", flush=True)
    if not asked.away:
        if asked.until:
            count.done.wait()
        else:
            sys.stdin.read()
        print(json.dumps(count.told()), flush=True)
    client.disconnect()
    client.loop_stop()


if __name__ == "__main__":
    main()
