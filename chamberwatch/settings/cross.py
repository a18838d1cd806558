"""Checks that need more than one entry of the settings file.

They look at the file as it was read, so that a fault inside an entry hides none between entries.
What is not of the right type is passed over here: the shape of the file says that already.
"""

import difflib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from chamberwatch.core.watch.reading import Place

TERMINAL: Final = "terminal"
"""Name of the address that is always there."""

Found = Iterator[tuple[str, str | None, str]]
"""Key, value (None: nothing to show) and cure of each fault."""


@dataclass(frozen=True, slots=True)
class _Entry:
    """One [[chamber]], [[sensor]] or [[notify]] that has a name."""

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
    kinds = {kind: list(_entries(content, kind)) for kind in ("chamber", "sensor", "notify")}
    for kind, entries in kinds.items():
        yield from _doubles(kind, [entry.name for entry in entries])
    declared = content.get("chamber", [])
    # A chamber whose name can't be read may be the one that is looked for.
    whole = isinstance(declared, list) and len(declared) == len(kinds["chamber"])
    chambers = {entry.name: entry for entry in kinds["chamber"]}
    for chamber in kinds["chamber"]:
        yield from _surrounding(chamber, chambers, whole=whole)
    for sensor in kinds["sensor"]:
        yield from _place(sensor, chambers, whole=whole)
    for address in kinds["notify"]:
        if address.name == TERMINAL:
            cure = "The terminal has this name already; choose another."
            yield f"{address.key}.name", address.name, cure
    mqtt = content.get("mqtt")
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


def _broker(mqtt: Mapping[str, Any]) -> Found:
    file = mqtt.get("ca_file")
    if file and isinstance(file, str) and mqtt.get("tls", False) is False:
        yield "mqtt.ca_file", file, "Set tls = true, or take it out."
    if mqtt.get("password") and not mqtt.get("username"):
        yield "mqtt.username", None, "A password needs a username; add it."


def _known(given: str, known: Sequence[str]) -> str:
    close = difflib.get_close_matches(given, known, n=1, cutoff=0.6)
    if close:
        return f" Did you mean {close[0]}?"
    return f" Known: {', '.join(known)}." if known else " Add it first."
