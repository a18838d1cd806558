"""From the bytes of a message to values: the door of the house.

Behind it there are only finite numbers in the units of `core.watch.reading`, from sensors that
are set up, at aware times. Nothing that any sensor may send raises anything but BadPayloadError.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Final, Literal, assert_never

from jsonpointer import JsonPointer, JsonPointerException

from chamberwatch.core.errors import BadPayloadError, Fault, SettingsError
from chamberwatch.core.watch import units
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.mqtt import topics
from chamberwatch.mqtt.senml import Received, Record, resolve
from chamberwatch.mqtt.values import as_number, as_time, shown
from chamberwatch.service.ports import Arrival, Said

PayloadKind = Literal["json", "number", "senml"]

LARGEST: Final = 64 * 1024
"""Bytes of one message. The largest honest one, a day's log of one sensor, has half of it."""

REASONS_AT_MOST: Final = 20
TOPICS_REMEMBERED: Final = 10_000
TOPIC_SHOWN: Final = 200


@dataclass(frozen=True, slots=True)
class Field:
    """Where a quantity stands in a message.

    Attributes:
        at: RFC 6901 pointer for json, name of the record for senml, nothing for number.
        unit: unit it is sent in; None is the unit of `core.watch.reading.UNITS`.
    """

    at: str
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Source:
    """One sensor, as far as reading its messages is concerned.

    Attributes:
        sensor: its name.
        topic: topic or filter its messages come on; several sensors may share one.
        payload: how the message is written.
        reads: where each quantity stands.
        time_at: RFC 6901 pointer to the message's own time, for json only.
    """

    sensor: str
    topic: str
    payload: PayloadKind
    reads: Mapping[Quantity, Field]
    time_at: str | None = None


@dataclass(frozen=True, slots=True)
class _Prepared:
    """A source with its pointers taken apart once."""

    source: Source
    pointers: Mapping[Quantity, JsonPointer]
    time: JsonPointer | None


@dataclass
class _Message:
    """One message, parsed when it is first needed and then once for all sensors that share it."""

    arrival: Arrival

    @cached_property
    def text(self) -> str:
        payload = self.arrival.payload
        if len(payload) > LARGEST:
            raise BadPayloadError(
                f"The message has {len(payload)} bytes; send at most {LARGEST}, in parts."
            )
        if not payload.strip():
            raise BadPayloadError("The message is empty; nothing was sent or it was cleared.")
        try:
            return payload.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise BadPayloadError(
                f"The message is not UTF-8 text (byte {error.start + 1}); set the sensor to it."
            ) from None

    @cached_property
    def document(self) -> object:
        try:
            return json.loads(self.text)
        except json.JSONDecodeError as error:
            raise BadPayloadError(
                f"The message is not JSON ({error.msg}, line {error.lineno} column "
                f"{error.colno}); look at the sensor, or at `payload` in its settings."
            ) from None
        except ValueError:  # Python reads no whole number of more than 4300 digits.
            raise BadPayloadError(
                "A number in the message is too long; send fewer digits."
            ) from None
        except RecursionError:
            raise BadPayloadError("The message is nested too deeply; send it flat.") from None

    @cached_property
    def records(self) -> list[Record]:
        received = Received(self.arrival.wall, self.arrival.retained)
        return resolve(self.document, received)


@dataclass
class _Found:
    """What was read of a message, and what was not."""

    said: list[Said] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)

    def unreadable(self) -> str:
        """Return why there is nothing at all."""
        if self.reasons:
            return " ".join(self.told())
        return f"The message says nothing of {', '.join(self.silent)}; look at the sensor."

    def told(self) -> list[str]:
        """Return each reason once, and not more than anyone reads."""
        once = list(dict.fromkeys(self.reasons))
        more = len(once) - REASONS_AT_MOST
        return [*once[:REASONS_AT_MOST], f"And {more} more."] if more > 0 else once


_MISSING: Final = object()


class PayloadReader:
    """Reads messages of the sensors that are set up. Safe to use from one thread."""

    def __init__(self, sources: Sequence[Source], own: topics.OwnTopics | None = None) -> None:
        """Take the sources apart.

        Args:
            sources: the sensors.
            own: where we speak ourselves; a filter such as # takes that in too.

        Raises:
            SettingsError: a topic, pointer or unit is not one.
        """
        faults = tuple(fault for source in sources for fault in _faults(source))
        if faults:
            raise SettingsError(faults)
        self._sources = [_prepared(source) for source in sources]
        self._own = own or topics.OwnTopics()
        self._of_topic: dict[str, tuple[_Prepared, ...]] = {}

    def read(self, arrival: Arrival) -> Sequence[Said]:
        """Return the values a message gives, in the units of `core.watch.reading.UNITS`.

        Raises:
            BadPayloadError: nothing of it can be read.
        """
        return self.read_all(arrival)[0]

    def read_all(self, arrival: Arrival) -> tuple[Sequence[Said], Sequence[str]]:
        """Return the values a message gives, and why other parts of it can't be read.

        One that we sent ourselves gives nothing, and nothing is wrong with it.

        Raises:
            BadPayloadError: nothing of it can be read.
        """
        if self._own.hold(arrival.topic):
            return (), ()
        message, found = _Message(arrival), _Found()
        for prepared in self._listening(arrival.topic):
            try:
                _read(prepared, message, found)
            except BadPayloadError as error:
                found.reasons.append(str(error))
        if not found.said:
            raise BadPayloadError(found.unreadable())
        return found.said, found.told()

    def _listening(self, topic: str) -> tuple[_Prepared, ...]:
        known = self._of_topic.get(topic)
        if known is None:
            known = tuple(p for p in self._sources if topics.matches(p.source.topic, topic))
            if len(self._of_topic) >= TOPICS_REMEMBERED:  # anybody can invent topics under a #
                self._of_topic.clear()
            self._of_topic[topic] = known
        if not known:
            raise BadPayloadError(
                f"No sensor is set up for the topic {topic[:TOPIC_SHOWN]}; "
                "set one up, or narrow the topics."
            )
        return known


