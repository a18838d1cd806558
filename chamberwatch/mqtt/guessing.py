"""From the bytes of a message that no sensor claims to what it may hold.

How it is written is found here, what its numbers may mean in `core.watch.guess`. Nothing that
anybody may send raises anything: what can't be understood is said in words.
"""

import json
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, cast

from chamberwatch.core.errors import BadPayloadError, SettingsError
from chamberwatch.core.watch.guess import Guess, Leaf, guess_all, tells_time
from chamberwatch.mqtt import topics
from chamberwatch.mqtt.payload import Field, PayloadKind, PayloadReader, Source
from chamberwatch.mqtt.senml import Received, resolve
from chamberwatch.mqtt.values import as_number, as_time
from chamberwatch.service.claiming import Wish, WouldRead
from chamberwatch.service.listening import Heard
from chamberwatch.service.ports import Arrival

NUMBERS_AT_MOST: Final = 40
"""More than this no sensor of the air says, and nobody reads."""
STEPS_AT_MOST: Final = 2_000
AHEAD: Final = timedelta(minutes=2)
"""A message from further ahead is refused when it comes."""
BEHIND: Final = timedelta(hours=1)
"""A clock that lags further was never set, or what it shows is another time."""
LOOKED_INTO_BYTES: Final = 2_048
"""What a sensor of the air says is much shorter; and up to 500 topics are looked into."""
UNITS: Final = ("unit", "units", "u", "uom")
_SENML: Final = frozenset({"n", "bn", "v", "bv", "u", "bu", "vs", "vb"})


@dataclass(frozen=True, slots=True)
class _Node:
    """Something within a JSON message, and the way there."""

    value: object
    path: tuple[str, ...] = ()
    unit: str | None = None

    @property
    def at(self) -> str:
        return "".join(f"/{step.replace('~', '~0').replace('/', '~1')}" for step in self.path)


def guess_of(topic: str, payload: bytes, came: datetime, *, retained: bool) -> Guess:
    """Return what a message may hold.

    Args:
        topic: on which it came.
        payload: the whole message.
        came: when, aware UTC.
        retained: the broker had kept it, so that its own time may be old.
    """
    levels = tuple(topic.split("/"))
    try:
        text = payload.decode("utf-8-sig").strip()
    except UnicodeDecodeError:
        return Guess("", why="it is no text.")
    if not text:
        return Guess("", why="it is empty.")
    with suppress(BadPayloadError):
        return _of_number(text, levels)
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):
        return Guess("", why="it is neither a number nor JSON.")
    received = Received(came, retained)
    return (_of_pack if _is_pack(document) else _of_json)(document, levels, received)


def _of_number(text: str, levels: tuple[str, ...]) -> Guess:
    bare = text[1:-1] if len(text) > 1 and text[0] == text[-1] == '"' else text
    return _weighed("number", [Leaf("", as_number(bare), topic=levels)])


def _weighed(payload: str, leaves: list[Leaf]) -> Guess:
    """Return a guess of some numbers; where none of them may be of the air, why."""
    numbers = guess_all(leaves)
    if not any(each.choices for each in numbers):
        first = next((each.why for each in numbers if each.why), "")
        alone = len(numbers) == 1
        return Guess(payload, numbers, why=first if alone else "no number of it is of the air.")
    return Guess(payload, numbers)


# ------------------------------------------------------------------ SenML


def _is_pack(document: object) -> bool:
    return (
        isinstance(document, list)
        and bool(document)
        and all(isinstance(each, dict) and _SENML & each.keys() for each in document)
    )


def _of_pack(document: object, levels: tuple[str, ...], received: Received) -> Guess:
    try:
        records = resolve(document, received)
    except BadPayloadError as error:
        return Guess("", why=str(error))
    # One record name may come often, with other times; the last one is the newest.
    found = {
        (r.name, r.unit): Leaf(r.name, r.value, _parts(r.name), levels, _written(r.unit))
        for r in records
        if r.value is not None
    }
    if not found:
        return Guess("", why=next((r.fault for r in records if r.fault), "its pack is empty."))
    return _weighed("senml", list(found.values())[:NUMBERS_AT_MOST])


