"""Checks that need more than one entry of the settings file."""

import difflib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from chamberwatch.core.watch.reading import Place
from chamberwatch.settings.models import ChamberSettings, SensorSettings, Settings

Found = Iterator[tuple[str, str, str]]
"""Key, value and cure of each fault."""


def cross_faults(settings: Settings, *, all_chambers: bool = True) -> Found:
    """Yield what is wrong between entries.

    Args:
        settings: what of the file could be read.
        all_chambers: no chamber is missing from it because of another fault; else a name that
            is not found says nothing.
    """
    for kind, names in (
        ("chamber", [c.name for c in settings.chamber]),
        ("sensor", [s.name for s in settings.sensor]),
        ("notify", [n.name for n in settings.notify]),
    ):
        yield from _doubles(kind, names)
    if all_chambers:
        yield from _between(settings)
    if settings.mqtt.ca_file and not settings.mqtt.tls:
        yield "mqtt.ca_file", f'"{settings.mqtt.ca_file}"', "Set tls = true, or take it out."
    if settings.mqtt.password and not settings.mqtt.username:
        yield "mqtt.username", "", "A password needs a username; add it."


def _between(settings: Settings) -> Found:
    chambers = {c.name: c for c in settings.chamber}
    for index, chamber in enumerate(settings.chamber):
        yield from _surrounding(f'chamber[{index + 1}] "{chamber.name}"', chamber, chambers)
    for index, sensor in enumerate(settings.sensor):
        yield from _place(f'sensor[{index + 1}] "{sensor.name}"', sensor, chambers)


def _doubles(kind: str, names: Iterable[str]) -> Found:
    for name, count in Counter(names).items():
        if count > 1:
            yield f"{kind}.name", f'"{name}"', "Two have this name; give each its own."


def _surrounding(
    key: str, chamber: ChamberSettings, chambers: dict[str, ChamberSettings]
) -> Found:
    around = chamber.surrounding
    if around is None:
        return
    shown = f'"{around}"'
    rooms = [c.name for c in chambers.values() if c.stage is None and c.name != chamber.name]
    if around == chamber.name:
        yield f"{key}.surrounding", shown, "A chamber can't stand in itself; name its room."
    elif around not in chambers:
        yield f"{key}.surrounding", shown, "There is no such chamber." + _known(around, rooms)
    elif chambers[around].stage is not None:
        yield (
            f"{key}.surrounding",
            shown,
            "That one grows something; name a [[chamber]] without a stage, a room.",
        )


def _place(key: str, sensor: SensorSettings, chambers: dict[str, ChamberSettings]) -> Found:
    if sensor.chamber not in chambers:
        cure = "There is no such chamber." + _known(sensor.chamber, list(chambers))
        yield f"{key}.chamber", f'"{sensor.chamber}"', cure
        return
    places = [p.value for p in Place] + list(chambers[sensor.chamber].shelves)
    if sensor.place not in places:
        cure = "There is no such place in that chamber." + _known(sensor.place, places)
        yield f"{key}.place", f'"{sensor.place}"', cure


def _known(given: str, known: Sequence[str]) -> str:
    close = difflib.get_close_matches(given, known, n=1, cutoff=0.6)
    if close:
        return f" Did you mean {close[0]}?"
    return f" Known: {', '.join(known)}." if known else " Add it first."
