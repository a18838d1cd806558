"""Short ways to make what the tests of payloads need."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from chamberwatch.core.watch.reading import Quantity
from chamberwatch.mqtt.payload import Field, PayloadKind, PayloadReader, Source
from chamberwatch.service.ports import Arrival
from tests.make import NOON

TOPIC: Final = "tent/middle"
REFERENCE: Final = Path(__file__).parents[1] / "reference"


def reference(name: str) -> dict[str, Any]:
    """Return published values."""
    found: dict[str, Any] = json.loads((REFERENCE / name).read_text(encoding="utf-8"))
    return found


def letter(payload: object, topic: str = TOPIC, *, retained: bool = False) -> Arrival:
    """Return a message that came at noon; what isn't bytes is sent as JSON."""
    raw = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
    return Arrival(topic, raw, retained, 1, 1, 1, NOON, 1000.0)


def source(
    payload: PayloadKind,
    reads: Mapping[Quantity, Field],
    sensor: str = "middle",
    topic: str = TOPIC,
    time_at: str | None = None,
) -> Source:
    return Source(sensor, topic, payload, reads, time_at)


def json_reader(time_at: str | None = None, **at: str) -> PayloadReader:
    """Return a reader of one JSON sensor: quantity=pointer."""
    reads = {Quantity(name): Field(pointer) for name, pointer in at.items()}
    return PayloadReader([source("json", reads, time_at=time_at)])


def number_reader(quantity: Quantity, unit: str | None = None) -> PayloadReader:
    return PayloadReader([source("number", {quantity: Field("", unit)})])


def senml_reader(**at: str) -> PayloadReader:
    """Return a reader of one SenML sensor: quantity=name of its record."""
    return PayloadReader([source("senml", {Quantity(n): Field(a) for n, a in at.items()})])
