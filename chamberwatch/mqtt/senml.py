"""Sensor Measurement Lists in JSON (RFC 8428): a pack of records, resolved.

What section 4 asks is done here and nothing else: base fields hold from their record on to the
end of the pack or to their next appearance, names are joined, base time and base value are added.
Which record is which quantity of which sensor is not known here.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from chamberwatch.core.errors import BadPayloadError
from chamberwatch.mqtt.values import after, as_number, shown, since_1970

VERSION: Final = 10
"""The version that is understood. Source: RFC 8428, section 4.4."""

ABSOLUTE_FROM: Final = 2.0**28
"""Times from here on are seconds since 1970, others relative to now. [s] RFC 8428, 4.5.3."""

NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9:./_-]*")
"""Source: RFC 8428, section 4.5.1."""

_OTHER_VALUES: Final = ("vs", "vb", "vd", "s")


@dataclass(frozen=True, slots=True)
class Record:
    """One resolved record.

    Attributes:
        name: base name and name joined.
        unit: its own, else the base unit, else None.
        time: aware UTC; None: roughly now.
        value: the number with the base value added; None where `fault` says why.
        fault: why it can't be used; empty when it can.
    """

    name: str
    unit: str | None
    time: datetime | None
    value: float | None
    fault: str = ""


@dataclass(slots=True)
class _Base:
    """The base fields as they stand at one record."""

    name: str = ""
    unit: str | None = None
    time_s: float | None = None
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class Received:
    """When a pack came.

    Attributes:
        wall: aware UTC.
        retained: it is an old message, so that "roughly now" was at a time nobody knows.
    """

    wall: datetime
    retained: bool


def resolve(pack: object, received: Received) -> list[Record]:
    """Return the records of a pack that carry something, resolved (RFC 8428, section 4.6).

    Raises:
        BadPayloadError: it isn't a pack, or one of a version or with fields not understood here.
    """
    if not isinstance(pack, list) or not pack:
        raise BadPayloadError("A SenML pack is a list of records; send [{...}, ...].")
    base = _Base()
    records: list[Record] = []
    for number, raw in enumerate(pack, start=1):
        if not isinstance(raw, dict):
            raise BadPayloadError(
                f"SenML record {number} is {shown(raw)}; each record is an object."
            )
        try:
            _understand(raw)
            _take_base(base, raw)
        except BadPayloadError as error:
            raise BadPayloadError(f"SenML record {number}: {error}") from None
        if any(not label.startswith("b") for label in raw):
            records.append(_record(number, raw, base, received))
    return records


def _understand(raw: Mapping[str, object]) -> None:
    # 4.4: a label that ends in _ changes the meaning of the record for who doesn't know it.
    for label in raw:
        if label.endswith("_"):
            raise BadPayloadError(
                f"The field {shown(label)} must be understood and is not; send without it."
            )
    version = raw.get("bver", VERSION)
    if isinstance(version, bool) or not isinstance(version, int) or not 0 < version <= VERSION:
        raise BadPayloadError(
            f"Version {shown(version)} is not understood; send {VERSION}, or leave out bver."
        )


def _take_base(base: _Base, raw: Mapping[str, object]) -> None:
    if "bn" in raw:
        base.name = _text(raw, "bn")
    if "bu" in raw:
        base.unit = _text(raw, "bu")
    if "bt" in raw:
        base.time_s = _number(raw, "bt")
    if "bv" in raw:
        base.value = _number(raw, "bv")


def _text(raw: Mapping[str, object], label: str) -> str:
    value = raw[label]
    if not isinstance(value, str):
        raise BadPayloadError(f"{label} is {shown(value)}; send a text.")
    return value


def _number(raw: Mapping[str, object], label: str) -> float:
    value = raw[label]
    if isinstance(value, str):  # a number in quotes is no JSON number, which table 4 asks for
        raise BadPayloadError(f"{label} is {shown(value)}; send a number without quotes.")
    try:
        return as_number(value)
    except BadPayloadError as error:
        raise BadPayloadError(f"{label}: {error}") from None


def _record(number: int, raw: Mapping[str, object], base: _Base, received: Received) -> Record:
    """Resolve one record; what is wrong with it alone doesn't spoil the pack."""
    name, unit = base.name, base.unit
    try:
        name += _text(raw, "n") if "n" in raw else ""
        _check_name(name)
        unit = _text(raw, "u") if "u" in raw else unit
        time = _time(raw, base, received)
        return Record(name, unit, time, _value(raw, base))
    except BadPayloadError as error:
        return Record(name, unit, None, None, f"SenML record {number}: {error}")


def _check_name(name: str) -> None:
    if not NAME.fullmatch(name):
        raise BadPayloadError(
            f"the name {shown(name)} breaks the rule; use letters, digits and - : . / _, "
            "and begin with a letter or digit."
        )


def _value(raw: Mapping[str, object], base: _Base) -> float:
    if "v" in raw:
        # Two finite numbers may add up to infinity.
        return as_number(base.value + _number(raw, "v"))
    other = next((label for label in _OTHER_VALUES if label in raw), None)
    has = f"has {other} instead of" if other else "has no"
    raise BadPayloadError(f"{has} v; send the number as v.")


def _time(raw: Mapping[str, object], base: _Base, received: Received) -> datetime | None:
    """Return the time of a record, None for roughly now (RFC 8428, section 4.5.3)."""
    time_s = (base.time_s or 0.0) + (_number(raw, "t") if "t" in raw else 0.0)
    if time_s >= ABSOLUTE_FROM:
        return since_1970(time_s)
    if time_s == 0.0 or received.retained:
        return None
    return after(received.wall, time_s)
