"""A humidity that leaps to saturation and stays there, as that of a wetted sensor does.

Misted air hardly does: mist that hangs in it is gone within minutes, the air warms again, fresh
air leaks in, and wet walls give the less, the nearer the air is to saturation. In simulated tents
no honest reading stayed there for longer than 12 minutes after some 650 mistings.

A tight chamber may well stand at saturation, and one in which pins form should. What tells it
apart is that it did so in the hours before as well, or that its band reaches that far. A very
tight one that was dry for hours can still be mistaken, where its sensor reads too high: after 2 of
100 mistings in simulated ones (up to 0.1 air changes an hour, 1.5 to 2 % too high).
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from operator import itemgetter
from typing import Final

from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.lately import Cell, Seen, Track
from chamberwatch.core.watch.reading import Place, Quantity

STAYS: Final = timedelta(minutes=20)
LEAPT_WITHIN: Final = timedelta(minutes=5)
"""A misting is done in this time; wet walls take longer."""
LEAPT_FROM_PCT: Final = 95.0
"""From above this a misting leads to saturation anyway, and the way down is as short."""

NEAR_PCT: Final = 97.0
"""What reads this much may be saturated: sensors are good for 2 or 3 %."""
NEAR_SHARE: Final = 0.2
"""A chamber that was near saturation for more of the time than this may be so again."""
KNOWN_FOR: Final = timedelta(hours=1)
"""Less memory than this tells nothing of what a chamber is used to."""

COOLED_K: Final = 0.5
"""Cooling by this brings air from 97 % to saturation (6 % per K)."""


def pinned(
    house: House, sensor: Sensor, track: Track, sensors: Sequence[Sensor], seen: Seen
) -> str | None:
    """Say how a humidity got to saturation and stayed, None where the air may be like that.

    Args:
        house: what the grower declared.
        sensor: which.
        track: of its humidity.
        sensors: all of its chamber.
        seen: what there is to go by.
    """
    since = track.pinned_since
    if since is None or track.time - since < STAYS or _cooled(sensor, since, seen):
        return None
    start = _leapt_from(track, since)
    if start is None or _used_to_it(track, since):
        return None
    words = f"it leapt from {start:.0f} to {track.value:g} % and stays there"
    others = _beside(sensor, sensors, seen)
    if others:
        name, value = min(others, key=itemgetter(1))
        near = any(value >= NEAR_PCT for _, value in others)
        return None if near else f"{words}, while {name} says {value:g} %"
    if not _wants_less(house, sensor):
        return None
    return f"{words}, where misted air would have come down by now"


def _leapt_from(track: Track, since: datetime) -> float | None:
    """Return the least just before, None where it came to saturation slowly or from near."""
    before = (c.least for c in track.cells if timedelta(0) < since - c.start <= LEAPT_WITHIN)
    least = min(before, default=None)
    return least if least is not None and least <= LEAPT_FROM_PCT else None


def _used_to_it(track: Track, since: datetime) -> bool:
    """Tell whether it was often near saturation in the hours before, or may have been."""
    earlier = [cell for cell in track.cells if cell.start < since - LEAPT_WITHIN]
    if not earlier or since - earlier[0].start < KNOWN_FOR:
        return True
    near = sum(cell.least >= NEAR_PCT for cell in earlier)
    return near > NEAR_SHARE * len(earlier)


def _cooled(sensor: Sensor, since: datetime, seen: Seen) -> bool:
    """Tell whether it has become colder since; what the mist itself took is back by then."""
    warmth = seen.tracks.get((sensor.name, Quantity.TEMPERATURE))
    cells: list[Cell] = [] if warmth is None else [c for c in warmth.cells if c.start >= since]
    return bool(cells) and cells[0].least - cells[-1].most > COOLED_K


def _beside(sensor: Sensor, sensors: Sequence[Sensor], seen: Seen) -> list[tuple[str, float]]:
    """Return what the others say that are heard and believed, of the same air."""
    return [
        (other.name, track.value)
        for other in sensors
        if other.name != sensor.name and other.place is Place.AIR
        if other.name not in seen.silent and other.name not in seen.doubted
        if (track := seen.tracks.get((other.name, Quantity.HUMIDITY))) is not None
        if seen.now - track.time <= other.unheard_after
    ]


def _wants_less(house: House, sensor: Sensor) -> bool:
    """Tell whether the band of its chamber ends well below saturation."""
    band = house.chambers[sensor.chamber].band(Quantity.HUMIDITY, sensor.place)
    return band is not None and band.high is not None and band.high < NEAR_PCT
