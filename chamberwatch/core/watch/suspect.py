"""What a look at the sensors of a chamber finds: stuck, wet, impossible, jumping, battery low.

A finding is of this moment; `doubt.step` gives it patience. The figures are common practice
unless a source is named beside them.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import chain, islice
from typing import Final

from chamberwatch.core.watch.apart import CALM_FOR, disagreeing
from chamberwatch.core.watch.chamber import House, Sensor
from chamberwatch.core.watch.device import Kind
from chamberwatch.core.watch.doubt import Doubted, Finding, Key
from chamberwatch.core.watch.lately import JUMP, PINNED_PCT, Seen, Track
from chamberwatch.core.watch.pinned import pinned
from chamberwatch.core.watch.reading import UNITS, Place, Quantity, in_words

STUCK_AFTER: Final = timedelta(hours=3)
STUCK_READINGS: Final = 12
"""A value said less often than this in three hours has had little chance to change."""

# By how much another sensor must have moved in that time: well more than noise and a coarse
# resolution. One that hangs elsewhere must have moved by more, since its changes arrive damped.
MOVED: Final[Mapping[Quantity, float]] = {
    Quantity.TEMPERATURE: 1.0,
    Quantity.HUMIDITY: 3.0,
    Quantity.CO2: 100.0,
}
AFAR: Final = 3.0

WARMED_K: Final = 1.0
"""Saturated air that warms by this is at 94 % until more water has evaporated (from the slope of
the saturation pressure, 6 % per K). Cooling tells nothing: such air stays saturated."""
WARMED_WITHIN: Final = timedelta(hours=1)
VENTED_SHARE: Final = 0.2
"""A fall of the CO2 by this share within `VENTED_WITHIN` is a venting, whoever did it."""
VENTED_WITHIN: Final = timedelta(minutes=15)
DRIES_WITHIN: Final = timedelta(minutes=10)
"""A sensor that is not wet follows a vent within this, also behind a filter."""

IMPOSSIBLE_PCT: Final = 102.0
"""Sensors run a little past 100 % near saturation; beyond this it is a fault."""
REFUSED_WITHIN: Final = timedelta(minutes=10)
REFUSED: Final = 3

JUMPS: Final = 3
JUMPS_WITHIN: Final = timedelta(minutes=10)

COMPARED_WITH: Final = 20
"""In a house of hundreds of sensors the first few tell as much as all."""

AIR: Final = frozenset({Quantity.TEMPERATURE, Quantity.HUMIDITY})


def examine(house: House, sensors: Sequence[Sensor], seen: Seen) -> Mapping[Key, Finding]:
    """Look once at all sensors of one chamber."""
    found: dict[Key, Finding] = {}
    for sensor in sensors:
        for quantity in Quantity:
            # Of most quantities a sensor says nothing, and nothing was refused.
            series = sensor.name, quantity
            if series in seen.tracks or series in seen.refused:
                found.update(_of_series(house, sensors, sensor, quantity, seen))
    faulty = {key[0] for key, finding in found.items() if finding.bad and key[2] in AIR}
    found.update(disagreeing(sensors, seen, seen.doubted | faulty))
    return found


def _of_series(
    house: House, sensors: Sequence[Sensor], sensor: Sensor, quantity: Quantity, seen: Seen
) -> Iterator[tuple[Key, Finding]]:
    name, track = sensor.name, seen.tracks.get((sensor.name, quantity))
    refused = seen.refused.get((name, quantity), 0)
    finding = _impossible(name, quantity, track, refused, seen)
    yield (name, Doubted.IMPOSSIBLE, quantity), finding
    if track is None:
        return
    if quantity is Quantity.BATTERY and sensor.battery_low_v is not None:
        yield (name, Doubted.LOW_BATTERY, quantity), _low(name, track, sensor.battery_low_v)
    if quantity in JUMP:
        yield (name, Doubted.JUMPING, quantity), _jumping(sensor, quantity, track, sensors, seen)
        # The chamber's own come first: they have moved with the same air.
        others = chain(sensors, islice(house.sensors.values(), COMPARED_WITH))
        yield (name, Doubted.STUCK, quantity), _stuck(sensor, quantity, track, others, seen)
    if quantity is Quantity.HUMIDITY and sensor.place is Place.AIR:
        fogged = any(
            device.chamber == sensor.chamber and device.kind is Kind.HUMIDIFIER
            for device in house.devices
        )
        finding = _wet(house, sensor, track, () if fogged else sensors, seen)
        yield (name, Doubted.WET, quantity), finding


def _said(quantity: Quantity, value: float) -> str:
    return f"{value:g} {UNITS[quantity]}"


def _impossible(
    name: str, quantity: Quantity, track: Track | None, refused: int, seen: Seen
) -> Finding:
    """Judge values that cannot be, refused at the door or just let through."""
    if refused >= REFUSED:
        words = (
            f"{name} sends a {in_words(quantity)} that can't be true; {refused} such values were "
            f"refused lately. Look at the sensor and its plug, and at the unit that the settings "
            f"file gives for it."
        )
        since = seen.now - REFUSED_WITHIN
        return Finding(seen.now, True, words, frozenset({quantity}), since)
    if track is None:
        return Finding(seen.now, bad=None)
    if quantity is Quantity.HUMIDITY and track.value > IMPOSSIBLE_PCT:
        words = (
            f"{name} says {_said(quantity, track.value)} humidity, and there is none above 100 %. "
            f"Dry the sensor in room air for an hour; if it stays so, check it over salt or "
            f"replace it."
        )
        return Finding(track.time, True, words, frozenset({quantity}))
    return Finding(track.time, bad=None if refused else False)


def _low(name: str, track: Track, low_v: float) -> Finding:
    """Judge a battery: it says nothing of the values that are still sent."""
    if track.value >= low_v:
        return Finding(track.time, bad=False)
    words = (
        f"The battery of {name} is down to {_said(Quantity.BATTERY, track.value)}. Change it "
        f"before the sensor falls silent."
    )
    return Finding(track.time, True, words)


def _stuck(
    sensor: Sensor, quantity: Quantity, track: Track, others: Iterable[Sensor], seen: Seen
) -> Finding:
    """Judge a value that does not change at all while another of its kind does."""
    if track.time - track.same_since < STUCK_AFTER:
        return Finding(track.time, bad=False if track.changed else None)
    # At saturation a value rightly stays where it is; whether it is wet is asked elsewhere.
    saturated = quantity is Quantity.HUMIDITY and track.value >= PINNED_PCT
    mover = None
    if not saturated and track.same_count >= STUCK_READINGS:
        mover = next((o for o in others if _moved(sensor, quantity, track, o, seen)), None)
    if mover is None:
        return Finding(track.time, bad=None)
    words = (
        f"{sensor.name} has said exactly {_said(quantity, track.value)} for three hours and more, "
        f"while {mover.name} has moved. Take its power away for a minute; if it says the same "
        f"again, replace it."
    )
    return Finding(track.time, True, words, frozenset({quantity}), track.same_since)


def _moved(sensor: Sensor, quantity: Quantity, track: Track, other: Sensor, seen: Seen) -> bool:
    beside = seen.tracks.get((other.name, quantity))
    if other.name == sensor.name or beside is None or beside.jumps:
        return False
    if other.name in seen.silent:
        return False
    near = (other.chamber, other.place) == (sensor.chamber, sensor.place)
    least = MOVED[quantity] if near else AFAR * MOVED[quantity]
    return beside.moved(track.same_since) > max(least, 2.0 * (track.finest or 0.0))


def _jumping(
    sensor: Sensor, quantity: Quantity, track: Track, sensors: Sequence[Sensor], seen: Seen
) -> Finding:
    """Judge leaps up and down in turn; one step is what a misting or a venting makes."""
    after = track.time - JUMPS_WITHIN
    recent = [time for time in track.jumps if time > after]
    if len(recent) < JUMPS:
        return Finding(track.time, False, since=track.jumps[-1] if track.jumps else None)
    # Where another leaps as well it is the air, and so it may be while a person is at it.
    together = any(
        time > after
        for other in sensors
        if other.name != sensor.name
        if (beside := seen.tracks.get((other.name, quantity))) is not None
        for time in beside.jumps
    )
    touched = seen.touched.get(sensor.chamber)
    if together or (touched is not None and touched > track.time - CALM_FOR):
        return Finding(track.time, bad=None)
    words = (
        f"The {in_words(quantity)} of {sensor.name} leaps up and down faster than air can. Look "
        f"at its plug and cable, for drops of water on it, and whether it hangs free."
    )
    return Finding(track.time, True, words, frozenset({quantity}), recent[0])


def _wet(
    house: House, sensor: Sensor, track: Track, sensors: Sequence[Sensor], seen: Seen
) -> Finding:
    """Judge a humidity at saturation that stays there through what must bring it down.

    No `sensors` are given where a humidifier may rightly keep the air full of fog.
    """
    since = track.pinned_since
    if since is None or not sensors:
        return Finding(track.time, bad=False if since is None else None)
    through = _through(sensor, since, track.time - DRIES_WITHIN, sensors, seen)
    leapt = None if through else pinned(house, sensor, track, sensors, seen)
    if through is not None:
        words = (
            f"{sensor.name} may be wet: it has stayed at {_said(Quantity.HUMIDITY, track.value)} "
            f"through {through}. Take it out and let it dry in room air for an hour, and hang it "
            f"where no mist reaches it."
        )
    elif leapt is not None:
        words = (
            f"{sensor.name} may be wet: {leapt}. Take it out and let it dry in room air for an "
            f"hour. Left in the chamber it dries by itself in an hour or two, more slowly in "
            f"still air. Hang it where no mist reaches it."
        )
    else:
        return Finding(track.time, bad=None)
    return Finding(track.time, True, words, frozenset({Quantity.HUMIDITY}), since)


def _through(
    sensor: Sensor, since: datetime, until: datetime, sensors: Sequence[Sensor], seen: Seen
) -> str | None:
    """Name what must have brought the humidity down between two times, None where nothing must."""
    vented = seen.vented.get(sensor.chamber)
    if vented is not None and since <= vented <= until:
        return "a venting"
    warmth = seen.tracks.get((sensor.name, Quantity.TEMPERATURE))
    if warmth is not None and warmth.rise(since, until, WARMED_WITHIN) > WARMED_K:
        return "a rise of the temperature"
    fresh = any(
        co2.fall_share(since, until, VENTED_WITHIN) >= VENTED_SHARE
        for each in sensors
        if each.place is Place.AIR
        if (co2 := seen.tracks.get((each.name, Quantity.CO2))) is not None
    )
    return "fresh air, as the CO2 shows" if fresh else None
