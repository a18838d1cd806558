"""What stands in for the ear at the broker; how messages are written is understood for real."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from chamberwatch.mqtt.guessing import Understanding
from chamberwatch.service.listening import Heard, HeardNow
from tests.make import NOON

Reads = Understanding


def heard(topic: str, says: object, *, old: bool = False, count: int = 3) -> Heard:
    """Return a message that says this: a text as it is, anything else as JSON."""
    payload = (says if isinstance(says, str) else json.dumps(says)).encode()
    every_s = None if old or count < 2 else 5.0
    return Heard(topic, payload, len(payload), 0 if old else count, NOON, NOON, old, every_s)


@dataclass
class Ear:
    """Has heard what a test says.

    Attributes:
        heard: the messages.
        trouble: what keeps it from hearing.
        since: from when on it listens; None: it does not yet.
        left_out: messages without room.
        asked: how often somebody looked.
        now: on its clock.
    """

    heard: list[Heard] = field(default_factory=list)
    trouble: str | None = None
    since: datetime | None = NOON
    left_out: int = 0
    asked: int = 0
    now: datetime = NOON

    def hear(self) -> HeardNow:
        self.asked += 1
        topics = sorted(self.heard, key=lambda each: each.topic)
        return HeardNow(self.now, self.since, self.trouble, topics, self.left_out)


def topics_of(content: Mapping[str, Any]) -> dict[str, str]:
    """Return the topic of each sensor of a settings file."""
    return {each["name"]: each["topic"] for each in content.get("sensor", ())}
