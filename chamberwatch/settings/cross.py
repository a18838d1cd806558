"""Checks that need more than one entry of the settings file.

They look at the file as it was read, so that a fault inside an entry hides none between entries.
What is not of the right type is passed over here: the shape of the file says that already.
"""

import difflib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeGuard

from chamberwatch.core.watch.device import Kind
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.wired import MAKES, WiredKind
from chamberwatch.settings.values import NAME

TERMINAL: Final = "terminal"
"""Name of the address that is always there."""

_QUANTITIES: Final = frozenset(quantity.value for quantity in Quantity)
_ONLY_WITH: Final = {
    "co2_lag": Quantity.CO2,
    "corrects_pressure": Quantity.CO2,
    "battery_low_v": Quantity.BATTERY,
}
"""Keys of a sensor that say something of one quantity it reads."""

ADDRESSES: Final = range(0x08, 0x78)
"""What a device on a bus can have."""

OUT: Final = "chamberwatch"
"""Below this chamberwatch speaks, unless another prefix is given."""
_OWN: Final = ("status", "chamber/", "reminder/")

Found = Iterator[tuple[str, object, str]]
"""Key, value (None: nothing to show) and cure of each fault."""


@dataclass(frozen=True, slots=True)
class _Entry:
    """One [[chamber]], [[sensor]], [[device]] or [[notify]] that has a name."""

    key: str
    name: str
    content: Mapping[str, Any]

    def text(self, key: str) -> str | None:
        value = self.content.get(key)
        return value if isinstance(value, str) else None

    def shelves(self) -> list[str]:
        shelves = self.content.get("shelves", ())
        return [s for s in shelves if isinstance(s, str)] if isinstance(shelves, list) else []


def cross_faults(content: Mapping[str, Any]) -> Found:
    """Yield what is wrong between entries.

    Args:
        content: of the file, with the password from elsewhere in it.
    """
    kinds = {
        kind: list(_entries(content, kind))
        for kind in ("chamber", "sensor", "device", "notify", "wired")
    }
    for kind, entries in kinds.items():
        yield from _doubles(kind, [entry.name for entry in entries])
    declared = content.get("chamber", [])
    # A chamber whose name can't be read may be the one that is looked for.
    whole = isinstance(declared, list) and len(declared) == len(kinds["chamber"])
    chambers = {entry.name: entry for entry in kinds["chamber"]}
    mqtt = content.get("mqtt", {})
    out = mqtt.get("out", OUT) if isinstance(mqtt, dict) else ""
    for chamber in kinds["chamber"]:
        yield from _surrounding(chamber, chambers, whole=whole)
    for sensor in kinds["sensor"]:
        yield from _place(sensor, chambers, whole=whole)
        yield from _of_no_reading(sensor)
        yield from _where_we_speak(sensor, out)
    for wired in kinds["wired"]:
        yield from _of_its_kind(wired)
        yield from _where_we_speak(wired, out)
    yield from _one_place_twice(kinds["wired"])
    for device in kinds["device"]:
        yield from _works_in(device, chambers, whole=whole)
    for address in kinds["notify"]:
        yield from _told(address)
    yield from _wanted_twice(content.get("rotation"))
    if isinstance(mqtt, dict):
        yield from _broker(mqtt)


def _entries(content: Mapping[str, Any], kind: str) -> Iterator[_Entry]:
    entries = content.get(kind)
    for number, entry in enumerate(entries if isinstance(entries, list) else (), start=1):
        name = entry.get("name") if isinstance(entry, dict) else None
        if isinstance(name, str):
            yield _Entry(f'{kind}[{number}] "{name}"', name, entry)


def _doubles(kind: str, names: Iterable[str]) -> Found:
    for name, count in Counter(names).items():
        if count > 1:
            yield f"{kind}.name", name, "Two have this name; give each its own."


def _told(address: _Entry) -> Found:
    if address.name == TERMINAL:
        cure = "The terminal has this name already; choose another."
        yield f"{address.key}.name", address.name, cure
    if address.content.get("summary") == "none" and address.content.get("summary_always"):
        cure = "There is no summary to tell; take it out, or give summary a time."
        yield f"{address.key}.summary_always", address.content["summary_always"], cure


def _wanted_twice(wishes: object) -> Found:
    entries = wishes if isinstance(wishes, list) else []
    named = [wish.get("species") for wish in entries if isinstance(wish, dict)]
    for name, count in Counter(name for name in named if isinstance(name, str)).items():
        if count > 1:
            yield "rotation.species", name, "Two want this species; make them one."


def _surrounding(chamber: _Entry, chambers: Mapping[str, _Entry], *, whole: bool) -> Found:
    around = chamber.text("surrounding")
    if around is None:
        return
    key = f"{chamber.key}.surrounding"
    rooms = [
        c.name for c in chambers.values() if "stage" not in c.content and c.name != chamber.name
    ]
    if around == chamber.name:
        yield key, around, "A chamber can't stand in itself; name its room."
    elif around not in chambers:
        if whole:
            yield key, around, "There is no such chamber." + _known(around, rooms)
    elif around not in rooms:
        yield key, around, "That one grows something; name a [[chamber]] without a stage, a room."