def _written(text: str | None) -> str | None:
    """Return a text as a page can show it; a sensor may send half a character."""
    return None if text is None else text.encode("utf-8", "backslashreplace").decode()


def _parts(name: str) -> tuple[str, ...]:
    for sign in ":/":
        name = name.replace(sign, "\n")
    return tuple(part for part in name.split("\n") if part)


# ------------------------------------------------------------------ JSON


def _of_json(document: object, levels: tuple[str, ...], received: Received) -> Guess:
    leaves: list[Leaf] = []
    time_at, time_why = None, ""
    for node in _nodes(document):
        if node.path and time_at is None and tells_time(node.path[-1]):
            time_why = _amiss(node, received)
            time_at = None if time_why else node.at
            continue
        leaf = _leaf(node, levels)
        if leaf is not None and len(leaves) < NUMBERS_AT_MOST:
            leaves.append(leaf)
    if not leaves:
        return Guess("", why="it holds no number.")
    guess = _weighed("json", leaves)
    return Guess("json", guess.numbers, time_at, "" if time_at else time_why, guess.why)


def _nodes(document: object) -> Iterator[_Node]:
    """Yield what a message holds, in its own order, and not without end."""
    waiting = [_Node(document)]
    for _ in range(STEPS_AT_MOST):
        if not waiting:
            return
        node = waiting.pop()
        match node.value:
            case dict() as inside:
                unit = next((u for key in UNITS if isinstance(u := inside.get(key), str)), None)
                unit = _written(unit)
                within = [_Node(v, (*node.path, _key(k)), unit) for k, v in inside.items()]
            case list() as inside:
                within = [_Node(v, (*node.path, str(n))) for n, v in enumerate(inside)]
            case _:
                yield node
                continue
        waiting += reversed(within)


def _key(key: object) -> str:
    return _written(str(key)) or ""


def _leaf(node: _Node, levels: tuple[str, ...]) -> Leaf | None:
    if not node.path:  # a bare number was read as such before
        return None
    try:
        return Leaf(node.at, as_number(node.value), node.path, levels, node.unit)
    except BadPayloadError:
        return None


def _amiss(node: _Node, received: Received) -> str:
    """Return what speaks against a time; empty where it can be the message's own."""
    try:
        time = as_time(node.value)
    except BadPayloadError as error:
        return str(error)
    if time - received.wall > AHEAD:
        return f"The time at {node.at} lies ahead of this machine's clock."
    if received.wall - time > BEHIND and not received.retained:
        return f"The time at {node.at} lies far behind this machine's clock."
    return ""


# ------------------------------------------------------------------ for the service


class Understanding:
    """What `service.claiming` asks of messages."""

    def guess(self, heard: Heard) -> Guess:
        """Return what a message may hold."""
        if heard.size > LOOKED_INTO_BYTES:
            return Guess("", why=f"it has {heard.size} bytes, too many for a look into it.")
        return guess_of(heard.topic, heard.payload, heard.last, retained=heard.old)

    def would_read(self, wish: Wish, payload: bytes, came: datetime) -> WouldRead:
        """Return what a sensor would read of a message."""
        try:
            reader = PayloadReader([_source(wish)])
            said, reasons = reader.read_all(
                Arrival(wish.topic, payload, False, 0, 0, 0, came, 0.0)
            )
        except BadPayloadError as error:
            return WouldRead((), (str(error),))
        except SettingsError as error:
            return WouldRead((), tuple(fault.cure for fault in error.faults))
        return WouldRead(said, reasons)

    def takes_in(self, topic_filter: str, topic: str) -> bool:
        """Tell whether a topic falls under a sensor's filter."""
        return topics.matches(topic_filter, topic)


def _source(wish: Wish) -> Source:
    reads = {quantity: Field(at, unit) for quantity, (at, unit) in wish.reads.items()}
    payload = cast(PayloadKind, wish.payload)
    return Source(wish.name, wish.topic, payload, reads, wish.time_at)
