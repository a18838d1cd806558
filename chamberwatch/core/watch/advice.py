"""From rules that hold to what is asked of a person: one need for one cause."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.device import Device, Kind, serving, working_in
from chamberwatch.core.watch.doubt import Doubt, stands_back
from chamberwatch.core.watch.judgement import Judgement, judge
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import (
    Call,
    Event,
    Evidence,
    Move,
    Priority,
    Reminder,
    State,
    advance,
)
from chamberwatch.core.watch.rule import LONGEST_GAP, Level, Side, Watched, rules

CALLS: Final[Mapping[tuple[Quantity, Side], Call]] = {
    (Quantity.HUMIDITY, Side.LOW): Call.MIST,
    (Quantity.HUMIDITY, Side.HIGH): Call.DRY_OFF,
    (Quantity.CO2, Side.HIGH): Call.VENT,
    (Quantity.TEMPERATURE, Side.LOW): Call.WARM,
    (Quantity.TEMPERATURE, Side.HIGH): Call.COOL,
}

ROOM_CALLS: Final[Mapping[tuple[Quantity, Side], Call]] = {
    (Quantity.HUMIDITY, Side.HIGH): Call.AIR_ROOM,
    (Quantity.CO2, Side.HIGH): Call.AIR_ROOM,
}
"""What a room asks for, in which people live and nothing grows."""


def calls_of(chamber: Chamber) -> Mapping[tuple[Quantity, Side], Call]:
    """Return what each limit of a chamber or room calls for."""
    return CALLS if chamber.stage is not None else ROOM_CALLS


def air_calls(chamber: Chamber) -> tuple[Call, ...]:
    """Return all that the air of a chamber or room can call for."""
    return tuple(dict.fromkeys(calls_of(chamber).values()))


ASKED: Final[Mapping[Call, tuple[Quantity, Side]]] = {call: of for of, call in CALLS.items()}
"""What each of them is about, and on which side of its band that lies."""

# Pins dry out within hours and stale air makes long stems; wet caps take days to blotch.
PRIORITY: Final[Mapping[Call, Priority]] = {
    Call.MIST: Priority.MEDIUM,
    Call.VENT: Priority.MEDIUM,
    Call.WARM: Priority.MEDIUM,
    Call.COOL: Priority.MEDIUM,
    Call.DRY_OFF: Priority.LOW,
    Call.AIR_ROOM: Priority.LOW,
    Call.CHECK_SENSOR: Priority.MEDIUM,
}

# Common practice: a light misting shows in a few minutes and holds ten or so; asking sooner
# nags. It holds where the chamber's own response is not known yet.
GRACE: Final = timedelta(minutes=15)


A_MOMENT: Final = timedelta(minutes=2)


@dataclass(frozen=True, slots=True)
class Need:
    """What a chamber asks for, and the reading that says so."""

    chamber: str
    call: Call
    priority: Priority
    evidence: Evidence


def needs(
    house: House,
    chamber: str,
    watched: Iterable[Watched],
    newest: Mapping[tuple[str, Quantity], Reading],
    trends: Mapping[tuple[str, Quantity], float],
    doubts: Mapping[str, Doubt] | None = None,
) -> Mapping[Call, Need]:
    """Return what the active rules of a chamber ask for; the worst sensor speaks for each call.

    Args:
        house: what the grower declared.
        chamber: its name.
        watched: rules of this house, active or not.
        newest: newest reading of each series.
        trends: change of each series in an hour, where known.
        doubts: of each sensor that is in doubt; it leaves the word to another that serves.
    """
    asking: dict[Call, list[tuple[Watched, Judgement]]] = {}
    place = house.chambers[chamber]
    for item in watched:
        sensor = house.sensors.get(item.sensor)
        reading = newest.get((item.sensor, item.quantity))
        if not item.active or sensor is None or sensor.chamber != chamber or reading is None:
            continue
        if stands_back(house, sensor, item.quantity, doubts or {}, newest):
            continue
        judgement = judged(house, sensor, reading)
        call = calls_of(place).get((item.quantity, item.side))
        if judgement is not None and call is not None:
            asking.setdefault(call, []).append((item, judgement))
    return {call: _need(place, call, found, trends) for call, found in asking.items()}


def coming(
    house: House,
    chamber: str,
    watched: Iterable[Watched],
    newest: Mapping[tuple[str, Quantity], Reading],
    now: datetime,
) -> Mapping[Call, timedelta]:
    """Return what a chamber is about to ask for, and in how long: its delay is running.

    Args:
        house: what the grower declared.
        chamber: its name.
        watched: rules of this house, active or not.
        newest: newest reading of each series; one that is not heard any more asks for nothing.
        now: time of the newest reading.
    """
    place = house.chambers[chamber]
    found: dict[Call, timedelta] = {}
    for item in watched:
        sensor, since = house.sensors.get(item.sensor), item.turning_since
        call = calls_of(place).get((item.quantity, item.side))
        if sensor is None or sensor.chamber != chamber or call is None:
            continue
        if item.active or since is None or item.level is not Level.BAND:
            continue
        reading, delay = newest.get((item.sensor, item.quantity)), _on_delay(place, sensor, item)
        if reading is None or delay is None or now - reading.time > LONGEST_GAP:
            continue
        due = since + delay
        # The reading that fulfils the delay may come a moment after that of another quantity.
        if reading.time < due and now - due <= A_MOMENT:
            left = max(due - now, timedelta(0))
            found[call] = min(left, found.get(call, left))
    return found


def _on_delay(chamber: Chamber, sensor: Sensor, watched: Watched) -> timedelta | None:
    """Return how long a rule waits by the band of today; None where there is none."""
    band = chamber.limits(watched.quantity, sensor.place)
    patience = chamber.patience_for(watched.quantity)
    if band is None or patience is None:
        return None
    made = (r for r in rules(band, patience) if r.level is watched.level)
    return next((r.on_delay for r in made if r.side is watched.side), None)


def judged(house: House, sensor: Sensor, reading: Reading) -> Judgement | None:
    """Hold a reading against the band of its place; None where nothing is judged."""
    band = house.chambers[sensor.chamber].limits(reading.quantity, sensor.place)
    return None if band is None else judge(reading, sensor.where(), band)


def _need(
    chamber: Chamber,
    call: Call,
    found: Sequence[tuple[Watched, Judgement]],
    trends: Mapping[tuple[str, Quantity], float],
) -> Need:
    harm = any(item.level is Level.HARM for item, _ in found)
    # What is harmful speaks before what is merely further out: a core at 36 before air at 27 °C.
    _, worst = max(found, key=lambda pair: (pair[0].level is Level.HARM, pair[1].by))
    priority = Priority.HIGH if harm else _priority(chamber, call, worst.reading.quantity)
    return Need(chamber.name, call, priority, evidence_of(worst, trends))


def _priority(chamber: Chamber, call: Call, quantity: Quantity) -> Priority:
    patience = chamber.patience_for(quantity)
    asked = patience.priority if patience is not None else None
    return PRIORITY[call] if asked is None else Priority(asked)


def evidence_of(judgement: Judgement, trends: Mapping[tuple[str, Quantity], float]) -> Evidence:
    """Return a judgement as the evidence of a reminder."""
    reading = judgement.reading
    return Evidence(
        sensor=reading.sensor,
        quantity=reading.quantity,
        value=reading.value,
        low=judgement.band.low,
        high=judgement.band.edges[1],
        trend_per_h=trends.get((reading.sensor, reading.quantity)),
        since=reading.time,
    )


def events(reminder: Reminder, need: Need | None) -> tuple[Event, ...]:
    """Return what happens to a reminder now that its cause holds (a need) or doesn't (None)."""
    if need is None:
        if not reminder.active:
            return ()
        # Nobody was told, so there is nothing for anybody to acknowledge.
        unheard = reminder.state is State.UNACKNOWLEDGED and reminder.told is None
        return (Event.RETURNED, Event.SEEN) if unheard else (Event.RETURNED,)
    if not reminder.active:
        return (Event.RAISED,)
    return (Event.WORSENED,) if need.priority > reminder.priority else ()