def _place(sensor: _Entry, chambers: Mapping[str, _Entry], *, whole: bool) -> Found:
    chamber, place = sensor.text("chamber"), sensor.text("place")
    if chamber is None:
        return
    if chamber not in chambers:
        if whole:
            cure = "There is no such chamber." + _known(chamber, list(chambers))
            yield f"{sensor.key}.chamber", chamber, cure
        return
    places = [p.value for p in Place] + chambers[chamber].shelves()
    if place is not None and place not in places:
        cure = "There is no such place in that chamber." + _known(place, places)
        yield f"{sensor.key}.place", place, cure


def _of_no_reading(sensor: _Entry) -> Found:
    reads = sensor.content.get("reads")
    # A quantity that is misspelt may be the one that is looked for.
    if not isinstance(reads, dict) or not reads or not reads.keys() <= _QUANTITIES:
        return
    for key, quantity in _ONLY_WITH.items():
        if key in sensor.content and quantity not in reads:
            cure = f"It reads no {quantity}; take this out, or add [sensor.reads.{quantity}]."
            yield f"{sensor.key}.{key}", sensor.content[key], cure


def _works_in(device: _Entry, chambers: Mapping[str, _Entry], *, whole: bool) -> Found:
    chamber = device.text("chamber")
    if chamber is None:
        return
    key = f"{device.key}.chamber"
    judged = [c.name for c in chambers.values() if "stage" in c.content]
    if chamber not in chambers:
        if whole:
            yield key, chamber, "There is no such chamber." + _known(chamber, judged)
    elif chamber not in judged:
        cure = "That is a room; a device works in a [[chamber]] with a stage."
        yield key, chamber, cure + (_known(chamber, judged) if judged else "")
    elif device.text("kind") == Kind.FAN and "volume_l" not in chambers[chamber].content:
        cure = "What a fan changes depends on the volume; add volume_l to that chamber."
        yield key, chamber, cure


def _broker(mqtt: Mapping[str, Any]) -> Found:
    file = mqtt.get("ca_file")
    if file and isinstance(file, str) and mqtt.get("tls", False) is False:
        yield "mqtt.ca_file", file, "Set tls = true, or take it out."
    for who in ("", "wired_"):
        if mqtt.get(f"{who}password") and not mqtt.get(f"{who}username"):
            yield f"mqtt.{who}username", None, "A password needs a username; add it."


def _kind_of(wired: _Entry) -> WiredKind | None:
    kind = wired.text("kind")
    return WiredKind(kind) if kind in set(WiredKind) else None


def _on_a_bus(address: object) -> TypeGuard[int]:
    """Tell whether that can be an address; else the shape of the file says what is wrong."""
    whole = isinstance(address, int) and not isinstance(address, bool)
    return whole and address in ADDRESSES


def _of_its_kind(wired: _Entry) -> Found:
    """Yield what does not go with the kind of a sensor on wires."""
    kind, address = _kind_of(wired), wired.content.get("address")
    if kind is None:
        return
    make = MAKES[kind]
    if _on_a_bus(address) and address not in make.addresses:
        known = " or ".join(f"0x{one:02x}" for one in make.addresses)
        cure = f"0x{address:02x} is none of an {make.title}, which has {known}; correct it."
        yield f"{wired.key}.address", address, cure
    if make.pressures_pa is None:
        for key in ("self_calibration", "self_heating_k"):
            if key in wired.content:
                cure = f"Only a CO2 sensor has this; an {make.title} has none. Take it out."
                yield f"{wired.key}.{key}", wired.content[key], cure


def _one_place_twice(entries: Sequence[_Entry]) -> Found:
    taken: dict[tuple[int, int], str] = {}
    for wired in entries:
        kind, bus = _kind_of(wired), wired.content.get("bus", 1)
        if kind is None or not isinstance(bus, int):
            continue
        others = MAKES[kind].addresses
        address = wired.content.get("address", others[0])
        owner = taken.setdefault((bus, address), wired.name) if _on_a_bus(address) else wired.name
        if owner != wired.name:
            cure = f"{owner} has 0x{address:02x} on bus {bus}; give one of them another bus"
            cure += " or address." if len(others) > 1 else "."
            yield f"{wired.key}.address", wired.content.get("address"), cure


def _where_we_speak(sensor: _Entry, out: object) -> Found:
    topic = sensor.text("topic") or ""
    if out and isinstance(out, str) and topic.startswith(tuple(f"{out}/{o}" for o in _OWN)):
        cure = "chamberwatch speaks there itself; choose another topic, or another mqtt.out."
        yield f"{sensor.key}.topic", topic, cure


def _known(given: str, names: Sequence[str]) -> str:
    # A name that is at fault itself will be another one soon.
    known = [name for name in names if NAME.fullmatch(name)]
    close = difflib.get_close_matches(given, known, n=1, cutoff=0.6)
    if close:
        return f" Did you mean {close[0]}?"
    return f" Known: {', '.join(known)}." if known else " Add it first."