def _faults(source: Source) -> Iterable[Fault]:
    """Yield what is wrong with a source."""
    key = f"sensor {source.sensor}"
    if wrong := topics.fault(source.topic):
        yield Fault("settings", f"{key}: topic", source.topic, wrong)
    if not source.reads or (source.payload == "number" and len(source.reads) != 1):
        wanted = "exactly one quantity" if source.payload == "number" else "at least one quantity"
        yield Fault("settings", f"{key}: reads", "", f"Name {wanted}.")
    for quantity, where in source.reads.items():
        if wrong := units.fault(quantity, where.unit):
            yield Fault("settings", f"{key}: {quantity} unit", str(where.unit), wrong)
    if source.payload == "json":
        places = [(q.value, where.at) for q, where in source.reads.items()]
        places += [("time", source.time_at)] if source.time_at is not None else []
        for name, at in places:
            if _pointer(at) is None:
                cure = "A pointer is empty or begins with /, as in /air/t; ~ is written ~0."
                yield Fault("settings", f"{key}: {name} at", at, cure)


def _pointer(at: str) -> JsonPointer | None:
    try:
        return JsonPointer(at)
    except JsonPointerException:
        return None


def _prepared(source: Source) -> _Prepared:
    if source.payload != "json":
        return _Prepared(source, {}, None)
    pointers = {quantity: JsonPointer(where.at) for quantity, where in source.reads.items()}
    time = None if source.time_at is None else JsonPointer(source.time_at)
    return _Prepared(source, pointers, time)


def _read(prepared: _Prepared, message: _Message, found: _Found) -> None:
    """Read one sensor's part.

    Raises:
        BadPayloadError: the message as a whole can't be read.
    """
    match prepared.source.payload:
        case "number":
            _read_number(prepared.source, message, found)
        case "json":
            _read_json(prepared, message, found)
        case "senml":
            _read_senml(prepared.source, message, found)
        case kind:
            assert_never(kind)


def _read_number(source: Source, message: _Message, found: _Found) -> None:
    text = message.text.strip()
    if len(text) > 1 and text[0] == text[-1] == '"':
        text = text[1:-1]
    for quantity in source.reads:
        _say(source, quantity, _Sent(text), found)


def _read_json(prepared: _Prepared, message: _Message, found: _Found) -> None:
    source, document = prepared.source, message.document
    sent: dict[Quantity, object] = {}
    for quantity, pointer in prepared.pointers.items():
        value = _at(pointer, document)
        if value is None:
            found.silent.append(f"{quantity} ({source.sensor}, at {source.reads[quantity].at!r})")
        else:
            sent[quantity] = value
    if not sent:
        return
    stamp = None if prepared.time is None else _at(prepared.time, document)
    try:
        time = None if stamp is None else as_time(stamp)
    except BadPayloadError as error:
        # A value at a wrong time is worse than none: it would be judged, and stay in history.
        found.reasons.append(f"{source.sensor}: {error}")
        return
    for quantity, value in sent.items():
        _say(source, quantity, _Sent(value, time), found)


def _at(pointer: JsonPointer, document: object) -> object:
    """Return what a pointer leads to; None for null, and for nothing."""
    # Nearly every sensor sends one flat object, which needs no walk from step to step.
    steps, value = pointer.parts, _MISSING
    if isinstance(document, dict) and len(steps) == 1:
        value = document.get(steps[0])
    else:
        value = pointer.resolve(document, _MISSING)
    # `-` leads behind the end of a list, which the library answers with an object of its own.
    is_json = value is None or isinstance(value, bool | int | float | str | list | dict)
    return value if is_json else None


def _read_senml(source: Source, message: _Message, found: _Found) -> None:
    for quantity, where in source.reads.items():
        records = [record for record in message.records if record.name == where.at]
        if not records:
            found.silent.append(f"{quantity} ({source.sensor}, record {shown(where.at)})")
        # One name may carry several parameters that only their units tell apart (RFC 8428,
        # section 5.1.3), so a unit of another quantity is a fault only if there's none of ours.
        ours = [r for r in records if not units.fault(quantity, r.unit or where.unit)]
        for record in ours or records:
            if record.fault:
                found.reasons.append(f"{source.sensor}: {record.fault}")
                continue
            sent = _Sent(record.value, record.time, record.unit)
            _say(source, quantity, sent, found)


@dataclass(frozen=True, slots=True)
class _Sent:
    """A value as it was sent; `unit` where the message named it."""

    value: object
    time: datetime | None = None
    unit: str | None = None


def _say(source: Source, quantity: Quantity, sent: _Sent, found: _Found) -> None:
    """Keep a value in its proper unit, or the reason why not."""
    try:
        unit = sent.unit or source.reads[quantity].unit
        value = units.canonical(quantity, as_number(sent.value), unit)
    except BadPayloadError as error:
        found.reasons.append(f"{source.sensor}, {quantity}: {error}")
    else:
        found.said.append(Said(source.sensor, quantity, value, sent.time))