def returned(reminder: Reminder, now: datetime, cause: str) -> tuple[Reminder, tuple[Move, ...]]:
    """Return a reminder whose cause is gone, and its moves: none where it was not active."""
    moves: list[Move] = []
    for event in events(reminder, None):
        reminder, move = advance(reminder, event, now, cause)
        moves.append(move)
    return reminder, tuple(moves)


def untold(reminders: Iterable[Reminder]) -> tuple[Reminder, ...]:
    """Return those a person should hear of and has not yet."""
    return tuple(
        r for r in reminders if r.active and r.state is State.UNACKNOWLEDGED and r.told is None
    )


def in_grace(
    call: Call, deeds: Mapping[Call, datetime], now: datetime, grace: timedelta = GRACE
) -> bool:
    """Tell whether a call was answered so lately that asking again would nag."""
    answered = deeds.get(call)
    return answered is not None and now < answered + grace


def usual_grace(chamber: str, call: Call) -> timedelta:
    """Return the grace where nothing is known of how a chamber answers."""
    del chamber, call
    return GRACE


SEEN_TO_BY: Final[Mapping[Call, Kind]] = {
    Call.MIST: Kind.HUMIDIFIER,
    Call.VENT: Kind.FAN,
    Call.WARM: Kind.HEATER,
}

DEVICE_GRACE: Final = timedelta(minutes=60)
"""A device that has not put it right by then needs looking at, or help."""


def seen_to(devices: Iterable[Device], reminder: Reminder, now: datetime, zone: tzinfo) -> bool:
    """Tell whether a device on its timer does what a reminder asks for.

    Nobody is asked to do that, unless it is harmful already or the device has not managed for an
    hour.
    """
    if reminder.priority is Priority.HIGH:
        return False
    if reminder.since is None or now - reminder.since >= DEVICE_GRACE:
        return False
    return served(devices, reminder.chamber, reminder.call, now, zone)


def served(
    devices: Iterable[Device], chamber: str, call: Call, now: datetime, zone: tzinfo
) -> bool:
    """Tell whether a device that works in a chamber does what a call asks for."""
    kind = SEEN_TO_BY.get(call)
    return kind is not None and bool(serving(working_in(devices, chamber), kind, now, zone))


def trend_per_h(points: Sequence[tuple[datetime, float]]) -> float | None:
    """Return the slope of a least-squares line, in the unit of the values per hour.

    None for fewer than three points or less than two minutes of them.
    """
    if len(points) < 3 or points[-1][0] - points[0][0] < timedelta(minutes=2):
        return None
    hours = [(time - points[0][0]) / timedelta(hours=1) for time, _ in points]
    values = [value for _, value in points]
    mean_h, mean_v = sum(hours) / len(hours), sum(values) / len(values)
    spread = sum((h - mean_h) ** 2 for h in hours)
    return sum((h - mean_h) * (v - mean_v) for h, v in zip(hours, values, strict=True)) / spread
